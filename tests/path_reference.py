"""The rules of the path once more, slow and plain: every question asked of the whole list of events.

Written apart from the engine, to be compared with it. Nothing is remembered between questions.
"""

from __future__ import annotations

from dataclasses import replace

from evenpour.path import Claim, Done, Event, Evidence, Happened, Override, Plan, Proof, Step, Touch

ON = ("disconnected", "removed", "fitted")
OFF = ("reconnected", "refitted", "replaced", "taken_out")
OPENING = ("replaced", "removed", "refitted", "disconnected", "reconnected", "fitted", "taken_out")


def claim_word(plan: Plan, events: list[Event], claim: Claim, cylinder: int | None) -> str:
    word = bare_word(plan, events, claim, cylinder)
    if word in ("proved", "over"):
        return word
    newest = [one for one in newest_evidence(plan, events, claim, cylinder) if one is not None]
    for event in events:
        names = (claim.id,) if cylinder is None else (claim.id, f"{claim.id}[{cylinder}]")
        if not isinstance(event, Override) or event.target not in names:
            continue
        if all(evidence.rank <= event.rank for evidence in newest) and all(
            rank <= event.rank for rank in spoiling(plan, events, claim, cylinder)
        ):
            return "overridden"
    return word


def bare_word(plan: Plan, events: list[Event], claim: Claim, cylinder: int | None) -> str:
    held = [] if claim.held_by is None else meant(plan, claim.held_by, cylinder)
    off = [item for item in held if since(plan, events, item) is None]
    if off:
        return "over" if any(left(plan, events, item) is not None for item in off) else "open"
    if held and not claim.proof:
        return "proved"
    newest = newest_evidence(plan, events, claim, cylinder)
    if any(evidence is None or not evidence.supports for evidence in newest):
        return "open"
    oldest = min(evidence.oldest for evidence in newest)
    return "stale" if any(rank > oldest for rank in spoiling(plan, events, claim, cylinder)) else "proved"


def spoiling(plan: Plan, events: list[Event], claim: Claim, cylinder: int | None) -> list[int]:
    """The ranks of everything that disturbed what the claim rests on."""
    held = [] if claim.held_by is None else meant(plan, claim.held_by, cylinder)
    resting = [item for name in claim.rests_on for item in meant(plan, name, cylinder)]
    spoiled = [
        event.rank
        for event in events
        if any(item in touched_by(plan, event) for item in resting)
        or (isinstance(event, Happened) and event.what in claim.ages_on)
    ]
    return spoiled + [rank for item in held if (rank := left(plan, events, item)) is not None]


def newest_evidence(
    plan: Plan, events: list[Event], claim: Claim, cylinder: int | None
) -> list[Evidence | Done | None]:
    cylinders = range(1, plan.cylinders + 1) if cylinder is None else [cylinder]
    return [
        newest_for(events, proof, each, spoiling(plan, events, replace(claim, held_by=None), each))
        for proof in claim.proof
        for each in cylinders
    ]


def newest_for(events: list[Event], proof: Proof, cylinder: int, spoiled: list[int]) -> Evidence | None:
    lasts = []
    for one in proof.any or (proof,):
        last = None
        for event in events:
            evidence = as_evidence(events, event, one)
            if evidence is None or evidence.cylinder not in (None, cylinder):
                continue
            if one.step is None or not passed_over_after(events, event, one.step, cylinder):
                last = evidence
        lasts.append(last)
    best = None
    for last in lasts:
        if last is None or any(outweighed(last, other, spoiled) for other in lasts):
            continue
        if best is None or weight(last) > weight(best):
            best = last
    return best


def outweighed(done: Evidence, reading: Evidence | None, spoiled: list[int]) -> bool:
    """Whether one is a step that was done, and the other a reading that speaks against it, nothing being
    touched from the reading to the step."""
    if done.source[0] != "step" or reading is None or reading.source[0] == "step" or reading.supports:
        return False
    return not any(reading.rank < rank <= done.rank for rank in spoiled)


def weight(evidence: Evidence) -> tuple[int, bool, int]:
    """The newest counts; of one entry what does not support, else what was read last."""
    return (evidence.rank, not evidence.supports, evidence.oldest)


def as_evidence(events: list[Event], event: Event, proof: Proof) -> Evidence | None:
    """What the event says about this one proof, if anything."""
    if isinstance(event, Done) and event.done and event.step == proof.step:
        return Evidence(
            rank=event.rank,
            at=event.at,
            entry=event.entry,
            source=("step", event.step),
            supports=True,
            oldest=event.rank,
            cylinder=event.cylinder,
        )
    if not isinstance(event, Evidence):
        return None
    kind, name = event.source
    if getattr(proof, kind) != name:
        return None
    fits = all(event.conditions.get(key, wanted) == wanted for key, wanted in proof.conditions.items())
    return event if fits else None


