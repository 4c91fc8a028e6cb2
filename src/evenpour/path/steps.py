"""How far each step is: done, stale, open, blocked or passed over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from evenpour.path.answer import ClaimState, StepState
from evenpour.path.events import harms
from evenpour.path.plan import ClaimKey, Item, Part, Plan, Proof, Step, split_reference
from evenpour.path.put_back import waiting_items
from evenpour.path.sentences import sentences
from evenpour.path.staleness import Claims
from evenpour.path.state import PathState
from evenpour.path.words import item_names, not_entered


def step_states(state: PathState, claims: Claims, step: Step) -> tuple[StepState, ...]:
    """One answer for the whole step, or one a cylinder where they are not equally far."""
    each = _each(state, claims, step)
    if len({one.state for one in each}) > 1:
        return each
    word = each[0].state
    if word == "stale":
        why = sentences(state.plan, _stale(claims, proved_keys(state.plan, step, None)))
    elif word == "blocked":
        why = list(unmet_needs(state, claims, step, state.plan.all_cylinders))
    else:
        why = list(dict.fromkeys(one.why for one in each))
    return (StepState(step.id, word, None, "; ".join(why)),)


def _each(state: PathState, claims: Claims, step: Step) -> tuple[StepState, ...]:
    """The step in each cylinder: its newest record counts, then what became of the claims it proves."""
    plan, found = state.plan, list[StepState]()
    unmet: dict[int | None, tuple[str, ...]] = {}
    of_each = plan.is_per_cylinder(step) or any(split_reference(name)[1] for name in _found(step))
    for cylinder in plan.all_cylinders:
        one = behind(state, claims, step, cylinder)
        if one is None:
            who = cylinder if of_each else None  # the same for all
            if who not in unmet:
                unmet[who] = unmet_needs(state, claims, step, (cylinder,))
            said = unmet[who]
            one = StepState(
                step.id, "blocked" if said else "open", cylinder, "; ".join(said) or "not done yet"
            )
        found.append(one)
    return tuple(found)


def behind(state: PathState, claims: Claims, step: Step, cylinder: int) -> StepState | None:
    """The step in one cylinder, if it is done, stale or passed over."""
    recorded = state.done.get((step.id, cylinder))
    keys = proved_keys(state.plan, step, cylinder)
    stale = _stale(claims, keys)
    if recorded is not None and not recorded.done:
        return StepState(step.id, "passed_over", cylinder, f"passed over at {recorded.at}: {recorded.reason}")
    if stale:
        return StepState(step.id, "stale", cylinder, "; ".join(sentences(state.plan, stale)))
    if recorded is not None:
        return StepState(step.id, "done", cylinder, f"done at {recorded.at}")
    if step.checks and keys and all(claims[key].satisfies for key in keys):
        return StepState(step.id, "done", cylinder, "what it proves stands")
    return None


def unmet_needs(state: PathState, claims: Claims, step: Step, cylinders: Sequence[int]) -> tuple[str, ...]:
    """What the step wants for these cylinders and does not find now, in words. "Over" is not now."""
    # what is off the car first: no step but the work itself may bring that about
    said = list(left_on_words(state, step, cylinders))
    said += sentences(state.plan, (claims[key] for key in lacking_keys(state.plan, claims, step, cylinders)))
    return (*said, *left_off_words(state, step, cylinders))


def left_on_words(state: PathState, step: Step, cylinders: Sequence[int]) -> tuple[str, ...]:
    """Of what the step wants, that which is on the put-back list and must not be, in words."""
    names = item_names(state.plan, _still_on(state, step, cylinders))
    return tuple(f"still on the put-back list: {name}" for name in names)


def left_off_words(state: PathState, step: Step, cylinders: Sequence[int]) -> tuple[str, ...]:
    """Of what the step wants, that which must be on the put-back list and is not, in words."""
    return tuple(not_entered(state.plan, still_off(state, step, cylinders)))


def _returned(plan: Plan, item: Item) -> set[Item]:
    """What is touched when the item is put back."""
    part = plan.part[item[0]]
    own = {item} if harms(part, "refitted") else set[Item]()
    return own.union(*(plan.items(reference, item[1]) for reference in part.opens))


def _found(step: Step) -> tuple[str, ...]:
    """What the step must find on the put-back list, or off it."""
    return (*step.finds_on, *step.finds_off)


def still_off(state: PathState, step: Step, cylinders: Sequence[int]) -> list[Item]:
    """What the step must find on the put-back list for these cylinders, and is not on it."""
    return [item for item in _items(state.plan, step.finds_on, cylinders) if item not in state.on_list]


def still_on(state: PathState, step: Step, cylinders: Sequence[int]) -> list[Item]:
    """What the step must find off the put-back list for these cylinders, and is on it by nobody's leave."""
    found = list[Item]()
    parts = {part for part, _ in state.on_list}
    if not parts.isdisjoint(split_reference(name)[0] for name in step.finds_off):
        own = set(_items(state.plan, step.finds_off, cylinders))
        found += [item for item in waiting_items(state) if item in own]
    found += [item for item in barring(state) if state.plan.part[item[0]].bars in step.touches]
    return list(dict.fromkeys((*found, *_off_the_car(state, step, cylinders))))


