"""Which work on a part ends which earlier reading: what can be mended there, and what was only in the way.

Which part can mend which cause: common practice, no source.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import pytest

from evenpour import data
from evenpour.errors import UnknownName
from evenpour.job import engine_model
from evenpour.job.catalogue import catalogue
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.asked import Asked, asked_now
from evenpour.job.causes.joined import joints
from evenpour.job.causes.prior import shipped_prior
from evenpour.job.causes.touches import handled
from evenpour.job.closing_page import closing_choices
from evenpour.job.job import Job
from evenpour.job.sheet.found import known_checks
from evenpour.job.store import Store
from evenpour.machine.reads_air import COMMON_PLACES, RUNNER_PLACES
from job_examples import hourly, job_with

LEAN = 'what = "exhaust_lambda"\nvalue = "1.25"\nconditions = { state = "idle_warm" }'
RIGHT = 'what = "exhaust_lambda"\nvalue = "0.97"\nconditions = { state = "idle_warm" }'
FAST = 'what = "idle_speed"\nvalue = "1400 rpm"\nconditions = { state = "idle_warm" }'
SLOW = 'what = "idle_speed"\nvalue = "900 rpm"\nconditions = { state = "idle_warm" }'
NO_SPARK = 'what = "spark_seen"\ncylinder = 2\nvalue = "no"'
SPARK = 'what = "spark_seen"\ncylinder = 2\nvalue = "yes"'
DEAD = 'what = "start_outcome"\nvalue = "no_fire"'
RUNS = 'what = "start_outcome"\nvalue = "runs"'
FREE = 'what = "plate_travel"\nvalue = "free"'
BINDS = 'what = "plate_travel"\nvalue = "binds"'
WEAK = 'what = "battery_voltage"\nvalue = "8.2 V"\nconditions = { load = "cranking" }'
STRONG = 'what = "battery_voltage"\nvalue = "10.9 V"\nconditions = { load = "cranking" }'
FLAT = 'what = "battery_voltage"\nvalue = "11.9 V"\nconditions = { load = "rested" }'
NO_VOLTS = 'what = "pump_voltage"\nvalue = "0 V"\nconditions = { where = "pump_terminals" }'
PRESSURE = 'what = "system_pressure"\nvalue = "4.95 bar"\nconditions = { valve = "shut" }'
NO_PRESSURE = 'what = "system_pressure"\nvalue = "0 bar"\nconditions = { valve = "shut" }'
DWELL = 'what = "dwell"\nvalue = "60 deg"'
TIMING = 'what = "timing_static"\nvalue = "5 deg"'
RUNS_ON = 'what = "pump_cutoff"\nvalue = "runs_on"'
STOPS = 'what = "pump_cutoff"\nvalue = "stops"'
WARM = (
    'what = "control_pressure_warm"\nvalue = "{} bar"\n'
    'conditions = {{ valve = "open", heater = "plugged", after = "5 min", voltage = "12.5 V" }}'
)
COLD = (
    'what = "control_pressure_cold"\nvalue = "1.4 bar"\n'
    'conditions = { valve = "open", heater = "unplugged", regulator_temperature = "18 degC" }'
)


def did(action: str, part: str, cylinder: int | None = None) -> str:
    where = "" if cylinder is None else f"\ncylinder = {cylinder}"
    return f'[[did]]\naction = "{action}"\npart = "{part}"{where}'


def job(*entries: str, sheet: str = "flat-six") -> Job:
    tables = (one if one.startswith("[[") else f"[[reading]]\n{one}" for one in entries)
    day = '[conditions]\nambient_temperature = "18 degC"\nfuel = "E5"\n'
    return job_with(day, hourly(*tables), sheet=sheet)


def asked(*entries: str, sheet: str = "flat-six") -> Asked:
    return asked_now(job(*entries, sheet=sheet), shipped_prior())


def prior_of(cause: str, cylinder: int | None, *entries: str, sheet: str = "flat-six") -> float:
    """How likely a cause is before the readings are weighed, against nothing wrong."""
    found = asked(*entries, sheet=sheet)
    ((_, one),) = (
        (suspect, guess)
        for suspect, guess in zip(found.listed, found.guesses, strict=True)
        if (suspect.id, suspect.cylinder) == (cause, cylinder)
    )
    return math.exp(one.log_prior - found.guesses[0].log_prior)


@pytest.mark.parametrize(
    ("was_read", "work"),
    [
        (LEAN, did("replaced", "injector_seal", 3)),
        (LEAN, did("replaced", "injector", 3)),
        (LEAN, did("replaced", "vacuum_hoses")),
        (LEAN, did("fitted", "key_hole_stopper")),
        (FAST, did("adjusted", "throttle_linkage")),
        (NO_SPARK, did("replaced", "spark_lead", 2)),
        (NO_SPARK, did("replaced", "coil_feed")),
        (NO_SPARK, did("adjusted", "contact_points")),
        (DWELL, did("adjusted", "contact_points")),
        (TIMING, did("adjusted", "contact_points")),
        (TIMING, did("replaced", "advance_unit")),
        (NO_VOLTS, did("replaced", "pump_fuse")),
        (NO_PRESSURE, did("cleaned", "fuel_tank")),
        (NO_PRESSURE, did("replaced", "fuel")),
        (FLAT, did("replaced", "generator")),
        (WARM.format(4.5), did("cleaned", "regulator_inside")),
        (WARM.format(1.5), did("reconnected", "heater_plug")),
    ],
)
def test_what_was_out_of_order_ends_with_work_that_can_mend_it(was_read: str, work: str) -> None:
    found = asked(was_read, work)
    assert not found.told
    assert any(one.endswith(" since") for one in found.left_out)


def step(name: str, *, done: bool = True, cylinder: int | None = None) -> str:
    where = "" if cylinder is None else f"\ncylinder = {cylinder}"
    return f'[[step]]\nid = "{name}"\ndone = {str(done).lower()}\nreason = "no need"{where}'


LITTLE = (
    'what = "pump_delivery"\nvalue = "380 ml"\n'
    'conditions = { duration = "30 s", where = "distributor_return", pump_voltage = "12.2 V" }'
)
MUCH = LITTLE.replace("380", "1100")
LOW = 'what = "system_pressure"\nvalue = "4.3 bar"\nconditions = { valve = "shut" }'
HIGH = (
    'what = "control_pressure_cold"\nvalue = "2.3 bar"\n'
    'conditions = { valve = "open", heater = "unplugged", regulator_temperature = "18 degC" }'
)


@pytest.mark.parametrize(
    ("was_read", "name", "work"),
    [
        (LITTLE, "new_filter", did("replaced", "filter")),
        (LITTLE, "strainer_and_hoses", did("cleaned", "tank_strainer")),
        (LOW, "shim_system_pressure", did("adjusted", "primary_pressure_regulator")),
        (HIGH, "set_control_cold", did("adjusted", "control_pressure_regulator")),
        (HIGH, "regulator_body", did("cleaned", "regulator_inside")),
        (LEAN, "injectors_in", did("replaced", "injector_seal")),
    ],
)
def test_a_step_that_leaves_a_part_new_clean_or_set_is_work_on_it(
    was_read: str, name: str, work: str
) -> None:
    by_step, by_hand = asked(was_read, step(name)), asked(was_read, work)
    assert not by_step.told
    assert by_step.left_out == by_hand.left_out
    assert [one.log_prior for one in by_step.guesses] == [one.log_prior for one in by_hand.guesses]
    assert len(asked(was_read, step(name, done=False)).told) == 1


def test_a_step_at_one_cylinder_is_work_there() -> None:
    assert len(asked(NO_SPARK, step("injectors_in", cylinder=2)).told) == 1
    times = [
        prior_of("air_leak_runner", k, step("injectors_in", cylinder=2)) / prior_of("air_leak_runner", k)
        for k in (2, 3)
    ]
    assert times[0] < 0.9
    assert times[1] == pytest.approx(1.0, abs=0.02)  # all are shared out anew


def happened(what: str) -> str:
    return f'[[happened]]\nwhat = "{what}"'


@pytest.mark.parametrize(
    ("before", "what", "after", "because"),
    [
        (LEAN, "refuelled", RIGHT, "fuel was filled in"),
        (RIGHT, "backfire", LEAN, "it fired back into the intake"),
        (FREE, "backfire", BINDS, "it fired back into the intake"),
        (WEAK, "jump_started", STRONG, "the car was started from another battery"),
        (LEAN, "stood_weeks", RIGHT, "the car stood for weeks"),
    ],
)
def test_what_is_read_again_since_something_happened_takes_the_place_of_what_was_read(
    before: str, what: str, after: str, because: str
) -> None:
    assert len(asked(before, happened(what)).told) == 1  # not read again: it still tells
    found = asked(before, happened(what), after)
    assert [one.rank for one in found.told] == [max(one.rank for one in asked(before, after).told) + 1]
    assert found.left_out[0].endswith(f": {because}, and it was read again since")


def test_a_step_ticked_by_mistake_did_nothing() -> None:
    """Where something was read in between, it was done, and is passed over the second time."""
    assert len(asked(LITTLE, step("new_filter"), step("new_filter", done=False)).told) == 1
    twice = asked(LITTLE, step("new_filter"), MUCH, step("new_filter", done=False))
    assert [one.observation.value for one in twice.told] == [asked(MUCH).told[0].observation.value]
    assert len(asked(LEAN, step("injectors_in"), step("injectors_in", done=False, cylinder=3)).told) == 0


def test_a_step_ticked_after_its_work_was_entered_is_that_work_and_no_other() -> None:
    new = did("replaced", "filter")
    found = asked(LITTLE, new, LITTLE, step("new_filter"))
    assert [one.rank for one in found.told] == [asked(LITTLE, new, LITTLE).told[0].rank]
    assert not asked(LITTLE, new, LITTLE, step("new_filter"), LITTLE, step("new_filter")).told  # a second one
    strainer = did("replaced", "tank_strainer")
    assert len(asked(strainer, LITTLE, step("strainer_and_hoses")).told) == 1  # a new one is clean
    other = did("replaced", "control_pressure_regulator")
    assert not asked(other, HIGH, step("set_control_cold")).told  # that is other work
    at_three = did("replaced", "injector_seal", 3)
    at_two = step("injectors_in", cylinder=2)
    assert len(asked(at_three, at_two, LEAN, step("injectors_in", cylinder=3)).told) == 1
    assert len(asked(at_three, LEAN, step("injectors_in", cylinder=3)).told) == 1
    assert not asked(at_three, LEAN, step("injectors_in")).told  # all others are new too


@pytest.mark.parametrize(
    ("out", "in_order"),
    [
        (BINDS, FREE),
        ('what = "oil_smell"\nvalue = "fuel"', 'what = "oil_smell"\nvalue = "clean"'),
        (
            'what = "valve_clearance"\nvalue = "0.02 mm"\ncylinder = 1',
            'what = "valve_clearance"\nvalue = "0.10 mm"\ncylinder = 1',
        ),
        ('what = "dwell"\nvalue = "50 deg"', 'what = "dwell"\nvalue = "38 deg"'),
        ('what = "timing_static"\nvalue = "-6 deg"', 'what = "timing_static"\nvalue = "5 deg"'),
    ],
)
def test_what_is_set_in_a_step_was_set_when_it_is_read_right_next(out: str, in_order: str) -> None:
    found = asked(out, in_order)
    assert len(found.told) == 1
    assert [one.fact.action for one in handled(job(out, in_order))] == ["put_right"]
    assert found.left_out[0].endswith(
        ("set or renewed by hand, it was read otherwise since", "put right since")
    )
    assert len(asked(out, out).told) == 2  # they agree


def test_what_was_read_with_a_lead_that_was_renewed_in_its_step_ends_with_it() -> None:
    open_, right = (
        f'what = "spark_lead_resistance"\nvalue = "{ohm}"\ncylinder = 2' for ohm in ("400 kohm", "5 kohm")
    )
    found = asked(open_, NO_SPARK, step("spark_parts"), right, SPARK)
    assert [one.observation.choice or one.observation.value for one in found.told] == [5000.0, "yes"]
    assert any(one.endswith("the spark plug lead was put right since") for one in found.left_out)
    assert len(asked(NO_SPARK, right).told) == 2  # never out: nothing was renewed
    ticked = asked(open_, step("spark_parts"), NO_SPARK, right)  # renewed when it was ticked, and still none
    assert "no" in [one.observation.choice for one in ticked.told]


def test_what_is_set_at_one_cylinder_is_set_there_alone() -> None:
    out, right = (f'what = "valve_clearance"\nvalue = "{gap} mm"\ncylinder = 1' for gap in ("0.02", "0.10"))
    weak = 'what = "compression"\nvalue = "4 bar"\ncylinder = {}'
    assert len(asked(out, weak.format(3), right).told) == 2
    assert len(asked(out, weak.format(1), right).told) == 1


def test_readings_in_order_that_differ_a_little_both_count() -> None:
    for check, one, other in (("timing_static", "5 deg", "6 deg"), ("idle_speed", "900 rpm", "930 rpm")):
        found = asked(*(f'what = "{check}"\nvalue = "{value}"' for value in (one, other)))
        assert len(found.told) == 2
        assert not found.left_out
    right, off = (f'what = "dwell"\nvalue = "{angle} deg"' for angle in (38, 50))
    assert [one.rank for one in asked(right, right, off).told] == [asked(right, right, off).told[-1].rank]


def test_what_was_set_wrong_by_hand_counts_as_it_was_read_last() -> None:
    good, bad = (f'what = "valve_clearance"\nvalue = "{gap} mm"\ncylinder = 1' for gap in ("0.10", "0.02"))
    assert len(asked(good, bad).told) == 1
    wide = bad.replace("0.02", "0.30")
    assert not asked(wide, did("adjusted", "valve_train")).told
    assert not asked('what = "dwell"\nvalue = "25 deg"', did("adjusted", "contact_points")).told


def test_how_long_and_at_how_many_volts_makes_no_other_reading() -> None:
    longer = LITTLE.replace("380", "2200").replace("30 s", "60 s")
    assert len(asked(LITTLE, happened("refuelled"), longer).told) == 1
    assert len(asked(LITTLE, happened("refuelled"), MUCH.replace("12.2 V", "13.5 V")).told) == 1


def test_what_was_read_in_another_state_was_not_read_again() -> None:
    at = 'what = "timing_running"\nvalue = "{} deg"\nconditions = {{ speed = "3000 rpm", vacuum = "{}" }}'
    assert len(asked(at.format(20, "400 mbar"), at.format(8, "0 mbar")).told) == 2
    fast, slow = (
        f'what = "timing_running"\nvalue = "{angle} deg"\nconditions = {{ speed = "{speed} rpm" }}'
        for angle, speed in ((8, 3000), (5, 900))
    )
    assert len(asked(fast, slow).told) == 2
    warm_day = COLD.replace("1.4 bar", "2.0 bar").replace("18 degC", "35 degC")
    assert len(asked(COLD, happened("refuelled"), warm_day).told) == 2
    hot, cold = (
        f'{start}\nconditions = {{ engine = "{engine}" }}'
        for start, engine in ((DEAD, "hot"), (RUNS, "cold"))
    )
    assert len(asked(hot, cold).told) == 2


def test_a_figure_too_far_off_for_the_part_that_was_touched_still_counts() -> None:
    """No setting of the regulator makes a third of the pump's delivery; half a bar it does."""
    shim = did("adjusted", "primary_pressure_regulator")
    assert len(asked(LITTLE, shim).told) == 1
    assert not asked(LOW, shim).told


