"""A turn of the mixture screw mends nothing else: what was likely before it is as likely after it."""

from __future__ import annotations

import math

import pytest

from evenpour.job.causes.answer import case_of
from evenpour.job.causes.case import Case
from evenpour.job.causes.clashes import clashes
from job_examples import job_with

IDLE = 'state = "idle_warm"'


def at(minute: int, kind: str, **stated: str) -> str:
    lines = [f"{name} = {value}" for name, value in stated.items()]
    return "\n".join([f"[[{kind}]]", *lines, f"at = 2026-05-03T08:{minute:02}:00\n"])


def read(minute: int, what: str, value: str, conditions: str = "") -> str:
    return at(
        minute, "reading", what=f'"{what}"', value=f'"{value}"', sure="true", conditions=f"{{ {conditions} }}"
    )


def turn(minute: int, turns: str) -> str:
    return at(minute, "move", part='"mixture_screw"', turns=f'"{turns}"')


PRESSURES = read(1, "system_pressure", "4.95 bar") + read(
    2, "control_pressure_warm", "3.6 bar", 'voltage = "12.4 V", heater = "plugged", after = "5 min"'
)
LEAN = read(5, "exhaust_co", "0.4 %", IDLE) + read(6, "idle_speed", "890 rpm", IDLE)
RIGHT_NOW = read(12, "exhaust_co", "1.5 %", IDLE)


def case(text: str) -> Case:
    return case_of(job_with(PRESSURES + text))


def chance(found: Case, *names: str) -> float:
    """How likely it is that one of these is so, alone or beside something else."""
    own = {h for h, one in enumerate(found.explanation.suspects) if one.id in names}
    joint = zip(found.joint, found.joint_probability, strict=True)
    alone = sum(p for h, p in found.probability.items() if h in own)
    return alone + sum(p for one, p in joint if own & set(one.which))


def air(found: Case) -> float:
    return chance(found, "air_leak_common", "air_leak_runner")


def test_a_turn_with_nothing_read_leaves_an_air_leak_about_as_likely() -> None:
    before, after = case(LEAN), case(LEAN + turn(10, "1/8 turn"))
    assert air(before) > 0.6
    assert 2.0 / 3.0 < air(after) / air(before) < 1.5


def test_a_leak_that_was_seen_is_not_explained_away_by_a_screw_that_hides_it() -> None:
    smoke = read(7, "intake_smoke", "leaks")
    told = case(LEAN + smoke + turn(10, "1/8 turn") + RIGHT_NOW)
    assert air(told) > 0.9
    assert clashes(told) == []
    assert chance(told, "mixture_screw_rich") > 0.9


def test_two_faults_stay_what_they_are_when_the_screw_is_turned() -> None:
    """Late timing and a worn cylinder, and an eighth of a turn after the last reading."""
    two = read(3, "timing_static", "-3 deg") + read(5, "exhaust_co", "1.4 %", IDLE)
    for number in range(1, 7):
        bar = "6 bar" if number == 2 else "10.4 bar"
        two += at(4, "reading", what='"compression"', value=f'"{bar}"', cylinder=str(number))
    before, after = case(two), case(two + turn(10, "1/8 turn"))
    for name in ("timing_late", "compression_low"):
        assert chance(before, name) > 0.3
        assert chance(after, name) == pytest.approx(chance(before, name), abs=0.1)


def test_a_screw_that_was_set_with_the_engine_off_is_expected_to_want_a_turn() -> None:
    lean = case(turn(3, "-1/4 turn") + LEAN)
    assert chance(lean, "mixture_screw_lean") > 0.5
    turned = case(turn(3, "-1/4 turn") + LEAN + turn(10, "1/8 turn") + RIGHT_NOW)
    assert turned.probability[0] > 2.0 * air(turned)


@pytest.mark.parametrize("turns", ["1/16 turn", "1/8 turn", "-1/16 turn"])
def test_a_turn_with_nothing_read_leaves_two_leaks_as_far_apart_as_they_were(turns: str) -> None:
    """Which of two leaks it is stands as it stood; each is fitted anew, good to some half a nat."""
    six = read(1, "system_pressure", "5.2 bar")
    six += read(5, "exhaust_co", "0.6 %", IDLE) + read(6, "idle_speed", "970 rpm", IDLE)
    six += read(7, "exhaust_o2", "1.2 %", IDLE)

    def apart(text: str) -> float:
        found = case_of(job_with(text, sheet="vee-six"))
        return math.log(chance(found, "air_leak_common") / chance(found, "air_leak_runner"))

    assert apart(six + turn(10, turns)) == pytest.approx(apart(six), abs=1.0)


@pytest.mark.parametrize("turns", ["1/64 turn", "-1/64 turn"])
def test_a_turn_too_small_to_put_a_screw_wrong_changes_no_more_than_a_fit_is_worth(turns: str) -> None:
    """As log odds: half a nat."""
    before, after = air(case(LEAN)), air(case(LEAN + turn(10, turns)))
    odds = math.log(after / (1.0 - after)) - math.log(before / (1.0 - before))
    assert abs(odds) < 0.5


def test_what_was_read_with_the_screw_far_off_tells_no_more_and_that_is_said() -> None:
    found = case(LEAN + turn(10, "2 turn"))
    assert {one.observation.check.check for one in found.read} == {"system_pressure", "control_pressure_warm"}
    assert sum("turned by more than 1.2 turns since" in words for words in found.left_out) == 2