def barring(state: PathState) -> list[Item]:
    """What is on the put-back list by nobody's leave and as things stand bars what it may bar."""
    plan = state.plan
    if not any(plan.part[part].bars for part, _ in state.on_list):  # asked for every step
        return []
    return [
        item
        for item in waiting_items(state)
        if (part := plan.part[item[0]]).bars and not _harmless(state, part)
    ]


def frees(state: PathState, step: Step) -> bool:
    """Whether the step takes off the list what bars others as things stand: that may be done in any stage."""
    off = {split_reference(name)[0] for name in step.takes_off}
    return any(part in off for part, _ in barring(state))


def _harmless(state: PathState, part: Part) -> bool:
    """Whether of each group that makes it so one is on the put-back list, in every cylinder."""
    return bool(part.unless) and all(
        any(item in state.on_list for name in group for item in state.plan.items(f"{name}[k]", cylinder))
        for group in part.unless
        for cylinder in state.plan.all_cylinders
    )


def _off_the_car(state: PathState, step: Step, cylinders: Sequence[int]) -> Iterator[Item]:
    """What somebody took off, no step puts back, and whose return would spoil what the step proves."""
    plan = state.plan
    loose = [item for item in state.on_list if item[0] not in plan.undone_by and not plan.is_tool(item[0])]
    if not loose:
        return
    keys = dict.fromkeys(key for each in cylinders for key in proved_keys(plan, step, each))
    rests = {
        item for name, each in keys for part in plan.claim[name].rests_on for item in plan.items(part, each)
    }
    for item in waiting_items(state):
        if item in loose and not rests.isdisjoint(_returned(plan, item)):
            yield item


def _still_on(state: PathState, step: Step, cylinders: Sequence[int]) -> list[Item]:
    """The same, and what its whole stage must find off the list."""
    allowed = state.plan.stage[step.stage].put_back_empty_except
    of_stage = () if allowed is None else waiting_items(state, allowed)
    return list(dict.fromkeys((*still_on(state, step, cylinders), *of_stage)))


def _items(plan: Plan, names: Sequence[str], cylinders: Sequence[int]) -> list[Item]:
    found = (item for name in names for each in cylinders for item in plan.items(name, each))
    return list(dict.fromkeys(found))


def lacking_keys(plan: Plan, claims: Claims, step: Step, cylinders: Iterable[int]) -> tuple[ClaimKey, ...]:
    """The claims the step needs for these cylinders that do not stand now."""
    needed = dict.fromkeys(key for cylinder in cylinders for key in needed_keys(plan, step, cylinder))
    return tuple(key for key in needed if not claims[key].stands)


def proved_keys(plan: Plan, step: Step, cylinder: int | None) -> tuple[ClaimKey, ...]:
    """The claims the step proves when done for *cylinder* (None: for all)."""
    return claim_keys(plan, step.proves, cylinder)


def needed_keys(plan: Plan, step: Step, cylinder: int | None) -> tuple[ClaimKey, ...]:
    """The claims that must stand now: for a per-cylinder step those of its own cylinder, else all."""
    return claim_keys(plan, step.needs, cylinder if plan.is_per_cylinder(step) else None)


def claim_keys(plan: Plan, claims: tuple[str, ...], cylinder: int | None) -> tuple[ClaimKey, ...]:
    """These claims as far as they concern *cylinder* (None: all cylinders)."""
    found = plan.keys_asked.get((claims, cylinder))
    if found is None:
        every = (key for claim in claims for key in plan.keys_of(claim))
        found = tuple(key for key in every if cylinder is None or key[1] in (None, cylinder))
        plan.keys_asked[claims, cylinder] = found
    return found


def renews(step: Step, proof: Proof) -> bool:
    """Whether doing the step gives evidence for this requirement, going by where that comes from."""
    for one in proof.alternatives:
        kind, name = one.source
        if kind == "step" and name == step.id:
            return True
        if kind == "check" and name in step.checks:
            return True
        if kind == "catch" and ("catch" in step.checks or name in step.checks):
            return True
    return False


def covers(plan: Plan, step: Step, claim: str, requirement: int) -> bool:
    """Whether doing the step gives evidence for one requirement of a claim, by its place in the proof."""
    if claim not in step.proves:
        return False
    proof = plan.claim[claim].proof[requirement]
    # Where no step that proves the claim says which reading it takes, any of them is taken at its word.
    return renews(step, proof) or not any(renews(other, proof) for other in plan.proved_by[claim])


def was_done(state: PathState, step: Step) -> bool:
    """Whether the step left anything: a record that it was done, or a reading for what it proves."""
    records = (state.done.get((step.id, cylinder)) for cylinder in state.plan.all_cylinders)
    if any(record is not None and record.done for record in records):
        return True
    wanted = [
        one
        for name in step.proves
        for proof in state.plan.claim[name].proof
        for one in proof.alternatives
        if one.source[0] != "step" and renews(step, one)
    ]
    return any(
        one.matches(evidence.conditions)
        for one in wanted
        for cylinder in state.plan.all_cylinders
        for evidence in state.evidence.get((one.source, cylinder), ())
    )


def unread_cautions(state: PathState, step: Step) -> tuple[str, ...]:
    """The step's cautions that nobody on this job has read."""
    return tuple(caution for caution in step.cautions if caution not in state.cautions_read)


def _stale(claims: Claims, keys: Iterable[ClaimKey]) -> list[ClaimState]:
    return [claims[key] for key in keys if claims[key].state == "stale"]
