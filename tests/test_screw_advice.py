"""The mixture screw's curve, what readings tell of the screw, and the next move: without a job around it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpour.tune.screw_advice import MOST, Standing, Window, advise, moves
from evenpour.tune.screw_aim import Aim
from evenpour.tune.screw_posterior import PLAYS, Posterior, Seen, Start, posterior
from evenpour.tune.screw_response import responses
from screw_world import HOME, NUMBERS, Bench

SIX = Bench.of("flat-six", "exhaust_co")
FOUR = Bench.of("inline-four", "exhaust_co")
DUTY = Bench.of("flat-six-oxygen", "lambda_duty")
TAKEN_UP = ((0.0, 0.0),) * len(PLAYS)
WRONG_SIDE = tuple((play, play) for play in PLAYS)
AT_START = Standing(0.0, 0, 1, looked=False)


def seen(bench: Bench, lift: float, turns: float = 0.0, check: str | None = None, u: float = 0.0005) -> Seen:
    """What the kind's own curve shows at *lift*, with the key *turns* from where it stands now."""
    name = check or bench.window.check
    return Seen(name, turns, TAKEN_UP, float(bench.usual.at(name, lift)), u, bench.usual)


def weighed(bench: Bench, *readings: Seen, start: float | None = 0.5, lags: tuple = TAKEN_UP) -> Posterior:
    """The screw, known from readings; *start*: turns to the onset with bare lines."""
    onset = None if start is None else Start(start, 0.03, "lines")
    return posterior(readings, NUMBERS, bench.window.check, bench.spread, onset, lags)


def advised(bench: Bench, *readings: Seen, standing: Standing = AT_START, lags: tuple = TAKEN_UP):
    known = weighed(bench, *readings, start=0.5 - standing.from_start, lags=lags)
    return advise(known, bench.window, bench.usual, bench.click, standing)


# ---- the curve


@pytest.mark.parametrize("bench", [SIX, FOUR, DUTY], ids=lambda bench: bench.sheet)
def test_richer_by_the_screw_is_richer_in_the_gas(bench: Bench) -> None:
    inside = np.abs(bench.usual.lift) < 0.2
    for check, sign in (("exhaust_co", 1.0), ("exhaust_lambda", -1.0), ("lambda_duty", -1.0)):
        if check in bench.usual.shown:
            assert np.all(sign * np.diff(bench.usual.shown[check][inside]) > 0.0)


def test_a_quarter_turn_is_about_nine_per_cent_of_an_idle_mixture() -> None:
    # The design's figure for the flat six: 0.07 mm a turn of a plunger lift near 0.19 mm.
    lean, rich = (float(SIX.usual.at("exhaust_lambda", lift)) for lift in (-0.125, 0.125))
    assert np.log(lean / rich) == pytest.approx(0.09, abs=0.03)


def test_ten_degrees_of_intake_air_are_about_1_7_per_cent_of_lambda() -> None:
    # The plate's opening goes with the root of the air's density: 0.5 * 10 / 298 = 1.7 %.
    cool, warm = responses(
        SIX.kind, HOME, [replace(HOME, intake_temperature=kelvin) for kelvin in (293.15, 303.15)]
    )
    ratio = float(cool.at("exhaust_lambda", 0.0) / warm.at("exhaust_lambda", 0.0))
    assert ratio == pytest.approx(1.017, abs=0.003)


def test_the_onset_lies_half_a_turn_richer_than_a_right_idle_give_or_take() -> None:
    assert SIX.spread.onset["lines"] == pytest.approx(0.5, abs=0.05)
    assert 0.01 < SIX.spread.u_onset < 0.2  # less than the quarter turn that a start may be wrong by


@given(lift=st.floats(-0.15, 0.5))
@settings(max_examples=30, deadline=None)
def test_where_a_value_is_read_is_where_the_curve_shows_it(lift: float) -> None:
    for check in ("exhaust_co", "exhaust_lambda"):
        value = float(SIX.usual.at(check, lift))
        assert SIX.usual.where(check, value) == pytest.approx(lift, abs=1e-6)


# ---- what readings tell


@pytest.mark.parametrize("gain", [0.6, 1.0, 1.4])
def test_two_readings_a_quarter_turn_apart_tell_the_gain(gain: float) -> None:
    far, near = seen(SIX, 0.05 + 0.25 * gain, 0.0), seen(SIX, 0.05, -0.25)
    known = weighed(SIX, near, far, start=None)
    middle, u = Aim(known, "exhaust_co", 0.01, 0.02, SIX.usual).gain()
    # CO repeats to 4 %: over a quarter turn, several per cent of CO, that is under a tenth of the gain.
    assert u < 0.1
    assert abs(np.log(middle / gain)) < 2.5 * u


