"""Fits side by side find what each finds alone, and ask the model together."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from evenpour.causes.problem import Array, Indices, Predict
from evenpour.causes.side_by_side import ABREAST, side_by_side


class Model:
    """Each row for itself, and how many rows every call had."""

    def __init__(self) -> None:
        self.calls: list[int] = []

    def __call__(self, node: Indices, z: Array) -> Array:
        self.calls.append(len(node))
        if np.any(node < 0):
            raise ValueError("no such node")
        return np.asarray(z * node[:, None] + 1.0)


def walk(start: int, steps: int) -> Callable[[Predict], float]:
    """A fit of *start* nodes that asks so often, each time where the last answer led."""

    def work(predict: Predict) -> float:
        node, z = np.arange(start), np.full((start, 2), 0.5)
        for _ in range(steps):
            z = predict(node, z) % 3.0
        return float(z.sum())

    return work


def test_each_finds_what_it_finds_alone_whoever_goes_beside_it() -> None:
    works = [walk(1 + number % 5, 1 + number % 7) for number in range(3 * ABREAST)]
    assert side_by_side(Model(), works) == [work(Model()) for work in works]


def test_the_model_is_asked_once_for_all_that_wait() -> None:
    model = Model()
    side_by_side(model, [walk(2, 5)] * ABREAST)
    assert model.calls == [2 * ABREAST] * 5


def test_who_is_done_keeps_nobody_waiting() -> None:
    model = Model()
    side_by_side(model, [walk(1, 1), walk(1, 4), walk(1, 0)])
    assert sum(model.calls) == 5
    assert len(model.calls) <= 5


def test_a_fault_comes_back_to_who_asked() -> None:
    def strays(predict: Predict) -> float:
        return float(predict(np.array([-1]), np.zeros((1, 2))).sum())

    with pytest.raises(ValueError, match="no such node"):
        side_by_side(Model(), [strays, walk(1, 0), walk(1, 0)])


def test_nothing_to_do_is_done() -> None:
    assert side_by_side(Model(), []) == []