def test_a_reading_that_only_the_second_form_of_a_cause_moves_ends_with_its_part() -> None:
    lead = 'what = "spark_lead_resistance"\nvalue = "30 kohm"\ncylinder = 2'
    assert not asked(lead, did("replaced", "spark_lead", 2)).told
    assert len(asked(lead, did("replaced", "spark_lead", 3)).told) == 1


def test_a_start_in_vain_tells_no_more_once_it_ran() -> None:
    assert [one.observation.choice for one in asked(DEAD, RUNS).told] == ["runs"]
    assert "no_fire" in [one.observation.choice for one in asked(RUNS, DEAD).told]


@pytest.mark.parametrize(
    ("was_read", "work"),
    [
        (PRESSURE, did("replaced", "fuel")),  # in order, and what mends elsewhere cannot have spoiled it
        (PRESSURE, did("replaced", "pump_fuse")),
        (PRESSURE, did("replaced", "spark_lead", 2)),
        (NO_SPARK, did("replaced", "spark_lead", 3)),
        (NO_SPARK, did("replaced", "injector_seal", 2)),
        (FLAT, did("replaced", "coil_feed")),
    ],
)
def test_what_the_work_cannot_change_still_counts(was_read: str, work: str) -> None:
    found = asked(was_read, work)
    assert len(found.told) == 1
    assert not found.left_out


