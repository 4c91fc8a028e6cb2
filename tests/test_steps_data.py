"""The words of the job: each name in them is known, each claim can be proved, nothing stays in the car."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib import resources
from typing import Any

import pytest

from evenpour import data
from evenpour.job.catalogue import catalogue, plan_for
from evenpour.job.sheet.found import find_sheet
from evenpour.job.wording import filled, placeholders
from evenpour.measure.readings import read_condition

Table = Mapping[str, Any]

FOLDER = resources.files("evenpour.data")
PUMP_CLAIMS = {"no_spark", "no_cold_start_spray", "pump_by_hand", "pump_switch_proven"}
ENGINE_STILL = {"supply", "dry", "pressures", "catch_lines", "catch_injectors", "put_back"}
WORDS = ("how", "why", "look_out")


def proofs_of(claim):
    """Every single requirement of a claim's proof, alternatives one by one."""
    for proof in claim["proof"]:
        yield from proof.get("any", [proof])


def tables(file: str, kind: str) -> list[dict[str, Any]]:
    path = FOLDER / file
    return tomllib.loads(path.read_text("utf-8"))[kind] if path.is_file() else []


PARTS = {part["id"]: part for part in tables("parts.toml", "part")}
STAGES = tables("stages.toml", "stage")
CLAIMS = {claim["id"]: claim for claim in tables("claims.toml", "claim")}
CAUTIONS = tables("cautions.toml", "caution")
CHECKS = {check["id"] for check in tables("checks.toml", "check")}
HAPPENINGS = {one["id"] for one in tables("happenings.toml", "happening")}
STEPS = tables("steps-1.toml", "step") + tables("steps-2.toml", "step")
BY_ID = {step["id"]: step for step in STEPS}

each_step = pytest.mark.parametrize("step", STEPS, ids=[step["id"] for step in STEPS])
each_claim = pytest.mark.parametrize("claim", CLAIMS.values(), ids=list(CLAIMS))


@each_step
def test_how_a_step_reads_a_check_is_of_its_own_checks_and_in_known_words(step: Table) -> None:
    known = catalogue()
    for one in step.get("reads_in", ()):
        assert set(one) <= {"checks", "conditions", "only"}
        assert set(one["checks"]) <= set(step["checks"])
        for check, (name, word) in ((c, w) for c in one["checks"] for w in one["conditions"].items()):
            assert name in known.checks[check].conditions
            assert word in known.kinds[name].choices
    for field in ("whole", "beside", "sets"):
        assert set(step.get(field, {})) <= set(step["checks"])
    assert set(step.get("works", {}).values()) <= {"replaced", "cleaned", "adjusted"}


def part_name(reference: str) -> str:
    return reference.removesuffix("[k]")


def moved(step: Table) -> Iterator[str]:
    for field in ("touches", "puts_on", "takes_off"):
        yield from step.get(field, ())


def unknown_parts(references: Iterable[str]) -> list[str]:
    """Those that name no part, or ask for a cylinder where the part has none."""
    return [
        reference
        for reference in references
        if part_name(reference) not in PARTS
        or (reference.endswith("[k]") and not PARTS[part_name(reference)].get("per_cylinder"))
    ]


def gives(step: Table, proof: Table) -> bool:
    """Whether doing the step leaves what this one proof asks for."""
    reading = proof.get("check") or proof.get("reading")
    if reading is not None:
        return reading in step.get("checks", ())
    if "catch" in proof:
        caught = (*step.get("catches", ()), *step.get("checks", ()))
        return proof["catch"] in caught or "catch" in caught
    return bool(proof.get("step") == step["id"])


def alternatives(proof: Table) -> Sequence[Table]:
    several: Sequence[Table] = proof.get("any", [proof])
    return several


@pytest.mark.parametrize(
    ("kind", "ids"),
    [
        ("stage", [stage["id"] for stage in STAGES]),
        ("claim", [claim["id"] for claim in tables("claims.toml", "claim")]),
        ("part", [part["id"] for part in tables("parts.toml", "part")]),
        ("caution", [caution["id"] for caution in CAUTIONS]),
        ("step", [step["id"] for step in STEPS]),
    ],
)
def test_no_id_stands_twice(kind: str, ids: list[str]) -> None:
    assert [name for name, count in Counter(ids).items() if count > 1] == [], kind


