"""In what order steps come that want each other, end what others need, or take off what others want."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from evenpour.path.answer import NextStep
from evenpour.path.bringing import parts_of, parts_wanted
from evenpour.path.plan import Plan, Step
from evenpour.path.staleness import Claims, is_momentary
from evenpour.path.state import PathState
from evenpour.path.steps import needed_keys


def only_for(
    late: Collection[str], before: Mapping[str, Collection[str]], own: Collection[str]
) -> frozenset[str]:
    """Those, and what is named for nothing but them; what is among *own* is named for its own sake."""
    found = frozenset(late)
    while True:
        wanted_by = {way: {name for name, ways in before.items() if way in ways} for way in before}
        more = {way for way, names in wanted_by.items() if names and names <= found and way not in own}
        if more <= found:
            return found
        found |= more


def undone_by(plan: Plan, names: Collection[str]) -> dict[str, set[str]]:
    """By each of these steps that takes off the list what some before it in the work want there: those."""
    found: dict[str, set[str]] = {}
    before = list[Step]()
    for step in plan.step.values():
        if step.id in names:
            off = parts_of(step.takes_off)
            wanting = {one.id for one in before if not off.isdisjoint(parts_wanted(plan, one))}
            if wanting:
                found[step.id] = wanting
            before.append(step)
    return found


def in_order(
    plan: Plan,
    before: Mapping[str, Collection[str]],
    held_up: Collection[str],
    left_behind: Collection[str],
) -> Iterator[str]:
    """Names of steps in the order of the work, each after those before it. What proves nothing and was left
    behind comes after the rest of its stage. What soon ends again is brought about just before the first that
    wants it. Wants that go in a circle are left: ``unmet`` says them.
    """
    place = {name: float(number) for number, name in enumerate(plan.step)}
    for name in before:  # what mends stands where its claim is proved
        provers = [place[way.id] for claim in plan.step[name].mends for way in plan.proved_by[claim]]
        place[name] = min([place[name], *(number + 0.4 for number in provers)])
    for name in left_behind:  # to the end of its stage
        place[name] = 0.1 + max(place[one.id] for one in plan.steps if one.stage == plan.step[name].stage)
    for bringing in before.values():
        for way in bringing:
            if any(passes(plan, claim) for claim in plan.step[way].proves):
                of_it = [place[other] for other, ways in before.items() if way in ways]
                place[way] = min(of_it) - 0.5
    left = dict(before)
    while left:
        free = [name for name, ways in left.items() if left.keys().isdisjoint(ways)] or list(left)
        first = min(free, key=lambda name: (name in held_up, place[name]))
        del left[first]
        yield first


def while_it_lasts(
    state: PathState, claims: Claims, steps: list[NextStep], held_up: Collection[str]
) -> Iterator[NextStep]:
    """The steps, each after those that can be done now and need what it ends: what wants no pressure comes
    before the pump runs, unless it takes off what work before it wants.
    """
    plan = state.plan
    while steps:
        first = plan.step[steps[0].step]
        now = (one for one in steps if not one.unmet and one.step not in held_up)
        one = next((one for one in now if _ends(plan, claims, first, plan.step[one.step])), steps[0])
        steps.remove(one)
        yield one


def _ends(plan: Plan, claims: Claims, step: Step, other: Step) -> bool:
    """Whether a step ends a state that stands now, that another needs, and that it does not need itself."""
    needed = [plan.claim[key[0]] for key in needed_keys(plan, other, None) if claims[key].stands]
    return any(
        is_momentary(plan, claim)
        and claim.id not in step.needs
        and not set(step.touches).isdisjoint(claim.rests_on)
        for claim in needed
    )


def passes(plan: Plan, claim: str) -> bool:
    """Whether a claim, by id, is of a state that soon ends again."""
    return is_momentary(plan, plan.claim[claim])
