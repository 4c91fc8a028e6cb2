"""What to do now: what is to be proved again and what is open, in the order of the work."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from evenpour.path.answer import ClaimState, NextStep, Repeat, RepeatStep
from evenpour.path.bringing import all_brought_by, brought_by, left_out
from evenpour.path.gates import is_behind, is_blocked, unmet_claims
from evenpour.path.plan import Plan, Stage, Step
from evenpour.path.put_back import is_passed_over, undoing_steps, waiting_items
from evenpour.path.repeat import minutes_for, shortest_repeat
from evenpour.path.sentences import reasons
from evenpour.path.staleness import Claims, claim_states, is_against, spoiled_since
from evenpour.path.state import PathState
from evenpour.path.steps import (
    behind,
    claim_keys,
    covers,
    frees,
    needed_keys,
    proved_keys,
    unmet_needs,
    unread_cautions,
)
from evenpour.path.words import claim_name, item_name, listed
from evenpour.path.work_order import in_order, only_for, passes, undone_by, while_it_lasts


def repeat(state: PathState, claims: Claims | None = None) -> Repeat:
    """The shortest set of steps that renews every stale proof of the job."""
    claims = claims or claim_states(state)
    return shortest_repeat(state.plan, claims, _shut_for_good(state, claims))


def next_steps(state: PathState, claims: Claims | None = None) -> tuple[NextStep, ...]:
    """The steps worth doing now, in the order of the work.

    Those that renew stale proofs, and the open steps of the first stages that are not behind us, up to and
    including the first that has any and is not blocked. A step of a stage behind us that proves nothing is
    offered until the work has gone on. Before a step that wants something it does not find come the steps
    that bring that about, where the plan has any; ``unmet`` names what it does not find.
    """
    claims = claims or claim_states(state)
    shut = _shut(state, claims)
    again = _still_wanted(state, claims, repeat(state, claims).steps)
    wanted = {
        one.step: _next(
            state, claims, state.plan.step[one.step], one.cylinders, one.minutes, one.why, repeats=True
        )
        for one in again
    }
    for one in _open(state, claims, shut, frozenset(wanted)):
        wanted.setdefault(one.step, one)
    in_order = [wanted[name] for name in state.plan.step if name in wanted]
    return _prepared(state, claims, in_order, shut)


def _still_wanted(state: PathState, claims: Claims, again: Sequence[RepeatStep]) -> Iterator[RepeatStep]:
    """Without those that renew only what is so while a tool is on the car, once neither a stage before us nor
    another of these steps needs it: a bridge that was left in is taken out, and its switch not proved first.
    """
    plan = state.plan
    ahead = {name for stage in plan.stages if not is_behind(state, claims, stage) for name in stage.needs}
    for one in again:
        renewed = {key[0] for key in one.claims}
        others = (plan.step[other.step].needs for other in again if other is not one)
        if all(plan.claim[name].held_by for name in renewed) and renewed.isdisjoint(ahead.union(*others)):
            continue
        yield one


def _open(
    state: PathState, claims: Claims, shut: Collection[str], repeated: Collection[str]
) -> Iterator[NextStep]:
    """The open steps of the first stages that are not behind us."""
    plan, gone = state.plan, _gone_on(state, claims)
    for stage in plan.stages:
        offered = [one for one in _offered(state, claims, stage, shut) if one.step not in repeated]
        if stage.id not in shut and is_behind(state, claims, stage):
            yield from (one for one in offered if one.step not in gone)
            continue
        if not offered and stage.id in shut:
            passed = list(_passed_over(state, claims, stage))
            if passed:  # what was left out holds up all that follows
                yield from passed
                return
        yield from offered
        if offered and stage.id not in shut:
            return


def _passed_over(state: PathState, claims: Claims, stage: Stage) -> Iterator[NextStep]:
    """The steps that were passed over, and for whose claims, or for what they put back, the stage waits."""
    plan = state.plan
    for name in stage.needs:
        said = [claims[key] for key in plan.keys_of(name) if not claims[key].satisfies]
        for step in plan.proved_by[name] if said else ():
            if is_passed_over(state, step):
                why = (
                    f"{_passed_over_at(state, step)}, but “{stage.title}” waits for it: do it, "
                    f"or let {claim_name(plan.claim[name])} stand by name, with a reason"
                )
                yield replace(_bringing(state, claims, step, why), let_stand=name)
    items = () if stage.put_back_empty_except is None else waiting_items(state, stage.put_back_empty_except)
    for item in items:
        for step in plan.undone_by.get(item[0], ())[:1]:
            if is_passed_over(state, step):
                what = f"it takes off the put-back list {item_name(plan, item)} and what else it puts back"
                why = f"{_passed_over_at(state, step)}, but “{stage.title}” waits for it: {what}"
                yield _bringing(state, claims, step, why)


def _gone_on(state: PathState, claims: Claims) -> frozenset[str]:
    """The steps up to the last one that was done, or that something was read for since: the work has gone on
    from there. What a reading proved before that is no work: the engine ran as it was found.
    """
    plan, steps = state.plan, list(state.plan.step.values())
    newest = max((one.rank for one in state.done.values() if one.done), default=-1)
    done = [
        number
        for number, step in enumerate(steps)
        if any((said := state.done.get((step.id, each))) and said.done for each in plan.all_cylinders)
        or any(one.rank > newest for key in proved_keys(plan, step, None) for one in claims[key].proof)
    ]
    return frozenset(step.id for step in steps[: max(done, default=-1) + 1])


def _offered(state: PathState, claims: Claims, stage: Stage, shut: Collection[str]) -> Iterator[NextStep]:
    """The stage's open steps; of a stage that is blocked, only the steps that clear its put-back list."""
    if stage.id in shut:
        yield from _clearing(state, claims, stage, shut)
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
    now = behind(state, claims, step, cylinder)
    if now is not None and now.state == "passed_over":
        return None
    if step.proves and all(passes(plan, name) for name in step.proves):
        return None  # what soon ends again is brought about for what wants it
    if step.mends:
        refuted = (claims[key] for key in claim_keys(plan, step.mends, cylinder) if claims[key].refuted)
        return [claim for claim in refuted if not _done_since(state, step, _refuted_at(claim))] or None
    proves = [claims[key] for key in proved_keys(plan, step, cylinder)]
    asked = [claim for claim in proves if claim.proof or not plan.claim[claim.claim].optional]
    wanted = [claim for claim in asked if claim.state == "open"]
    to_mend = [claim for claim in wanted if _mended_first(state, claim)]
    if to_mend and to_mend == wanted:
        return None
    wanted = [claim for claim in wanted if claim not in to_mend]
    # What is stale is among the repeats already; a claim nobody asked for is no reason.
    if now is not None or (proves and not asked):
        # once more only for what it would give itself, not for what the claim still wants of another step
        wanted = [claim for claim in wanted if _gives(plan, step, claim, cylinder)]
        return wanted or None
    return wanted


