"""One process beside the server: questions go in, what comes of them comes back, and its end is noticed.

Long questions are worked out there one after the other. A first look at one is given at once, also while
another is worked out.
"""

from __future__ import annotations

import os
import signal
import threading
import traceback
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from queue import SimpleQueue
from typing import Any, Final

from evenpour.errors import Problem

NICE: Final = 5  # the pages themselves come first


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it: what was found, or in words why nothing was.

    Attributes:
        lost: Whether the process beside never got to its end, and nothing asked is to blame.
    """

    found: Any = None
    wrong: tuple[str, ...] = ()
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """``make(*what)``, under a key of the caller's; ``first``: it is answered before all that wait."""

    key: Hashable
    make: Callable[..., Any]
    what: tuple[Any, ...]
    first: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """What came of a question, or the fault that ended it."""

    key: Hashable
    first: bool
    outcome: Outcome = Outcome()
    fault: str = ""


class Beside:
    """The process, begun at once.

    Args:
        told: Called, on a thread of its own, with whatever the process says.
        ended: Called once when the process is there no more, however that came.
    Raises:
        OSError: no process can be begun.
    """

    def __init__(self, told: Callable[[Beside, Said], None], ended: Callable[[Beside], None]) -> None:
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs,), daemon=True)
        try:
            self._process.start()
        except OSError:
            self._pipe.close()
            raise
        finally:
            theirs.close()
        self._listening = threading.Thread(target=self._listen, args=(told, ended), daemon=True)
        self._listening.start()

    def ask(self, question: Question) -> None:
        """Hand it a question; one that has ended meanwhile says so by ``ended``."""
        with suppress(OSError):
            self._pipe.send(question)

    def end(self) -> None:
        """End the process, whatever it is at."""
        self._process.terminate()
        self._process.join()
        if threading.current_thread() is not self._listening:
            self._listening.join()

    def _listen(self, told: Callable[[Beside, Said], None], ended: Callable[[Beside], None]) -> None:
        try:
            while True:
                told(self, self._pipe.recv())
        except (EOFError, OSError):
            pass  # it has ended
        finally:
            self._pipe.close()
            ended(self)


def undisturbed() -> None:
    """For a process beside: Ctrl-C is meant for the server, which ends the process itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _serve(pipe: Connection) -> None:
    """In the process beside: until the server ends or ends it."""
    undisturbed()
    if hasattr(os, "nice"):
        os.nice(NICE)
    waiting: SimpleQueue[Question] = SimpleQueue()
    sending = threading.Lock()

    def answer(question: Question) -> None:
        said = _said(question)
        with sending:
            try:
                pipe.send(said)
            except OSError:
                return  # the server is gone
            except Exception:  # noqa: BLE001  # what was found cannot travel: that can
                pipe.send(Said(question.key, question.first, fault=traceback.format_exc()))

    def work() -> None:
        while True:
            answer(waiting.get())

    threading.Thread(target=work, daemon=True).start()
    with suppress(EOFError, OSError):
        while True:
            question = pipe.recv()
            if question.first:
                answer(question)
            else:
                waiting.put(question)


def _said(question: Question) -> Said:
    """A problem comes back as words, a fault as where it was: not every exception can travel."""
    from evenpour.web.problems import problems_shown

    try:
        return Said(question.key, question.first, Outcome(question.make(*question.what)))
    except Problem as problem:
        words = tuple(one.words for one in problems_shown(problem))
        return Said(question.key, question.first, Outcome(wrong=words))
    except Exception:  # noqa: BLE001  # whatever it is
        return Said(question.key, question.first, fault=traceback.format_exc())