@pytest.mark.parametrize(
    ("was_read", "again", "off", "on"),
    [
        (NO_SPARK, SPARK, did("disconnected", "coil_feed"), did("reconnected", "coil_feed")),
        (NO_SPARK, SPARK, did("disconnected", "spark_lead", 2), did("reconnected", "spark_lead", 2)),
        (NO_SPARK, SPARK, '[[step]]\nid = "spark_disabled"\ndone = true', did("reconnected", "coil_feed")),
        (NO_VOLTS, NO_VOLTS, did("removed", "pump_fuse"), did("refitted", "pump_fuse")),
        (LEAN, RIGHT, did("disconnected", "vacuum_hoses"), did("reconnected", "vacuum_hoses")),
        (WARM.format(1.5), WARM.format(3.6), COLD, did("reconnected", "heater_plug")),
    ],
)
def test_what_was_only_in_the_way_ends_what_was_read_again(
    was_read: str, again: str, off: str, on: str
) -> None:
    beside = off == COLD
    assert len(asked(was_read, off, on).told) == 1 + beside
    read_again = asked(was_read, off, on, again)
    assert len(read_again.told) == 1 + beside
    assert max(one.rank for one in read_again.told) == max(one.rank for one in asked(again).told) + 3
    assert len(asked(was_read, off, again, on).told) == 2 + beside


