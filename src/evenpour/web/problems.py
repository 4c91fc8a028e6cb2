"""Problems as a page shows them: with the label a person sees, beside the field that is meant."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.errors import FieldProblem, Problem, Problems, Questioned, Refused, SentBefore
from evenpour.job.catalogue import catalogue
from evenpour.measure.slips import IF_SO
from evenpour.web.asked_fields import as_filled_in, asked_field, is_empty

# Where all names stand: a page has a list of its own to choose from.
_ELSEWHERE = re.compile(r"\S*(?:docs/reference\.md|evenpour [a-z ]+\w) lists all \d+\.")
# For a form that was gone back to; the page shown now has a new id, so it can be sent once more.
SENT_BEFORE = (
    "This form was sent before, with something else in it; that was kept, and nothing is changed now. "
    "Was it a slip, mend the entry that was kept. To keep this as well, send it once more."
)

_TO_THE_SECOND = len("2026-05-04T10:15:00")


@dataclass(frozen=True, slots=True)
class ShownProblem:
    """What is wrong in words; ``field`` is the input's name, empty where none is meant.

    ``odd`` if it is only unlikely: the person may say that it is so. ``mend``: the address where an
    entry that was kept before is mended, empty where none is meant.
    """

    words: str
    field: str = ""
    odd: bool = False
    mend: str = ""


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed into one of the forms of a page, to be shown again."""

    form: str
    values: Mapping[str, str]

    def value(self, form: str, name: str, otherwise: str = "") -> str:
        """What stood in the field, or *otherwise* if that form was not sent."""
        return self.values.get(name, "") if form == self.form else otherwise

    def when(self, form: str) -> str:
        """The time typed into that form, or kept by the device where the entry waited there, as a field
        for a date and a time takes it: of that device's own clock, without the offset. Empty where it was
        only stamped as it was sent.
        """
        at = self.value(form, "at")
        return "" if at == self.value(form, "at_now") else at[:_TO_THE_SECOND]

    def has(self, form: str) -> bool:
        """Whether that form was the one sent."""
        return form == self.form


NOTHING_TYPED = Typed("", {})


def problems_shown(problem: Problem, kind: str = "") -> list[ShownProblem]:
    """Every problem in one, each once; *kind* of entry, if they are of a form that makes one of it."""
    if isinstance(problem, Problems):
        found = [one for inner in problem.all for one in problems_shown(inner, kind)]
    elif isinstance(problem, FieldProblem):
        found = [_shown(as_filled_in(problem), kind)]
    elif isinstance(problem, SentBefore):
        found = [ShownProblem(SENT_BEFORE)]
    elif isinstance(problem, Refused):
        found = [ShownProblem(words) for words in (problem.what, *problem.reasons)]
    else:
        found = [ShownProblem(str(problem))]
    return list(dict.fromkeys(found))


def _shown(problem: FieldProblem, kind: str) -> ShownProblem:
    asked = asked_field(kind, problem.field)
    if asked and is_empty(asked, problem):
        return ShownProblem(f"“{asked.label}” is empty. {asked.empty}".strip(), _in_row(asked.input, problem))
    label, field = (asked.label, asked.input) if asked else _label_and_field(problem.field)
    odd = isinstance(problem, Questioned)
    value = "" if problem.value in (None, "") else f" “{_clipped(problem.value)}”"
    sentences = [f"{label}{value} {problem.trouble}".strip()]
    sentences += [f"Allowed: {problem.allowed}"] if problem.allowed else []
    remedy = _ELSEWHERE.sub("", problem.remedy.replace(IF_SO, "")).strip()
    sentences += [remedy] if remedy else []
    sentences += ["If it is so, tick “It is so” below"] if odd else []
    words = " ".join(one if one.endswith((".", "?", "!")) else f"{one}." for one in sentences)
    return ShownProblem(f"{words[:1].upper()}{words[1:]}", _in_row(field, problem), odd)


def _label_and_field(name: str) -> tuple[str, str]:
    """The label a person sees for a field of an entry, and the input of our forms that holds it."""
    known = catalogue()
    if name in known.checks:
        return known.checks[name].title, "value"
    if name in known.kinds:
        title = known.kinds[name].title
        return f"{title[:1].upper()}{title[1:]}", f"c.{name}"
    if name.startswith("amounts, port "):
        port = name.removeprefix("amounts, port ")
        return f"Port {port}", f"amount.{port}"
    return name.replace("_", " ").capitalize(), name


def _in_row(field: str, problem: FieldProblem) -> str:
    row = _row(problem)
    return f"{field}.{row}" if row else field


def _row(problem: FieldProblem) -> str:
    """Of several entries sent together, the row that is meant: the ending of the entry's id."""
    path = problem.place.path if problem.place else ""
    entry, dot, row = path.partition(", ")[0].rpartition(".")
    return row if dot and entry and row.isdigit() else ""


def _clipped(value: object) -> str:
    text = str(value).replace("\n", " ")
    return text if len(text) <= 60 else f"{text[:57]}..."
