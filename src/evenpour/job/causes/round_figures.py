"""What is foreseen, in no more figures than it is known to, and beside its like in as many."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fractions import Fraction

from evenpour.measure.units import with_minus

FIGURES = 3
_TURNED = re.compile(r"([-−]?[0-9]+(?:\.[0-9]+)?) turn")
_NUMBER = re.compile(r"[-−]?[0-9]+(?:\.[0-9]+)?")


def rough(words: str) -> str:
    """A value in words with no more than three figures: ``346.8 °C`` becomes ``347 °C``; of a screw, in the
    sixteenths that a hand turns: ``0.529 turn`` becomes ``1/2 turn``.
    """
    return rough_alike([words])[0]


def rough_alike(said: Sequence[str]) -> list[str]:
    """The same of several that stand in one sentence, all with as many decimals: ``1.003`` and ``0.967``
    become ``1.00`` and ``0.97``, ``0.2 %`` beside ``1.37 %`` becomes ``0.20 %``. Words without a figure, and
    nought, stay as they are.
    """
    numbers = [found for words in said if "turn" not in words and (found := _NUMBER.search(words))]
    values = [float(one[0].replace("−", "-")) for one in numbers]
    written = max((len(one[0].partition(".")[2]) for one in numbers), default=0)
    known = min((_decimals(value) for value in values if value), default=0)
    return [_rounded(words, min(written, known)) for words in said]


def _decimals(value: float) -> int:
    return max(0, FIGURES - 1 - math.floor(math.log10(abs(value))))


def _rounded(words: str, decimals: int) -> str:
    turned = _TURNED.fullmatch(words)
    if turned is not None:
        return f"{_sixteenths(float(turned[1].replace('−', '-')))} turn"

    def shorter(number: re.Match[str]) -> str:
        value = float(number[0].replace("−", "-"))
        return with_minus(f"{value:.{decimals}f}") if value else "0"

    return _NUMBER.sub(shorter, words, count=1)


def _sixteenths(turns: float) -> str:
    """``1 9/16``; ``−1/4``; ``0`` below half of one."""
    whole, part = divmod(round(16.0 * abs(turns)), 16)
    said = " ".join(str(one) for one in (whole, Fraction(part, 16)) if one) or "0"
    return with_minus(f"-{said}") if turns < 0.0 and said != "0" else said