def _mended_first(state: PathState, claim: ClaimState) -> bool:
    """Whether a reading speaks against the claim, a step mends that and is not done yet, and nothing was
    touched since.
    """
    against = max((one.rank for one in claim.proof if is_against(one)), default=None)
    if against is None or spoiled_since(state, claim.key, against):
        return False
    menders = (step for step in state.plan.step.values() if claim.claim in step.mends)
    return any(not is_passed_over(state, one) and not _done_since(state, one, against) for one in menders)


def _refuted_at(claim: ClaimState) -> int:
    return max(one.rank for one in claim.proof if not one.supports)


def _done_since(state: PathState, step: Step, rank: int) -> bool:
    """Whether the step was done after *rank*, for any cylinder: what it mends is then read again first."""
    said = (state.done.get((step.id, each)) for each in state.plan.all_cylinders)
    return any(one is not None and one.done and one.rank > rank for one in said)


def _gives(plan: Plan, step: Step, claim: ClaimState, cylinder: int) -> bool:
    """Whether the step gives something for this cylinder that the claim lacks; one that nothing holds wants
    that on the list first.
    """
    if not claim.lacks:
        return plan.claim[claim.claim].held_by in step.puts_on
    return any(
        one.cylinder == cylinder and covers(plan, step, claim.claim, one.requirement) for one in claim.lacks
    )


def _clearing(state: PathState, claims: Claims, stage: Stage, shut: Collection[str]) -> Iterator[NextStep]:
    """The steps that take off the put-back list what may not be on it in the stage."""
    if stage.put_back_empty_except is None:
        return
    items = waiting_items(state, stage.put_back_empty_except)
    ways = {item: tuple(undoing_steps(state, item)) for item in items}
    all_ways = [way.id for found in ways.values() for way in found]
    by_step: dict[str, list[str]] = {}
    for item, found in ways.items():
        if found:  # the step that takes most of them off
            way = max(found, key=lambda one: all_ways.count(one.id))
            by_step.setdefault(way.id, []).append(item_name(state.plan, item))
    for step in state.plan.step.values():
        if step.id in by_step and step.stage not in shut:
            why = f"takes off the put-back list: {listed(by_step[step.id])}"
            yield _bringing(state, claims, step, why)


