"""The causes as their page tells them: the answer, or a first look at it, each figure in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypedDict
from urllib.parse import quote_plus

from evenpour.job.advice import in_order, repair_worth_doing
from evenpour.job.causes.answers import CauseLine, CausesAnswer, ReasonLine, RepairLine
from evenpour.job.causes.groups import (
    besides_words,
    cautions_once,
    group_says,
    left_out_because,
    not_told_apart,
    one_stands_out,
    rather_two,
    repair_place,
    said,
    same_first,
    told_repairs,
    whole,
    worth_with,
)
from evenpour.job.causes.page import (
    LookedAt,
    NextCheck,
    experience_words,
    next_checks,
    ranking,
    slip_words,
)
from evenpour.job.job import Job
from evenpour.job.screw.page import on_a_page
from evenpour.job.step_page import SCREW, step_number
from evenpour.job.wording import likelihood, when_said

REASONS = 3
MOST_LIKELY = 0.5  # of nothing known here being wrong, from which the page says so first
LENGTH = 1000  # the drawing's own units, of a line that means certainty
SOUND = "Nothing that is known here seems wrong"
UNCLEAR_SOUND = "that nothing known here is wrong"
UNCLEAR_STRANGE = "something that is not known here"


@dataclass(frozen=True, slots=True)
class Reason:
    """What one check says: how strongly, and in which words."""

    strength: str
    words: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause, or two at once; ``length`` draws its share. ``silent``: no reading speaks for or against.

    ``besides``: in how much of it a second thing is wrong, in words; ``rather_two``: in most of it.
    """

    says: str
    silent: bool
    how_bad: str
    way: str
    share: str
    length: int
    speaks_for: tuple[Reason, ...]
    against: tuple[Reason, ...]
    more: tuple[Reason, ...]
    mended: tuple[str, ...]
    remedy: str
    besides: str
    rather_two: bool


