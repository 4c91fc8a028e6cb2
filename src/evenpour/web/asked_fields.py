"""What the fields of an entry are called on the forms of the pages, and what is said where one is empty.

An entry's own names are those of its file: a person at a form sees the label above the input.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.errors import FieldProblem

# How a file's or a prompt's reader is told to write it: here the unit is chosen beside the figure.
_WITH_UNIT = re.compile(r"Write it like 4\.8 bar, 4,8 bar or 1/4 turn")
FIGURE_ALONE = "Write the figure alone, like 4.8 or 4,8: its unit stands beside it"
TURNS_ALONE = "Whole turns are a figure, like 1: the direction and the part of a turn are chosen beside it"


@dataclass(frozen=True, slots=True)
class AskedField:
    """A field as a form has it: its label, its input's name, and what to say where nothing was filled in."""

    label: str
    input: str
    empty: str


_CALLED = {
    "value": AskedField("Reading", "value", "Fill in what you read or found."),
}
_CAUGHT = {
    "through": AskedField("Caught from", "through", "Choose bare lines or injectors."),
    "opening": AskedField("How far the plate was held", "lift", "How far was it held from the first drops?"),
    "duration": AskedField("Time", "duration", "How long did the pump run?"),
    "amounts": AskedField(
        "What each port poured",
        "amount.1",
        "Fill it in below, port by port; if all was lost, write a note instead.",
    ),
    "temperature": AskedField("Fuel temperature", "temperature", ""),
    "instrument": AskedField("Read on", "instrument", ""),
    "swaps": AskedField("Exchanged for this catch", "swaps", ""),
    "stands": AskedField("For this catch they hang", "stands", "Look where they hang, and choose it."),
}
_HANDLED = {
    "part": AskedField("Part", "part", "Choose what was handled."),
    "action": AskedField("What was done", "action", "Choose it from the list."),
}
_TURNED = {
    "part": AskedField("Which screw", "part", "Choose it."),
    "turns": AskedField("By how much it was turned", "turns", "Say how far, and which way."),
}
_HAPPENED = {"what": AskedField("What happened", "what", "Choose it from the list.")}
_STATED = {
    "id": AskedField("What you call it", "id", "Give it a short name, as written on it."),
    "kind": AskedField("What it is", "instrument_kind", "A pressure gauge, a measuring cylinder, a scale?"),
    "range": AskedField("Range", "range", ""),
    "class": AskedField("Class", "class", ""),
    "error": AskedField("May err by", "error", ""),
    "resolution": AskedField("Smallest division", "resolution", ""),
    "calibrated": AskedField("Last calibrated", "calibrated", ""),
}
_TAKEN = {"known": AskedField("One that the workshop has stated before", "known", "")}
_NOTED = {"text": AskedField("Words for the record", "text", "Write the note first.")}
_AT_ONE = "It sits at one cylinder: choose which."
_CLOSED = {
    "cause": AskedField("What was wrong", "cause", ""),
    "cylinder": AskedField("Its cylinder", "cylinder", _AT_ONE),
    "own": AskedField("In your own words", "own", "Say it in a few words, or choose another answer."),
    "second": AskedField("The second", "second", ""),
    "second-cylinder": AskedField("The second's cylinder", "second-cylinder", _AT_ONE),
}
_BEGUN = {
    "sheet": AskedField("The engine's sheet", "sheet", "Choose it: all limits come from it."),
    "ambient_temperature": AskedField("Air temperature in the workshop", "c.ambient_temperature", ""),
    "altitude": AskedField("Height above the sea", "c.altitude", ""),
}
_EVERYWHERE = {
    "who": AskedField("Your name", "who", ""),
    "at": AskedField("When it was so", "at", ""),
    "reason": AskedField("Because", "reason", "Say why in a few words: the record shows it."),
}
_BY_KIND: Mapping[str, Mapping[str, AskedField]] = {
    "reading": _CALLED,
    "catch": _CAUGHT,
    "did": _HANDLED,
    "move": _TURNED,
    "happened": _HAPPENED,
    "instrument": _STATED,
    "taken": _TAKEN,
    "note": _NOTED,
    "closed": _CLOSED,
    "engine": _BEGUN,
}


def asked_field(kind: str, name: str) -> AskedField | None:
    """The field of an entry of *kind* as our form has it; None where the form has no other name for it."""
    return _BY_KIND.get(kind, {}).get(name) or (_EVERYWHERE.get(name) if kind else None)


def is_empty(asked: AskedField, problem: FieldProblem) -> bool:
    """Whether nothing was filled in, and nothing better is said of it than that."""
    missing = problem.trouble == "is missing" and (bool(asked.empty) or not problem.remedy)
    return problem.value in (None, "") and (
        missing
        or problem.trouble in ("is empty", "are all lost")
        or problem.trouble.startswith(("is missing from ", "is no "))
    )


def as_filled_in(problem: FieldProblem) -> FieldProblem:
    """The problem in the words of somebody at a form, where those of a file or a prompt do not fit."""
    if not _WITH_UNIT.search(problem.remedy):
        return problem
    value, remedy = problem.value, FIGURE_ALONE
    if isinstance(value, str) and value.endswith(" turn"):  # put together of figure, part and direction
        value, remedy = value.removesuffix(" turn").lstrip("+-"), TURNS_ALONE
    return type(problem)(
        problem.field, value, problem.trouble, allowed=problem.allowed, remedy=remedy, place=problem.place
    )
