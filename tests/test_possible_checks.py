"""What comes before a check: nothing that was only read makes the car safe to work on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from evenpour import data
from evenpour.job import job_of_text
from evenpour.job.causes.lean_pull import would_be_lean
from evenpour.job.causes.possible_checks import Possible, possible_checks
from evenpour.job.job import Job
from evenpour.job.job_file import read_text
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from job_examples import hourly, job_with

SAFETY = {"fire_place", "pump_switch_off", "look_for_wet_unions"}
Typed = tuple[str, dict[str, Any]]
SYSTEM_PRESSURE: Typed = ("reading", {"what": "system_pressure", "value": "4.30 bar"})


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(f"sqlite:///{tmp_path}/jobs.db") as opened:
        yield opened


def job_after(store: Store, *typed: Typed, sheet: str = "flat-six") -> Job:
    number = store.new_job({"sheet": sheet, "car": "Blue estate"})
    for kind, content in typed:
        store.append(number, kind, content)
    return stored_job(store, number)


def ways_to(check: str, job: Job) -> dict[str, Possible]:
    """The step by which a check is read, with how it is read there."""
    return {one.step: one for one in possible_checks(job) if one.check == check}


def check_after(store: Store, step: str, *typed: Typed) -> tuple[Possible, float]:
    """The step's check as it can be done after these entries, and the minutes of what comes before it."""
    job = job_after(store, *typed)
    one = next(one for one in possible_checks(job) if one.step == step)
    return one, sum(job.plan.step[name].minutes for name in one.before)


def test_a_typed_pressure_proves_neither_the_place_nor_the_spark_nor_the_pumps_switch(store: Store) -> None:
    one, minutes = check_after(store, "deadhead_pump", SYSTEM_PRESSURE)
    new, as_new = check_after(store, "deadhead_pump")
    assert set(one.before) >= SAFETY
    assert len(one.before) == 6
    assert (one.before, minutes) == (new.before, as_new)  # the order of the work says the same
    assert one.minutes > minutes > 0
    assert "fire" in one.cautions


def test_a_typed_pressure_shows_that_the_gauge_was_in_until_it_is_taken_off(store: Store) -> None:
    bled = "bleed_gauge"
    without, _ = check_after(store, "read_holding")
    assert bled in without.before
    typed, _ = check_after(store, "read_holding", SYSTEM_PRESSURE)
    assert bled not in typed.before
    gone: Typed = ("did", {"action": "removed", "part": "gauge"})
    after, _ = check_after(store, "read_holding", SYSTEM_PRESSURE, gone)
    assert bled in after.before


IDLES: Typed = ("reading", {"what": "idle_speed", "value": "900 rpm"})
NO_FIRE: Typed = ("reading", {"what": "start_outcome", "value": "no_fire"})


@pytest.mark.parametrize("typed", [(), (SYSTEM_PRESSURE,), (NO_FIRE, SYSTEM_PRESSURE)])
def test_no_pressure_is_advised_on_an_engine_run_as_found_that_nobody_said_ran(
    store: Store, typed: tuple[Typed, ...]
) -> None:
    for check in ("control_pressure_warm", "holding_pressure"):
        ways = ways_to(check, job_after(store, *typed))
        assert ways
        assert all(set(one.before) >= SAFETY for one in ways.values())


def test_a_cold_pressure_after_a_failed_start_wants_a_start_that_was_tried(store: Store) -> None:
    for typed in ((), (SYSTEM_PRESSURE,)):
        ways = ways_to("control_pressure_cold", job_after(store, *typed))
        assert all(set(one.before) >= SAFETY for one in ways.values())
    assert "start_fails" in ways_to("control_pressure_cold", job_after(store, NO_FIRE))


def test_an_engine_that_runs_is_read_as_found_and_the_gauge_costs_the_whole_run(store: Store) -> None:
    job = job_after(store, IDLES)
    one = ways_to("control_pressure_warm", job)["as_found_run"]
    assert one.before == ("fire_place", "battery_check")  # it runs by its own spark and pump
    assert one.minutes == sum(job.plan.step[name].minutes for name in (*one.before, one.step))


