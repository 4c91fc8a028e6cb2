"""What the readings feel of the car under a fault, though a healthy car hides it."""

from __future__ import annotations

import numpy as np
import pytest

from evenpour.causes.car_model import CarModel
from evenpour.causes.explanation import explain
from evenpour.causes.felt import healthy, with_ill_spread, with_spread
from evenpour.causes.problem import alone
from evenpour.causes.slopes import slopes
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.job.engine_model import causes_of, checks_predicted, kind_for
from simulated_cars import HOME, questions, read

SOME = ("system_pressure", "control_pressure_warm", "pump_delivery", "catch")
KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
ASKED = questions(KIND, SOME)


def number(cause: str) -> int:
    return next(h for h, one in enumerate(LISTED) if one.id == cause)


def asked() -> CarModel:
    known = checks_predicted()
    pairs = tuple((known[one.check], one) for one in ASKED)
    return with_spread(CarModel(KIND, LISTED, HOME, pairs, np.zeros(0, dtype=np.intp), np.zeros(0)))


def test_a_starved_pump_lets_the_catch_feel_every_injectors_opening_pressure() -> None:
    rows = KIND.blueprint.rows["injector_opening"]
    sound = asked()
    model, felt = with_ill_spread(sound)
    opening = np.isin(model.free, range(rows.start, rows.stop))
    assert not np.isin(sound.free, range(rows.start, rows.stop)).any()
    assert opening.sum() == KIND.design.cylinders
    assert felt[number("feed_starved")][opening].all()
    assert not felt[number("nothing_wrong")][opening].any()


@pytest.mark.parametrize("cause", ["nothing_wrong", "feed_starved", "air_leak_common"])
def test_numbers_that_a_cause_is_not_said_to_move_hardly_move_what_is_read(cause: str) -> None:
    model, felt = with_ill_spread(asked())
    h = number(cause)
    count = len(model.free)

    def predict(node: np.ndarray, z: np.ndarray) -> np.ndarray:
        severity = np.full(len(z), 0.0 if cause == "nothing_wrong" else 0.7)
        return model(alone(node, severity), z)

    J = slopes(predict, np.array([h]), np.zeros((1, count)))[0]
    width = np.array([np.hypot(check.repeats, check.model) for check, _ in model.asked])  # type: ignore[union-attr]
    still = np.abs(J / width).max(axis=1)[~felt[h]]
    assert len(still)
    assert still.max() < 0.5
    assert healthy(2).which.tolist() == [[0], [0]]


def test_a_starved_pump_is_not_taken_for_one_bad_injector() -> None:
    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (KIND.design.cylinders if one.cause.per_cylinder else 1)

    # at full the pressure falls so far that each injector's own opening pressure decides what it pours
    h = number("feed_starved")
    told = read(KIND, LISTED, h, 0.75, ASKED, np.random.default_rng(8))
    full = [
        one.value for one in told if one.check.check == "catch" and (one.query.situation.opening or 0) > 0.05
    ]
    assert max(full[6:]) > 1.3 * min(full[6:])  # type: ignore[type-var, operator]
    found = explain(KIND, LISTED, hypotheses(LISTED, 0.25, weight), told, HOME)
    of_supply = ("feed_starved", "feed_dry", "filter_restricted", "pump_weak", "battery_dead")
    supply = sum(found.probability[number(one)] for one in of_supply)
    assert supply > 0.9


@pytest.mark.parametrize("sheet", ["inline-four", "inline-four-oxygen", "inline-five", "flat-six"])
def test_a_sound_engine_is_foreseen_to_compress_as_high_as_it_does(sheet: str) -> None:
    """Ten bar is no bound: every one of these sheets has sound engines above it, and no two alike."""
    kind = kind_for(sheet)
    pairs = tuple((checks_predicted()[one.check], one) for one in questions(kind, ["compression"])[:1])
    bare = CarModel(
        kind, suspects(kind, causes_of(kind)), HOME, pairs, np.zeros(0, dtype=np.intp), np.zeros(0)
    )
    model = with_spread(bare)
    z = np.concatenate([np.zeros((1, len(model.free))), np.eye(len(model.free)), -np.eye(len(model.free))])
    read = model(healthy(len(z)), z)[:, 0]
    assert read[0] > 10e5
    assert np.ptp(read) > 0.2e5
