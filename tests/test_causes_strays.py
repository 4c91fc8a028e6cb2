"""One reading far off is set aside, however far, and decides nothing."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from evenpour.causes.explanation import Explanation, explain
from evenpour.causes.observed import Observation
from evenpour.causes.sharpened import sharpened
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.job.engine_model import causes_of, kind_for
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
READ = ("system_pressure", "control_pressure_cold", "control_pressure_warm", "exhaust_co", "idle_speed")
WARM = 2


@cache
def readings() -> tuple[Observation, ...]:
    return read(KIND, LISTED, 0, 0.0, questions(KIND, READ), np.random.default_rng(3))


def told(observations: tuple[Observation, ...]) -> Explanation:
    def weight(one: Suspect) -> float:
        assert one.cause is not None
        return one.cause.weight / (KIND.design.cylinders if one.cause.per_cylinder else 1)

    return explain(KIND, LISTED, hypotheses(LISTED, 0.25, weight), observations, HOME)


@pytest.mark.parametrize("bar", [12.0, 120.0])
def test_a_reading_far_off_is_set_aside_as_if_it_had_not_been_read(bar: float) -> None:
    one = readings()[WARM]
    assert one.check.check == "control_pressure_warm"
    slipped = (*readings()[:WARM], replace(one, value=1e5 * bar), *readings()[WARM + 1 :])
    found = told(slipped)
    without = told((*readings()[:WARM], *readings()[WARM + 1 :]))
    g = int(np.flatnonzero(found.checks == found.seen.columns.check[WARM])[0])
    assert found.does_not_belong[g] > 0.9
    for log in (found.log_posterior, sharpened(found)):
        assert 0.5 * np.abs(np.exp(log) - without.probability).sum() < 0.1