@pytest.mark.parametrize(
    ("was_read", "touch", "again"),
    [(FAST, did("adjusted", "idle_air_screw"), SLOW), (RUNS_ON, did("taken_out", "pump_bridge"), STOPS)],
)
def test_the_idle_air_screw_and_a_bridge_left_in_end_what_was_read_again(
    was_read: str, touch: str, again: str
) -> None:
    assert len(asked(was_read, touch).told) == 1
    assert len(asked(was_read, touch, again).told) == 1


def test_a_cause_grows_less_likely_by_work_that_can_mend_it_where_it_was_done() -> None:
    def spark(cylinder: int, *entries: str) -> float:
        return prior_of("spark_missing", cylinder, *entries)

    lead, moved = did("replaced", "spark_lead", 2), did("reconnected", "spark_lead", 2)
    assert spark(2, PRESSURE, lead) < 0.9 * spark(2, PRESSURE)
    assert spark(3, PRESSURE, lead) > 0.99 * spark(3, PRESSURE)
    off_and_on = (PRESSURE, did("disconnected", "spark_lead", 2), moved)
    assert spark(2, *off_and_on) == pytest.approx(spark(2, PRESSURE))
    seal = did("replaced", "injector_seal", 3)
    assert prior_of("air_leak_runner", 3, LEAN, seal) < 0.3 * prior_of("air_leak_runner", 3, LEAN)


