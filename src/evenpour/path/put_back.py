"""The put-back list: everything disconnected, removed or fitted, until it is undone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from evenpour.path.answer import PutBackGroup, PutBackItem
from evenpour.path.events import PUTS_ON, TAKES_OFF, Done, Override, Touch
from evenpour.path.plan import Item, Step
from evenpour.path.state import OnList, PathState, Touched, changed
from evenpour.path.words import action_words, item_id, item_name, items_were, part_name


def put_back(state: PathState) -> tuple[PutBackItem, ...]:
    """Every item on the list, oldest first."""
    found = []
    for item, on in state.on_list.items():
        step = next(undoing_steps(state, item), None)
        found.append(
            PutBackItem(
                item=item_id(item),
                part=item[0],
                cylinder=item[1],
                name=item_name(state.plan, item),
                words=state.plan.part[item[0]].put_back,
                since=on.at,
                entry=on.entry,
                how=on.words,
                step=None if step is None else step.id,
                override=item_override(state, item),
            )
        )
    return tuple(found)


def put_back_groups(state: PathState) -> tuple[PutBackGroup, ...]:
    """The list for reading: one line a part ("injectors 1 to 6"), overridden items on lines of their own."""
    groups: dict[tuple[str, Override | None], list[PutBackItem]] = {}
    for item in put_back(state):
        groups.setdefault((item.part, item.override), []).append(item)
    return tuple(
        PutBackGroup(
            name=part_name(
                state.plan.part[part], [item.cylinder for item in items if item.cylinder is not None]
            ),
            words=items[0].words,
            since=items[0].since,
            step=items[0].step,
            items=tuple(items),
            override=override,
        )
        for (part, override), items in groups.items()
    )


def left_on(state: PathState, allowed: Sequence[str] = ()) -> tuple[str, ...]:
    """In words, what is on the list and neither allowed by part id nor overridden."""
    if not waiting_items(state, allowed):
        return ()
    return tuple(
        f"{group.name} ({_how(group)}since {group.since})"
        for group in put_back_groups(state)
        if group.override is None and group.items[0].part not in allowed
    )


def waiting_items(state: PathState, allowed: Sequence[str] = ()) -> tuple[Item, ...]:
    """The items on the list that are neither allowed by part id nor overridden."""
    on_it = (item for item in state.on_list if item[0] not in allowed)
    if not state.overrides:  # asked for every step: most jobs override nothing
        return tuple(on_it)
    return tuple(item for item in on_it if item_override(state, item) is None)


def item_override(state: PathState, item: Item) -> Override | None:
    """The override that lets an item stay on the list. It counts only if given while the item was on: who
    puts it on again later answers anew."""
    on = state.on_list[item]
    given = [
        state.overrides[target]
        for target in dict.fromkeys((item_id(item), item[0]))
        if target in state.overrides and state.overrides[target].rank >= on.rank
    ]
    return max(given, key=lambda override: override.rank, default=None)


def after_touch(state: PathState, event: Touch, items: Sequence[Item]) -> tuple[PathState, str]:
    """The list after a part was touched, and a question if it took off what was not on (else "")."""
    if event.action in ("removed", "replaced") and any(_by_step(state, item) for item in items):
        # It hung on its line over a jar, or lay on the bench: what joins it is open now.
        joints = [item for item in _joints(state, items) if item not in state.on_list]
        state = _put_on(state, event, joints, action_words(event.action))
    if event.action in PUTS_ON:
        return _put_on(state, event, items, action_words(event.action)), ""
    if event.action not in TAKES_OFF:
        return state, ""
    if event.action == "replaced":
        # What a step took out hangs where it was put, new or old: an injector over its jar is in no bore.
        fitted = [item for item in items if item in state.on_list and not state.on_list[item].by_step]
        return _taken_off(state, event, fitted, action_words(event.action)), ""
    if any(item in state.on_list for item in items):
        return _taken_off(state, event, items, action_words(event.action)), ""
    said = f"{items_were(state.plan, items)} {action_words(event.action)} at {event.at}"
    return state, (
        f"{said[:1].upper()}{said[1:]}, but it was not on the put-back list. "
        "Did an entry go missing before, or is it another part?"
    )


def _by_step(state: PathState, item: Item) -> bool:
    return item in state.on_list and state.on_list[item].by_step


def _joints(state: PathState, items: Sequence[Item]) -> Iterator[Item]:
    """The connections that handling these items opens, and that a step closes again."""
    plan = state.plan
    for name, cylinder in items:
        for reference in plan.part[name].opens:
            for joint in plan.items(reference, cylinder):
                if plan.part[joint[0]].kind == "connection" and joint[0] in plan.undone_by:
                    yield joint


def after_step(state: PathState, event: Done, step: Step) -> PathState:
    """The list after a step was done. What it puts on and takes off within itself is off in the end; what
    was undone one by one before needs no question here."""
    on = [item for name in step.puts_on for item in state.plan.items(name, event.cylinder)]
    off = [
        item for name in (*step.takes_off, *step.also_off) for item in state.plan.items(name, event.cylinder)
    ]
    state = _put_on(state, event, on, f"by step “{step.title}”")
    tools = [item for item in off if state.plan.is_tool(item[0])]
    state = _taken_off(state, event, tools, f"taken off by step “{step.title}”")
    rest = [item for item in off if item not in tools]
    return _taken_off(state, event, rest, f"put back by step “{step.title}”")


def _put_on(state: PathState, event: Touch | Done, items: Sequence[Item], words: str) -> PathState:
    entry = OnList(event.rank, event.at, event.entry, words, by_step=isinstance(event, Done))
    fresh = {item: entry for item in items if item not in state.on_list}
    return replace(state, on_list=changed(state.on_list, fresh)) if fresh else state


def _taken_off(state: PathState, event: Touch | Done, items: Sequence[Item], words: str) -> PathState:
    off: dict[Item, Touched] = {}
    for part in dict.fromkeys(item[0] for item in items):
        gone = [item for item in items if item[0] == part and item in state.on_list]
        if gone:
            said = f"{items_were(state.plan, gone)} {words} at {event.at}"
            off |= dict.fromkeys(gone, Touched(event.rank, event.at, event.entry, said))
    if not off:
        return state
    return replace(
        state,
        on_list=changed(state.on_list, {}, without=frozenset(off)),
        last_off=changed(state.last_off, off),
    )


def undoing_steps(state: PathState, item: Item) -> Iterator[Step]:
    """The steps that take the item off and were not passed over; one that only borrows it (on and off in
    one) comes last.
    """
    for step in state.plan.undone_by.get(item[0], ()):
        if not is_passed_over(state, step):
            yield step


def is_passed_over(state: PathState, step: Step) -> bool:
    """Whether the newest that was said of the step is that it is left out, for every cylinder."""
    said = [state.done.get((step.id, cylinder)) for cylinder in state.plan.all_cylinders]
    return all(one is not None and not one.done for one in said)


def _how(group: PutBackGroup) -> str:
    return f"{group.items[0].how}, " if group.items[0].how else ""
