"""What to do now: stale proofs first, by the shortest set, then the first open steps."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from evenpour.path.answer import ClaimState, NextStep, Repeat
from evenpour.path.gates import blocked_by, stage_state
from evenpour.path.plan import ClaimKey, Plan, Stage, Step
from evenpour.path.put_back import undoing_step, waiting_items
from evenpour.path.repeat import minutes_for, shortest_repeat
from evenpour.path.sentences import reasons
from evenpour.path.staleness import Claims, claim_states, is_momentary
from evenpour.path.state import PathState
from evenpour.path.steps import (
    claim_keys,
    covers,
    lacking_keys,
    needed_keys,
    proved_keys,
    step_state,
    unmet_needs,
    unread_cautions,
)
from evenpour.path.words import claim_name, item_name, listed


def repeat(state: PathState, claims: Claims | None = None) -> Repeat:
    """The shortest set of steps that renews every stale proof of the job."""
    claims = claims or claim_states(state)
    return shortest_repeat(state.plan, claims, _shut(state, claims))


def next_steps(state: PathState, claims: Claims | None = None) -> tuple[NextStep, ...]:
    """The steps worth doing now, in order.

    First those that renew stale proofs, but in the end where the work has not come so far yet (the engine
    was read as found); then the open steps of the first stages that are not behind us, up to and including
    the first that is not blocked. Before a step whose needs do not stand come the
    steps that bring them about, where the plan has any; ``unmet`` names the needs.
    """
    plan = state.plan
    claims = claims or claim_states(state)
    shut = _shut(state, claims)
    repeats = [
        _next(state, claims, plan.step[one.step], one.cylinders, one.minutes, one.why, repeats=True)
        for one in shortest_repeat(plan, claims, shut).steps
    ]
    later = [one for one in repeats if _too_early(state, claims, one)]
    soon = [one for one in repeats if one not in later]
    found = [one for each in soon for one in (*_preparing(state, claims, each), each)]
    for stage in plan.stages:
        if stage_state(state, claims, stage).state in ("proved", "overridden"):
            continue
        before = {one.step for one in repeats}
        offered = [one for one in _offered(state, claims, stage) if one.step not in before]
        # What can be done at once comes before what still wants something that lasts.
        found += sorted(offered, key=lambda one: _waits(state, claims, one))
        if offered and stage.id not in shut:
            break
    once: dict[str, NextStep] = {}
    for one in (*found, *later):
        once.setdefault(one.step, one)
    return _prepared(state, claims, list(once.values()))


def _offered(state: PathState, claims: Claims, stage: Stage) -> Iterator[NextStep]:
    """The stage's open steps; of a stage that is blocked, only the steps that clear its put-back list."""
    if blocked_by(state, claims, stage):
        yield from _clearing(state, claims, stage)
        return
    plan = state.plan
    for step in plan.step.values():
        if step.stage != stage.id:
            continue
        wanted = {number: _wanted(state, claims, step, number) for number in plan.all_cylinders}
        waiting = {number: found for number, found in wanted.items() if found is not None}
        if waiting:
            some = tuple(waiting) if len(waiting) < plan.cylinders and plan.is_per_cylinder(step) else ()
            said = reasons(plan, {claim.key: claim for found in waiting.values() for claim in found}.values())
            minutes = minutes_for(plan, step, len(some) or None)
            yield _next(state, claims, step, some, minutes, "; ".join(said) or "not done yet", repeats=False)


