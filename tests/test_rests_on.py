"""What the path lets a proof rest on, held against what the model's reading responds to.

A part whose faults move a reading, and on which the claim that the reading proves does not rest, could be
replaced without the proof going stale. Where that is meant, it stands here with its reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from evenpour import data
from evenpour.causes.car_model import CarModel
from evenpour.causes.suspects import suspects
from evenpour.causes.touched import reach_of
from evenpour.job.causes.prior import come_along
from evenpour.job.engine_model import causes_of, checks_predicted, kind_for
from simulated_cars import HOME, questions

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
CLAIMS: Sequence[Mapping[str, Any]] = data.shipped("claims.toml").values["claim"]

#: What brings fuel and current to a reading, or shows it: once it was read right, these worked, and where one
#: fails, nothing is read right instead of something wrong being taken for right.
BRINGS = {
    "battery", "feed_hoses", "filter", "fuel", "fuel_pump", "gauge", "generator", "pump_relay",
    "tank_strainer",
}  # fmt: skip
#: What an idling engine needs to idle: its own claims tell of each, and asking all of them anew for a plug
#: would make nobody's job safer.
IDLES = {
    "cold_start_valve", "contact_points", "cylinder", "exhaust", "ignition_distributor", "oil", "spark_plug",
    "valve_train",
}  # fmt: skip
#: Read and proved before it idles: claims of their own tell of each.
PRESSURES = {
    "control_pressure_regulator", "fuel_distributor", "line", "port", "pressure_valve",
    "primary_pressure_regulator",
}  # fmt: skip
MEANT = {
    "lever_play_right": {"mixture_screw"},  # which it is set with
    "load_step_right": {"fuel_distributor", "primary_pressure_regulator"},  # a step from what was read before
    "delivery_right": {"primary_pressure_regulator"},  # only where it does not open at all
    "onset_lines_known": {"injector"},  # only where one hardly shuts, and then it drips
    "onset_injectors_known": {"injector"},
    "injector_seats_tight": {"intake_body"},  # smoke shows where it comes out
    "runs": IDLES
    | PRESSURES
    | {"ignition_timing", "injector", "injector_seal", "intake_body", "mixture_screw", "regulator_heater"},
    "auxiliary_air_works": {"ignition_distributor", "mixture_screw", "primary_pressure_regulator"},
    "idle_mixture_right": IDLES,
    "idle_speed_right": IDLES | PRESSURES,
    "hot_restart_right": {"auxiliary_air_valve", "fuel_distributor"},
    "full_load_safe": IDLES
    | {"auxiliary_air_valve", "ignition_timing", "injector_seal", "intake_body", "throttle"},
}  # fmt: skip


@cache
def model() -> CarModel:
    return CarModel(KIND, tuple(LISTED), HOME, (), np.zeros(0, dtype=np.intp), np.zeros(0))


def checks_of(proof: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    for one in proof:
        yield from checks_of(one.get("any", ()))
        if "check" in one:
            yield one["check"]


def proved() -> Iterator[tuple[str, str]]:
    for claim in CLAIMS:
        for check in dict.fromkeys(checks_of(claim.get("proof", ()))):
            if check in checks_predicted() and questions(KIND, [check]):
                yield claim["id"], check


def moved_by(check: str) -> list[set[str]]:
    """Of each fault to which a reading of the check responds, the parts whose repair mends it."""
    asked = [(checks_predicted()[one.check], one) for one in questions(KIND, [check])]
    reach = reach_of(
        asked,
        LISTED,
        lambda some, faults: model().columns_of(some)(faults, np.zeros((len(faults), 0))),
    )
    moved = reach.responds().any(axis=1)
    causes = (one.cause for one, it in zip(LISTED, moved, strict=True) if it)
    return [{one.part, *one.mended_by} for one in causes if one is not None]


def rests_on(claim: str) -> set[str]:
    own = next(one for one in CLAIMS if one["id"] == claim)
    parts = {name.removesuffix("[k]") for name in own["rests_on"]}
    return parts | {each for part in parts for each in come_along().parts_of(part, "replaced")}


@pytest.mark.parametrize(("claim", "check"), list(proved()))
def test_a_proof_rests_on_every_part_that_its_reading_responds_to(claim: str, check: str) -> None:
    known = rests_on(claim) | BRINGS | MEANT.get(claim, set())
    left = [sorted(parts) for parts in moved_by(check) if not parts & known]
    assert not left, f"{claim}, proved by {check}, would stay proved with another of these: {left}"


def test_no_claim_rests_on_what_is_excused() -> None:
    """No excuse is left for what a claim has come to rest on, or for a claim that is gone."""
    assert set(MEANT) <= {one["id"] for one in CLAIMS}
    assert not {claim: both for claim, parts in MEANT.items() if (both := parts & rests_on(claim))}
