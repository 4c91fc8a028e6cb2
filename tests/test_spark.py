"""Top dead centre, posts of the cap, dwell and cylinders compared: the arithmetic behind the calculators."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour import data
from evenpour.errors import FieldProblem
from evenpour.job.sheet.found import find_sheet
from evenpour.physics.crank import angle_at_depth, dwell_angle
from evenpour.tune.cylinder_spread import apart, outstanding
from evenpour.tune.spark import (
    centre_between,
    centre_on_wheel,
    gap_words,
    p_mark_true,
    posts,
    stop_depth,
    timing_shift,
)

ORDERS = st.permutations(list(range(1, 7))) | st.permutations(list(range(1, 6)))


@given(late=st.floats(-0.05, 0.05), depth=st.floats(0.002, 0.035))
def test_a_mark_that_slipped_is_found_by_any_stop(late: float, depth: float) -> None:
    half = angle_at_depth(depth, 0.080, 0.150)
    # The maker's mark comes `late` after the top: further from the mark ahead, nearer to the one behind.
    found = centre_between(half + late, half - late, 1e-6)
    assert found.late == pytest.approx(late, abs=1e-12)
    assert found.half == pytest.approx(half)
    assert stop_depth(found.half, 0.080, 0.150) == pytest.approx(depth)


@given(late=st.floats(-0.2, 0.2), half=st.floats(0.03, 0.2))
def test_a_wheel_tells_where_its_nought_stands(late: float, half: float) -> None:
    # The wheel reads -late at the top: its nought comes that much later.
    place, centre = centre_on_wheel((-late - half) % 1.0, (-late + half) % 1.0)
    assert (place + late + 0.5) % 1.0 == pytest.approx(0.5, abs=1e-12)
    assert centre.late == pytest.approx(late, abs=1e-12)
    assert centre.half == pytest.approx(half)


def test_two_marks_that_err_alike_give_a_middle_that_errs_less() -> None:
    # Half the difference of two independent errors: each 0.5 mm either way, rectangular.
    assert centre_between(0.05, 0.05, 0.5e-3).u == pytest.approx(0.5e-3 / math.sqrt(3.0) / math.sqrt(2.0))


def test_a_mark_is_true_while_it_is_surely_within_a_degree() -> None:
    degree = 1.0 / 360.0
    assert p_mark_true(centre_between(40 * degree, 40 * degree, 0.1 * degree)) > 0.99
    assert p_mark_true(centre_between(42 * degree, 38 * degree, 0.1 * degree)) < 0.01
    assert 0.2 < p_mark_true(centre_between(41 * degree, 39 * degree, 0.5 * degree)) < 0.8


def test_marks_that_lie_the_wrong_way_round_are_asked_about() -> None:
    with pytest.raises(FieldProblem, match="leave no room"):
        centre_between(-0.02, 0.01, 1e-3)


@given(order=ORDERS, clockwise=st.booleans())
def test_turning_the_rotor_meets_the_leads_in_firing_order(order: list[int], clockwise: bool) -> None:
    cap = {post.cylinder: post for post in posts(order, clockwise)}
    for place, cylinder in enumerate(order):
        following = order[(place + 1) % len(order)]
        post = cap[cylinder]
        assert (post.clockwise if clockwise else post.anticlockwise) == following
        step = (cap[following].rotor - post.rotor) % 1.0
        assert step == pytest.approx(1.0 / len(order))
    assert cap[1].rotor == cap[1].crank == cap[1].mark == 0.0


@given(order=ORDERS, clockwise=st.booleans())
def test_the_crank_turns_twice_while_the_rotor_turns_once(order: list[int], clockwise: bool) -> None:
    for post in posts(order, clockwise):
        assert post.crank == pytest.approx(2.0 * post.rotor)
        assert post.mark == pytest.approx(post.crank % 1.0)


@pytest.mark.parametrize("name", data.sheet_names())
def test_every_sheet_has_a_cap_whose_neighbours_agree(name: str) -> None:
    sheet = find_sheet(name)
    firing = sheet.values["firing_order"].value
    cap = {post.cylinder: post for post in posts(firing, sheet.word("rotor_direction") == "clockwise")}
    assert sorted(cap) == list(range(1, sheet.cylinders + 1))
    for post in cap.values():
        assert cap[post.clockwise].anticlockwise == post.cylinder
        if post.shares is not None:
            assert cap[post.shares].shares == post.cylinder
            assert cap[post.shares].mark == pytest.approx(post.mark)
        else:
            assert sheet.cylinders % 2 == 1


def test_the_leads_of_a_flat_six_lie_as_common_practice_has_them() -> None:
    # 1-6-2-4-3-5: opposite leads on the cap are cylinders that stand at their tops together.
    cap = posts((1, 6, 2, 4, 3, 5), True)
    assert [post.cylinder for post in cap] == [1, 6, 2, 4, 3, 5]
    assert [(post.cylinder, post.shares) for post in cap[:3]] == [(1, 4), (6, 3), (2, 5)]
    assert [round(post.mark * 360.0) for post in cap] == [0, 120, 240, 0, 120, 240]


def test_more_dwell_means_a_later_spark_by_as_many_degrees_of_crank() -> None:
    # Points open half of the change later at the distributor; the crank turns twice as fast.
    change = dwell_angle(0.65, 6) - dwell_angle(0.60, 6)
    assert timing_shift(change) == pytest.approx(2.0 * 0.5 * change)
    assert gap_words(43 / 360, 35 / 360, 41 / 360) == "widen the gap"
    assert gap_words(33 / 360, 35 / 360, 41 / 360) == "close the gap a little"
    assert gap_words(38 / 360, 35 / 360, 41 / 360) == ""


def test_one_low_cylinder_stands_out_and_equal_ones_do_not() -> None:
    values = {number: (10.0e5 + 0.1e5 * number, 0.1e5) for number in range(1, 7)}
    assert outstanding(apart(values, low_is_bad=True, allowed=1.5e5)) == ()
    values[4] = (7.6e5, 0.1e5)
    found = apart(values, low_is_bad=True, allowed=1.5e5)
    assert outstanding(found) == (4,)
    assert found[4].worse == pytest.approx(10.3e5 - 7.6e5)
    assert found[4].u == pytest.approx(0.1e5 * math.sqrt(1.0 + 0.5 * math.pi / 5.0))


def test_one_bad_cylinder_leaves_the_sound_ones_where_they_are() -> None:
    bar = dict(enumerate((10.2, 10.4, 9.9, 6.1, 10.3, 10.2), start=1))
    found = apart({number: (one, 0.1) for number, one in bar.items()}, low_is_bad=True, allowed=1.5)
    worse = [found[number].worse for number in sorted(found)]
    assert worse == pytest.approx([0.0, -0.2, 0.3, 4.1, -0.1, 0.0])


@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_the_doubt_beside_the_others_is_what_their_middle_scatters_by(count: int) -> None:
    draws = np.random.default_rng(5).normal(0.0, 1.0, (20_000, count))
    scatter = float(np.std(draws[:, 0] - np.median(draws[:, 1:], axis=1)))
    found = apart(dict.fromkeys(range(count), (0.0, 1.0)), low_is_bad=True, allowed=None)
    # 0.5 % is what 20,000 draws know a standard deviation to; a middle of four is told 15 % too wide, which
    # is 4 % of the whole.
    assert 0.985 * scatter < found[0].u < 1.05 * scatter


def test_of_two_low_ones_both_stand_out_the_worse_first() -> None:
    values = {1: (10.0, 0.1), 2: (7.0, 0.1), 3: (7.5, 0.1), 4: (10.0, 0.1), 5: (10.0, 0.1), 6: (10.0, 0.1)}
    assert outstanding(apart(values, low_is_bad=True, allowed=1.5)) == (2, 3)


def test_without_a_limit_none_is_said_to_stand_out() -> None:
    found = apart({1: (10.0, 0.1), 2: (2.0, 0.1)}, low_is_bad=True, allowed=None)
    assert outstanding(found) == ()
    assert found[2].p is None
    assert [found[one].differs for one in (1, 2)] == [False, True]
    assert apart({1: (10.0, 0.1)}, low_is_bad=True, allowed=1.0) == {}
