"""The steps that bring about what a step wants: claims that stand, things on or off the put-back list."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from evenpour.path.plan import ClaimKey, Item, Plan, Step, split_reference
from evenpour.path.put_back import is_passed_over
from evenpour.path.staleness import Claims, is_momentary
from evenpour.path.state import PathState
from evenpour.path.steps import frees, lacking_keys, still_off, still_on
from evenpour.path.words import claim_name, part_name


@dataclass(frozen=True, slots=True)
class _Want:
    """One thing a step wants and does not find: the steps that bring it about, the want in words, and
    whether it soon ends again (no pressure in the lines).
    """

    ways: tuple[Step, ...]
    words: str
    passes: bool = False
    then: tuple[Step, ...] = ()  # those that prove it once what holds it is on the list


def brought_by(
    state: PathState, claims: Claims, step: Step, cylinders: Sequence[int], shut: Collection[str] = ()
) -> Iterator[tuple[Step, str]]:
    """For each thing the step wants for these cylinders and does not find, the one step that brings it about,
    and the want in words, in the order of the work. Steps of another stage that is *shut* are no way,
    but to what soon ends again, or where it takes out what bars others: the pressure may be let off anywhere.

    What lasts comes first; what soon ends again is brought about once all else stands.
    """
    wants = list(_wants(state, claims, step, cylinders))
    barred = {stage for stage in shut if stage != step.stage}
    chosen: dict[str, str] = {}
    for want in [one for one in wants if not one.passes] or wants:
        open_ways = [one for one in want.ways if want.passes or one.stage not in barred or frees(state, one)]
        way = _chosen(state, step, open_ways)
        if way is not None:
            chosen.setdefault(way.id, want.words)
    for name, way in state.plan.step.items():
        if name in chosen:
            yield way, chosen[name]


def left_out(state: PathState, claims: Claims, step: Step) -> tuple[Step, ...]:
    """The steps that were passed over and without which this one cannot be done; none where that cannot be
    done even with them.
    """
    every = all_brought_by(state, claims, step, passed_over=True) or ()
    return tuple(one for one in map(state.plan.step.__getitem__, every) if is_passed_over(state, one))


def all_brought_by(
    state: PathState, claims: Claims, step: Step, *, passed_over: bool = False
) -> tuple[str, ...] | None:
    """Every step that must be done so that this one can be, in the order of the work; None where no step
    brings about what one of them wants. One that was *passed over* is taken only where asked for, and where
    there is no other.
    """
    every, found = state.plan.all_cylinders, dict[str, Step]()
    waiting = [step]
    while waiting:
        for want in _wants(state, claims, waiting.pop(), every, passed_over=passed_over):
            for ways in (want.ways, *([want.then] if want.then else [])):
                way = _chosen(state, step, ways)
                if way is None:
                    return None
                if way.id not in found and found.keys().isdisjoint(one.id for one in ways):
                    found[way.id] = way
                    waiting.append(way)
    return tuple(name for name in state.plan.step if name in found)


def parts_wanted(plan: Plan, step: Step) -> set[str]:
    """The parts that must be on the put-back list for the step."""
    held = (plan.claim[name].held_by for name in step.needs)
    return parts_of((*step.finds_on, *filter(None, held)))


def parts_of(references: Sequence[str]) -> set[str]:
    """The parts that references such as "injector[k]" name."""
    return {split_reference(name)[0] for name in references}


def _wants(
    state: PathState, claims: Claims, step: Step, cylinders: Sequence[int], *, passed_over: bool = False
) -> Iterator[_Want]:
    plan, begin = state.plan, f"“{step.title}” needs it: "

    places = {stage.id: number for number, stage in enumerate(plan.stages)}

    def left(ways: Sequence[Step]) -> tuple[Step, ...]:
        others = tuple(way for way in ways if way is not step and _has_its_tool(state, way))
        still = tuple(way for way in others if not is_passed_over(state, way))
        return still or (others if passed_over else ())

    def in_time(ways: Sequence[Step]) -> list[Step]:
        """Without those of later stages: they are for later work."""
        return [way for way in ways if places[way.stage] <= places[step.stage]]

    for key in lacking_keys(plan, claims, step, cylinders):
        claim = plan.claim[key[0]]
        passes = is_momentary(plan, claim)
        held = _holding(state, key)
        proved_by = plan.proved_by[key[0]] if passes else in_time(plan.proved_by[key[0]])
        then = left(proved_by) if held and proved_by else ()
        yield _Want(left(in_time(held) if held else proved_by), begin + claim_name(claim), passes, then)
    off, on = still_off(state, step, cylinders), still_on(state, step, cylinders)
    for part in dict.fromkeys(part for part, _ in off):
        words = f"{begin}{_named(plan, part, off)} {'fitted' if plan.is_tool(part) else 'off'}"
        yield _Want(left(in_time(_putting_on(plan, part))), words)
    for part in dict.fromkeys(part for part, _ in on):
        undoing = plan.undone_by.get(part, ())
        yield _Want(left(in_time(undoing) or undoing)[:1], f"{begin}{_named(plan, part, on)} back")


def _named(plan: Plan, part: str, items: Sequence[Item]) -> str:
    return part_name(
        plan.part[part], [number for name, number in items if name == part and number is not None]
    )


def _holding(state: PathState, key: ClaimKey) -> tuple[Step, ...]:
    """The steps that put on the list what holds a claim, where that is not on it."""
    held = state.plan.claim[key[0]].held_by
    if held is None or all(item in state.on_list for item in state.plan.items(held, key[1])):
        return ()
    return _putting_on(state.plan, *parts_of([held]))


def _putting_on(plan: Plan, part: str) -> tuple[Step, ...]:
    return tuple(step for step in plan.step.values() if part in parts_of(step.puts_on))


def _chosen(state: PathState, step: Step, ways: Sequence[Step]) -> Step | None:
    """The way to take, if there is any: one made for a tool that is fitted, never one for a tool that is not;
    then the last one before the step, for a later one is for later work.
    """
    place = {name: number for number, name in enumerate(state.plan.step)}

    def worth(way: Step) -> tuple[int, bool, int]:
        before = place[way.id] < place[step.id]
        return _by_tool(state, way), before, place[way.id] if before else -place[way.id]

    return max(ways, key=worth, default=None)


def _has_its_tool(state: PathState, way: Step) -> bool:
    """Whether the tools that the step handles are fitted, or it fits them itself."""
    return (_tools(state, way) - parts_of(way.puts_on)) <= _fitted(state)


def _by_tool(state: PathState, way: Step) -> int:
    """1 for a step that handles a tool that is fitted, -1 for one whose tool is not, 0 without any."""
    tools = _tools(state, way)
    return 0 if not tools else 1 if tools <= _fitted(state) else -1


def _tools(state: PathState, way: Step) -> set[str]:
    parts = state.plan.part
    return {name for name in way.touches if name in parts and state.plan.is_tool(name)}


def _fitted(state: PathState) -> set[str]:
    return {item[0] for item in state.on_list}
