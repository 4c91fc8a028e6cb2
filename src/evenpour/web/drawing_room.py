"""Where charts are drawn: a process beside the server, because drawing holds the interpreter for long."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.pool import Pool
from typing import Any, TypeVar

from evenpour.web.beside import undisturbed
from evenpour.web.work_room import WorkRoom

Drawn = TypeVar("Drawn")
KEPT = 60  # drawings, some 25 kB each


class DrawingRoom:
    """Draws in one process beside, begun when first needed; keeps what was drawn by a key of the caller's.

    ``work`` is the room next door, a process of its own: answers that take seconds are worked out there, so
    that no chart waits for them.
    """

    def __init__(self) -> None:
        self.work = WorkRoom()
        self._pool: Pool | None = None
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Any, ...], Any] = OrderedDict()

    def pool(self) -> Pool:
        """The process beside, as a pool of one."""
        with self._lock:
            if self._pool is None:
                self._pool = get_context("spawn").Pool(1, undisturbed)
            return self._pool

    def kept(self, key: tuple[Any, ...]) -> Any | None:
        """What was drawn under *key*, if it still is at hand."""
        with self._lock:
            return self._kept.get(key)

    def draw(self, key: tuple[Any, ...], make: Callable[..., Drawn], *what: Any) -> Drawn:
        """``make(*what)``, done in the process beside, or at hand from before."""
        found: Drawn | None = self.kept(key)
        if found is None:
            found = self.pool().apply(make, what)
            with self._lock:
                self._kept[key] = found
                while len(self._kept) > KEPT:
                    self._kept.popitem(last=False)
        return found

    def close(self) -> None:
        """End the processes beside."""
        self.work.close()
        with self._lock:
            if self._pool is not None:
                self._pool.terminate()
                self._pool.join()
                self._pool = None
