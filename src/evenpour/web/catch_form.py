"""Which catch the form has chosen already: the one the page's address asks for, else that of last time."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from evenpour.job.answers import CatchAnswer
from evenpour.job.rules import read_swap
from evenpour.web.ask import Ask

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
