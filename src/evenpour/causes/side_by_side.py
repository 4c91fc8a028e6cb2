"""Several fits side by side, whose questions to the model go to it together.

A call of the model costs nearly as much for one car as for a hundred, and a fit of a few nodes asks it a few
cars at a time, one call after the other. So fits that have nothing to do with each other run on threads of
their own, each waits with its question until all have one, and then the model is asked once. What each finds
is what it would find alone.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from evenpour.causes.problem import Array, Indices, Predict
from evenpour.causes.slopes import predicted

Found = TypeVar("Found")

ABREAST = 6  # fits at a time: what each holds of its nodes is some ten megabytes


def side_by_side(predict: Predict, works: Sequence[Callable[[Predict], Found]]) -> list[Found]:
    """What each of *works* gives, in their order; what one raises is raised.

    Args:
        predict: The model by node.
        works: Each is given the model to ask, and asks it on its own thread.
    """
    if len(works) < 2:
        return [work(predict) for work in works]
    table = _Table(predict, len(works))

    def one(work: Callable[[Predict], Found]) -> Found:
        try:
            return work(table.ask)
        finally:
            table.leave()

    with ThreadPoolExecutor(min(ABREAST, len(works))) as threads:
        return list(threads.map(one, works))


@dataclass(slots=True)
class _Question:
    node: Indices
    z: Array
    found: Array | None = None
    fault: BaseException | None = None


class _Table:
    """Where questions wait for each other."""

    def __init__(self, predict: Predict, left: int) -> None:
        self._predict = predict
        self._left = left
        self._waiting: list[_Question] = []
        self._turn = threading.Condition()

    def ask(self, node: Indices, z: Array) -> Array:
        """The model at these nodes and numbers, asked with what the others ask."""
        mine = _Question(node, z)
        with self._turn:
            self._waiting.append(mine)
            self._if_all_wait()
            self._turn.wait_for(lambda: mine.found is not None or mine.fault is not None)
        if mine.fault is not None:
            raise mine.fault
        assert mine.found is not None
        return mine.found

    def leave(self) -> None:
        """One is done: no other waits for it."""
        with self._turn:
            self._left -= 1
            self._if_all_wait()

    def _if_all_wait(self) -> None:
        if not self._waiting or len(self._waiting) < min(ABREAST, self._left):
            return
        asked, self._waiting = self._waiting, []
        try:
            found = predicted(
                self._predict,
                np.concatenate([one.node for one in asked]),
                np.concatenate([one.z for one in asked]),
            )
        except BaseException as fault:  # noqa: BLE001  # each raises it where it asked
            for one in asked:
                one.fault = fault
        else:
            ends = np.cumsum([len(one.node) for one in asked])[:-1]
            for one, its in zip(asked, np.split(found, ends), strict=True):
                one.found = its
        self._turn.notify_all()
