"""The one thing to do next, by a rule that every page follows, and why a page that tells of another differs.

A repair that the readings together make worth doing goes before all; then, while something is outside its
limit, the check that tells most about why; else the order of the work. Whatever is mended later makes
stale what was proved before, so going on past a known fault costs the same work twice. Only an answer that is
kept already counts: nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenpour.job.causes.groups import worth_words
from evenpour.job.causes.kept import answer_at_hand
from evenpour.job.causes.page import NextCheck, next_checks
from evenpour.job.causes.repair_steps import mended_on
from evenpour.job.step_page import SCREW, step_number
from evenpour.job.wording import likelihood
from evenpour.machine.line_map import line_map_of

if TYPE_CHECKING:
    from evenpour.job.causes.answers import CausesAnswer, RepairLine
    from evenpour.job.job import Job
    from evenpour.job.store import Store

ONCE = "Mended first, nothing has to be proved twice."
FIRST = "What it finds is best mended before the work goes on: then nothing has to be proved twice."


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next.

    Attributes:
        kind: "repair", "check" or "step"; empty where nothing is left but to close.
        title: The thing itself, in words.
        why: Why it goes before anything else; empty for a step, which says so itself.
        check: The check, if it is one.
        step: The step that the order of the work has next, with its number; empty where there is none.
        step_id: Its id.
        found: Whether a reading or a catch is outside its limit.
        worked_out: Whether what may be wrong is known for the readings as they stand.
        repair: The repair, if it is one.
    """

    kind: str
    title: str
    why: str
    check: NextCheck | None
    step: str
    step_id: str
    found: bool
    worked_out: bool
    repair: RepairLine | None = None


def advice(job: Job, store: Store | None = None) -> Advice | None:
    """What to do next on an open job; None on a closed one.

    Args:
        store: Where the own closed jobs lie that move what is believed beforehand; else the workshop's.
    """
    if job.closed:
        return None
    answer = answer_at_hand(job, store=store)
    upcoming = job.path().upcoming
    step_id = upcoming[0].step if upcoming else ""
    step = f"{step_number(job, step_id)} {upcoming[0].title}" if step_id else ""
    found = bool(job.uneven) or any(row.stands and row.verdict == "outside" for row in job.judge().readings)
    kind, title, why, check = _first(job, answer, found=found) or ("step" if step else "", step, "", None)
    mends = repair_worth_doing(answer) if answer is not None and kind == "repair" else None
    return Advice(kind, title, why, check, step, step_id, found, answer is not None, mends)


def repair_worth_doing(answer: CausesAnswer) -> RepairLine | None:
    """The repair that the answer calls worth doing now; None if it calls none so."""
    words = (answer.worth_doing or "").casefold()
    told = (one for one in answer.repairs if worth_words(one, answer.repairs).casefold() == words)
    return next(told, None)


def _first(
    job: Job, answer: CausesAnswer | None, *, found: bool
) -> tuple[str, str, str, NextCheck | None] | None:
    """What goes before the order of the work, if anything does."""
    if answer is None:
        return None
    if answer.worth_doing and answer.repairs:
        told = repair_worth_doing(answer)
        sure = likelihood((told or answer.repairs[0]).probability)
        why = f"{sure} that it mends what is wrong, by all readings together. {ONCE}"
        return "repair", answer.worth_doing, f"{why[:1].upper()}{why[1:]}", None
    if found and answer.next_checks:
        check = in_order(job, next_checks(job, answer.next_checks)[0])
        why = (
            f"Something is outside its limit, and this {check.tells}, more than any other check for its "
            f"time. {FIRST}"
        )
        return "check", check.title, why, check
    return None


def in_order(job: Job, check: NextCheck) -> NextCheck:
    """The check with what comes before it in the order of the work: the spark goes before the pump runs."""
    places = {name: place for place, name in enumerate(job.plan.step)}
    return replace(check, before=tuple(sorted(check.before, key=lambda one: places[one[0]])))


def put_right_first(job: Job) -> list[tuple[str, int | None]]:
    """What the catches alone want put right before the next one: part and cylinder, as a repair has them."""
    after = job.weighed.evenness.next_catch if job.weighed is not None else None
    line_map = line_map_of(job.sheet)
    return [] if after is None else [mended_on(kind, line_map.cylinder(port)) for kind, port in after.mended]


def beside_catches(
    now: Advice | None,
    through: str,
    opening: str,
    swaps: tuple[str, ...],
    mended: Collection[tuple[str, int | None]] = (),
) -> str:
    """Why the page of the catches advises another thing than the first page; empty where it does not.

    Args:
        mended: What that catch wants put right first: part and cylinder.
    """
    if now is None or not now.kind:
        return ""
    if now.repair is not None and (now.repair.part, now.repair.cylinder) in mended:
        return "All readings together advise to put the same right first."
    if now.kind == "check" and now.check is not None:
        asked = (now.check.through, now.check.opening, now.check.swaps)
        if asked == (through, opening, swaps):
            return "All readings together advise the same."
    return _before_it(now, "the catches") or (
        f"In the order of the work comes first: {now.title}. Catch this to know more of how evenly it pours."
    )


def beside_screw(now: Advice | None, advised: str, step: str) -> str:
    """Why the page of the mixture screw advises another thing than the first page; empty where it does not.

    Args:
        advised: What the screw's own page advises: a move, or to read the idle first.
        step: Where that is read.
    """
    if now is None or advised not in ("start", "move", "read"):
        return ""
    repaired, checked = now.repair, now.check
    if (repaired is not None and repaired.part == SCREW) or (checked is not None and checked.step == step):
        return ""
    return _before_it(now, "the screw’s own readings")


def _before_it(now: Advice, alone: str) -> str:
    """That another thing goes first than *alone* say; empty where only the order of the work does."""
    if now.kind in ("repair", "check"):
        return f"So say {alone} alone. By all readings together another thing goes first: {now.title}."
    if not now.worked_out and now.found:
        return (
            f"So say {alone} alone. What may be wrong is not worked out yet from all readings together: "
            "it may put another thing first."
        )
    return ""


def beside_causes(now: Advice | None) -> str:
    """Why the page of the causes advises another thing than the job's first page; empty where it does not."""
    if now is None or now.kind != "step" or not now.worked_out:
        return ""
    if now.found:
        return f"The job's first page goes on in the order of the work: {now.title}."
    return (
        f"The job's first page goes on in the order of the work, {now.title}: nothing is outside its limit, "
        "so nothing must be found out first. A check from here only makes surer."
    )
