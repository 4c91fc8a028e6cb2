"""What the trade says, as the answers say it. All of it is common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from evenpour.data import sheet_names
from evenpour.job import Job, job_of_text
from evenpour.job.job_file import collect
from shows_tools import FORM, claims, did, engine, entry, pathed, reading, time


def job(text: str) -> Job:
    return job_of_text(collect(FORM + text, "job.toml"))


def stage_of(answer: dict[str, Any], step: str) -> str:
    return next(
        stage["stage"] for stage in answer["stages"] if any(one["step"] == step for one in stage["steps"])
    )


@pytest.mark.parametrize("sheet", sheet_names())
def test_the_starting_point_is_back_half_a_turn_from_onset_and_clockwise_is_richer(sheet: str) -> None:
    told = job(engine(sheet)).step("onset_lines").how
    assert "clockwise, which is richer" in told
    assert "back 1/2 turn" in told.replace("½ turn", "1/2 turn")
    assert "from the lean side" in told


@pytest.mark.parametrize("sheet", sheet_names())
def test_a_screw_on_a_running_engine_never_moves_by_more_than_a_quarter_turn(sheet: str) -> None:
    known = job(engine(sheet))
    step = "idle_mixture_by_duty" if "idle_mixture_by_duty" in known.plan.step else "idle_mixture_and_speed"
    assert "never more than a quarter turn on a running engine" in known.step(step).how


def test_the_ledger_adds_the_moves_up_clockwise_positive() -> None:
    text = engine()
    for minute, turns in enumerate(("+1/2 turn", "-45 deg", "1/8 turn", "-1/4 turn")):
        text += entry("move", time(10, minute), part="mixture_screw", turns=turns)
    moves = job(text).ledger()
    assert [move.turns for move in moves] == pytest.approx([0.5, -0.125, 0.125, -0.25])
    assert [move.total for move in moves] == pytest.approx([0.5, 0.375, 0.5, 0.25])


def test_the_stages_stand_in_the_order_of_the_work() -> None:
    """Engine health first, safe before anything runs the pump, supply before the distributor is connected,
    pressures before catches, put back and spark before fire, full load before handover."""
    stages = [stage["stage"] for stage in pathed(engine())["stages"]]
    for earlier, later in (
        ("intake", "safe"),
        ("safe", "supply"),
        ("safe", "dry"),
        ("safe", "pressures"),
        ("supply", "dry"),
        ("bench", "dry"),
        ("tight", "first_fire"),
        ("pressures", "catch_lines"),
        ("catch_lines", "catch_injectors"),
        ("catch_injectors", "put_back"),
        ("put_back", "first_fire"),
        ("spark", "first_fire"),
        ("first_fire", "idle"),
        ("idle", "road"),
        ("road", "handover"),
    ):
        assert stages.index(earlier) < stages.index(later)


def test_compression_comes_at_the_start_and_the_full_load_before_handover() -> None:
    answer = pathed(engine())
    assert stage_of(answer, "compression_test") == "intake"
    (full_load,) = [claim for claim in answer["claims"] if claim["claim"] == "full_load_safe"]
    assert full_load["stage"] == "road"
    handover = next(stage for stage in answer["stages"] if stage["stage"] == "handover")
    assert "full load" in handover["why"]


def test_tightness_is_two_claims_and_dryness_three() -> None:
    answer = pathed(engine())
    stages = {claim["claim"]: claim["stage"] for claim in answer["claims"]}
    assert (stages["intake_body_tight"], stages["injector_seats_tight"]) == ("tight", "put_back")
    assert [stages[name] for name in ("supply_dry", "unions_dry", "dry_hot")] == ["dry", "put_back", "road"]
    assert {name for name in stages if name.endswith("_tight")} >= {
        "intake_body_tight",
        "injector_seats_tight",
    }


def test_catching_through_the_injectors_does_not_age_the_smoke_test_of_the_body() -> None:
    text = engine() + reading("intake_smoke", "tight", 'seats = "plugged"', time(9))
    text += did("removed", "injectors", time(10)) + did("refitted", "injectors", time(12))
    assert ("intake_body_tight", None) in claims(pathed(text), "proved")


def test_the_order_of_the_firing_stage_waits_for_an_empty_list_but_for_what_hangs_outside() -> None:
    def said(part: str) -> str:
        answer = pathed(engine() + did("fitted", part, time(10)))
        return next(str(stage["why"]) for stage in answer["stages"] if stage["stage"] == "first_fire")

    assert "put-back list" in said("pump_bridge")
    assert "put-back list" in said("mixture_key")
    assert "put-back list" not in said("exhaust_hose")


@pytest.mark.parametrize(
    ("what", "ages"),
    [("flooded", "no_flooded_bore"), ("union_leaked", "supply_dry"), ("stood_weeks", "tank_fuel_fit")],
)
def test_what_nobody_decided_ages_proofs_as_well(what: str, ages: str) -> None:
    steps = {
        "no_flooded_bore": "plugs_dry",
        "supply_dry": "look_for_wet_unions",
        "tank_fuel_fit": "tank_sample",
    }
    text = engine() + entry("step", time(9), id=steps[ages], done=True)
    assert (ages, None) in claims(pathed(text), "proved")
    assert (ages, None) in claims(pathed(text + entry("happened", time(10), what=what)), "stale")
