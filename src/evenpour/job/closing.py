"""The cause that a closed job names: one of the catalogue's, several, none, or not found."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem, unknown

NONE = "none"  # nothing was wrong
NOT_FOUND = "not_found"
_AT_CYLINDER = re.compile(r"\s*([a-z_]+)\s*(?:\[\s*([0-9]{1,2})\s*\])?\s*")


@dataclass(frozen=True, slots=True)
class Closed:
    """What a closed job says was wrong.

    Attributes:
        causes: Of the catalogue, each once, whichever cylinders it sat at.
        nothing_wrong: Whether it says that nothing was.
        own_words: A cause that the catalogue has not, as it was written; empty if there is none.
    """

    causes: tuple[str, ...] = ()
    nothing_wrong: bool = False
    own_words: str = ""

    @property
    def counts(self) -> bool:
        """Whether something can be learned from it."""
        return self.nothing_wrong or bool(self.causes)


@dataclass(frozen=True, slots=True)
class Choice:
    """A cause to close a job with: for a list to choose from."""

    cause: str
    title: str
    per_cylinder: bool
    part: str = ""
    mended_by: tuple[str, ...] = ()


def choices() -> tuple[Choice, ...]:
    """Everything that a job can be closed with, in the catalogue's order; none and not found last."""
    found = [
        Choice(
            name,
            str(table["title"]),
            bool(table.get("per_cylinder")),
            str(table["part"]),
            tuple(table.get("mended_by", ())),
        )
        for name, table in _catalogue().items()
    ]
    return (*found, Choice(NONE, "nothing was wrong", False), Choice(NOT_FOUND, "not found out", False))


def closing_content(
    causes: Sequence[str], *, cylinder: int | None = None, suspected: bool = False
) -> dict[str, Any]:
    """The fields of a closing entry.

    Args:
        causes: Ids, each with its cylinder where it is one of a cylinder: ``injector_restricted[4]``. Or
            ``none``, or ``not_found``, alone. Without any nothing is said.
        cylinder: Of the first, if its text does not say.
        suspected: Not confirmed: nothing is learned from it.
    Raises:
        UnknownName: the catalogue has no such cause; the nearest are named.
        FieldProblem: a cylinder is missing, or stands where there is none; none or not found beside a cause.
    """
    if not causes:
        return {} if cylinder is None else {"cylinder": cylinder}
    first, *more = [_read(text, cylinder if number == 0 else None) for number, text in enumerate(causes)]
    said = [first, *more]
    for name, _ in said:
        if name in (NONE, NOT_FOUND) and len(said) > 1:
            raise FieldProblem("cause", name, "stands beside another", remedy="Give it alone")
        if name in (NONE, NOT_FOUND) and suspected:
            raise FieldProblem("cause", name, "is nothing to be suspected", remedy="Leave that out")
    if len(set(said)) < len(said):
        raise FieldProblem(
            "cause", ", ".join(cause_text(*one) for one in said), "names one twice", remedy="Give each once"
        )
    content: dict[str, Any] = {"cause": first[0]}
    if first[1] is not None:
        content["cylinder"] = first[1]
    if more:
        content["also"] = [cause_text(*one) for one in more]
    if first[0] not in (NONE, NOT_FOUND):
        content["confirmed"] = not suspected
    return content


def closed_with(content: Mapping[str, Any]) -> Closed:
    """What a closing entry says was wrong; what was only suspected says nothing."""
    if content.get("confirmed") is False:
        return Closed()
    texts = [str(one) for one in (content.get("cause"), *(content.get("also") or ())) if one]
    known = _catalogue()
    names = [(match[1] if (match := _AT_CYLINDER.fullmatch(text)) else text) for text in texts]
    if names == [NONE]:
        return Closed(nothing_wrong=True)
    causes = tuple(dict.fromkeys(name for name in names if name in known))
    strange = [
        text for text, name in zip(texts, names, strict=True) if name not in known and name != NOT_FOUND
    ]
    return Closed(causes, own_words="; ".join(strange))


def cause_text(name: str, cylinder: int | None) -> str:
    """A cause with its cylinder, as it is written: ``spark_missing[2]``."""
    return name if cylinder is None else f"{name}[{cylinder}]"


def cylinder_of(text: str) -> int | None:
    """The cylinder that a cause's text names: 2 of ``spark_missing[2]``."""
    match = _AT_CYLINDER.fullmatch(text)
    return int(match[2]) if match and match[2] else None


def closing_words(content: Mapping[str, Any]) -> str:
    """What a closing entry says was wrong, to follow "Job closed": ``, cause: the fuel pump is worn``."""
    cause = content.get("cause")
    if not cause:
        return ""
    if cause in (NONE, NOT_FOUND):
        return "; nothing was wrong" if cause == NONE else "; what was wrong was not found"
    first = _in_words(str(cause), content.get("cylinder"))
    also = [str(text) for text in content.get("also") or ()]
    whole = "; ".join((first, *(_in_words(text.partition("[")[0], cylinder_of(text)) for text in also)))
    suspected = " (suspected)" if content.get("confirmed") is False else ""
    return f", {'causes' if also else 'cause'}: {whole}{suspected}"


def _in_words(cause: str, cylinder: int | None) -> str:
    known = _catalogue().get(cause.strip())  # else it stands there in the words of whoever wrote it
    words = str(known["title"]) if known else cause.strip().replace("_", " ")
    return words if cylinder is None else f"{words}, cylinder {cylinder}"


def _read(text: str, cylinder: int | None) -> tuple[str, int | None]:
    match = _AT_CYLINDER.fullmatch(text)
    name = match[1] if match else text.strip()
    known = _catalogue()
    if name not in known and name not in (NONE, NOT_FOUND):
        raise unknown("cause", text, [*known, NONE, NOT_FOUND], kind="cause", listed_by="evenpour experience")
    at = int(match[2]) if match and match[2] else cylinder
    if name in known and known[name].get("per_cylinder"):
        if at is None:
            raise FieldProblem("cause", name, "sits at a cylinder", remedy=f"Say which, like {name}[4]")
    elif at is not None:
        raise FieldProblem("cylinder", at, f"does not go with {name}", remedy="Leave it out")
    return name, at


@cache
def _catalogue() -> Mapping[str, Mapping[str, Any]]:
    return {str(table["id"]): table for table in data.shipped("causes.toml").values["cause"]}