def test_before_any_reading_the_screw_is_where_the_starting_point_puts_it() -> None:
    known = weighed(SIX)
    aim = Aim(known, "exhaust_co", 0.01, 0.02, SIX.usual)
    mean, u = aim.right()
    assert abs(mean) < 0.1
    assert 0.1 < u < 0.4
    assert known.does_nothing + known.wrong_way + known.weight.sum() == pytest.approx(1.0)


def test_a_co_too_low_to_tell_is_a_direction_and_no_more() -> None:
    # 0.1 and 0.4 % both say lean; neither says how lean.
    lean = [weighed(SIX, replace(seen(SIX, -0.1), value=value)) for value in (0.001, 0.004)]
    means = [Aim(known, "exhaust_co", 0.01, 0.02, SIX.usual).right()[0] for known in lean]
    assert means[0] > 0.05
    assert means[0] == pytest.approx(means[1], abs=1e-9)


def test_intake_air_that_warmed_up_is_not_taken_for_the_screw() -> None:
    warmer = replace(HOME, intake_temperature=HOME.intake + 28.0)
    (hot,) = responses(SIX.kind, HOME, [warmer])
    cold = seen(SIX, 0.0, check="exhaust_lambda")
    same = Seen("exhaust_lambda", 0.0, TAKEN_UP, float(hot.at("exhaust_lambda", 0.0)), 0.0005, hot)
    window = ("exhaust_lambda", 0.95, 0.97)
    told = [
        Aim(
            posterior(some, NUMBERS, "exhaust_lambda", SIX.spread, None, TAKEN_UP), *window, SIX.usual
        ).p_now()
        for some in ([cold], [same], [replace(same, response=SIX.usual)])
    ]
    assert told[0] == pytest.approx(told[1], abs=0.02)
    assert told[2] < 0.05


def test_play_on_the_wrong_side_makes_the_lever_stand_richer_than_the_key_says() -> None:
    reading = replace(seen(SIX, 0.1), lags=WRONG_SIDE)
    loose = Aim(weighed(SIX, reading, lags=WRONG_SIDE), "exhaust_co", 0.01, 0.02, SIX.usual)
    tight = Aim(weighed(SIX, seen(SIX, 0.1)), "exhaust_co", 0.01, 0.02, SIX.usual)
    # Coming up to the same place clockwise leans it by the play; without play it changes nothing.
    assert loose.expected(0.0)["exhaust_co"].middle < loose.expected(None)["exhaust_co"].middle - 0.002
    assert tight.expected(0.0)["exhaust_co"].middle == pytest.approx(
        tight.expected(None)["exhaust_co"].middle
    )


def test_a_shared_error_of_the_analyser_does_not_shrink_with_repeats() -> None:
    many = [seen(SIX, 0.0, u=0.002) for _ in range(12)]
    known = weighed(SIX, *many, start=None)
    lift = (known.weight.sum(axis=0) * known.lift).sum()
    u = float(np.sqrt((known.weight.sum(axis=0) * (known.lift - lift) ** 2).sum()))
    steep = (SIX.usual.at("exhaust_co", 0.02) - SIX.usual.at("exhaust_co", -0.02)) / 0.04
    assert u == pytest.approx(0.002 / steep, rel=0.25)


def test_a_meter_that_counts_the_other_way_is_found_out() -> None:
    shown = [
        (turns, 1.0 - float(DUTY.usual.at("lambda_duty", -0.15 + turns))) for turns in (0.0, 0.0556, 0.1667)
    ]
    readings = [
        Seen("lambda_duty", turns - 0.1667, TAKEN_UP, value, 0.006, DUTY.usual) for turns, value in shown
    ]
    assert weighed(DUTY, *readings, start=0.5 - 0.1667).inverted > 0.95
    right = [replace(one, value=1.0 - one.value) for one in readings]
    assert weighed(DUTY, *right, start=0.5 - 0.1667).inverted < 0.05


# ---- the next move


@pytest.mark.parametrize("step", [1 / 16, 1 / 32, 20 / 360, 15 / 360, 18 / 360])
@pytest.mark.parametrize("loose", [True, False])
def test_no_move_offered_turns_the_key_by_more_than_a_quarter(step: float, loose: bool) -> None:
    for move in moves(step, loose):
        assert move.past - move.turns <= MOST + 1e-9
        assert move.turns <= MOST + 1e-9
        assert move.turns / step == pytest.approx(round(move.turns / step))
        if move.turns < 0.0:
            assert move.past >= 1 / 16 - 1e-9  # comes back clockwise by enough to take up any play


