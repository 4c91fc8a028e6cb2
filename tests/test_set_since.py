"""A car whose mixture and idle were set again with the fault on it runs right, and still has the fault."""

from __future__ import annotations

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.prior import set_for
from evenpour.job.job_file import read_text
from evenpour.job.sheet.found import known_checks
from evenpour.job.whatif.worked_out import whatif
from evenpour.machine.readout import Readout
from evenpour.machine.set_up import is_set_for, set_since
from machine_world import CAUSES, HOME, SHEETS, kind, mixture, seen, value, with_

#: Causes that a hand can set the engine for, all of which shift the mixture at idle.
SET_FOR = sorted(one.id for one in CAUSES.values() if any(map(is_set_for, one.forms)))


def idle(cars: Readout) -> tuple[float, float]:
    """Lambda and speed of the warm idle, oxygen sensor unplugged."""
    return mixture(cars, "idle_warm"), float(value(cars, "idle_speed", state="idle_warm", sensor="off")[0])


def test_some_causes_can_be_set_for() -> None:
    assert {"air_leak_common", "control_warm_high"} <= set(SET_FOR)


def test_of_each_of_them_it_is_said_which_checks_show_it() -> None:
    assert set(set_for().read_by) == set(SET_FOR)
    assert all(checks and checks <= set(known_checks()[0]) for checks in set_for().read_by.values())


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("cause", SET_FOR)
def test_set_for_a_fault_the_idle_is_as_right_as_without_it(name: str, cause: str) -> None:
    """Lambda to what a good analyser can tell, 0.01; the speed to what a counter shows, 20 rpm."""
    of = kind(name)
    lam, speed = idle(seen(of))
    spoilt, _ = idle(with_(of, cause, 0.3))
    again, then = idle(with_(of, cause, 0.3, form=1))
    assert again == pytest.approx(lam, abs=0.01)
    assert 60.0 * abs(then - speed) < 20.0
    assert abs(spoilt - lam) > 0.02  # else there is nothing to set


def test_an_idle_screw_turned_in_to_its_seat_leaves_the_idle_too_fast() -> None:
    of = kind("flat-six")
    torn = with_(of, "air_leak_common", 1.0, form=1).cars
    torn.values[torn.rows["common_leak"]] *= 4.0  # a hose gone, not a gasket
    before = seen(of)
    screws = set_since(of.design, of.torque, of.funnel, torn, HOME, before.screws)
    assert screws.idle_area[0] < 0.05 * before.screws.idle_area[0]
    assert idle(Readout(of, torn, screws))[1] > 1.1 * idle(before)[1]


SET = """format = "evenpour-job/1"
[engine]
sheet = "inline-six"
[[reading]]
what = "intake_leak_flow"
value = "12 l/min"
conditions = { test_pressure = "20 mbar" }
at = 2026-05-03T09:04:00
[[reading]]
what = "exhaust_lambda"
value = "0.96"
conditions = { state = "idle_warm" }
at = 2026-05-03T09:08:00
[[reading]]
what = "exhaust_co"
value = "1.5 %"
conditions = { state = "idle_warm" }
at = 2026-05-03T09:12:00
[[reading]]
what = "idle_speed"
value = "800 rpm"
conditions = { state = "idle_warm" }
at = 2026-05-03T09:16:00
"""


def test_a_leak_that_was_measured_is_believed_though_the_mixture_is_right() -> None:
    """It is told that somebody set the mixture for it, so that it is set anew after the repair."""
    told = causes_answer(job_of_text(read_text(SET, "job.toml")))
    assert told.causes[0].cause == "air_leak_common"
    assert told.causes[0].probability > 0.7
    assert "set them anew after the repair" in told.causes[0].way
    assert told.unexplained < 0.1


def test_a_fault_that_came_after_the_screws_were_set_again_is_not_set_for() -> None:
    """They were set for the leak, and the control pressure that is too high came after it."""

    def warm(*settings: str) -> float:
        told = whatif("flat-six", settings)
        (state,) = [one for one in told.states if one.state == "idle_warm"]
        assert state.now is not None
        assert state.now.lambda_ is not None
        return state.now.lambda_

    alone = warm("control_warm_high=0.5")
    assert warm("air_leak_common=-0.3") == pytest.approx(warm(), abs=0.005)
    assert warm("air_leak_common=-0.3", "control_warm_high=0.5") == pytest.approx(alone, abs=0.005)