@each_step
def test_a_step_names_only_what_exists(step: Table) -> None:
    assert step["stage"] in {stage["id"] for stage in STAGES}
    assert set(step.get("proves", ())) | set(step.get("needs", ())) <= CLAIMS.keys()
    assert unknown_parts(moved(step)) == []
    assert set(step.get("checks", ())) <= CHECKS
    assert set(step.get("cautions", ())) <= {caution["id"] for caution in CAUTIONS}
    assert set(step.get("catches", ())) <= {
        f"{through}:{opening}" for through in ("lines", "injectors") for opening in ("idle", "part", "full")
    }


@each_claim
def test_a_claim_names_only_what_exists(claim: Table) -> None:
    held = [claim["held_by"]] if "held_by" in claim else []
    assert claim["stage"] in {stage["id"] for stage in STAGES}
    assert unknown_parts([*claim["rests_on"], *held]) == []
    assert set(claim.get("ages_on", ())) <= HAPPENINGS
    for proof in proofs_of(claim):
        assert proof.get("step", next(iter(BY_ID))) in BY_ID
        assert {proof.get("check"), proof.get("reading")} - {None} <= CHECKS


@pytest.mark.parametrize("stage", STAGES, ids=[stage["id"] for stage in STAGES])
def test_a_stage_has_steps_and_asks_for_claims_that_exist(stage: Table) -> None:
    assert any(step["stage"] == stage["id"] for step in STEPS)
    assert set(stage["needs"]) <= CLAIMS.keys()
    assert unknown_parts(stage.get("put_back_empty_except", ())) == []


def test_steps_stand_in_the_order_of_their_stages() -> None:
    order = [stage["id"] for stage in STAGES]
    places = [order.index(step["stage"]) for step in STEPS]
    assert places == sorted(places)


@each_claim
def test_every_claim_can_be_proved_by_a_step_that_says_so(claim: Table) -> None:
    proving = [step for step in STEPS if claim["id"] in step.get("proves", ())]
    assert proving
    for proof in claim["proof"]:
        assert any(gives(step, one) for step in proving for one in alternatives(proof)), proof
    if "held_by" in claim:
        assert any(part_name(on) == claim["held_by"] for step in STEPS for on in step.get("puts_on", ()))


@each_step
def test_a_step_does_not_spoil_what_its_own_reading_proves(step: Table) -> None:
    # The reading is entered before the step is done: a touch by the step would come after it.
    touched = {part_name(reference) for reference in step.get("touches", ())}
    for name in step.get("proves", ()):
        claim = CLAIMS[name]
        read = any("step" not in one and gives(step, one) for one in proofs_of(claim))
        by_step = any(one.get("step") == step["id"] for one in proofs_of(claim))
        if read and not by_step:
            assert not touched & {part_name(reference) for reference in claim["rests_on"]}, name


@each_step
def test_a_step_says_enough_to_be_followed(step: Table) -> None:
    assert len(step["how"].strip()) >= 120
    assert len(step["how"].strip().splitlines()) >= 3
    assert step["title"].strip()
    assert step["why"].strip()
    assert step["minutes"] > 0
    assert isinstance(step["tools"], list)
    assert all(tool.strip() for tool in step["tools"])


def test_nearly_every_step_says_what_to_lay_ready() -> None:
    assert [step["id"] for step in STEPS if "tools" not in step] == []


@each_step
def test_running_the_pump_carries_the_warning_of_fire(step: Table) -> None:
    by_hand = step["stage"] in ENGINE_STILL | {"intake", "safe"} or "pump_by_hand" in step.get("needs", ())
    if by_hand and "fuel_pressure" in step.get("touches", ()):
        assert "fire" in step.get("cautions", ())


@each_step
def test_with_the_engine_still_the_pump_runs_only_by_its_proved_switch(step: Table) -> None:
    if step["stage"] in ENGINE_STILL and "fuel_pressure" in step.get("touches", ()):
        assert set(step.get("needs", ())) >= PUMP_CLAIMS