@dataclass(frozen=True, slots=True)
class Clash:
    """A reading that does not go with the others."""

    words: str
    share: str
    slips: str
    entry: str


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair: what it would mend how likely, what it takes, and where it is entered once it is done.

    ``step``: with its number, in which it is done or which proves it afterwards; ``before``: what is done
    first; ``cautions``: how many are to be read first; ``left``: why it is not done yet; ``care``: what is
    done before it where it may be done.
    """

    words: str
    share: str
    minutes: float
    cost: str
    source: str
    address: str
    step: str
    before: tuple[str, ...]
    cautions: int
    left: str
    care: str


@dataclass(frozen=True, slots=True)
class Check:
    """A check worth doing, and the address that begins it.

    ``like``: the check told earlier that wants the same steps first; empty where none does.
    """

    check: NextCheck
    address: str
    like: str


@dataclass(frozen=True, slots=True)
class Found:
    """Everything that the answer says, in words.

    ``lead``: the likeliest of all. ``fault``: the likeliest fault, where something else is likelier but not
    likely enough to stand alone; else empty. ``sound``: the likeliest of all is that nothing is wrong.
    ``cautions``: to be read before the repairs, each once. ``each``: what is worth doing is so at several
    cylinders, and ``doing`` is one of them.
    """

    lead: str
    lead_share: str
    fault: str
    fault_share: str
    sound: bool
    readings: int
    causes: tuple[Cause, ...]
    nothing: str
    others: str
    unexplained: str
    clashes: tuple[Clash, ...]
    undivided: tuple[str, ...]
    first: Check | None
    checks: tuple[Check, ...]
    worth_doing: str
    doing: Repair | None
    each: bool
    repairs: tuple[Repair, ...]
    cautions: tuple[str, ...]
    left_out: tuple[tuple[str, tuple[str, ...]], ...]
    notes: tuple[str, ...]
    experience: str
    hour: str


@dataclass(frozen=True, slots=True)
class Share:
    """One cause, or two at once, and how likely; ``length`` draws its share."""

    says: str
    share: str
    length: int


@dataclass(frozen=True, slots=True)
class First:
    """A first look: how likely each cause is with the newest readings, and nothing of why.

    ``of``: a sign of the readings it takes in.
    """

    of: str
    causes: tuple[Share, ...]
    nothing: str
    others: str
    unexplained: str
    readings: int
    up_to: str


def first_of(of: str, at: LookedAt) -> First:
    """A first look in words; *of*: a sign of the readings it takes in."""
    shown = ranking(at.look.causes, at.look.others)
    return First(
        of=of,
        causes=tuple(
            Share(group_says(one), likelihood(whole(one)), round(LENGTH * whole(one))) for one in shown.told
        ),
        nothing=likelihood(at.look.nothing_wrong),
        others=_if_any(shown.others),
        unexplained=_if_any(at.look.unexplained),
        readings=at.look.readings,
        up_to=when_said(at.up_to) if at.up_to else "",
    )


def found_of(job: Job, answer: CausesAnswer) -> Found:
    """The answer in words."""
    begun = f"/jobs/{job.number}"
    told = [in_order(job, one) for one in next_checks(job, answer.next_checks)]
    same = same_first([one.before for one in told])
    checks = tuple(
        Check(one, f"{begun}/{begins(one)}", "" if like is None else told[like].title)
        for one, like in zip(told, same, strict=True)
    )
    doing = repair_worth_doing(answer)
    shown = ranking(answer.causes, answer.others, read=answer.readings > 0)
    repairs = told_repairs(answer.repairs)
    return Found(
        **_lead(answer, shown.told),
        readings=answer.readings,
        causes=tuple(_cause(one) for one in shown.told),
        nothing=likelihood(answer.nothing_wrong),
        others=_if_any(shown.others),
        unexplained=_if_any(answer.unexplained),
        clashes=tuple(
            Clash(one.words, likelihood(one.probability), slip_words(one), one.entry)
            for one in answer.clashes
        ),
        undivided=tuple(not_told_apart(answer)),
        first=checks[0] if checks else None,
        checks=checks[1:],
        worth_doing=answer.worth_doing or "",
        doing=None if doing is None else _repair(job, doing),
        each=doing is not None and len(worth_with(doing, answer.repairs)) > 1,
        repairs=tuple(_repair(job, one) for one in repairs),
        cautions=tuple(job.known.cautions[name].title for name, _ in cautions_once((), repairs)),
        left_out=tuple((why, tuple(what)) for why, what in left_out_because(answer.left_out).items()),
        notes=tuple(filter(None, (answer.all_well, *answer.notes))),
        experience=experience_words(answer),
        hour=f"{answer.hour_of_work:g}",
    )


class _Lead(TypedDict):
    lead: str
    lead_share: str
    fault: str
    fault_share: str
    sound: bool


def _lead(answer: CausesAnswer, groups: Sequence[Sequence[CauseLine]]) -> _Lead:
    """The likeliest of all, in a sentence, and how likely; nothing being wrong is one of them."""
    top = whole(groups[0]) if groups else 0.0
    says = group_says(groups[0]) if groups else ""
    nothing = answer.nothing_wrong
    if nothing >= max(MOST_LIKELY, top) or not groups:
        return _Lead(lead=SOUND, lead_share=likelihood(nothing), fault="", fault_share="", sound=True)
    if top >= max(nothing, answer.unexplained):
        start = "Most likely" if top >= MOST_LIKELY else "Not clear yet; likeliest is that"
        return _Lead(
            lead=f"{start} {says}", lead_share=likelihood(top), fault="", fault_share="", sound=False
        )
    sound = nothing >= answer.unexplained
    return _Lead(
        lead=f"Not clear yet; likeliest is {UNCLEAR_SOUND if sound else UNCLEAR_STRANGE}",
        lead_share=likelihood(max(nothing, answer.unexplained)),
        fault=says,
        fault_share=likelihood(top),
        sound=sound,
    )


def _if_any(p: float) -> str:
    return likelihood(p) if p >= 0.005 else ""


def _cause(group: Sequence[CauseLine]) -> Cause:
    one = group[0]
    speaks_for, against = (list(_reasons(side)) for side in (one.for_, one.against))
    return Cause(
        says=group_says(group),
        silent=not one.for_ and not one.against,
        how_bad=one.severity_words,
        way=one.way,
        share=likelihood(whole(group)),
        length=round(LENGTH * whole(group)),
        speaks_for=tuple(speaks_for[:REASONS]),
        against=tuple(against[:REASONS]),
        more=(*speaks_for[REASONS:], *against[REASONS:]),
        mended=tuple(one.if_mended) if one_stands_out(group) else (),
        remedy=one.remedy or "",
        besides=besides_words(group),
        rather_two=rather_two(group),
    )


def _reasons(lines: list[ReasonLine]) -> Iterator[Reason]:
    return (Reason(one.strength, one.words) for one in said(lines))


def _repair(job: Job, one: RepairLine) -> Repair:
    return Repair(
        words=f"{one.remedy}{repair_place(one)}",
        share=likelihood(one.probability),
        minutes=one.minutes,
        cost=f"parts about {one.cost:g} in your money" if one.cost else "no parts",
        source=one.source,
        address=f"/jobs/{job.number}/{mended_at(one)}",
        step=f"{step_number(job, one.step)} {job.plan.step[one.step].title}" if one.step else "",
        before=tuple(job.plan.step[name].title for name in one.before),
        cautions=len(one.cautions),
        left=one.left,
        care=on_a_page(one.care, job),
    )


def mended_at(one: RepairLine) -> str:
    """Where a repair is entered once it is done, behind the job's own address."""
    if one.part == SCREW:
        return "screw"
    where = "" if one.cylinder is None else f"&cylinder={one.cylinder}"
    return f"enter?part={quote_plus(one.part)}{where}#a-part"


def begins(one: NextCheck) -> str:
    """Where a check is begun, behind the job's own address."""
    if not one.through:
        return f"steps/{one.step}"
    swaps = "".join(f"&swap={quote_plus(swap)}" for swap in one.swaps)
    return f"catch?through={one.through}&opening={quote_plus(one.opening)}{swaps}#new-catch"