def _prepared(
    state: PathState, claims: Claims, steps: Sequence[NextStep], shut: Collection[str]
) -> tuple[NextStep, ...]:
    """The steps and those that bring about what they want, in the order of the work, each after what brings
    its wants about; in the end those that nothing lets be done: their stage is shut, or no step brings what
    they want.
    """
    plan, listed_steps = state.plan, {one.step: one for one in steps}
    found: dict[str, NextStep] = {}
    before: dict[str, dict[str, str]] = {}  # what each wants first, and why
    held_up: set[str] = set()
    late: set[str] = set()  # named once nothing else is left
    waiting = list(steps)
    while waiting:
        one = waiting.pop(0)
        if one.step in found:
            continue
        step = plan.step[one.step]
        bringing = [*_clearing(state, claims, plan.stage[step.stage], shut)]
        # nothing is made ready for what cannot be done whatever is made ready: a part is off the car
        if all_brought_by(state, claims, step) is not None:
            for way, why in brought_by(state, claims, step, one.cylinders or plan.all_cylinders, shut):
                bringing.append(_bringing(state, claims, way, why))
        else:
            for way in left_out(state, claims, step):
                bringing.append(_bringing(state, claims, way, _left_out_words(state, way, step)))
                late.add(way.id)
        found[one.step], before[one.step] = one, {each.step: each.why for each in bringing}
        waiting += [listed_steps.get(each.step, each) for each in bringing]
        anywhere = any(passes(plan, name) for name in step.proves) or frees(state, step)
        waits = step.stage in shut and not anywhere
        if waits or (one.unmet and not bringing):
            held_up.add(one.step)
    held_up |= only_for(late, before, listed_steps)
    gone = _gone_on(state, claims)
    needed = {way for ways in before.values() for way in ways}
    left_behind = {name for name in gone & listed_steps.keys() - needed if not plan.step[name].proves}
    undone = undone_by(plan, found)
    hopeless = held_up - late
    first = {name: {*ways, *(undone.get(name, set()) - hopeless)} for name, ways in before.items()}
    one_by_one = [found[name] for name in in_order(plan, first, held_up, left_behind)]
    # what was passed over is done once what it wants was brought about for it: what ends that would only
    # lead back here
    its_turn = {name for name in late if _brought_since(state, claims, plan.step[name])}
    ordered = tuple(while_it_lasts(state, claims, one_by_one, (held_up | undone.keys()) - its_turn))
    return tuple(_with_why(one, ordered[place:], before) for place, one in enumerate(ordered, 1))


def _with_why(one: NextStep, after: Sequence[NextStep], before: Mapping[str, Mapping[str, str]]) -> NextStep:
    """What is named for another says for which: the next in order that wants it."""
    said = (before[other.step][one.step] for other in after if one.step in before[other.step])
    return replace(one, why=next(said, one.why)) if one.brings else one


def _brought_since(state: PathState, claims: Claims, step: Step) -> bool:
    """Whether something it needs, and that soon ends again, was brought about since it was passed over."""
    left = state.done[step.id, state.plan.all_cylinders[0]].rank
    needed = (claims[key] for key in needed_keys(state.plan, step, None))
    return any(one.rank > left for claim in needed if passes(state.plan, claim.claim) for one in claim.proof)


def _left_out_words(state: PathState, way: Step, step: Step) -> str:
    return (
        f"{_passed_over_at(state, way)}, but “{step.title}” cannot be done without it: do it, or "
        "pass that one over too"
    )


def _passed_over_at(state: PathState, step: Step) -> str:
    left = state.done[step.id, state.plan.all_cylinders[0]]
    return f"passed over at {left.at} ({left.reason})"


def _shut(state: PathState, claims: Claims) -> frozenset[str]:
    """The stages that are blocked."""
    return frozenset(stage.id for stage in state.plan.stages if is_blocked(state, claims, stage))


def _shut_for_good(state: PathState, claims: Claims) -> frozenset[str]:
    """Those that are blocked by more than a tool on the car that is to be proved again: the pump's switch is
    proved on the way.
    """
    return frozenset(
        stage.id
        for stage in state.plan.stages
        if any(not state.plan.claim[name].held_by for name in unmet_claims(state, claims, stage.id))
        or (stage.put_back_empty_except is not None and waiting_items(state, stage.put_back_empty_except))
    )


def _bringing(state: PathState, claims: Claims, step: Step, why: str) -> NextStep:
    """A step named for what another wants of it."""
    minutes = minutes_for(state.plan, step, None)
    return replace(_next(state, claims, step, (), minutes, why, repeats=False), brings=True)


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
    unmet = unmet_needs(state, claims, step, cylinders or state.plan.all_cylinders)
    return NextStep(step.id, cylinders, minutes, why, unread_cautions(state, step), unmet, repeats)
