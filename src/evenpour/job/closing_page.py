"""What a form offers as the cause that a job is closed with: the likeliest first, then what can be wrong with
what was mended, everything known after.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from evenpour.job.causes.groups import named_by
from evenpour.job.causes.kept import answer_at_hand
from evenpour.job.closing import NONE, NOT_FOUND, cause_text, choices
from evenpour.job.wording import likelihood

if TYPE_CHECKING:
    from evenpour.job.causes.answers import CausesAnswer
    from evenpour.job.job import Job
    from evenpour.job.store import Store

FEW = 5
MOST_MENDED = 12
MENDING = ("replaced", "cleaned", "adjusted")
BESIDE = 0.3  # of the likeliest, from which each cause is offered once at least; our choice
LEAST = 0.01  # probability below which a cause is not among the likeliest; our choice
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ClosingChoices:
    """Values and words. ``likely`` say their cylinder and how likely they are, ``mended`` their cylinder;
    ``known`` are all.
    """

    likely: Choices
    mended: Choices
    none_of_them: Choices
    known: Choices


def closing_choices(job: Job, store: Store) -> ClosingChoices:
    """What *job* can be closed with; the likeliest only where they are worked out already."""
    answer = answer_at_hand(job, store=store)
    titles = {one.cause: one.title for one in choices()}
    shown = [(name, _capital(title)) for name, title in titles.items()]
    likely = _likely(answer, titles) if answer else ()
    told = {value for value, _ in likely}
    return ClosingChoices(
        likely=likely,
        mended=tuple(one for one in _mended(job) if one[0] not in told)[:MOST_MENDED],
        none_of_them=tuple(one for one in shown if one[0] in (NONE, NOT_FOUND)),
        known=tuple(one for one in shown if one[0] not in (NONE, NOT_FOUND)),
    )


def _mended(job: Job) -> Choices:
    """What can be wrong with each part that was replaced, cleaned or adjusted, the newest first; then what
    work on it mends elsewhere.
    """
    touches = [one for one in reversed(job.facts.touches) if one.action in MENDING]
    found = {
        cause_text(one.cause, touch.cylinder if one.per_cylinder else None): _told(
            one.title, touch.cylinder if one.per_cylinder else None
        )
        for elsewhere in (False, True)
        for touch in touches
        for one in choices()
        if touch.part in (one.mended_by if elsewhere else (one.part,))
        and (touch.cylinder is not None or not one.per_cylinder)
    }
    return tuple(found.items())


def _likely(answer: CausesAnswer, titles: dict[str, str]) -> Choices:
    """Each cause once, whatever else was with it: its probability is that of all its lines."""
    shares: defaultdict[tuple[str, int | None], float] = defaultdict(float)
    for line in answer.causes:
        for one in named_by(line):
            shares[one.cause, one.cylinder] += line.probability
    order = sorted((one for one in shares if shares[one] >= LEAST), key=lambda one: -shares[one])
    # six cylinders of one cause leave room for what is likely beside them
    best = list({name: (name, at) for name, at in reversed(order)}.values())
    beside = [one for one in best if shares[one] > BESIDE * shares[order[0]]]
    chosen = set([*sorted(beside, key=order.index), *order][:FEW])
    return tuple(
        (cause_text(name, at), f"{_told(titles[name], at)}: {likelihood(shares[name, at])}")
        for name, at in order
        if (name, at) in chosen
    )


def _told(title: str, cylinder: int | None) -> str:
    return _capital(title) if cylinder is None else f"{_capital(title)}, cylinder {cylinder}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