def _wanted(state: PathState, claims: Claims, step: Step, cylinder: int) -> list[ClaimState] | None:
    """The claims for which the step is worth doing in this cylinder; None if it is not worth doing."""
    plan = state.plan
    now = step_state(state, claims, step, cylinder)
    if now.state == "passed_over":
        return None
    if step.mends:
        return [claims[key] for key in claim_keys(plan, step.mends, cylinder) if claims[key].refuted] or None
    proves = [claims[key] for key in proved_keys(plan, step, cylinder)]
    asked = [claim for claim in proves if claim.proof or not plan.claim[claim.claim].optional]
    wanted = [claim for claim in asked if claim.state == "open"]
    # What is stale is among the repeats already; a claim nobody asked for is no reason.
    if now.state in ("done", "stale") or (proves and not asked):
        # once more only for what it would give itself, not for what the claim still wants of another step
        wanted = [claim for claim in wanted if _gives(plan, step, claim, cylinder)]
        return wanted or None
    return wanted


def _gives(plan: Plan, step: Step, claim: ClaimState, cylinder: int) -> bool:
    """Whether the step gives something for this cylinder that the claim lacks; one that nothing holds wants
    that on the list first.
    """
    if not claim.lacks:
        return plan.claim[claim.claim].held_by in step.puts_on
    return any(
        one.cylinder == cylinder and covers(plan, step, claim.claim, one.requirement) for one in claim.lacks
    )


def _clearing(state: PathState, claims: Claims, stage: Stage) -> Iterator[NextStep]:
    if stage.put_back_empty_except is None:
        return
    shut = {other.id for other in state.plan.stages if blocked_by(state, claims, other)}
    by_step: dict[str, list[str]] = {}
    for item in waiting_items(state, stage.put_back_empty_except):
        step = undoing_step(state.plan, item)
        if step is not None and step.stage not in shut:
            by_step.setdefault(step.id, []).append(item_name(state.plan, item))
    for step in state.plan.step.values():
        if step.id in by_step:
            why = f"takes off the put-back list: {listed(by_step[step.id])}"
            minutes = minutes_for(state.plan, step, None)
            yield _next(state, claims, step, (), minutes, why, repeats=False)


def _prepared(state: PathState, claims: Claims, steps: list[NextStep]) -> tuple[NextStep, ...]:
    """The steps, each after those that bring about what it needs; no stage that is blocked is entered so."""
    listed_steps, shut = {one.step: one for one in steps}, _shut(state, claims)
    placed: dict[str, NextStep] = {}
    under_way: set[str] = set()

    def place(one: NextStep) -> None:
        if one.step in placed or one.step in under_way:  # needs that go in a circle: said by ``unmet``
            return
        under_way.add(one.step)
        step = state.plan.step[one.step]
        lacking = lacking_keys(state.plan, claims, step, one.cylinders or state.plan.all_cylinders)
        passing = [key for key in lacking if _passes(state.plan, key)]
        # what soon ends again is brought about once all else stands
        for key in [key for key in lacking if key not in passing] or passing:
            bringing = tuple(way for way in _bringing(state, key) if way.stage not in shut)
            if not bringing or any(other.id in placed for other in bringing):
                continue
            # one made for a tool that is fitted, never one for a tool that is not; one to be done anyway
            chosen = max(bringing, key=lambda way: (_by_tool(state, way), way.id in listed_steps))
            why = f"“{step.title}” needs it: {claim_name(state.plan.claim[key[0]])}"
            fresh = _next(
                state, claims, chosen, (), minutes_for(state.plan, chosen, None), why, repeats=False
            )
            place(listed_steps.get(chosen.id, fresh))
        under_way.discard(one.step)
        placed[one.step] = one

    for one in steps:
        place(one)
    return tuple(_while_it_lasts(state, claims, list(placed.values())))


def _preparing(state: PathState, claims: Claims, repeated: NextStep) -> Iterator[NextStep]:
    """The steps before one of its stage that prove nothing, but prepare it, where that is undone by now: the
    injectors hung on their lines before they are caught through again.
    """
    plan = state.plan
    step = plan.step[repeated.step]
    before = itertools.takewhile(lambda one: one is not step, plan.step.values())
    for one in before:
        if one.stage == step.stage and not one.proves and one.puts_on and _is_undone(state, one):
            why = f"prepares “{step.title}”"
            yield _next(state, claims, one, (), minutes_for(plan, one, None), why, repeats=False)


