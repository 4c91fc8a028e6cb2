"""The shortest set of steps to repeat: the least minutes that renew every stale proof, found exactly."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from evenpour.path.answer import Repeat, RepeatStep
from evenpour.path.cover import cheapest_cover
from evenpour.path.plan import ClaimKey, Plan, Step
from evenpour.path.sentences import sentences
from evenpour.path.staleness import Claims
from evenpour.path.steps import covers
from evenpour.path.words import in_cylinders

Need = tuple[ClaimKey, int, int]
"""One stale proof: claim, which of its requirements, and the cylinder the evidence is about."""


@dataclass(frozen=True, slots=True)
class _Offer:
    """A step done whole (``cylinder`` None) or for one cylinder, its minutes and what it renews."""

    step: Step
    cylinder: int | None
    minutes: int
    renews: frozenset[Need]


def shortest_repeat(plan: Plan, claims: Claims, shut: Collection[str]) -> Repeat:
    """The steps to repeat now, in plan order.

    A step of a stage that is *shut* is taken only for what no step of another renews; so is one that comes
    too late for a stage that waits for what it renews and has something to be renewed itself.

    A step for all cylinders costs its minutes; a per-cylinder step may also be bought for single cylinders,
    each for minutes / n, rounded up, at least 1. Among sets of equal minutes the one whose last step comes
    earliest in the plan is taken (and so on backwards), which makes the answer unique.
    """
    needs = [
        (key, stale.requirement, stale.cylinder)
        for key, claim in claims.items()
        if claim.state == "stale" and not plan.claim[claim.claim].for_a_time
        for stale in claim.stale
    ]
    offers = _in_time(plan, needs, _offers(plan, needs))
    elsewhere = frozenset[Need]().union(*(offer.renews for offer in offers if offer.step.stage not in shut))
    offers = [one for one in offers if one.step.stage not in shut or not one.renews <= elsewhere]
    reachable = frozenset[Need]().union(*(offer.renews for offer in offers))
    chosen = cheapest_cover(
        [offer.minutes for offer in offers], [offer.renews for offer in offers], reachable
    )
    steps = _merged(plan, claims, [offers[number] for number in chosen])
    missing = dict.fromkeys(key for key, *_ in (need for need in needs if need not in reachable))
    return Repeat(steps, sum(step.minutes for step in steps), tuple(missing))


def minutes_for(plan: Plan, step: Step, cylinders: int | None) -> int:
    """Whole minutes of a step for so many cylinders (None: all of them at once)."""
    if cylinders is None:
        return math.ceil(step.minutes)
    return min(math.ceil(step.minutes), cylinders * _one_cylinder(plan, step)) or cylinders


def _one_cylinder(plan: Plan, step: Step) -> int:
    return max(1, math.ceil(step.minutes / plan.cylinders))


def _offers(plan: Plan, needs: Sequence[Need]) -> list[_Offer]:
    found = []
    for step in plan.step.values():
        covered = frozenset(need for need in needs if covers(plan, step, need[0][0], need[1]))
        if not covered:
            continue
        found.append(_Offer(step, None, minutes_for(plan, step, None), covered))
        if plan.is_per_cylinder(step):
            for cylinder in plan.all_cylinders:
                own = frozenset(need for need in covered if need[2] == cylinder)
                if own:
                    found.append(_Offer(step, cylinder, _one_cylinder(plan, step), own))
    return found


def _in_time(plan: Plan, needs: Sequence[Need], offers: Sequence[_Offer]) -> list[_Offer]:
    """The offers without what they renew too late, where another renews it in time."""
    place = {stage.id: number for number, stage in enumerate(plan.stages)}
    at_work = {plan.claim[key[0]].stage for key, *_ in needs}
    before: dict[str, int] = {}
    for stage in plan.stages:
        for name in stage.needs if stage.id in at_work else ():
            before.setdefault(name, place[stage.id])

    def early(offer: _Offer) -> frozenset[Need]:
        at = place[offer.step.stage]
        return frozenset(need for need in offer.renews if at < before.get(need[0][0], at + 1))

    in_time = frozenset[Need]().union(*map(early, offers))
    kept = (replace(one, renews=early(one) | (one.renews - in_time)) for one in offers)
    return [one for one in kept if one.renews]


def _merged(plan: Plan, claims: Claims, offers: Sequence[_Offer]) -> tuple[RepeatStep, ...]:
    by_step: dict[str, list[_Offer]] = {}
    for offer in offers:
        by_step.setdefault(offer.step.id, []).append(offer)
    steps = []
    for name, bought in by_step.items():
        cylinders = tuple(offer.cylinder for offer in bought if offer.cylinder is not None)
        renewed = {need[0] for offer in bought for need in offer.renews}
        keys = tuple(key for key in claims if key in renewed)
        said = sentences(plan, (claims[key] for key in keys))
        steps.append(
            RepeatStep(
                step=name,
                cylinders=cylinders,
                minutes=sum(offer.minutes for offer in bought),
                why=(f"for {in_cylinders(cylinders)}: " if cylinders else "") + "; ".join(said),
                claims=keys,
            )
        )
    return tuple(steps)