CROSSED = 'what = "line_crossed"\nvalue = "crossed"'
UNCROSSED = 'what = "line_crossed"\nvalue = "right"'
HOSE_ON = 'what = "timing_running"\nvalue = "8 deg"\nconditions = { speed = "900 rpm", hose = "on" }'
HOSE_OFF = 'what = "timing_running"\nvalue = "0 deg"\nconditions = { speed = "900 rpm", hose = "off" }'
RICH = LEAN.replace("1.25", "0.82")


def smoke(where: str, value: str = "leaks") -> str:
    return f'what = "intake_smoke"\nvalue = "{value}"\nconditions = {{ where = "{where}" }}'


def off_and_on(part: str, cylinder: int | None = None) -> tuple[str, str]:
    return did("disconnected", part, cylinder), did("reconnected", part, cylinder)


@pytest.mark.parametrize(
    ("cause", "was_read", "part", "cylinder", "sheet"),
    [
        ("lines_swapped", CROSSED, "line", None, "vee-six"),
        ("plugs_swapped", CROSSED, "cold_start_plug", None, "vee-six"),
        ("plugs_swapped", CROSSED, "auxiliary_air_valve", None, "vee-six"),
        ("vacuum_hose_swapped", HOSE_ON, "vacuum_hoses", None, "inline-five"),
        ("air_leak_common", smoke("servo_hose"), "vacuum_hoses", None, "inline-five"),
        ("air_leak_common", smoke("boot"), "intake_body", None, "inline-five"),
        ("air_leak_common", smoke("auxiliary_air_hose"), "auxiliary_air_valve", None, "inline-five"),
    ],
)
def test_what_was_wrong_where_a_part_is_joined_ends_when_it_is_joined_again(
    cause: str, was_read: str, part: str, cylinder: int | None, sheet: str
) -> None:
    rejoined = (was_read, *off_and_on(part, cylinder))
    found = asked(*rejoined, sheet=sheet)
    assert not found.told
    assert any("reconnected since" in one for one in found.left_out)
    assert prior_of(cause, None, *rejoined, sheet=sheet) < 0.9 * prior_of(cause, None, was_read, sheet=sheet)