def _is_undone(state: PathState, step: Step) -> bool:
    """Whether nothing that a step puts on the list is on it, or something that it takes off is."""
    on = {item[0] for item in state.on_list}
    named = [{name.partition("[")[0] for name in names} for names in (step.puts_on, step.takes_off)]
    return on.isdisjoint(named[0]) or not on.isdisjoint(named[1])


def _too_early(state: PathState, claims: Claims, one: NextStep) -> bool:
    """Whether a step wants something lasting that never stood yet: the work has not come so far."""
    return any(claims[key].state == "open" for key in _lasting(state, claims, one))


def _waits(state: PathState, claims: Claims, one: NextStep) -> bool:
    """Whether a step wants something that lasts; what soon ends again is brought about just before it."""
    return bool(_lasting(state, claims, one))


def _lasting(state: PathState, claims: Claims, one: NextStep) -> list[ClaimKey]:
    """What a step wants that lasts, and does not stand."""
    cylinders = one.cylinders or state.plan.all_cylinders
    lacking = lacking_keys(state.plan, claims, state.plan.step[one.step], cylinders)
    return [key for key in lacking if not _passes(state.plan, key)]


def _passes(plan: Plan, key: ClaimKey) -> bool:
    return is_momentary(plan, plan.claim[key[0]])


def _shut(state: PathState, claims: Claims) -> frozenset[str]:
    """The stages that are blocked."""
    return frozenset(stage.id for stage in state.plan.stages if blocked_by(state, claims, stage))


def _by_tool(state: PathState, way: Step) -> int:
    """1 for a step that handles a tool that is fitted, -1 for one whose tool is not, 0 without any."""
    tools = [name for name in way.touches if name in state.plan.part and state.plan.part[name].kind == "tool"]
    fitted = {item[0] for item in state.on_list}
    return 0 if not tools else 1 if fitted.issuperset(tools) else -1


def _while_it_lasts(state: PathState, claims: Claims, steps: list[NextStep]) -> Iterator[NextStep]:
    """The steps, each after those that can be done now and need what it ends: what wants no pressure comes
    before the pump runs.
    """
    plan, shut = state.plan, _shut(state, claims)
    while steps:
        first = plan.step[steps[0].step]
        now = (one for one in steps if not one.unmet and plan.step[one.step].stage not in shut)
        sooner = (one for one in now if _ends(plan, claims, first, plan.step[one.step]))
        one = next(sooner, steps[0])
        steps.remove(one)
        yield one


def _ends(plan: Plan, claims: Claims, step: Step, other: Step) -> bool:
    """Whether a step ends a state that stands now and that another needs."""
    needed = [plan.claim[key[0]] for key in needed_keys(plan, other, None) if claims[key].stands]
    return step is not other and any(
        is_momentary(plan, claim) and not set(step.touches).isdisjoint(claim.rests_on) for claim in needed
    )


def _bringing(state: PathState, key: ClaimKey) -> tuple[Step, ...]:
    """The steps that bring a claim about: those that put on the list what holds it, where that is not on it,
    else those that prove it.
    """
    held = state.plan.claim[key[0]].held_by
    putting = tuple(step for step in state.plan.step.values() if held is not None and held in step.puts_on)
    waits = held is not None and any(item not in state.on_list for item in state.plan.items(held, key[1]))
    return (waits and putting) or state.plan.proved_by[key[0]] or putting


def _next(
    state: PathState,
    claims: Claims,
    step: Step,
    cylinders: tuple[int, ...],
    minutes: int,
    why: str,
    *,
    repeats: bool,
) -> NextStep:
    unmet = unmet_needs(state.plan, claims, step, cylinders or state.plan.all_cylinders)
    return NextStep(step.id, cylinders, minutes, why, unread_cautions(state, step), unmet, repeats)
