"""One reading far off is set aside, however far, and decides nothing."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from evenpour.causes.aside import Often, weighed
from evenpour.causes.explanation import Explanation, explain, odds_of
from evenpour.causes.explanation import _fitted_without as fitted_anew
from evenpour.causes.observed import Observation
from evenpour.causes.sharpened import changed, changed_by_draws
from evenpour.causes.suspects import Suspect, hypotheses, suspects
from evenpour.job.engine_model import causes_of, kind_for
from simulated_cars import HOME, questions, read

KIND = kind_for("flat-six")
LISTED = suspects(KIND, causes_of(KIND))
READ = ("system_pressure", "control_pressure_cold", "control_pressure_warm", "exhaust_co", "idle_speed")
WARM = 2
OFTEN = Often(pairs=0.25, several=0.1)


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
    for log in (found.log_posterior, changed(found, changed_by_draws(found).by)):
        assert 0.5 * np.abs(np.exp(log) - without.probability).sum() < 0.1


def with_absurd(observations: tuple[Observation, ...], *checks: str) -> tuple[Observation, ...]:
    """The same with the readings of some checks four times as large: less than half of any plain slip."""
    return tuple(
        replace(one, value=one.value * 4.3) if one.check.check in checks and one.value is not None else one
        for one in observations
    )


def of(name: str, cylinder: int | None = None) -> int:
    return next(h for h, one in enumerate(LISTED) if one.id == name and one.cylinder == cylinder)


def check_of(found: Explanation, name: str) -> int:
    row = next(row for row, one in enumerate(found.seen.observations) if one.check.check == name)
    return int(found.seen.columns.check[row])


def test_two_faults_are_named_beside_a_reading_that_cannot_be() -> None:
    """A clogged injector and a cold bimetal set too high have nothing in common; each shows by itself."""
    asked = questions(KIND, (*READ, "catch", "manifold_vacuum"))
    one, two = of("control_cold_high"), of("injector_restricted", 4)
    both = read(KIND, LISTED, one, 0.7, asked, np.random.default_rng(5), others=[(two, 0.7)])
    found = weighed(told(both), OFTEN)
    # what is not theirs is one cup of the one full catch, caught short beside a single fault
    assert found.joint[one, two] + found.does_not_belong[-2] > 0.9
    # two at once are no likelier than the quarter of faulty cars that have them
    assert found.joint[one, two] > 3.0 * found.probability.max()
    found = weighed(told(with_absurd(both, "manifold_vacuum")), OFTEN)
    main = found.parts[found.main]
    assert [one.check for one in main.way.aside] == [check_of(found.parts[0].told, "manifold_vacuum")]
    assert found.joint[one, two] > 0.7
    assert found.probability.sum() + sum(found.joint.values()) == pytest.approx(1.0)


def test_two_readings_that_cannot_be_are_both_set_aside_and_nobody_is_blamed() -> None:
    absurd = ("control_pressure_warm", "idle_speed")
    found = weighed(told(with_absurd(readings(), *absurd)), OFTEN)
    main = found.parts[found.main]
    assert {one.check for one in main.way.aside} == {check_of(found.parts[0].told, name) for name in absurd}
    left = tuple(one for one in readings() if one.check.check not in absurd)
    without = weighed(told(left), OFTEN)
    assert 0.5 * np.abs(found.probability - without.probability).sum() < 0.1
    assert found.probability[1:].max() < 0.1


def test_readings_that_belong_are_not_parted() -> None:
    found = weighed(told(readings()), OFTEN)
    assert len(found.parts) == 1
    assert found.parts[0].way.aside == ()


def test_fitting_without_a_check_leaves_what_was_foreseen_as_it_was() -> None:
    absurd = told(with_absurd((readings()[WARM], readings()[-1]), "idle_speed"))
    foreseen = odds_of(absurd.doubts, absurd.foreseen)
    before = foreseen.copy()
    odd, again = fitted_anew(absurd.severe, absurd.noise, absurd.fitted, absurd.doubts, foreseen)
    np.testing.assert_array_equal(foreseen, before)
    assert again
    assert not np.array_equal(odd, foreseen)


def test_where_few_draws_hit_nothing_is_taken_from_them_and_that_is_known() -> None:
    """Eight draws cannot be thirty that hit, so what was weighed by them alone is known to be rough."""
    found = told(readings())
    few, many = changed_by_draws(found, draws=8), changed_by_draws(found)
    assert few.poor.any()
    assert not few.by[few.poor].any()
    assert many.poor.sum() < few.poor.sum()
