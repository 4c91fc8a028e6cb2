"""Where answers that take seconds are worked out: one process beside the server, one question at a time.

A page shows at once with what is known, and asks again for the rest. While one question is worked on, only
the newest about each subject waits: an answer about readings that have been added to since helps nobody. A
first look at a question, where there is one, is there before it is worked out, and goes with its answer.
"""

from __future__ import annotations

import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any, Final

from evenpour.web.beside import Beside, Outcome, Question, Said

__all__ = ["NotYet", "Outcome", "WorkRoom"]

KEPT: Final = 40  # answers
TOO_LONG: Final = 240.0  # s, after which the process beside is taken to be lost, and ended
TRIES: Final = 2  # how often a question is begun that the process beside does not outlive

FAULT: Final = "This is a fault of the tool and none of yours; where the server runs, it is written down."
ENDED: Final = (
    f"The process beside the server that works this out ended {TRIES} times before it was done. All that was "
    "entered is kept, and the other pages go on. Where the server runs, its terminal may say why; end the "
    "server there and start it again."
)
NOT_BEGUN: Final = (
    "The process beside the server that works this out cannot be begun: {why}. All that was entered is kept, "
    "and the other pages go on. Where the server runs, close what else takes memory, and start it again."
)
GIVEN_UP: Final = (
    "This was given up after {minutes:.0f} minutes without an answer. All that was entered is kept, and the "
    "other pages go on."
)


class NotYet(Exception):
    """It is still being worked out."""


@dataclass(slots=True)
class _Task:
    about: Hashable
    question: Question
    first: Callable[..., Any] | None
    begun: float = field(default_factory=time.monotonic)
    tries: int = 0

    @property
    def key(self) -> Hashable:
        return self.question.key


class WorkRoom:
    """Works out answers beside the server, and keeps them by a key of the caller's."""

    def __init__(self) -> None:
        self._beside: Beside | None = None
        self._turn = threading.Condition()
        self._now: _Task | None = None
        self._waiting: OrderedDict[Hashable, _Task] = OrderedDict()
        self._kept: OrderedDict[Hashable, Outcome] = OrderedDict()
        self._firsts: OrderedDict[Hashable, Any] = OrderedDict()
        self._last: dict[Hashable, Hashable] = {}

    def begin(
        self,
        about: Hashable,
        key: Hashable,
        make: Callable[..., Any],
        *what: Any,
        first: Callable[..., Any] | None = None,
    ) -> None:
        """See to it that ``make(*what)`` is worked out under *key*; it returns at once.

        What went wrong before is tried again.

        Args:
            about: What it is asked about; of several questions about one thing only the newest waits.
            first: Gives, of the same, a first look before the answer, or None where there is none to give.
        """
        lost: Beside | None = None
        with self._turn:
            found = self._kept.get(key)
            if found is not None and not found.wrong:
                return
            if self._now is not None and time.monotonic() - self._now.begun > TOO_LONG:
                lost = self._give_up()
            if not self._is_asked(key) and not (lost and key in self._kept):
                self._kept.pop(key, None)
                self._waiting[about] = task = self._instead(_Task(about, Question(key, make, what), first))
                if self._now is not None:
                    self._look(task)
            self._next()
        _end(lost)

    def found(self, key: Hashable) -> Outcome | None:
        """What came of it, if it is done."""
        with self._turn:
            return self._kept.get(key)

    def first(self, key: Hashable) -> Any | None:
        """The first look at it, as long as it is not done."""
        with self._turn:
            return self._firsts.get(key)

    def last(self, about: Hashable) -> Any | None:
        """The newest that was found about something, whatever was asked."""
        with self._turn:
            found = self._kept.get(self._last.get(about))
            return None if found is None else found.found

    def wait(self, key: Hashable, seconds: float, *, or_first: bool = False) -> Outcome | None:
        """What came of it, once it is done.

        Args:
            or_first: A first look is enough; None where there is one and no more.
        Raises:
            NotYet: it takes longer than *seconds*, or something newer took its place.
        """

        def is_there() -> bool:
            return key in self._kept or (or_first and key in self._firsts)

        with self._turn:
            self._turn.wait_for(lambda: is_there() or not self._is_asked(key), seconds)
            if not is_there():
                raise NotYet
            return self._kept.get(key)

    def close(self) -> None:
        """End the process beside."""
        with self._turn:
            self._waiting.clear()
            lost, self._beside, self._now = self._beside, None, None
            self._turn.notify_all()
        _end(lost)

    def _is_asked(self, key: Hashable) -> bool:
        now = self._now is not None and self._now.key == key
        return now or any(task.key == key for task in self._waiting.values())

    def _instead(self, task: _Task) -> _Task:
        """The task, of whose subject nothing older waits any more."""
        older = self._waiting.pop(task.about, None)
        if older is not None:
            self._firsts.pop(older.key, None)
        return task

    def _next(self) -> None:
        while self._now is None and self._waiting:
            _, task = self._waiting.popitem(last=False)
            try:
                self._beside = self._beside or Beside(self._told, self._ended)
            except OSError as fault:
                self._keep(task, _lost(NOT_BEGUN.format(why=fault.strerror or fault)))
                continue
            task.begun, task.tries = time.monotonic(), task.tries + 1
            self._now = task
            self._look(task)
            self._beside.ask(task.question)

    def _look(self, task: _Task) -> None:
        """Ask for a first look, if there is none: when it is asked, and again when its turn has come."""
        if self._beside is not None and task.first is not None and task.key not in self._firsts:
            self._beside.ask(Question(task.key, task.first, task.question.what, first=True))

    def _told(self, beside: Beside, said: Said) -> None:
        if said.fault:
            sys.stderr.write(said.fault)
        with self._turn:
            if beside is not self._beside:
                return  # it was given up
            if said.first:
                if said.outcome.found is not None and self._is_asked(said.key):
                    self._firsts[said.key] = said.outcome.found
                    _trim(self._firsts)
                    self._turn.notify_all()
            elif self._now is not None and self._now.key == said.key:
                task, self._now = self._now, None
                self._keep(task, Outcome(wrong=(FAULT,)) if said.fault else said.outcome)
                self._next()

    def _ended(self, beside: Beside) -> None:
        """The process has ended: what it was at is begun once more, in another."""
        with self._turn:
            if beside is not self._beside:
                return  # it was meant to
            task, self._beside, self._now = self._now, None, None
            if task is not None and task.tries >= TRIES:
                self._keep(task, _lost(ENDED))
            elif task is not None and task.about not in self._waiting:
                self._waiting[task.about] = task
                self._waiting.move_to_end(task.about, last=False)
            self._next()
            self._turn.notify_all()

    def _give_up(self) -> Beside | None:
        """Give up what is being done; the process that did it is ended without the lock held."""
        lost, task = self._beside, self._now
        self._beside = self._now = None
        if task is not None:
            self._keep(task, _lost(GIVEN_UP.format(minutes=TOO_LONG / 60.0)))
        return lost

    def _keep(self, task: _Task, outcome: Outcome) -> None:
        self._firsts.pop(task.key, None)
        self._kept[task.key] = outcome
        if not outcome.wrong:
            self._last[task.about] = task.key
        _trim(self._kept)
        self._turn.notify_all()


def _lost(words: str) -> Outcome:
    return Outcome(wrong=(words,), lost=True)


def _trim(kept: OrderedDict[Hashable, Any]) -> None:
    while len(kept) > KEPT:
        kept.popitem(last=False)


def _end(lost: Beside | None) -> None:
    if lost is not None:
        lost.end()
