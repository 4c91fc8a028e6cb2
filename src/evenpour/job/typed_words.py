"""Words as typed: whole numbers, ``name=value`` pairs, and amounts whose unit is said once at the end."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evenpour.errors import FieldProblem

NUMBER = re.compile(r"[+\-−]?([0-9]+([.,/][0-9]+)?|[.,][0-9]+)")
_PAIR = re.compile(r"([A-Za-z_]+)=(.*)", re.DOTALL)
_WHOLE = re.compile(r"[0-9]{1,9}")
_UNIT_ONLY = re.compile(r"[A-Za-zµΩ°%][A-Za-z0-9µΩ°%/ ]*")


def whole(text: str) -> int | None:
    """The number that digits alone say; None for anything else.

    ``str.isdigit`` also holds for ² and for thousands of digits, which ``int`` refuses.
    """
    return int(text) if _WHOLE.fullmatch(text.strip()) else None


def accuracy_class(text: str) -> float:
    """An instrument's class, in per cent of its range.

    Raises:
        FieldProblem: it is no number.
    """
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise FieldProblem(
            "class", text, "is no number", allowed="like 1.0 (per cent of the range)"
        ) from None


def split_pairs(words: Sequence[str]) -> tuple[list[str], dict[str, str]]:
    """The plain words, and the ``name=value`` ones.

    Raises:
        FieldProblem: a name is given twice.
    """
    plain: list[str] = []
    pairs: dict[str, str] = {}
    for word in words:
        found = _PAIR.fullmatch(word)
        if found:
            if found[1] in pairs:
                raise FieldProblem(found[1], found[2], "is given twice")
            pairs[found[1]] = found[2]
        else:
            plain.append(word)
    return plain, pairs


def listed_amounts(words: Sequence[str], field: str, of: str, form: str) -> list[str]:
    """Each amount with its unit; a unit said once at the end is all of theirs; ``-`` or ``lost`` is "".

    Raises:
        FieldProblem: there is none; *form* shows how it is written.
    """
    units: list[str] = []
    numbers = list(words)
    while numbers and _UNIT_ONLY.fullmatch(numbers[-1]):
        units.insert(0, numbers.pop())
    unit = " ".join(units)
    if not numbers:
        raise FieldProblem(field, None, f"are missing from {of}", remedy=f"Write it like: {form}")
    return [
        "" if one in ("-", "lost") else f"{one} {unit}" if NUMBER.fullmatch(one) and unit else one
        for one in numbers
    ]
