"""One more entry on a stored job: checked whole before it is kept, and answered with what it changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from evenpour.errors import Place, Questioned, Refused, unknown
from evenpour.job import times
from evenpour.job.answers import (
    AddAnswer,
    CatchAnswer,
    ClosingAnswer,
    JudgedReading,
    PathAnswer,
    StepName,
)
from evenpour.job.entries import Draft, new_id
from evenpour.job.exchanges import exchanged_now, left_unsaid, put_back_item, swap_words
from evenpour.job.growth import grown
from evenpour.job.job import Job, in_journal, job_from
from evenpour.job.judging import at_odds
from evenpour.job.known import Known
from evenpour.job.opening import stored_job
from evenpour.job.screw.facts import SCREW
from evenpour.job.wording import surely_off, when_said
from evenpour.measure.quantities import parse
from evenpour.measure.slips import IF_SO
from evenpour.measure.suspects import off_by_a_point
from evenpour.measure.unit_table import unit_named
from evenpour.measure.verdicts import word_for
from evenpour.path.pieces import Source
from evenpour.path.staleness import on_trust

if TYPE_CHECKING:
    from evenpour.job.store import Store

MOST_TURNED = 1.5  # turns of a mixture screw at once; common practice, no source
MOST_RUNNING = 0.25  # the same on a running engine: about 9 % of the idle's mixture
# A job may be typed in from paper long after; so many years are a slip of the pen.
LONG_BEFORE = timedelta(days=3 * 365)


def add(
    store: Store,
    number: int,
    kind: str,
    content: Mapping[str, Any],
    *,
    id: str | None = None,
    at: str | None = None,
    sure: bool = False,
    units: str | None = None,
) -> AddAnswer:
    """Keep one entry, and say what it means; see :func:`add_all`."""
    return add_all(store, number, [Draft(kind, content, id, at)], sure=sure, units=units)


def add_all(
    store: Store,
    number: int,
    drafts: Sequence[Draft],
    *,
    sure: bool = False,
    units: str | None = None,
    before: Job | None = None,
) -> AddAnswer:
    """Keep entries that were made together, all or none, and say what they mean.

    Nothing is kept if the job with them could not be understood, or if one takes off the put-back list what
    is not on it (unless *sure*).

    Args:
        before: The job as it stands, where the caller has it at hand.
    Raises:
        Problems, FieldProblem: an entry cannot be understood; of several, ``place.path`` begins with the id
            of the one that is meant.
        Questioned: it is odd; say *sure* if it is so.
        Refused: the job is closed, or the entry closes it too early.
    """
    before = before or stored_job(store, number, units=units)
    held = {entry.id for entry in before.entries}
    fresh = [one for one in drafts if one.id not in held]  # the others were sent before: answered again
    if before.closed and any(one.kind not in ("correction", "note") for one in fresh):
        raise Refused(f"Job {number} is closed; nothing was added.", ["A note or a correction still can be."])
    drafts = [replace(one, id=one.id or new_id(one.kind), at=_moment(one.at, before, sure)) for one in drafts]
    for one in drafts:
        if one.kind == "correction":
            _must_name_an_entry(before, one.content)
    after = _with(before, drafts, units)
    if fresh and not sure:
        _ask(before, after, fresh)
    if any(one.kind == "closed" for one in fresh):
        refuse_early_close(after)
    kept = store.append_many(number, drafts, fill_time=True)
    return difference(before, after, [one.id for one in kept])


def _moment(at: str | None, before: Job, sure: bool) -> str | None:
    """The time it is of; None: of now, or of when it was first sent."""
    if not at:
        return None
    moment = times.read_time(at, now=datetime.now(UTC))
    if not sure and times.instant(moment) < _begun(before) - LONG_BEFORE:
        raise Questioned("at", moment, "lies long before the job was begun", remedy="Is it the right year?")
    return moment


def _ask(before: Job, after: Job, fresh: Sequence[Draft]) -> None:
    """Raise what the entries leave to be asked."""
    was = before.path().questions
    asked = [words for words in after.path().questions if words not in was]
    asked += [
        f"{one.content['item']} is not on the put-back list, so nothing is overridden."
        for one in fresh
        if one.kind == "override" and not _lets_something_stay(after, one.content)
    ]
    asked += _odd_moves(before, after)
    if asked:
        raise Questioned("this entry", None, "is odd", remedy=f"{asked[0]} {IF_SO}")
    _ask_of_exchange(before, fresh)
    _ask_of_amounts(before, after)
    _ask_of_repeats(before, after)


def _ask_of_exchange(before: Job, fresh: Sequence[Draft]) -> None:
    """Ask where exchanged parts hang that a catch does not name: it counts with each in its own place."""
    back = {one.content.get("part") for one in fresh if one.content.get("action") == "refitted"}
    standing = [one for one in exchanged_now(before) if put_back_item(one[0]) not in back]
    for one in fresh if standing else ():
        unsaid = left_unsaid(standing, one.content) if one.kind == "catch" else []
        if unsaid:
            words = " and ".join(map(swap_words, unsaid))
            raise Questioned(
                "swaps",
                None,
                f"says nothing of {words}, exchanged for an earlier catch and not entered as put back since",
                remedy=f"Do they still hang so, say it: swap {unsaid[0][1]} with {unsaid[0][2]}. Else this "
                f"catch counts with each in its own place again, and they go off the put-back list. {IF_SO}",
            )


def _ask_of_amounts(before: Job, after: Job) -> None:
    """Ask about an amount that stands a decimal point apart from the others of its catch."""
    known = {(fact.told.entry, fact.typed) for fact in before.facts.catches}
    for fact in after.facts.catches:
        if fact.discard or fact.opening == "rest" or (fact.told.entry, fact.typed) in known:
            continue  # with the plate at rest ports drip as they like
        rates = [a if a is None else a / s for a, s in zip(fact.amounts, fact.durations, strict=True)]
        odd = off_by_a_point(rates)
        if odd is None:
            continue
        position, times_meant, stands = odd
        raise Questioned(
            f"amounts, port {position + 1}",
            fact.typed[position],
            f"is about {stands} what the other ports gave in this catch",
            remedy=f"{_meant(fact.typed[position], times_meant)} {IF_SO}",
        )


def _ask_of_repeats(before: Job, after: Job) -> None:
    """Ask about a repeat that contradicts the reading it would be averaged with: nothing was done between."""
    known = {entry.id for entry in before.entries}
    for group in after.judged:
        newest, told = group.facts[-1], at_odds(group, after.sheet)
        if told is None or newest.told.entry in known:
            continue
        at = f" of {when_said(told.told.at)}" if told.told.at else ""
        raise Questioned(
            group.check.id,
            ", ".join(newest.typed),
            f"contradicts {', '.join(told.typed)}{at}: nothing was entered as done in between",
            remedy="Was one of them misread, or taken otherwise than it says, correct or withdraw that "
            f"entry. If both stand, they count at their mean. {IF_SO}",
        )


def _meant(typed: str, times_meant: float) -> str:
    """The figure with its point elsewhere; of one weighed, nobody knows here how heavy its container is."""
    said = parse(typed, ("volume", "mass"), field="amounts")
    if said.dimension == "mass":
        return "Does its decimal point stand where it should?"
    unit = unit_named(said.unit, said.dimension)
    return f"Was it {times_meant * said.value / unit.factor:.6g} {unit.label}?"


def _odd_moves(before: Job, after: Job) -> Iterator[str]:
    """Moves of the mixture screw by more than anybody turns it, but where they count the way to a mark."""
    known = {touch.told.entry for touch in before.facts.touches}
    for touch in after.facts.touches:
        turns = abs(touch.turns or 0.0)
        if touch.told.entry in known or touch.part != SCREW or touch.mark:
            continue
        if turns > MOST_RUNNING + 1e-9 and _runs_at(after, touch.told.rank):
            yield (
                f"On a running engine the mixture screw goes by a quarter turn at most: {touch.typed} is "
                "far. Were degrees or clicks meant?"
            )
        elif turns > MOST_TURNED:
            yield (
                f"The mixture screw goes by sixteenths of a turn, hardly ever by more than one: {touch.typed}"
                " is far. Were degrees or clicks meant? If it counts the way to a mark, say mark=seated."
            )


def _runs_at(job: Job, rank: int) -> bool:
    """Whether the reading before was taken on the running engine: only such a one states how it ran."""
    before = [fact for fact in job.facts.readings if fact.told.rank < rank]
    return bool(before) and "state" in max(before, key=lambda fact: fact.told.rank).reading.conditions


def _begun(job: Job) -> datetime:
    """The earliest time the job tells of."""
    told = [time for entry in job.entries for time in (entry.at, entry.entered) if time is not None]
    return min(map(times.instant, told), default=datetime.now(UTC))


def _must_name_an_entry(job: Job, content: Mapping[str, Any]) -> None:
    known = Known()
    for entry in job.entries:
        known.add(entry)
    of = str(content.get("of", ""))
    if known.meant(of) not in known:
        ids = [entry.id for entry in job.entries]
        show = f"evenpour job show {job.number}"
        raise unknown("entry", of, ids, kind="id of an entry of this job", listed_by=show)


def _lets_something_stay(job: Job, content: Mapping[str, Any]) -> bool:
    """An item is overridden only while it is on the list; a claim or a caution may be at any time."""
    item = content.get("item")
    return item is None or any(one.item == item and one.overridden for one in job.path().put_back)


def refuse_early_close(job: Job) -> None:
    """A job with something left on the car, a stale proof or an unread caution is not closed.

    Raises:
        Refused: naming every reason.
    """
    reasons = job.path().may_close
    if not reasons:
        return
    answered = job.state.overrides
    unread = [one.id for one in job.cautions() if one.read_by is None and one.id not in answered]
    how = [f"Once it is read: evenpour add {job.number} read {one} who=NAME" for one in unread[:1]]
    raise Refused("The job cannot be closed:", [*reasons, *how])


def _with(before: Job, drafts: Sequence[Draft], units: str | None) -> Job:
    added, _ = grown(list(before.entries), drafts, fill_time=True)
    new = {entry.id for entry in added}
    told = in_journal(before.name)

    def place(entry: str, *path: str | int) -> Place:
        """Nowhere, for what was just typed: it was never kept, and the field says which word is meant.

        Of several it must still be said which one is meant.
        """
        if entry not in new:
            return told(entry, *path)
        return Place() if len(new) == 1 else Place(path=", ".join([entry, *map(str, path)]))

    return job_from(before.name, [*before.entries, *added], number=before.number, place_of=place, units=units)


def difference(before: Job, after: Job, entries: Sequence[str]) -> AddAnswer:
    """What more entries changed: their verdicts, what went stale, which stages moved, and what is next.

    A correction is answered with the verdict of what it corrected.
    """
    new = set(entries)
    about = new | {one.entry.id for one in after.folded.standing if new & set(one.corrected_by)}
    readings = [row for row in after.judge().readings if about & set(row.entries)]
    catch = after.catch() if any(run.entry in about for run in after.catch().runs) else None
    was, now = before.path(), after.path()
    stale = {(claim.claim, claim.cylinder) for claim in was.claims if claim.state == "stale"}
    states = {stage.stage: stage.state for stage in was.stages}
    items = {(item.item, item.cylinder) for item in was.put_back}
    left = {(item.item, item.cylinder) for item in now.put_back}
    stayed = {(item.item, item.cylinder, item.overridden) for item in was.put_back}
    return AddAnswer(
        entry=entries[-1],
        readings=readings,
        went_stale=[
            claim
            for claim in now.claims
            if claim.state == "stale" and (claim.claim, claim.cylinder) not in stale
        ],
        stages=[stage for stage in now.stages if stage.state != states[stage.stage]],
        put_on=[item for item in now.put_back if (item.item, item.cylinder) not in items],
        taken_off=[item.name for item in was.put_back if (item.item, item.cylinder) not in left],
        repeat=now.repeat,
        repeat_minutes=now.repeat_minutes,
        next=now.next[:3],
        questions=[words for words in now.questions if words not in was.questions],
        stays=[
            item
            for item in now.put_back
            if item.overridden and (item.item, item.cylinder, item.overridden) not in stayed
        ],
        mend=_mending(after, readings, catch),
        catch_again=sorted(_outdated(after) - _outdated(before)),
        on_trust=_on_trust(after, about),
        catch=catch,
        closing=_closing(now)
        if any(fact.told.entry in new for fact in after.facts.of_kind("closed"))
        else None,
        notice=after.sheet.notice,
    )


def _on_trust(job: Job, entries: Set[str]) -> list[StepName]:
    """The steps these entries say are done, of whose own reading nothing was ever entered."""
    done = (fact.content for fact in job.facts.of_kind("step") if fact.told.entry in entries)
    taken = dict.fromkeys(
        one["id"]
        for one in done
        if one["done"] and one["id"] in job.plan.step and on_trust(job.state, one["id"], one.get("cylinder"))
    )
    return [StepName(step=name, title=job.plan.step[name].title) for name in taken]


def _outdated(job: Job) -> frozenset[str]:
    return job.weighed.outdated if job.weighed is not None else frozenset()


def still_to_mend(job: Job, answer: AddAnswer) -> list[StepName]:
    """Of the steps that an answer named, those that what it found still asks for in the job as it is now."""
    about = {entry for row in answer.readings for entry in row.entries}
    rows = [row for row in job.judge().readings if about & set(row.entries)]
    now = _mending(job, rows, job.catch() if answer.catch is not None else None)
    return [step for step in answer.mend if step in now]


def _mending(job: Job, readings: Sequence[JudgedReading], catch: CatchAnswer | None) -> list[StepName]:
    """The steps that mend a claim proved by what was just found outside. A catch whose parts are exchanged
    already asks for no exchange, nor does one after which it is sure which part is off and no exchange is
    advised: what it tells of the parts is the answer.
    """
    found: set[Source] = {("check", row.what) for row in readings if row.stands and row.verdict == "outside"}
    told = catch is not None and surely_off(catch) and not (catch.next_catch and catch.next_catch.swaps)
    if catch is not None and not told:
        uneven = {key for key, p in catch.even_by_run.items() if p is not None and word_for(p) == "outside"}
        newest = {f"{run.through}:{run.opening}": run for run in catch.runs if not run.discarded}
        exchanged = {key for key, run in newest.items() if run.swaps}
        found |= {("catch", key) for key in uneven - exchanged - _outdated(job)}
    claims = {
        claim.id
        for claim in job.plan.claims
        if any(one.source in found for proof in claim.proof for one in proof.alternatives)
    }
    steps = (step for step in job.plan.step.values() if claims & set(step.mends))
    return [StepName(step=step.id, title=step.title) for step in steps]


def _closing(path: PathAnswer) -> ClosingAnswer:
    """The last stage of every path is the handover; it is not proved while its gate holds it back."""
    behind = ("proved", "overridden")
    return ClosingAnswer(
        handed_over=path.stages[-1].state in behind,
        proved=sum(stage.state == "proved" for stage in path.stages),
        stages=len(path.stages),
        missing=[f"{stage.title}: {stage.short}" for stage in path.stages if stage.state not in behind],
    )