def test_no_two_steps_tell_the_same() -> None:
    told = Counter(" ".join(step["how"].split()) for step in STEPS)
    assert [text for text, count in told.items() if count > 1] == []


@each_step
def test_conditions_are_said_as_the_form_says_them(step: Table) -> None:
    known = catalogue()
    plain = {word.replace("_", " ") for kind in known.kinds.values() for word in kind.choices}
    for field in WORDS:
        said = re.sub(r"{[^}]*}", "", step.get(field, ""))
        assert not re.search(
            r"\w_\w|\bstate:|with (mark|approach|through|where|seats|engine|sensor|hose|after): ", said
        ), said
        assert set(re.findall(r"(?<=as “)[^”]+", said)) <= plain, said


def test_every_caution_is_used() -> None:
    used = {name for step in STEPS for name in step.get("cautions", ())}
    assert {caution["id"] for caution in CAUTIONS} - used == set()


@pytest.mark.parametrize("caution", CAUTIONS, ids=[caution["id"] for caution in CAUTIONS])
def test_a_caution_is_whole_and_speaks_without_a_sheet(caution: Table) -> None:
    assert caution["title"].strip()
    assert len(caution["text"]) >= 80
    assert re.fullmatch(r"[a-z]+", caution["sign"])
    assert "{" not in caution["title"] + caution["text"]


def test_whatever_goes_on_the_list_is_taken_off_by_some_step() -> None:
    on = {part_name(item) for step in STEPS for item in step.get("puts_on", ())}
    off = {part_name(item) for step in STEPS for item in step.get("takes_off", ())}
    assert on - off == set()
    assert [item for item in sorted(on) if not PARTS[item].get("put_back")] == []


@each_step
def test_every_placeholder_is_known(step: Table) -> None:
    known = catalogue()
    values = {value["id"] for value in tables("sheet_values.toml", "value")}
    for field in WORDS:
        text = step.get(field, "")
        found = placeholders(text)
        assert text.count("{") == text.count("}") == len(found), field
        for name, of, conditions in found:
            assert name in {"n", "sheet", "limit", "opening", "evenness", "lift", "raise"}
            assert name != "sheet" or of in values, of
            assert name != "limit" or of in CHECKS, of
            assert name not in {"opening", "evenness"} or of in {"idle", "part", "full"}, of
            for condition in filter(None, conditions.split(",")):
                kind, stated = (word.strip() for word in condition.split("="))
                read_condition(known.kinds[kind], stated)
    assert "{" not in step["title"] + "".join(step["tools"])


@pytest.mark.parametrize("system", ["metric", "us", "imperial"])
@pytest.mark.parametrize("name", data.sheet_names())
def test_the_words_fill_with_every_shipped_sheet(name: str, system: str) -> None:
    sheet, known = find_sheet(name), catalogue()
    for step in STEPS:
        for field in WORDS:
            assert "{" not in filled(step.get(field, ""), sheet, known, system)


@pytest.mark.parametrize("name", data.sheet_names())
def test_the_path_of_every_shipped_sheet_holds_together(name: str) -> None:
    sheet = find_sheet(name)
    plan = plan_for(catalogue(), sheet.devices, sheet.cylinders)
    assert {step.stage for step in plan.steps} == {stage.id for stage in plan.stages}


@pytest.mark.parametrize(
    "name",
    ["turn_by_hand", "valve_clearances", "compression_test", "leak_down_test", "plugs_dry", "static_timing",
     "points_and_dwell", "timing_by_lamp", "spark_on_every_lead"],
)  # fmt: skip
def test_no_engine_is_turned_with_a_stop_in_it_or_without_oil(name: str) -> None:
    plans = [
        plan_for(catalogue(), frozenset({devices}), 6) for devices in ("points_ignition", "adjustable_valves")
    ]
    found = [plan.step[name].finds_off for plan in plans if name in plan.step]
    assert found
    for off in found:
        assert {"piston_stop", "oil", "valve_train", "cylinder"} <= set(off)


def test_whatever_is_taken_off_by_hand_has_words_for_its_way_back() -> None:
    things = [part for part in PARTS.values() if part["kind"] not in ("state", "screw")]
    assert [part["id"] for part in things if not part.get("put_back")] == []
