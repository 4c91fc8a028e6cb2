"""What must hold of any crank, pulley and distributor, and what is refused."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.crank import (
    angle_at_depth,
    arc_angle,
    dwell_angle,
    dwell_share,
    firing_interval,
    piston_position,
    pulley_arc,
    top_dead_centre,
)

STROKE = st.floats(0.04, 0.15)
RATIO = st.floats(1.2, 3.0)  # rod over stroke


@given(angle=st.floats(-1.0, 1.0), stroke=STROKE, ratio=RATIO)
def test_a_piston_stands_as_far_below_before_the_top_as_after_it(
    angle: float, stroke: float, ratio: float
) -> None:
    below = piston_position(angle, stroke, ratio * stroke)
    assert below == pytest.approx(piston_position(-angle, stroke, ratio * stroke), abs=1e-15)
    assert -1e-15 <= below <= stroke * (1.0 + 1e-12)
    # the form in every textbook, which loses digits near the top
    radius, length, theta = 0.5 * stroke, ratio * stroke, 2.0 * np.pi * angle
    textbook = radius * (1.0 - np.cos(theta)) + length - np.sqrt(length**2 - (radius * np.sin(theta)) ** 2)
    assert below == pytest.approx(textbook, abs=1e-15)


@given(depth=st.floats(1e-12, 0.04), stroke=STROKE, ratio=RATIO)
def test_depth_and_angle_are_each_other_turned_round(depth: float, stroke: float, ratio: float) -> None:
    assume(depth <= stroke)
    angle = angle_at_depth(depth, stroke, ratio * stroke)
    assert piston_position(angle, stroke, ratio * stroke) == pytest.approx(depth, rel=1e-9)


def test_half_a_turn_down_is_half_a_turn() -> None:
    assert angle_at_depth(0.08, 0.08, 0.15) == pytest.approx(0.5, abs=1e-7)
    assert angle_at_depth(0.0, 0.08, 0.15) == 0.0
    assert angle_at_depth(np.array([0.0, 0.03]), np.array([0.08, 0.07]), 0.15).shape == (2,)


@given(centre=st.floats(0.0, 0.999), depth=st.floats(0.001, 0.079))
def test_two_stops_give_top_dead_centre_however_deep_the_stop_stands(centre: float, depth: float) -> None:
    half = angle_at_depth(depth, 0.080, 0.150)
    found = top_dead_centre((centre - half) % 1.0, (centre + half) % 1.0)
    assert min(abs(found - centre), 1.0 - abs(found - centre)) < 1e-9  # 0 and a whole turn are one place


def test_stops_beyond_half_the_stroke_do_not_give_bottom_dead_centre() -> None:
    # Stopped 120 degrees before and after: the forbidden stretch is 240 degrees, its middle the top.
    assert top_dead_centre(-120 / 360, 120 / 360) == pytest.approx(0.0, abs=1e-12)


@given(diameter=st.floats(0.05, 0.5), angle=st.floats(-2.0, 2.0))
def test_arc_and_angle_are_each_other_turned_round(diameter: float, angle: float) -> None:
    assert arc_angle(diameter, pulley_arc(diameter, angle)) == pytest.approx(angle, abs=1e-12)


@given(share=st.floats(0.0, 1.0), cylinders=st.integers(2, 12))
def test_dwell_in_degrees_and_per_cent_are_each_other_turned_round(share: float, cylinders: int) -> None:
    assert dwell_share(dwell_angle(share, cylinders), cylinders) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize("cylinders", [3, 4, 5, 6, 8, 12])
def test_all_sparks_together_are_two_turns_of_the_crank(cylinders: int) -> None:
    assert cylinders * firing_interval(cylinders) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: piston_position(float("nan"), 0.08, 0.15), "angle"),
        (lambda: piston_position(0.1, 80.0, 150.0), "stroke .80.0. .*80 mm is 0.08 m"),
        (lambda: piston_position(0.1, 0.08, 0.03), "rod over stroke"),
        (lambda: angle_at_depth(0.081, 0.08, 0.15), "no deeper than its stroke"),
        (lambda: pulley_arc(130.0, 0.1), "130 mm is 0.13 m"),
        (lambda: arc_angle(0.13, 12.0), "Is it in millimetres"),
        (lambda: top_dead_centre(310.0, 46.0), "before"),
        (lambda: dwell_share(76 / 360, 6), "Halve it"),
        (lambda: dwell_angle(63.0, 6), "50 % is 0.5"),
        (lambda: firing_interval(0), "cylinders"),
    ],
)
def test_what_no_crank_can_do_is_refused_and_named(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=words):
        call()