def passed_over_after(events: list[Event], event: Event, step: str, cylinder: int) -> bool:
    later = events[events.index(event) + 1 :]
    return any(
        isinstance(other, Done)
        and other.step == step
        and not other.done
        and other.cylinder in (None, cylinder)
        for other in later
    )


def touched_by(plan: Plan, event: Event) -> set[tuple[str, int | None]]:
    if isinstance(event, Done):
        step = next(step for step in plan.steps if step.id == event.step)
        if not event.done:
            return set()
        return {item for name in step.touches for item in meant(plan, name, event.cylinder)}
    if not isinstance(event, Touch):
        return set()
    part = next(part for part in plan.parts if part.id == event.part)
    own = set(meant(plan, part.id + "[k]" * part.per_cylinder, event.cylinder))
    if event.action in OPENING:
        opened = {item for name in part.opens for _, each in own for item in meant(plan, name, each)}
        kept = set() if part.unharmed and event.action != "replaced" else own
        return kept | opened
    return own


def meant(plan: Plan, name: str, cylinder: int | None) -> list[tuple[str, int | None]]:
    bare = name.split("[")[0]
    if not next(part for part in plan.parts if part.id == bare).per_cylinder:
        return [(bare, None)]
    if name.endswith("[k]") and cylinder is not None:
        return [(bare, cylinder)]
    return [(bare, each) for each in range(1, plan.cylinders + 1)]


def on_and_off(plan: Plan, events: list[Event], item: tuple[str, int | None]) -> list[tuple[str, int]]:
    """Every time the item went on or came off: ("on", rank), ("off", rank) in turn."""
    turns: list[tuple[str, int]] = []
    by_step = False

    def turn(word: str, event: Event) -> None:
        nonlocal by_step
        last = turns[-1][0] if turns else "off"
        if word != last:
            turns.append((word, event.rank))
            by_step = isinstance(event, Done)

    for event in events:
        if isinstance(event, Touch):
            whole = event.part + "[k]" * (item[1] is not None)
            if event.part == item[0] and item in meant(plan, whole, event.cylinder):
                if event.action in ON:
                    turn("on", event)
                if event.action in OFF and not (event.action == "replaced" and by_step):
                    turn("off", event)
        if isinstance(event, Done) and event.done:
            step = next(step for step in plan.steps if step.id == event.step)
            for word, names in (("on", step.puts_on), ("off", step.takes_off)):
                if any(item in meant(plan, name, event.cylinder) for name in names):
                    turn(word, event)
    return turns


def since(plan: Plan, events: list[Event], item: tuple[str, int | None]) -> int | None:
    """The rank since which the item is on the list, or None."""
    turns = on_and_off(plan, events, item)
    return turns[-1][1] if turns and turns[-1][0] == "on" else None


def left(plan: Plan, events: list[Event], item: tuple[str, int | None]) -> int | None:
    """The rank at which the item last came off the list, or None."""
    return max((rank for word, rank in on_and_off(plan, events, item) if word == "off"), default=None)


def stage_word(plan: Plan, events: list[Event], number: int) -> str:
    """For a stage that has claims of its own."""
    stage = plan.stages[number]
    words = {
        (claim.id, cylinder): claim_word(plan, events, claim, cylinder)
        for claim in plan.claims
        for cylinder in (range(1, plan.cylinders + 1) if claim.per_cylinder else [None])
    }
    own = [
        word
        for (name, _), word in words.items()
        if next(claim for claim in plan.claims if claim.id == name).stage == stage.id
    ]
    if "stale" in own:
        return "stale"
    needed = [word for (name, _), word in words.items() if name in stage.needs]
    if any(word in ("open", "stale") for word in needed):
        return "blocked"
    allowed = stage.put_back_empty_except
    if allowed is not None and any(item[0] not in allowed for item in waiting(plan, events)):
        return "blocked"
    return next((word for word in ("open", "overridden") if word in own), "proved")


def waiting(plan: Plan, events: list[Event]) -> set[tuple[str, int | None]]:
    """The items on the list that nobody has answered for."""
    found = set()
    for part in plan.parts:
        for item in meant(plan, part.id, None):
            rank = since(plan, events, item)
            names = (part.id, f"{part.id}[{item[1]}]")
            answered = any(
                isinstance(event, Override) and event.target in names and event.rank >= (rank or 0)
                for event in events
            )
            if rank is not None and not answered:
                found.add(item)
    return found


def done_word(events: list[Event], step: Step, cylinder: int) -> bool | None:
    """Whether the newest record of the step in this cylinder says done, passed over, or there is none."""
    said = [
        event.done
        for event in events
        if isinstance(event, Done) and event.step == step.id and event.cylinder in (None, cylinder)
    ]
    return said[-1] if said else None