@given(lift=st.floats(-0.3, 0.5), gain=st.floats(0.6, 1.4), rich=st.booleans())
@settings(max_examples=25, deadline=None)
def test_a_move_comes_nearer_to_the_window_and_hardly_ever_goes_past_it(
    lift: float, gain: float, rich: bool
) -> None:
    lags = WRONG_SIDE if rich else TAKEN_UP
    readings = [
        replace(seen(SIX, lift - 0.0625 * gain, -0.0625), lags=lags),
        replace(seen(SIX, lift), lags=lags),
    ]
    advice = advised(SIX, *readings, standing=Standing(0.0, 1, 2, looked=True), lags=lags)
    if advice.move is None:
        return
    aim = Aim(weighed(SIX, *readings, lags=lags), "exhaust_co", 0.01, 0.02, SIX.usual)
    here = sum(chance * aim.away(lag) for lag, chance in aim.known.lags.items())
    assert aim.away(advice.move.turns) < here
    assert advice.p_beyond <= 0.02 or advice.p_now < 0.1 or advice.p_in_window > advice.p_now + 0.2


def test_in_the_middle_of_the_window_the_screw_is_left() -> None:
    advice = advised(SIX, seen(SIX, 0.0), seen(SIX, 0.0))
    assert (advice.verdict, advice.move) == ("stay", None)
    assert advice.p_in_window > 0.95


def test_rich_goes_past_its_aim_and_comes_back_clockwise() -> None:
    advice = advised(SIX, seen(SIX, 0.12), seen(SIX, 0.12))
    assert advice.move is not None
    assert advice.move.turns < 0.0
    assert advice.move.past >= 1 / 16


def test_a_screw_of_clicks_moves_by_whole_clicks() -> None:
    advice = advised(DUTY, seen(DUTY, 0.25, u=0.006), seen(DUTY, 0.25, u=0.006))
    assert advice.move is not None
    assert DUTY.click is not None
    assert advice.move.turns / DUTY.click == pytest.approx(round(advice.move.turns / DUTY.click))


def test_while_it_is_not_known_which_way_the_meter_counts_moves_stay_small() -> None:
    advice = advised(DUTY, seen(DUTY, 0.3, u=0.006))
    assert advice.move is not None
    assert abs(advice.move.turns) <= 0.125


def test_a_doubtful_reading_is_read_again_before_it_is_acted_on() -> None:
    window = Window("exhaust_lambda", 0.95, 0.97)
    lift = SIX.usual.where("exhaust_lambda", 0.973)
    reading = seen(SIX, lift, check="exhaust_lambda", u=0.004)
    known = posterior([reading], NUMBERS, "exhaust_lambda", SIX.spread, Start(0.5, 0.03, "lines"), TAKEN_UP)
    once = advise(known, window, SIX.usual, None, Standing(0.0, 0, 1, looked=False))
    assert once.verdict == "read"
    assert 0.1 < once.p_now < 0.95


# ---- when to stop


def test_a_quarter_turn_that_changes_nothing_is_no_screw() -> None:
    readings = [seen(SIX, 0.15, turns) for turns in (-0.25, -0.125, 0.0)]
    advice = advised(SIX, *readings, standing=Standing(0.25, 2, 1, looked=True))
    assert (advice.verdict, advice.reason) == ("stop", "does_nothing")


def test_clockwise_that_leans_is_the_wrong_way() -> None:
    readings = [seen(SIX, 0.2 - turns, turns - 0.2) for turns in (0.0, 0.1, 0.2)]
    assert advised(SIX, *readings, standing=Standing(0.2, 2, 1, looked=True)).reason == "wrong_way"


@pytest.mark.parametrize(("lift", "reason"), [(-0.3, "too_lean"), (0.3, "too_rich")])
def test_farther_from_its_start_than_screws_are_wrong_others_are_looked_at_first(
    lift: float, reason: str
) -> None:
    gone = 0.3125 if lift < 0.0 else -0.3125
    readings = [
        seen(SIX, lift - gone, -gone, check="exhaust_lambda"),
        seen(SIX, lift, 0.0, check="exhaust_lambda"),
    ]
    known = posterior(
        readings, NUMBERS, "exhaust_lambda", SIX.spread, Start(0.5 - gone, 0.03, "lines"), TAKEN_UP
    )
    window = Window("exhaust_lambda", 0.95, 0.97)

    def told(looked: bool, from_start: float):
        return advise(known, window, SIX.usual, None, Standing(from_start, 2, 2, looked))

    assert told(False, gone).reason == reason
    assert told(True, np.sign(gone) * 0.5).reason == reason
    # With pressure and tightness proved, the screw may go on to half a turn.
    assert told(True, 0.1 * np.sign(gone)).verdict == "move"


def test_readings_that_no_screw_explains_are_said_to_be_so() -> None:
    readings = [replace(seen(SIX, 0.0), value=value) for value in (0.012, 0.031, 0.013, 0.028)]
    assert advised(SIX, *readings).reason == "scatter"


def test_after_six_moves_out_of_the_window_it_is_enough() -> None:
    readings = [seen(SIX, 0.12), seen(SIX, 0.12)]
    assert advised(SIX, *readings, standing=Standing(0.0, 6, 2, looked=True)).reason == "too_many"