def test_an_engine_is_not_run_as_found_once_its_spark_is_away(store: Store) -> None:
    away: Typed = ("did", {"action": "disconnected", "part": "coil_feed"})
    assert "as_found_run" not in ways_to("control_pressure_warm", job_after(store, IDLES, away))


def test_a_plug_looked_at_in_the_hand_does_not_say_that_the_engine_runs(store: Store) -> None:
    plug: Typed = ("reading", {"what": "plug_look", "value": "sooty", "cylinder": 1})
    looked = job_after(store, plug)
    assert not ways_to("exhaust_co", looked)
    assert not ways_to("idle_speed", looked)


def idle(what: str, value: str) -> Typed:
    return ("reading", {"what": what, "value": value, "conditions": {"state": "idle_warm"}})


COLD: Typed = ("reading", {
    "what": "control_pressure_cold", "value": "1.4 bar", "conditions": {"regulator_temperature": "18 degC"}
})  # fmt: skip
WARM_IDLE = (idle("exhaust_co", "1.4 %"), idle("idle_speed", "900 rpm"))


def test_nobody_is_sent_to_the_search_after_a_failed_start_where_the_engine_runs(store: Store) -> None:
    started: Typed = ("reading", {"what": "start_outcome", "value": "runs"})
    for typed in (WARM_IDLE, (NO_FIRE, started)):
        ways = ways_to("control_pressure_cold", job_after(store, *typed, SYSTEM_PRESSURE))
        assert set(ways) == {"read_control_cold"}
        assert set(ways["read_control_cold"].before) >= SAFETY


def test_a_pressure_is_read_again_where_it_is_read_and_not_over_open_jars(store: Store) -> None:
    ways = ways_to("system_pressure", job_after(store, SYSTEM_PRESSURE, COLD, *WARM_IDLE))
    assert set(ways) == {"as_found_run"}
    assert set(ways_to("system_pressure", job_after(store, SYSTEM_PRESSURE, COLD))) == {
        "read_system_pressure"
    }


def test_lambda_is_read_in_the_step_that_holds_the_engine_in_that_state(store: Store) -> None:
    job = job_after(store, SYSTEM_PRESSURE, COLD, *WARM_IDLE)
    states = {one.step: one.stated["state"] for one in possible_checks(job) if one.check == "exhaust_lambda"}
    assert states == {
        "as_found_run": "idle_warm", "warm_up_watch": "idle_cold", "fast_idle_lambda": "fast_idle",
        "road_steady": "road_steady", "full_load": "full_load",
    }  # fmt: skip
    gas = {
        one.step for one in possible_checks(job) if one.check in ("exhaust_co2", "exhaust_o2", "exhaust_hc")
    }
    assert gas == {"as_found_run"}


def test_what_takes_the_whole_of_a_step_takes_its_minutes(store: Store) -> None:
    job = job_after(store, *WARM_IDLE)
    for one in ways_to("exhaust_lambda", job).values():
        step, before = job.plan.step[one.step], sum(job.plan.step[name].minutes for name in one.before)
        whole = one.step in ("warm_up_watch", "road_steady", "full_load")
        assert one.minutes - before == (step.minutes if whole else job.known.checks["exhaust_lambda"].minutes)


def test_gas_read_at_idle_does_not_show_that_the_car_was_driven(store: Store) -> None:
    """The same is read at idle after the drive too, but it may as well have been read as it was found."""
    driven = ways_to("exhaust_lambda", job_after(store, *WARM_IDLE))["full_load"]
    assert {"catch_lines_full", "catch_injectors_full", "timing_by_light_running"} <= set(driven.before)


@pytest.mark.parametrize(
    ("sheet", "check", "condition", "choices"),
    [
        ("vee-eight", "control_pressure_warm", "vacuum", {"none", "applied"}),
        ("inline-five", "valve_clearance", "where", {"inlet_valve", "exhaust_valve"}),
    ],
)
def test_no_reading_is_advised_that_would_not_count(
    store: Store, sheet: str, check: str, condition: str, choices: set[str]
) -> None:
    job = job_after(store, *WARM_IDLE, sheet=sheet)
    assert {one.stated.get(condition) for one in possible_checks(job) if one.check == check} == choices


