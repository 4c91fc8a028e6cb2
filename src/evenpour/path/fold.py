"""The fold: (state, event) -> state. Pure; the caller sorts the events by rank."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from evenpour.errors import FieldProblem
from evenpour.path import put_back
from evenpour.path.events import (
    OPENS,
    Aged,
    CautionRead,
    Done,
    Event,
    Evidence,
    Happened,
    Override,
    Touch,
    harms,
)
from evenpour.path.plan import Item, Plan, Source, split_target
from evenpour.path.state import PathState, Question, Touched, changed
from evenpour.path.words import action_words, items_were


def initial(plan: Plan) -> PathState:
    """The state before anything was entered."""
    return PathState(plan)


def fold(plan: Plan, events: Iterable[Event]) -> PathState:
    """The state after *events*, which stand in order of rank."""
    state = initial(plan)
    for event in events:
        state = apply(state, event)
    return state


def apply(state: PathState, event: Event) -> PathState:
    """The state after one more event.

    Raises:
        ValueError: the event's rank is below that of the one before. The caller sorts late entries in
            and folds anew; only so does the order of arrival not matter.
    """
    if state.rank is not None and event.rank < state.rank:
        raise ValueError(f"event of rank {event.rank} after rank {state.rank}: sort by rank before folding")
    state = replace(state, rank=event.rank)
    match event:
        case Evidence():
            return _with_evidence(state, event)
        case Touch():
            return _with_touch(state, event)
        case Done():
            return _with_done(state, event)
        case Happened():
            return _with_happened(state, event)
        case Aged():
            return replace(state, aged=(*state.aged, event))
        case CautionRead():
            return replace(state, cautions_read=changed(state.cautions_read, {event.id: event}))
        case Override():
            return _with_override(state, event)


def asked(state: PathState, event: Event, words: str) -> PathState:
    """The state with one more question about what was entered."""
    question = Question(event.rank, event.at, event.entry, words)
    return replace(state, questions=(*state.questions, question))


def _with_evidence(state: PathState, event: Evidence) -> PathState:
    fresh = {}
    for cylinder in _cylinders(state.plan, event.cylinder):
        slot = (event.source, cylinder)
        # Under the same conditions the newer one replaces the older: nothing asks for the older again.
        kept = (old for old in state.evidence.get(slot, ()) if old.conditions != event.conditions)
        fresh[slot] = (*kept, event)
    if not fresh:
        return asked(state, event, f"Cylinder {event.cylinder} is none of 1 to {state.plan.cylinders}.")
    return replace(state, evidence=changed(state.evidence, fresh))


def _with_touch(state: PathState, event: Touch) -> PathState:
    plan = state.plan
    part = plan.part.get(event.part)
    if part is None:
        return asked(state, event, f"“{event.part}” is no part of this engine; nothing was aged by it.")
    cylinder = event.cylinder if part.per_cylinder else None
    if cylinder is not None and cylinder not in plan.all_cylinders:
        return asked(state, event, f"Cylinder {cylinder} is none of 1 to {plan.cylinders}.")
    items = plan.items(part.id if cylinder is None else f"{part.id}[k]", cylinder)
    done_to = "changed" if part.kind == "state" else action_words(event.action)
    said = f"{items_were(plan, items)} {done_to} at {event.at}"
    words = dict.fromkeys(items, said) if harms(part, event.action) else {}
    for reference in part.opens if event.action in OPENS else ():
        opened = tuple(dict.fromkeys(item for near in items for item in plan.items(reference, near[1])))
        words = dict.fromkeys(opened, f"{items_were(plan, opened)} disturbed when {said}") | words
    state, question = put_back.after_touch(_touched(state, event, words), event, items)
    return asked(state, event, question) if question else state


def _with_done(state: PathState, event: Done) -> PathState:
    plan = state.plan
    step = plan.step.get(event.step)
    if step is None:
        return asked(state, event, f"“{event.step}” is no step of this engine's path.")
    cylinders = _cylinders(plan, event.cylinder)
    if not cylinders:
        return asked(state, event, f"Cylinder {event.cylinder} is none of 1 to {plan.cylinders}.")
    done = changed(state.done, {(step.id, cylinder): event for cylinder in cylinders})
    state = replace(state, done=done)
    if not event.done:
        # Passed over proves nothing: an earlier "done" of the same step no longer speaks.
        gone = frozenset((("step", step.id), cylinder) for cylinder in cylinders)
        return replace(state, evidence=changed(state.evidence, {}, without=gone))
    evidence = replace(
        _told_by(event, ("step", step.id)),
        cylinder=event.cylinder,
        words=f"done at {event.at}" + (f" by {event.who}" if event.who else ""),
    )
    words: dict[Item, str] = {}
    for reference in step.touches:
        items = plan.items(reference, event.cylinder)
        verb = "changed" if plan.part[items[0][0]].kind == "state" else "disturbed"
        said = f"{items_were(plan, items)} {verb} by step “{step.title}” at {event.at}"
        words |= dict.fromkeys(items, said)
    state = _touched(_with_evidence(state, evidence), event, words)
    return put_back.after_step(state, event, step)


def _with_happened(state: PathState, event: Happened) -> PathState:
    """What happened spoils, and may prove: after weeks no pressure stands."""
    seen = (*state.happened.get(event.what, ()), event)
    words = f"{event.what.replace('_', ' ')} at {event.at}"
    evidence = replace(_told_by(event, ("happened", event.what)), words=words)
    return replace(_with_evidence(state, evidence), happened=changed(state.happened, {event.what: seen}))


def _told_by(event: Done | Happened, source: Source) -> Evidence:
    """The evidence of an event that is no reading: it speaks from where it stands."""
    return Evidence(
        rank=event.rank, at=event.at, entry=event.entry, source=source, supports=True, oldest=event.rank
    )


def _with_override(state: PathState, event: Override) -> PathState:
    plan = state.plan
    try:
        name, cylinder = split_target(event.target)
    except FieldProblem as problem:
        return asked(state, event, str(problem))
    known = name in plan.claim or name in plan.part or name in plan.cautions
    if not known or (cylinder is not None and cylinder not in plan.all_cylinders):
        return asked(state, event, f"“{event.target}” is no claim, part or caution: nothing overridden.")
    return replace(state, overrides=changed(state.overrides, {event.target: event}))


def _touched(state: PathState, event: Touch | Done, words: dict[Item, str]) -> PathState:
    fresh = {
        item: (*state.touched.get(item, ()), Touched(event.rank, event.at, event.entry, said))
        for item, said in words.items()
    }
    return replace(state, touched=changed(state.touched, fresh))


def _cylinders(plan: Plan, cylinder: int | None) -> tuple[int, ...]:
    if cylinder is None:
        return plan.all_cylinders
    return (cylinder,) if cylinder in plan.all_cylinders else ()