def test_crossed_lines_put_right_are_no_cause_any_more_though_nobody_looked_again() -> None:
    told = causes_answer(job(CROSSED, *off_and_on("line", 2), *off_and_on("line", 3), sheet="vee-six"))
    assert all(one.probability < 0.1 for one in told.causes)


def test_one_leak_put_right_leaves_what_was_seen_of_another() -> None:
    servo, throttle = off_and_on("vacuum_hoses"), off_and_on("throttle")
    both = (LEAN, smoke("servo_hose"), smoke("throttle_flange"))
    found = asked(*both, *servo)
    assert {one.rank for one in found.told} == {one.rank for one in asked(*both).told[::2]}
    assert prior_of("air_leak_common", None, *both, *servo) == prior_of("air_leak_common", None, *both)
    assert len(asked(smoke("injector_seat"), smoke("servo_hose"), *servo).told) == 1
    assert not asked(*both, *servo, *throttle).told
    assert not asked(*both, *servo, did("replaced", "throttle")).told


def test_a_new_hose_leaves_what_was_seen_of_a_leak_elsewhere() -> None:
    new = did("replaced", "vacuum_hoses")
    assert len(asked(smoke("throttle_flange"), new).told) == 1
    assert not asked(smoke("servo_hose"), new).told
    assert not asked(smoke("throttle_flange"), did("replaced", "intake_body")).told


def test_what_was_seen_of_every_injector_ends_with_the_last_of_them() -> None:
    seats = (LEAN, smoke("injector_seat"))
    each = [entry for k in range(1, 7) for entry in off_and_on("injector", k)]
    assert len(asked(*seats, *each[:-2]).told) == 2
    assert not asked(*seats, *each).told
    one, none = (prior_of("air_leak_runner", 5, *seats, *work) for work in (off_and_on("injector", 5), ()))
    assert one < 0.9 * none


def test_of_two_crossed_lines_one_joined_again_puts_nothing_right() -> None:
    one = off_and_on("line", 2)
    assert len(asked(CROSSED, *one, sheet="vee-six").told) == 1
    assert not asked(CROSSED, *one, *off_and_on("line", 3), sheet="vee-six").told


