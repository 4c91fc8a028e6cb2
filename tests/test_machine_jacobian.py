"""Slopes of readings by what healthy cars differ in, and the blocks they are worked out in."""

from functools import cache
from typing import Any

import numpy as np
import pytest

from evenpour.job.engine_model import checks_predicted, kind_for
from evenpour.job.sheet.found import known_checks
from evenpour.machine.asking import query
from evenpour.machine.blocks import THREADS, in_blocks
from evenpour.machine.checks import predict
from evenpour.machine.jacobian import jacobian
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Readout
from evenpour.machine.set_up import set_up
from evenpour.machine.situation import Situation

HOME = Situation(altitude=200.0)


@cache
def kind() -> Kind:
    return kind_for("flat-six")


def asked(*names: str, **stated: float | str) -> list[Any]:
    checks, _ = known_checks()
    return [
        (
            checks_predicted()[name],
            query(kind(), name, 1 if checks[name].per_cylinder else None, stated, HOME),
        )
        for name in names
    ]


def read(draws: Any, questions: list[Any]) -> Any:
    cars = kind().blueprint.cars(draws)
    screws = set_up(kind().design, kind().torque, kind().funnel, cars, HOME)
    return predict(Readout(kind(), cars, screws), questions)


def free_row(name: str, cylinder: int | None = None) -> int:
    plan = kind().blueprint
    return int(np.flatnonzero(plan.free == plan.where(name, cylinder).start)[0])


def test_a_part_that_is_read_by_itself_answers_by_its_own_spread_and_nothing_else_does() -> None:
    middle = np.zeros((1, len(kind().blueprint.free)))
    slopes = jacobian(kind(), HOME, asked("injector_opening_pressure", "spark_lead_resistance"), middle)[0]
    opening, lead = free_row("injector_opening", 1), free_row("lead_resistance", 1)
    plan = kind().blueprint
    assert slopes[opening, 0] == pytest.approx(plan.spread[plan.where("injector_opening", 1)][0], rel=1e-9)
    # compared by its logarithm, over a floor: a share of itself for each standard deviation, to step²/6
    share, centre = plan.spread[plan.where("lead_resistance", 1)][0], kind().centre["lead_resistance"]
    right = share * centre / (centre + asked("spark_lead_resistance")[0][0].floor)
    assert slopes[lead, 1] == pytest.approx(right, rel=1e-3)
    slopes[opening, 0] = slopes[lead, 1] = 0.0
    assert np.all(slopes == 0.0)


def test_every_slope_is_that_of_the_reading_taken_twice_as_finely_and_extrapolated() -> None:
    questions = asked("catch", "exhaust_lambda", "system_pressure", "holding_pressure", "idle_speed")
    draws = 0.5 * np.random.default_rng(5).standard_normal((2, len(kind().blueprint.free)))
    found = jacobian(kind(), HOME, questions, draws)
    half, quarter = (jacobian(kind(), HOME, questions, draws, step) for step in (0.02, 0.01))
    right = (4.0 * quarter - half) / 3.0  # what is left goes with the fourth power of the step
    scale = np.abs(right).max(axis=1, keepdims=True)
    # a central difference over 0.05 is off by 0.05²/6 = 4e-4 of a third derivative as large as the slope
    assert np.abs((found - right) / scale).max() < 2e-3


def test_a_car_in_many_has_the_slopes_it_has_alone() -> None:
    questions = asked("catch", "exhaust_co")
    draws = np.random.default_rng(6).standard_normal((31, len(kind().blueprint.free)))
    many = jacobian(kind(), HOME, questions, draws)
    alone = jacobian(kind(), HOME, questions, draws[17:18])
    # readings agree to 1e-7 of their size, a few units, and are divided by twice the step
    np.testing.assert_allclose(many[17], alone[0], atol=1e-6)


@pytest.mark.parametrize(
    ("count", "size"), [(0, 4), (1, 4), (2, 4), (3, 4), (4, 4), (9, 4), (1000, 7), (5, 1)]
)
def test_blocks_cover_every_row_once_and_none_is_too_large(count: int, size: int) -> None:
    seen = np.zeros(count, dtype=int)
    sizes: list[int] = []

    def work(part: slice) -> None:
        seen[part] += 1
        sizes.append(part.stop - part.start)

    in_blocks(work, count, size)
    assert np.all(seen == 1)
    assert max(sizes) <= size
    assert len(sizes) == 1 or len(sizes) % THREADS == 0


def test_blocks_within_blocks_are_done_and_wait_for_nobody() -> None:
    seen = np.zeros((40, 40), dtype=int)

    def work(rows: slice) -> None:
        def within(columns: slice) -> None:
            seen[rows, columns] += 1

        in_blocks(within, 40, 10)

    in_blocks(work, 40, 10)
    assert np.all(seen == 1)


def test_what_fails_in_a_block_is_told() -> None:
    def work(part: slice) -> None:
        if part.start:
            raise ArithmeticError(part)

    with pytest.raises(ArithmeticError):
        in_blocks(work, 100, 10)


def test_readings_taken_one_by_one_are_those_of_the_block() -> None:
    questions = asked("catch", "exhaust_lambda", "holding_pressure")
    draws = np.random.default_rng(7).standard_normal((5, len(kind().blueprint.free)))
    together = read(draws, questions)
    for car in range(5):
        np.testing.assert_allclose(together[car], read(draws[car : car + 1], questions)[0], rtol=1e-7)
