"""Where answers that take seconds are worked out: one process beside the server, one question at a time.

A page shows at once with what is known, and asks again for the rest. While one question is worked on, only
the newest about each subject waits: an answer about readings that have been added to since helps nobody.
"""

from __future__ import annotations

import os
import signal
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import get_context
from multiprocessing.pool import Pool
from typing import Any, Final

from evenpour.errors import Problem

KEPT: Final = 40  # answers
TOO_LONG: Final = 240.0  # s, after which the process beside is taken to be lost, and begun anew
NICE: Final = 5  # the pages themselves come first


class NotYet(Exception):
    """It is still being worked out."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it: what was found, or in words why nothing was."""

    found: Any = None
    wrong: tuple[str, ...] = ()


@dataclass(slots=True)
class _Task:
    about: Hashable
    key: Hashable
    make: Callable[..., Any]
    what: tuple[Any, ...]
    begun: float = field(default_factory=time.monotonic)


class WorkRoom:
    """Works out answers beside the server, and keeps them by a key of the caller's."""

    def __init__(self) -> None:
        self._pool: Pool | None = None
        self._turn = threading.Condition()
        self._now: _Task | None = None
        self._waiting: OrderedDict[Hashable, _Task] = OrderedDict()
        self._kept: OrderedDict[Hashable, Outcome] = OrderedDict()
        self._last: dict[Hashable, Hashable] = {}

    def begin(self, about: Hashable, key: Hashable, make: Callable[..., Any], *what: Any) -> None:
        """See to it that ``make(*what)`` is worked out under *key*; it returns at once.

        Args:
            about: What it is asked about; of several questions about one thing only the newest waits.
        """
        lost: Pool | None = None
        with self._turn:
            found = self._kept.get(key)
            if found is not None and not found.wrong:
                return
            if self._now is not None and time.monotonic() - self._now.begun > TOO_LONG:
                lost = self._let_go()
            if self._now is None or self._now.key != key:
                self._kept.pop(key, None)  # it went wrong before: it is tried again
                self._waiting[about] = _Task(about, key, make, what)
                self._next()
        _end(lost)

    def found(self, key: Hashable) -> Outcome | None:
        """What came of it, if it is done."""
        with self._turn:
            return self._kept.get(key)

    def last(self, about: Hashable) -> Any | None:
        """The newest that was found about something, whatever was asked."""
        with self._turn:
            found = self._kept.get(self._last.get(about))
            return None if found is None else found.found

    def wait(self, key: Hashable, seconds: float) -> Outcome:
        """What came of it, once it is done.

        Raises:
            NotYet: it takes longer than *seconds*, or something newer took its place.
        """
        with self._turn:
            self._turn.wait_for(lambda: key in self._kept or not self._is_asked(key), seconds)
            found = self._kept.get(key)
        if found is None:
            raise NotYet
        return found

    def close(self) -> None:
        """End the process beside."""
        with self._turn:
            self._waiting.clear()
            lost = self._let_go()
        _end(lost)

    def _is_asked(self, key: Hashable) -> bool:
        now = self._now is not None and self._now.key == key
        return now or any(task.key == key for task in self._waiting.values())

    def _next(self) -> None:
        if self._now is not None or not self._waiting:
            return
        if self._pool is None:
            self._pool = get_context("spawn").Pool(1, _make_way)
        _, task = self._waiting.popitem(last=False)
        task.begun = time.monotonic()
        self._now = task
        self._pool.apply_async(
            _outcome, (task.make, task.what),
            callback=partial(self._done, task), error_callback=partial(self._failed, task),
        )  # fmt: skip

    def _failed(self, task: _Task, fault: BaseException) -> None:
        traceback.print_exception(fault)
        words = "This is a fault of the tool and none of yours; where the server runs, it is written down."
        self._done(task, Outcome(wrong=(words,)))

    def _done(self, task: _Task, outcome: Outcome) -> None:
        with self._turn:
            if self._now is not task:
                return  # it was given up
            self._now = None
            self._kept[task.key] = outcome
            if not outcome.wrong:
                self._last[task.about] = task.key
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            self._next()
            self._turn.notify_all()

    def _let_go(self) -> Pool | None:
        """Give up what is being done; the process that did it is ended without the lock held."""
        pool, self._pool, self._now = self._pool, None, None
        self._turn.notify_all()
        return pool


def _end(pool: Pool | None) -> None:
    if pool is not None:
        pool.terminate()
        pool.join()


def undisturbed() -> None:
    """For a process beside: Ctrl-C is meant for the server, which ends the process itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _make_way() -> None:
    """The pages come first."""
    undisturbed()
    if hasattr(os, "nice"):
        os.nice(NICE)


def _outcome(make: Callable[..., Any], what: tuple[Any, ...]) -> Outcome:
    """Done in the process beside; a problem comes back as words, for not every exception can travel."""
    from evenpour.web.problems import problems_shown

    try:
        return Outcome(make(*what))
    except Problem as problem:
        return Outcome(wrong=tuple(one.words for one in problems_shown(problem)))
    except Exception:  # noqa: BLE001  # whatever it is: it is raised again, as one that can travel
        raise RuntimeError(traceback.format_exc()) from None