def test_crossed_hoses_put_right_are_no_cause_any_more() -> None:
    def crossed(*entries: str) -> float:
        told = causes_answer(job(*entries, sheet="inline-five"))
        return sum(one.probability for one in told.causes if one.cause == "vacuum_hose_swapped")

    assert crossed(HOSE_ON, HOSE_OFF) > 0.7
    assert crossed(HOSE_ON, HOSE_OFF, *off_and_on("vacuum_hoses")) < 0.05


def test_a_hose_that_was_off_to_be_read_without_it_is_as_it_was() -> None:
    off, on = off_and_on("vacuum_hoses")
    assert len(asked(HOSE_ON, off, HOSE_OFF, on, sheet="inline-five").told) == 2
    assert len(asked(HOSE_ON, HOSE_OFF, on, sheet="inline-five").told) == 2


@pytest.mark.parametrize(
    ("was_read", "part"),
    [
        (UNCROSSED, "line"),
        (CROSSED, "heater_plug"),
        (smoke("boot"), "vacuum_hoses"),
        (smoke("servo_hose"), "key_hole_stopper"),
        (smoke("servo_hose", "tight"), "vacuum_hoses"),
    ],
)
def test_a_part_at_which_nothing_was_wrong_was_only_in_the_way(was_read: str, part: str) -> None:
    assert len(asked(was_read, *off_and_on(part)).told) == 1


def test_what_is_seen_wrong_after_it_was_joined_again_counts() -> None:
    on = off_and_on("vacuum_hoses")
    assert len(asked(smoke("servo_hose"), *on, smoke("servo_hose")).told) == 1
    last_tight = (smoke("servo_hose"), smoke("servo_hose", "tight"), *on)
    assert len(asked(*last_tight).told) == 2


def test_what_was_read_on_crossed_plugs_or_by_a_leak_ends_as_they_are_put_right() -> None:
    assert not asked(RICH, CROSSED, *off_and_on("cold_start_plug")).told
    assert not asked(LEAN, smoke("servo_hose"), *off_and_on("vacuum_hoses")).told
    assert len(asked(SLOW, smoke("servo_hose"), *off_and_on("vacuum_hoses")).told) == 1


def test_what_is_seen_of_joints_is_named_as_checks_parts_and_causes_are() -> None:
    known, _ = known_checks()
    for one in joints():
        check = known[one.check]
        assert not one.word or one.word in check.choices
        assert set(one.when) <= set(check.conditions)
        assert one.parts <= set(catalogue().parts)
        assert one.causes <= set(engine_model.causes_known())
    places = {one.when["where"] for one in joints() if "where" in one.when}
    assert places <= RUNNER_PLACES | COMMON_PLACES


def test_after_a_repair_that_worked_the_right_readings_are_believed() -> None:
    told = causes_answer(job(DEAD, NO_SPARK, did("replaced", "coil_feed"), SPARK, RUNS))
    assert not told.clashes
    assert told.nothing_wrong > 0.2
    assert all(one.probability < 0.1 for one in told.causes)


def test_a_job_is_closed_with_what_the_work_can_have_mended(tmp_path: Path) -> None:
    with Store(tmp_path / "jobs.db") as store:
        found = closing_choices(job(NO_SPARK, did("replaced", "spark_lead", 2)), store)
    assert "spark_missing[2]" in dict(found.mended)


def test_a_part_that_is_none_is_found_when_the_causes_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    values = data.shipped("causes.toml").values
    first, *others = values["cause"]
    wrong = {**values, "cause": [{**first, "mended_by": ["fuel_pmup"]}, *others]}
    shipped = data.shipped
    monkeypatch.setattr(
        data,
        "shipped",
        lambda name: SimpleNamespace(values=wrong) if name == "causes.toml" else shipped(name),
    )
    with pytest.raises(UnknownName, match="fuel_pump"):
        engine_model.causes_known.__wrapped__()


def test_either_wrong_gap_of_the_points_is_mended_by_setting_it() -> None:
    """Whether the timing was set with it or not."""
    work = did("adjusted", "contact_points")
    for cause in ("points_gap_wrong", "points_gap_timed"):
        assert prior_of(cause, None, work) < prior_of(cause, None)