RUNS: Typed = ("reading", {"what": "start_outcome", "value": "runs"})
PULLED: Typed = ("reading", {"what": "exhaust_lambda", "value": "0.89", "conditions": {"state": "full_load"}})
LEAN: Typed = ("reading", {"what": "exhaust_lambda", "value": "1.04", "conditions": {"state": "full_load"}})
LEAN_BY_CO: Typed = (
    "reading",
    {"what": "exhaust_co", "value": "0.5 %", "conditions": {"state": "full_load"}},
)
REST: dict[str, Any] = {"valve": "shut"}


def delivery(amount: str, where: str = "distributor_return") -> Typed:
    stated = {"duration": "30 s", "where": where, "pump_voltage": "12.2 V"}
    return "reading", {"what": "pump_delivery", "value": amount, "conditions": stated}


def pressure(value: str, **stated: str) -> Typed:
    return "reading", {"what": "system_pressure", "value": value, "conditions": {**REST, **stated}}


def pulls(store: Store, *typed: Typed, before: Typed = PULLED, sheet: str = "flat-six") -> set[str]:
    """What is read at full load, or after it, of an engine that runs."""
    found = possible_checks(job_after(store, RUNS, IDLES, before, *typed, sheet=sheet))
    return {
        one.check
        for one in found
        if one.stated.get("state") == "full_load"
        or one.stated.get("after") == "cut_at_load"
        or "full_load" in (one.step, *one.before)
    }


def turned(turns: str) -> Typed:
    return "move", {"part": "mixture_screw", "turns": turns}


NEW_FILTER: Typed = ("did", {"action": "replaced", "part": "filter"})


@pytest.mark.parametrize(
    "typed",
    [
        (delivery("380 ml"),),
        (pressure("3.9 bar", plate="full"),),
        (delivery("380 ml"), NEW_FILTER),
        (delivery("380 ml"), pressure("4.95 bar", plate="full")),  # held, and yet too little
        (delivery("380 ml"), delivery("1300 ml", where="before_filter")),  # the filter, and it is not mended
        (pressure("1.5 bar"),),  # at rest: no regulator's shim takes off so much
    ],
)
def test_no_engine_is_pulled_at_full_load_where_it_would_be_lean(
    store: Store, typed: tuple[Typed, ...]
) -> None:
    """Lean at full load burns pistons. Common practice, no source."""
    assert not pulls(store, *typed)


@pytest.mark.parametrize(
    "typed",
    [
        (),
        (delivery("1200 ml"),),
        (delivery("380 ml"), NEW_FILTER, delivery("1200 ml")),
        (pressure("3.9 bar"),),  # at rest: of the regulator
        (pressure("5.9 bar", plate="full"),),
        (pressure("1.5 bar"), NEW_FILTER, pressure("4.95 bar"), pressure("4.95 bar", plate="full")),
        (pressure("3.9 bar", plate="full"), NEW_FILTER, pressure("4.95 bar", plate="full", engine="off")),
    ],
)
def test_an_engine_that_would_not_be_lean_there_may_be_pulled(store: Store, typed: tuple[Typed, ...]) -> None:
    assert pulls(store, *typed)


def test_what_was_lean_at_full_load_is_not_pulled_again_before_anything_was_done(store: Store) -> None:
    richer, leaner = turned("+1/8 turn"), turned("-1/8 turn")
    unplugged: Typed = ("did", {"action": "disconnected", "part": "heater_plug"})
    new_plug: Typed = ("did", {"action": "replaced", "part": "spark_plug", "cylinder": 3})
    for lean in (LEAN, LEAN_BY_CO):
        assert not pulls(store, before=lean)
        assert not pulls(store, unplugged, before=lean)
        assert not pulls(store, leaner, before=lean)
        assert not pulls(store, richer, leaner, before=lean)
        assert not pulls(store, new_plug, before=lean)
        assert pulls(store, richer, before=lean)
        assert pulls(store, NEW_FILTER, before=lean)


@pytest.mark.parametrize("part", ["filter", "tank_strainer", "pump_relay", "fuel", "frequency_valve"])
def test_new_parts_that_may_have_left_it_lean_let_it_be_pulled_again(store: Store, part: str) -> None:
    new: Typed = ("did", {"action": "replaced", "part": part})
    assert not pulls(store, before=LEAN, sheet="inline-four-oxygen")
    assert pulls(store, new, before=LEAN, sheet="inline-four-oxygen")


