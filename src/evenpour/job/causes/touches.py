"""Which entries of a job are work on a part, and which merely took one off that was in the way.

Work on a part can mend it, or what hangs on it: an earlier reading tells nothing of that any more. A
connection that one took off oneself and put back is as it was; most likely, for its contact, its washer or
its seat may have been the fault. So what was read again since tells more than what was read before, and what
was not read again still tells. The same goes for the idle air screw, and for a tool that is taken away. A
connection that was found off and is joined is mended: that is work. So is joining again what was seen to be
joined wrongly, crossed or letting air in, for that alone. A step that is done is work on the parts that it
leaves new, clean or set, and what is set in a step where it is read wrong was set when it is read right next.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from evenpour.causes.along import Along
from evenpour.causes.mended import SCREW
from evenpour.causes.suspects import Suspect
from evenpour.causes.touched import Touched, can_be_mended, is_there, is_touched
from evenpour.job.causes.facts import Told
from evenpour.job.causes.joined import Joint, joints, put_right, put_right_here, still_wrong
from evenpour.job.causes.step_work import worked
from evenpour.job.facts import TouchFact
from evenpour.job.job import Job
from evenpour.job.judging import same_reading
from evenpour.path.events import MOVES_ONLY, Done, harms
from evenpour.path.pieces import Item, Part, split_reference

OFF: Final = frozenset({"disconnected", "removed"})
IDLE_AIR: Final = "idle_air_screw"  # set whenever the idle is: what is read at idle moves with it
BY_HAND: Final = frozenset({"disconnected", "reconnected"})  # of a part, what moves its connection only
#: What was off while something was read, by the reading's condition.
OFF_WHILE_READ: Final = {
    ("heater", "unplugged"): "heater_plug", ("sensor", "off"): "sensor_plug", ("hose", "off"): "vacuum_hoses",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Handled:
    """Something done to a part. ``mere``: no work, but what was read again since takes the place of what
    was read before; ``put_right``: what was wrong there and is mended by that all the same; ``here``: the
    same at its own cylinder; ``still_wrong``: what was seen wrong elsewhere and is so still.
    """

    fact: TouchFact
    mere: bool
    put_right: tuple[Joint, ...] = ()
    here: tuple[Joint, ...] = ()
    still_wrong: tuple[Joint, ...] = ()

    @property
    def rank(self) -> int:
        """Its place among all entries."""
        return self.fact.told.rank

    @property
    def touched(self) -> Touched:
        """The same for the search for causes."""
        return Touched(self.fact.part, self.fact.cylinder, self.fact.action)


def handled(job: Job) -> tuple[Handled, ...]:
    """Everything done to parts that may have changed the car, in order; a move of the mixture screw is
    followed turn by turn instead.
    """
    return tuple(_handled(job))


def mends(suspect: Suspect, touch: Handled, along: Along) -> bool:
    """Whether something done to a part makes a suspect less likely."""
    touched = touch.touched
    if touch.mere:
        elsewhere = [one for one in touch.still_wrong if one not in touch.here]
        its = (*touch.put_right, *touch.here)
        return any(_joins(suspect, touch, one) for one in its if not _is_one_of(suspect, elsewhere))
    return is_touched(suspect, touched, along) or can_be_mended(suspect, touched, along)


def ends(
    touch: Handled, one: Told, responding: Sequence[Suspect], told: Sequence[Told], along: Along
) -> bool:
    """Whether a reading tells nothing of the car any more after something was done to a part.

    Args:
        responding: The suspects to which the reading responds.
        told: All readings.
    """
    if touch.rank < one.rank:
        return False
    in_order = one.group is not None and one.group.verdict.verdict == "within"
    if not in_order and any(
        _joins(suspect, touch, its) for its in _seen(touch, one, responding) for suspect in responding
    ):
        return True
    here = [is_touched(suspect, touch.touched, along) for suspect in responding]
    if any(here) and not touch.mere:
        return True
    if not any(here) and not any(can_be_mended(one, touch.touched, along) for one in responding):
        return False
    at_all = not (touch.mere or in_order or _is_elsewhere(touch, one, along))
    return at_all or any(read_again(one, told, touch.rank))


def _joins(suspect: Suspect, touch: Handled, joint: Joint) -> bool:
    """Whether joining a part again mends a suspect."""
    return suspect.id in joint.causes and is_there(suspect, touch.touched)


def _seen(touch: Handled, one: Told, responding: Sequence[Suspect]) -> Iterator[Joint]:
    """What was put right and a reading was off by: that itself, and by what the eye saw any, unless it may be
    off by what the eye saw elsewhere, where it is still so.
    """
    seen_elsewhere = [joint for joint in touch.still_wrong if joint.word]
    still_off = any(_is_one_of(suspect, seen_elsewhere) for suspect in responding)
    for joint in touch.put_right:
        itself = one.group is not None and joint.is_read_in(one.group)
        if itself or (joint.word and not still_off):
            yield joint


def _is_one_of(suspect: Suspect, its: Sequence[Joint]) -> bool:
    return any(suspect.id in one.causes for one in its)


def _is_elsewhere(touch: Handled, one: Told, along: Along) -> bool:
    """Whether what the eye saw wrong is at a place where nothing was done."""
    worked_on = along.parts_of(touch.fact.part, touch.fact.action)
    seen = [
        joint
        for joint in joints()
        if joint.word and joint.when and one.group is not None and joint.is_read_in(one.group)
    ]
    return bool(seen) and all(worked_on.isdisjoint(joint.parts) for joint in seen)


def read_again(one: Told, told: Sequence[Told], rank: int) -> Iterator[Told]:
    """What was read before *rank*, as it was read again after it; nothing of what was read after it."""
    group = one.group
    if group is None or one.rank > rank:
        return
    for two in told:
        if two.rank > rank and two.group is not None and same_reading(group, two.group):
            yield two


def _handled(job: Job) -> Iterator[Handled]:
    off: set[Item] = set()
    in_the_way: set[Item] = set()  # taken off last for a step or a reading
    work = [(one.told.rank, one) for one in worked(job)]
    happened: list[tuple[int, TouchFact | set[Item]]] = [*_entered(job), *_taken_off(job), *work]
    for _, event in sorted(happened, key=lambda one: one[0]):
        if not isinstance(event, TouchFact):
            off |= event
            in_the_way |= event
            continue
        part = job.plan.part[event.part]
        its = _items(job, part, event.cylinder)
        right = _joined(job, event, in_the_way=not its.isdisjoint(in_the_way))
        in_the_way -= its
        if not _moves(part, event.action):
            if harms(part, event.action):
                yield Handled(event, mere=part.id == IDLE_AIR)
            elif any(right[:2]):
                yield Handled(event, True, *right)
        elif event.action in OFF:
            off |= its
        elif part.kind == "tool":
            if event.action == "taken_out":
                yield Handled(event, mere=True)
        elif harms(part, event.action):
            yield Handled(event, not its.isdisjoint(off), *right)
        elif any(right[:2]):
            yield Handled(event, True, *right)


def _joined(job: Job, touch: TouchFact, *, in_the_way: bool) -> tuple[tuple[Joint, ...], ...]:
    """What joining a part puts right, what at its cylinder, and what is wrong still."""
    right = put_right(job, touch, in_the_way=in_the_way)
    here = put_right_here(job, touch, in_the_way=in_the_way)
    return right, here, still_wrong(job, touch.told.rank) if right or here else ()


def _moves(part: Part, action: str) -> bool:
    """Whether an action only moves what is made to be taken off."""
    return action in BY_HAND or (part.kind in ("connection", "tool") and action in MOVES_ONLY)


def _entered(job: Job) -> Iterator[tuple[int, TouchFact]]:
    for one in job.facts.touches:
        followed = one.part == SCREW and one.turns is not None
        if one.part in job.plan.part and job.plan.part[one.part].kind != "state" and not followed:
            yield one.told.rank, one


def _taken_off(job: Job) -> Iterator[tuple[int, set[Item]]]:
    """What steps took off, and what was off while something was read."""
    for event in job.events:
        if isinstance(event, Done) and event.done and event.step in job.plan.step:
            for name in job.plan.step[event.step].puts_on:
                part = job.plan.part[split_reference(name)[0]]
                yield event.rank, _items(job, part, event.cylinder)
    for group in job.judged:
        for name, stated in group.reading.conditions.items():
            plug = OFF_WHILE_READ.get((name, stated.choice or ""))
            if plug is not None:
                yield group.rank, {(plug, None)}


def _items(job: Job, part: Part, cylinder: int | None) -> set[Item]:
    if not part.per_cylinder or cylinder is None:
        return set(job.plan.items(part.id, None))
    return {(part.id, cylinder)}
