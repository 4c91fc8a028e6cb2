"""The causes as a page tells them: titles for ids, how much a check would tell, which step begins it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

from evenpour.job import times
from evenpour.job.causes.answers import CauseLine, CausesAnswer, ClashLine, NextCheckLine
from evenpour.job.causes.experience import prior_now
from evenpour.job.causes.groups import alike, whole, worth_a_line
from evenpour.job.causes.kept import answer_at_hand, kept_answer
from evenpour.job.opening import stored_job
from evenpour.job.port_words import exchange_words
from evenpour.job.store import Store
from evenpour.job.wording import key_words

if TYPE_CHECKING:
    from evenpour.job.catalogue import Catalogue
    from evenpour.job.causes.first_look import FirstLook
    from evenpour.job.job import Job

TELLS: Final = (
    (0.6, "would decide most of what is open"),
    (0.25, "would tell much"),
    (0.08, "would tell something"),
    (0.0, "would tell a little"),
)
"""By the least expected information, bit."""
MOVED_BY: Final = "How common each cause is was moved by "
GAUGE: Final = "gauge to "
"""How a step's tools name a gauge of its own, for more than the usual one bears."""
TOLD: Final = 6  # causes told one by one


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A check worth doing; ``through``, ``opening`` and ``swaps`` are empty where it is no catch.

    ``apart``: what it would read with one cause and with another.
    """

    title: str
    how: str
    tells: str
    apart: str
    minutes: float
    step: str
    before: tuple[tuple[str, str], ...]
    through: str
    opening: str
    swaps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Explained:
    """The answer, and when the newest reading was taken that it explains; None where nobody noted it.

    ``head``: of the journal that it explains.
    """

    answer: CausesAnswer
    up_to: str | None
    head: str


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A first look, and when the newest reading was taken that it takes in; None where nobody noted it."""

    look: FirstLook
    up_to: str | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """Causes told one by one, those of a group together; ``others``: how likely any other is."""

    told: tuple[tuple[CauseLine, ...], ...]
    others: float


def ranking(lines: Sequence[CauseLine], others: float, *, read: bool = False) -> Ranking:
    """Which causes a page tells one by one.

    Args:
        others: How likely those are that have no line.
        read: Whether the lines tell what speaks for them, and something was read that could.
    """
    groups = alike(lines)
    told = [one for one in groups if worth_a_line(one, read=read)][:TOLD] or groups[:1]
    rest = math.fsum(whole(one) for one in groups if one not in told)
    return Ranking(tuple(tuple(one) for one in told), others + rest)


def explained(store: str, number: int, units: str | None) -> Explained:
    """The causes of a job as it stands now in the store of that address: for a process of its own.

    What it is told from is held there, for a first look at the job when readings are added.
    """
    from evenpour.job.causes.first_look import hold  # the engine's model: only where it is needed

    with Store(store) as opened:
        job = stored_job(opened, number, units=units)
        answer = kept_answer(job, store=opened, hold=partial(hold, (store, number)))
        return Explained(answer, read_up_to(job), job.chain_head)


def looked_at(store: str, number: int, units: str | None) -> LookedAt | None:
    """A first look at the same job, where that process has explained it before; else None."""
    from evenpour.job.causes.first_look import first_look, held

    before = held((store, number))
    if before is None:
        return None
    with Store(store) as opened:
        job = stored_job(opened, number, units=units)
        look = first_look(before, job, prior_now(job, store=opened))
    return None if look is None else LookedAt(look, read_up_to(job))


def explained_before(job: Job, store: Store) -> Explained | None:
    """The kept answer to the job as it stands; None where it must be worked out first."""
    answer = answer_at_hand(job, store=store)
    return None if answer is None else Explained(answer, read_up_to(job), job.chain_head)


def address_of(store: Store) -> str:
    """Where another process finds the same store."""
    return store.url.render_as_string(hide_password=False)


def experience_words(answer: CausesAnswer) -> str:
    """Whose closed jobs moved what is believed before any reading."""
    whose = answer.experience.partition("; see:")[0].removeprefix(MOVED_BY)
    return f"How common each cause is takes in {whose}" if whose else ""


def read_up_to(job: Job) -> str | None:
    """When the newest reading or catch that stands was taken; None where nobody noted any time."""
    noted = [one.at for one in job.folded.standing if one.kind in ("reading", "catch") and one.at is not None]
    return max(noted, key=times.instant, default=None)


def next_checks(job: Job, lines: Sequence[NextCheckLine]) -> list[NextCheck]:
    """The checks worth doing, each once, no two of them under one title.

    What can be read in two steps is told with the step that gets more for its time: the one told first.
    """
    told: dict[tuple[str, str], NextCheck] = {}
    for line in lines:
        one = next_check(job, line)
        told.setdefault((one.title, one.how), one)
    titles = Counter(one.title for one in told.values())
    return [
        replace(one, title=f"{one.title}: {one.how}", how="") if one.how and titles[one.title] > 1 else one
        for one in told.values()
    ]


def next_check(job: Job, one: NextCheckLine) -> NextCheck:
    """A check worth doing, in words."""
    catch = one.what == "catch"
    through, opening = one.conditions.get("through", ""), one.conditions.get("opening", "")
    where = "" if one.cylinder is None else f", cylinder {one.cylinder}"
    swaps = exchange_words(job.sheet, one.swaps)
    made = any(fact.key == f"{through}:{opening}" and not fact.discard for fact in job.facts.catches)
    title = (
        _catch_title(through, opening, swaps, again=made)
        if catch
        else f"{_title(job.known, one.what)}{where}"
    )
    return NextCheck(
        title=title,
        how="" if catch else _how(job, one),
        apart=one.why.partition(": ")[2].partition("; first: ")[0],  # what comes first has its own place
        tells=next(words for least, words in TELLS if one.information >= least),
        minutes=one.minutes,
        step=one.step,
        before=tuple((name, job.plan.step[name].title) for name in one.before),
        through=through if catch else "",
        opening=opening if catch else "",
        swaps=tuple(one.swaps),
    )


def _how(job: Job, one: NextCheckLine) -> str:
    """In what state it is read, and with which gauge where the usual one would not survive it."""
    step = job.plan.step.get(one.step)
    tools = step.tools if step is not None else ()
    gauge = next((f"with a {tool}: one for less breaks" for tool in tools if tool.startswith(GAUGE)), "")
    return ", ".join(filter(None, (one.state, gauge)))


def _title(known: Catalogue, check: str) -> str:
    return known.checks[check].title


def _catch_title(through: str, opening: str, swaps: str, *, again: bool) -> str:
    words = key_words(f"{through}:{opening}")
    exchanged = f", {swaps} exchanged" if swaps else ""
    return f"Catch{' again' if again else ''}: {words[:1].lower()}{words[1:]}{exchanged}"


def slip_words(one: ClashLine) -> str:
    """What may have been mistyped or misread, as questions."""
    return " ".join(f"{slip[:1].upper()}{slip[1:]}" for slip in one.slips)
