"""The causes as a page tells them: titles for ids, how much a check would tell, which step begins it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from evenpour.job import times
from evenpour.job.causes.answers import CausesAnswer, ClashLine, NextCheckLine
from evenpour.job.causes.kept import answer_at_hand, kept_answer
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from evenpour.job.wording import key_words

if TYPE_CHECKING:
    from evenpour.job.catalogue import Catalogue
    from evenpour.job.job import Job

TELLS: Final = (
    (0.6, "would settle most of what is open"),
    (0.25, "would tell much"),
    (0.08, "would tell something"),
    (0.0, "would tell a little"),
)
"""By the least expected information, bit."""


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
    """The answer, and when the newest reading was taken that it explains; None where nobody noted it."""

    answer: CausesAnswer
    up_to: str | None


def explained(store: str, number: int, units: str | None) -> Explained:
    """The causes of a job as it stands now in the store of that address: for a process of its own."""
    with Store(store) as opened:
        job = stored_job(opened, number, units=units)
        return Explained(kept_answer(job, store=opened), read_up_to(job))


def explained_before(job: Job, store: Store) -> Explained | None:
    """The kept answer to the job as it stands; None where it must be worked out first."""
    answer = answer_at_hand(job, store=store)
    return None if answer is None else Explained(answer, read_up_to(job))


def address_of(store: Store) -> str:
    """Where another process finds the same store."""
    return store.url.render_as_string(hide_password=False)


def experience_words(answer: CausesAnswer) -> str:
    """Whose closed jobs moved what is believed before any reading."""
    return answer.experience.partition("; see:")[0]


def read_up_to(job: Job) -> str | None:
    """When the newest reading or catch that stands was taken; None where nobody noted any time."""
    noted = [one.at for one in job.folded.standing if one.kind in ("reading", "catch") and one.at is not None]
    return max(noted, key=times.instant, default=None)


def next_check(job: Job, one: NextCheckLine) -> NextCheck:
    """A check worth doing, in words."""
    catch = one.what == "catch"
    through, opening = one.conditions.get("through", ""), one.conditions.get("opening", "")
    where = "" if one.cylinder is None else f", cylinder {one.cylinder}"
    title = _catch_title(through, opening, one.swaps) if catch else f"{_title(job.known, one.what)}{where}"
    return NextCheck(
        title=title,
        how="" if catch else one.state,
        apart=one.why.partition(": ")[2],
        tells=next(words for least, words in TELLS if one.information >= least),
        minutes=one.minutes,
        step=one.step,
        before=tuple((name, job.plan.step[name].title) for name in one.before),
        through=through if catch else "",
        opening=opening if catch else "",
        swaps=tuple(one.swaps),
    )


def _title(known: Catalogue, check: str) -> str:
    return known.checks[check].title


def _catch_title(through: str, opening: str, swaps: Sequence[str]) -> str:
    words = key_words(f"{through}:{opening}")
    exchanged = f", {' and '.join(swaps)} exchanged" if swaps else ""
    return f"Catch again: {words[:1].lower()}{words[1:]}{exchanged}"


def slip_words(one: ClashLine) -> str:
    """What may have been mistyped or misread, as questions."""
    return " ".join(f"{slip[:1].upper()}{slip[1:]}" for slip in one.slips)
