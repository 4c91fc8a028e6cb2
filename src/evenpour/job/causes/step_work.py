"""Work on parts that nobody entered as such: what steps leave new, clean or set, and what was set in one for
a reading that was out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from evenpour.job.facts import TouchFact
from evenpour.job.job import Job
from evenpour.job.judging import Judged, same_reading
from evenpour.job.told import Told
from evenpour.path.pieces import Item, Step

PUT_RIGHT: Final = "put_right"  # what is done to a part by which only a reading tells
#: Entered by hand, what is the work of a step: a new part is clean, and has yet to be set.
IS_SUCH: Final[Mapping[str, frozenset[str]]] = {
    "replaced": frozenset({"replaced", "fitted"}),
    "cleaned": frozenset({"cleaned", "replaced", "fitted"}),
    "adjusted": frozenset({"adjusted"}),
}


@dataclass(frozen=True, slots=True)
class Tick:
    """A step done, where that is told, and the cylinders at which it was."""

    step: Step
    told: Told
    cylinders: tuple[int, ...]

    def is_at(self, cylinder: int | None) -> bool:
        """Whether it was done at a cylinder; at any, where that has none."""
        return cylinder is None or cylinder in self.cylinders


def worked(job: Job) -> Iterator[TouchFact]:
    """All such work, by steps first."""
    done = list(ticks(job))
    yield from _in_steps(job, done)
    yield from _put_right(job, done)


def ticks(job: Job) -> Iterator[Tick]:
    """Every step done; not where it was said not to be done after all, with nothing read in between."""
    steps = [one for one in job.facts.of_kind("step") if one.content["id"] in job.plan.step]
    read = [one.told.rank for one in job.facts.readings] + [one.told.rank for one in job.facts.catches]
    for one in (one for one in steps if one.content["done"]):
        back = {
            later.content.get("cylinder")
            for later in steps
            if later.content["id"] == one.content["id"]
            and not later.content["done"]
            and later.told.rank > one.told.rank
            and not any(one.told.rank < rank < later.told.rank for rank in read)
        }
        at = one.content.get("cylinder")
        every = range(1, job.plan.cylinders + 1) if at is None else (at,)
        its = tuple(cylinder for cylinder in every if cylinder not in back)
        if its and None not in back:
            yield Tick(job.plan.step[one.content["id"]], one.told, its)


def _in_steps(job: Job, done: Sequence[Tick]) -> Iterator[TouchFact]:
    """What steps did to parts. A tick after the same work was entered by hand tells of that work."""
    last: dict[tuple[str, int | None], int] = {}
    for tick in done:
        step, rank = tick.step, tick.told.rank
        for name, action in step.works.items():
            each = job.plan.part[name].per_cylinder
            its: Sequence[int | None] = tick.cylinders if each else (None,)
            since = {at: last.get((step.id, at), -1) for at in its}
            such = IS_SUCH[action]
            new = [at for at in its if not _by_hand(job, (name, at), (since[at], rank), such)]
            # at every cylinder is one touch of all
            for at in (None,) if len(new) == job.plan.cylinders else new:
                yield TouchFact(tick.told, name, action, at)
        last |= {(step.id, at): rank for at in (None, *tick.cylinders)}


def _put_right(job: Job, done: Sequence[Tick]) -> Iterator[TouchFact]:
    """What was set or renewed in a step for a reading that was out, and inside when it was read again with
    nothing entered of that part in between: when the step was done, if that is told.
    """
    before: list[Judged] = []
    for one in sorted(job.judged, key=lambda one: one.rank):
        name, at = job.plan.set_in_steps.get(one.check.id), one.reading.cylinder
        if name is None:
            continue
        last = next((other for other in reversed(before) if same_reading(other, one)), None)
        before.append(one)
        if last is None or last.verdict.verdict != "outside" or not _is_inside(one):
            continue
        if _by_hand(job, (name, at), (last.rank, one.rank)):
            continue
        when = [
            tick.told.rank
            for tick in done
            if one.check.id in tick.step.sets and last.rank < tick.told.rank < one.rank and tick.is_at(at)
        ]
        rank = max(when, default=max(last.rank, one.oldest - 1))
        yield TouchFact(replace(one.facts[0].told, rank=rank), name, PUT_RIGHT, at)


def _by_hand(job: Job, item: Item, between: tuple[int, int], actions: frozenset[str] | None = None) -> bool:
    """Whether something, or one of some things, was done to a part between two places in the job, and
    entered by itself.
    """
    part, at = item
    its = (
        one for one in job.facts.touches if one.part == part and (at is None or one.cylinder in (None, at))
    )
    return any(
        between[0] < one.told.rank < between[1] and (actions is None or one.action in actions) for one in its
    )


def _is_inside(read: Judged) -> bool:
    """Whether it lies inside its limits as it was read, though nobody may be sure of that."""
    found = read.verdict
    if found.verdict == "within" or not isinstance(found.value, float):
        return found.verdict == "within"
    low, high = found.low, found.high
    return (low is None or found.value >= low) and (high is None or found.value <= high)
