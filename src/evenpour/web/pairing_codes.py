"""The pairing code: what somebody at the machine reads off the screen and types into a phone, once.

Eight digits that hold ten minutes and let in one phone. Five wrong tries in all shut the door: from then on
no code is right, until somebody at the machine asks for a new one. So a stranger has five guesses at a
hundred million, however long he stays; and where nobody looked at a code lately, there is none to be guessed.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from evenpour.errors import FieldProblem, Refused

DIGITS: Final = 8
HOLDS: Final = 600.0  # s
MOST_WRONG: Final = 5
ASK_ANEW: Final = "At the machine that serves them, open the page “Sharing” and ask for a new code."


@dataclass(frozen=True, slots=True)
class Code:
    """A code and how long it still holds, s."""

    digits: str
    left: float

    @property
    def shown(self) -> str:
        """As it is read off: ``1234 5678``."""
        return f"{self.digits[: DIGITS // 2]} {self.digits[DIGITS // 2 :]}"


class PairingCodes:
    """The one code that holds now, if any.

    Args:
        clock: Seconds that only go forward.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._digits = ""
        self._until = 0.0
        self._wrong = 0

    def current(self) -> Code | None:
        """The code to show at the machine; a new one where the last is spent; None while the door is shut."""
        with self._lock:
            if self._wrong >= MOST_WRONG:
                return None
            if not self._holds():
                self._make()
            return Code(self._digits, self._until - self._clock())

    def renew(self) -> Code:
        """A new code, and the door open again, because somebody at the machine asks for it."""
        with self._lock:
            self._wrong = 0
            self._make()
            return Code(self._digits, HOLDS)

    def spend(self, typed: str) -> None:
        """Use up the code: it was typed right, and holds for nobody else.

        Raises:
            FieldProblem: it is none, or not the one that holds.
            Refused: none holds now.
        """
        digits = "".join(typed.replace("-", " ").split())
        if len(digits) != DIGITS or not (digits.isascii() and digits.isdigit()):
            raise FieldProblem("code", None, "is no pairing code", allowed=f"{DIGITS} digits")
        with self._lock:
            if self._wrong >= MOST_WRONG:
                raise Refused("Too many wrong codes were tried: no phone is let in now.", [ASK_ANEW])
            if not self._holds():
                raise Refused("No pairing code holds now.", [ASK_ANEW])
            if not secrets.compare_digest(digits, self._digits):
                self._wrong += 1
                left = MOST_WRONG - self._wrong
                remedy = f"{left} more tr{'y' if left == 1 else 'ies'}" if left else ASK_ANEW
                raise FieldProblem("code", None, "is not the one that holds now", remedy=remedy)
            self._digits, self._wrong = "", 0

    def _holds(self) -> bool:
        return bool(self._digits) and self._clock() < self._until

    def _make(self) -> None:
        self._digits = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        self._until = self._clock() + HOLDS
