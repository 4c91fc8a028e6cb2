"""Which catch the form has chosen already: the one the page's address asks for, else that of last time; and
what is kept of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from evenpour.errors import FieldProblem
from evenpour.job.answers import CatchAnswer
from evenpour.job.asking import Choice
from evenpour.job.entries import Draft
from evenpour.job.exchanges import exchanged_now, left_unsaid, put_back_item, swap_words
from evenpour.job.rules import read_swap
from evenpour.web.ask import Ask
from evenpour.web.entry_forms import drafts_of

STILL, BACK = "still", "back"  # how parts hang that were exchanged for an earlier catch
HOW_THEY_HANG: tuple[Choice, ...] = (
    (STILL, "still exchanged"),
    (BACK, "each in its own place again"),
)
ASKED_FOR = ("through", "opening", "swap")  # of a catch that is asked for by the page's address


@dataclass(frozen=True, slots=True)
class Wanted:
    """The catch to enter: what the form has chosen already."""

    through: str
    opening: str
    swaps: tuple[tuple[str, str, str], ...]


NOTHING_WANTED = Wanted("", "", ())


def wanted(ask: Ask, answer: CatchAnswer) -> Wanted:
    """What the address asks for; else the same as the last run; else the first of the work."""
    swaps = [found for text in ask.request.query_params.getlist("swap") if (found := read_swap(text))]
    last = answer.runs[-1] if answer.runs else None
    through = ask.query.get("through") or (last.through if last else "lines")
    opening = ask.query.get("opening") or (last.opening if last else "idle")
    return Wanted(through, opening, tuple((kind, str(one), str(other)) for kind, one, other in swaps))


def wanted_address(ask: Ask) -> str:
    """The page of the catches, with what its address asks for."""
    asked = [(name, said) for name, said in ask.request.query_params.multi_items() if name in ASKED_FOR]
    return f"/jobs/{ask.number}/catch{'?' if asked else ''}{urlencode(asked)}"


def catch_drafts(ask: Ask) -> list[Draft]:
    """The catch that the form says; before it, that exchanged parts are back, where it says so.

    Raises:
        FieldProblem: parts were exchanged for an earlier catch, and nothing says where they hang in this one.
    """
    drafts = drafts_of(ask.form, ask.entry_id)
    standing = exchanged_now(ask.job)
    said = ask.form.get("stands", "")
    if said == BACK:
        who = {"who": ask.form["who"].strip()} if ask.form.get("who", "").strip() else {}
        kinds = dict.fromkeys(kind for kind, _, _ in standing)
        return [*(_put_back(kind, who, drafts[0]) for kind in kinds), *drafts]
    unsaid = left_unsaid(standing, drafts[0].content) if drafts[0].kind == "catch" else []
    if not unsaid:
        return drafts
    if said != STILL:
        raise FieldProblem("stands", None, "is missing", remedy="See where they hang, and say so.")
    swaps = [*drafts[0].content.get("swaps", ()), *map(swap_words, unsaid)]
    return [replace(drafts[0], content={**drafts[0].content, "swaps": swaps})]


def _put_back(kind: str, who: dict[str, str], catch: Draft) -> Draft:
    content = {"action": "refitted", "part": put_back_item(kind), **who}
    return Draft("did", content, f"{catch.id}.back-{kind}", catch.at)
