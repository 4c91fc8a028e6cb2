"""What a jar of the tank's fuel says, and that an unfit tank is drained before the pump runs."""

from __future__ import annotations

import pytest

from evenpour.job import job_of_text
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.possible_checks import possible_checks
from evenpour.job.job import Job
from evenpour.job.job_file import read_text
from shows_tools import FORM

HEAD = f"""{FORM}
[engine]
sheet = "flat-six"
[conditions]
ambient_temperature = "18 degC"
fuel = "E5"
"""
DELIVERED = (
    '[[reading]]\nwhat = "pump_delivery"\nvalue = "1050 ml"\n'
    'conditions = { duration = "30 s", voltage = "12 V", where = "distributor_return" }\n'
)
CLEANED = '[[did]]\naction = "cleaned"\npart = "fuel_tank"\nat = 2026-05-03T11:00:00\n'
AT = "at = 2026-05-03T10:00:00\n"
OF_DIRT = {"feed_starved", "filter_restricted", "tank_dirty"}


def job(look: str, more: str = "", at: str = "") -> Job:
    return job_of_text(
        read_text(f'{HEAD}[[reading]]\nwhat = "fuel_look"\nvalue = "{look}"\n{at}{more}', "job.toml")
    )


@pytest.mark.parametrize("more", ["", DELIVERED])
def test_water_in_the_jar_is_water_in_the_fuel_and_nothing_that_clogs(more: str) -> None:
    answer = causes_answer(job("water", more))
    assert answer.causes[0].cause == "fuel_water"
    assert answer.causes[0].probability > 0.6  # alone; with something else besides, more
    assert not OF_DIRT & {one.cause for one in answer.causes if one.probability > 0.02}
    assert not answer.clashes
    assert "before the pump runs" in answer.causes[0].remedy
    assert "tank_sample" in answer.repairs[0].before


def test_rust_in_the_jar_is_dirt_in_the_tank_whatever_it_has_clogged_and_no_water() -> None:
    answer = causes_answer(job("rust"))
    likely = {one.cause: one.probability for one in answer.causes}
    assert all(likely[one] > 0.1 for one in OF_DIRT)
    assert likely.get("fuel_water", 0.0) < 0.02
    assert any(
        reason.words.endswith("would expect rust, without it clear")
        for one in answer.causes
        for reason in one.for_
    )


def test_varnish_in_the_jar_is_stale_fuel_or_a_little_dirt_and_hardly_ever_a_slip_of_the_eye() -> None:
    likely = {one.cause: one.probability for one in causes_answer(job("varnish")).causes}
    assert likely["fuel_stale"] > 0.5  # alone; with something else besides, more
    assert likely["fuel_stale"] + likely.get("tank_dirty", 0.0) > 0.75


@pytest.mark.parametrize("look", ["water", "rust", "varnish"])
def test_the_tank_is_drained_before_the_pump_runs_for_any_check(look: str) -> None:
    unfit, fit, cleaned = (possible_checks(one) for one in (job(look), job("clear"), job(look, CLEANED, AT)))
    pumped = {one.step for one in fit if "pump_switch_off" in one.before}
    assert len(pumped) > 10
    for one in unfit:
        assert (one.step in pumped) <= ("tank_sample" in one.before), one.step
        if "tank_sample" in one.before and "pump_switch_off" in one.before:
            assert one.before.index("tank_sample") < one.before.index("pump_switch_off")
    assert not any("tank_sample" in one.before for one in (*fit, *cleaned))


def test_what_needs_no_pump_is_read_without_draining_the_tank() -> None:
    dry = {"compression", "valve_clearance", "injector_drip", "regulator_heater_resistance"}
    found = {one.check for one in possible_checks(job("water")) if "tank_sample" not in one.before}
    assert dry <= found


@pytest.mark.parametrize("look", ["water", "rust"])
def test_no_engine_is_cranked_for_a_check_before_the_tank_is_drained(look: str) -> None:
    """Cranked, the pump runs by itself."""
    failed = '[[reading]]\nwhat = "start_outcome"\nvalue = "no_fire"\n'
    possible = possible_checks(job(look, failed))
    starts = [one for one in possible if one.step == "start_fails"]
    volts = [one for one in possible if one.stated.get("load") == "cranking"]
    assert starts
    assert volts
    assert all("tank_sample" in one.before for one in (*starts, *volts))