@pytest.mark.parametrize(
    "part",
    ["pump_relay", "battery", "filter", "fuel_distributor", "sensor_plate", "control_pressure_regulator"],
)
def test_what_was_taken_off_for_the_work_and_put_back_made_nothing_richer(store: Store, part: str) -> None:
    off: Typed = ("did", {"action": "removed", "part": part})
    on: Typed = ("did", {"action": "refitted", "part": part})
    assert not pulls(store, off, before=LEAN)
    assert not pulls(store, off, on, before=LEAN)
    assert pulls(store, ("did", {"action": "replaced", "part": part}), before=LEAN)


@pytest.mark.parametrize(
    ("action", "part"),
    [
        ("replaced", "pump_fuse"), ("cleaned", "regulator_inside"), ("replaced", "pressure_valve"),
        ("cleaned", "port"), ("replaced", "tank_cap"), ("cleaned", "fuel_tank"),
    ],
)  # fmt: skip
def test_what_may_have_been_mended_lets_it_be_pulled_again(store: Store, action: str, part: str) -> None:
    """Each mends a cause by which the mixture at full load is lean."""
    content: dict[str, Any] = {"action": action, "part": part}
    if part in ("pressure_valve", "port"):
        content["cylinder"] = 2
    assert pulls(store, ("did", content), before=LEAN)


@pytest.mark.parametrize("step", ["new_filter", "strainer_and_hoses", "shim_system_pressure"])
def test_a_step_that_is_work_lets_it_be_pulled_again(store: Store, step: str) -> None:
    assert pulls(store, ("step", {"id": step, "done": True}), before=LEAN)
    assert not pulls(store, ("step", {"id": step, "done": False, "reason": "no need"}), before=LEAN)
    assert not pulls(store, ("step", {"id": "old_filter_out", "done": True}), before=LEAN)


def test_no_work_outweighs_a_screw_turned_leaner(store: Store) -> None:
    for typed in ((NEW_FILTER, turned("-1 turn")), (turned("-1 turn"), NEW_FILTER)):
        assert not pulls(store, *typed, before=LEAN)
    assert pulls(store, turned("-1 turn"), NEW_FILTER, turned("+1 turn"), before=LEAN)


def at_full_load(*values: str) -> str:
    some = ", ".join(f'"{one}"' for one in values)
    state = 'conditions = { state = "full_load" }'
    return f'[[reading]]\nwhat = "exhaust_lambda"\nvalues = [{some}]\n{state}'


def turned_later(turns: str) -> str:
    return f'[[move]]\npart = "mixture_screw"\nturns = "{turns} turn"'


@pytest.mark.parametrize(
    ("entries", "lean"),
    [
        ((at_full_load("1.04"), at_full_load("0.92")), True),  # hardly outside: nobody can tell
        ((at_full_load("1.04"), at_full_load("0.89")), False),
        ((at_full_load("1.04", "0.80"),), True),  # they contradict, and one is lean
        ((at_full_load("1.04"), turned_later("+1/8"), at_full_load("0.89")), False),
        (
            (at_full_load("1.04"), turned_later("+1/8"), at_full_load("0.89"), turned_later("-1/8")),
            True,
        ),
    ],
)
def test_a_lean_reading_stands_until_one_is_surely_rich_enough(entries: tuple[str, ...], lean: bool) -> None:
    job = job_with(hourly('[[reading]]\nwhat = "start_outcome"\nvalue = "runs"', *entries))
    assert would_be_lean(job) is lean


def test_work_that_nobody_entered_lets_nothing_be_pulled_again() -> None:
    travel = '[[reading]]\nwhat = "plate_travel"\nvalue = "{}"'
    assert would_be_lean(
        job_with(hourly(at_full_load("1.04"), travel.format("binds"), travel.format("free")))
    )


def test_an_engine_started_by_its_stages_is_not_run_as_found_for_a_reading() -> None:
    job = job_of_text(read_text(data.shipped_text("demo.toml"), "demo.toml"))
    found = possible_checks(job)
    assert {one.check for one in found} > {"exhaust_lambda", "exhaust_o2", "control_pressure_warm"}
    assert not [one.check for one in found if "as_found_run" in (one.step, *one.before)]
