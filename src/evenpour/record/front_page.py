"""The first page: what the car is, where the job stands, and everything somebody must not overlook."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from evenpour.job.answers import JudgedReading, PathAnswer, PutBackAnswer
from evenpour.job.causes.groups import alike, group_says, whole
from evenpour.job.instruments import OLD
from evenpour.job.wording import catch_verdict, cylinder_list, likelihood
from evenpour.measure.units import shown
from evenpour.record.asked import Answers
from evenpour.record.blocks import Block, Cell, FrontPage, Points
from evenpour.record.words import (
    VERDICTS,
    counted,
    day,
    direction,
    moment_of,
    named,
    run_kind,
    sentence,
    spread_words,
    sureness,
    when,
)

MOST = 6  # of one kind on the first page; fewer where all would not fit, the rest is in its own section
FEW = 3  # causes to watch
MENDED = ("replaced", "adjusted", "cleaned")
JOURNAL = "Journal"  # where each of what was mended stands with its day and note
LIKELY = 0.1  # from which probability on a cause is worth watching
AMPLE = 0.99  # a reading less surely within than this stands close to its limit
STATES = {
    "proved": "Proved",
    "overridden": "Gone on without",
    "stale": "Stale, to prove again",
    "open": "Open",
    "blocked": "Waits for others",
}
# The page: lines for all the lists, characters in a line, and what a heading and small type take of a line.
ROOM, WIDTH, TITLE, SMALL = 44.0, 100, 1.6, 0.75


def front_page(asked: Answers) -> FrontPage:
    """What the first page says; ``loud`` if the job is unfinished, or was handed over with anything amiss."""
    status, words, loud = standing(asked)
    facts = _facts(asked)
    return FrontPage(
        car=str(asked.engine.get("car") or asked.name),
        engine=asked.sheet.title,
        facts=facts,
        status=status,
        sentence=words,
        loud=loud,
        blocks=_on_one_page(
            [*_amiss(asked), *_mended(asked), *_watch(asked)],
            [*_proved(asked), *_in_short(asked)],
            ROOM - _lines(words) - len(facts) / 2,
        ),
        notice=asked.sheet.notice,
    )


def standing(asked: Answers) -> tuple[str, str, bool]:
    """Where the job stands: status, one sentence, and whether it must be said loudly."""
    stages = asked.path.stages
    proved = sum(stage.state == "proved" for stage in stages)
    are = "is" if proved == 1 else "are"
    done = f"{proved} of {counted(len(stages), 'stage')} {are} proved"
    if proved == len(stages):
        done = f"All {counted(len(stages), 'stage')} are proved"
    missing = asked.path.may_close
    if not asked.closed:
        if not missing:
            still = still_open(asked.path)
            if still:
                return "Not finished", f"{done}. {still}", True
            return "Not handed over", f"{done}. Nothing is missing but the handover itself.", True
        first = missing[0].rstrip(".")
        rest = f", and {counted(len(missing) - 1, 'more thing')}" if len(missing) > 1 else ""
        return "Not finished", f"{done}. Missing: {first}{rest}.", True
    closed = f"on {_closed_at(asked)}"
    passed = asked.overrides
    if missing:
        things = f"{counted(len(missing), 'thing')} {'is' if len(missing) == 1 else 'are'}"
        return "Handed over with things missing", f"Handed over {closed}, but {things} missing. {done}.", True
    if any(stage.state not in ("proved", "overridden") for stage in stages):
        over = f" {counted(len(passed), 'thing')} passed over by name and reason." if passed else ""
        return "Closed, not finished", f"Closed {closed} without being finished: {done.lower()}.{over}", True
    if passed:
        things = counted(len(passed), "thing")
        words = f"Handed over {closed} with {things} passed over by name and reason. {done}."
        return "Handed over with overrides", words, True
    if asked.path.put_back:
        things = counted(len(asked.path.put_back), "thing")
        words = f"Handed over {closed} with {things} still to be put back. {done}."
        return "Handed over with things left in", words, True
    out = len(asked.path.outside)
    still = (
        f" {counted(out, 'finding')} {'stands' if out == 1 else 'stand'} outside the limit." if out else ""
    )
    return "Handed over", f"Handed over {closed}. {done}, and nothing is left to put back.{still}", False


def still_open(path: PathAnswer) -> str:
    """How many stages before the handover are not behind the car, and which comes next; empty if all are."""
    waiting = [stage for stage in path.stages[:-1] if stage.state not in ("proved", "overridden")]
    if not waiting:
        return ""
    touched = {claim.stage for claim in path.claims if claim.entries}
    fresh = [
        stage
        for stage in path.stages
        if stage.state in ("open", "blocked")
        and stage.stage not in touched
        and all(step.state in ("open", "blocked") for step in stage.steps)
    ]
    if len(fresh) == len(path.stages):
        count = "None is begun"
    elif fresh:
        count = f"{counted(len(fresh), 'stage')} {'is' if len(fresh) == 1 else 'are'} not begun"
    else:
        count = f"{counted(len(waiting), 'stage')} {'is' if len(waiting) == 1 else 'are'} begun, not finished"
    coming = path.upcoming[0].stage if path.upcoming else waiting[0].stage
    title = next(stage.title for stage in path.stages if stage.stage == coming)
    return f"{count}. Next comes “{title}”."


def _closed_at(asked: Answers) -> str:
    closed = [
        line.at for line in asked.history if line.kind == "closed" and line.withdrawn is None and line.at
    ]
    return when(closed[-1]) if closed else "a day not noted"


def _facts(asked: Answers) -> tuple[tuple[str, str], ...]:
    engine = asked.engine
    facts = [
        ("Chassis", engine.get("chassis")),
        ("Engine number", engine.get("engine_number")),
        ("Mileage", engine.get("mileage")),
        ("Workshop", engine.get("workshop")),
        ("Dates", _dates(asked)),
        ("Work by", ", ".join(dict.fromkeys(line.who for line in asked.history if line.who))),
        ("Job", asked.name if asked.number is None else str(asked.number)),
        ("Engine sheet", f"{asked.sheet.sheet}, {counted(asked.sheet.cylinders, 'cylinder')}"),
    ]
    return tuple((label, str(value)) for label, value in facts if value)


def _dates(asked: Answers) -> str:
    times = [line.at for line in asked.history if line.at and moment_of(line.at)]
    if not times:
        return ""
    first, last = day(min(times)), day(max(times))
    return first if first == last else f"{first} to {last}"


def _amiss(asked: Answers) -> list[tuple[Points, str]]:
    """What must not be overlooked, and the section in which all of it stands."""
    path = asked.path
    found: list[tuple[Points, str]] = []
    if path.may_close:
        missing = tuple(Cell(sentence(why)) for why in path.may_close)
        found.append((Points("Missing before handover", missing, loud=True), "Stages and proofs"))
    left_in = put_back_cells(path.put_back)
    empty = (Cell("Empty: everything taken off, fitted or left in is back as it was."),)
    put_back = (
        Points("Still to be put back", left_in, loud=True) if left_in else Points("Put-back list", empty)
    )
    found.append((put_back, "Put-back list"))
    if path.outside:
        found.append((Points("Outside its limit", tuple(_outside(asked)), loud=True), "Readings"))
    if asked.overrides:
        passed = tuple(
            Cell(sentence(one.says), (f"{one.reason} ({one.who}, {when(one.at)})",))
            for one in asked.overrides
        )
        found.append((Points("Passed over, by name and reason", passed, loud=True), "Overrides"))
    doubtful = [
        one for one in asked.judge.readings if one.stands and one.verdict == "cannot_tell" and one.limit
    ]
    if doubtful:
        cells = tuple(Cell(f"{named(one)}: {one.shown}", _why_not(one)) for one in doubtful)
        found.append((Points("Read, but cannot tell", cells), "Readings"))
    return found


def _mended(asked: Answers) -> list[tuple[Points, str]]:
    """What was replaced, adjusted or cleaned, and the cause if one was found, in the order of the work."""
    lines = [
        line
        for line in asked.history
        if line.withdrawn is None
        and (
            (line.kind == "did" and line.words.endswith(MENDED))
            or (line.kind == "closed" and "cause" in line.words)
        )
    ]
    cells = [
        Cell(sentence(line.words), _without_empty(line.note, when(line.at) if line.at else ""))
        for line in lines
    ]
    return [(Points("Found and mended", tuple(cells)), JOURNAL)] if cells else []


def _watch(asked: Answers) -> list[tuple[Points, str]]:
    """What may be wrong as it stands, and what the verdicts rest on that somebody should look at again."""
    cells = []
    if asked.causes is not None:
        likely = [group for group in alike(asked.causes.causes) if whole(group) >= LIKELY]
        cells += [
            Cell(f"{sentence(group_says(group)).rstrip('.')}: {likelihood(whole(group))} likely.")
            for group in likely[:FEW]
        ]
    barely = [
        one
        for one in asked.judge.readings
        if one.stands and one.verdict == "within" and one.limit and (one.p_within or 1.0) < AMPLE
    ]
    if barely:
        names = "; ".join(dict.fromkeys(named(one) for one in barely[:MOST]))
        more = f" and {len(barely) - MOST} more" if len(barely) > MOST else ""
        cells.append(Cell(f"Close to the limit: {names}{more}."))
    old = [name for name, words in asked.calibrations.items() if OLD in words]
    if old:
        cells.append(Cell(f"Calibrated {OLD}: {', '.join(old)}."))
    return [(Points("To watch", tuple(cells)), "Readings")] if cells else []


def _proved(asked: Answers) -> list[Points]:
    """The stages by how far they are, each by its title."""
    by_state: dict[str, list[str]] = {}
    for stage in asked.path.stages:
        by_state.setdefault(stage.state, []).append(stage.title)
    cells = [
        Cell(f"{words}: {'; '.join(by_state[state])}.")
        for state, words in STATES.items()
        if state in by_state
    ]
    return [Points("What is proved, and what is not", tuple(cells))] if cells else []


def _why_not(reading: JudgedReading) -> tuple[str, ...]:
    return _without_empty(sureness(reading.verdict, reading.p_within), reading.settle or "")


def _in_short(asked: Answers) -> list[Points]:
    """What the readings and catches found, counted."""
    standing = [reading for reading in asked.judge.readings if reading.stands]
    cells = []
    if standing:
        count = Counter(
            VERDICTS[one.verdict] if one.limit else "with no limit on the sheet" for one in standing
        )
        kinds = (*VERDICTS.values(), "with no limit on the sheet")
        each = ", ".join(f"{count[words]} {words}" for words in kinds if count[words])
        replaced = len(asked.judge.readings) - len(standing)
        older = (
            f"{counted(replaced, 'older one')} no longer {'counts' if replaced == 1 else 'count'}"
            if replaced
            else ""
        )
        cells.append(
            Cell("; ".join(_without_empty(f"{counted(len(standing), 'reading')}: {each}", older)) + ".")
        )
    if asked.catch is not None:
        for key, spread in asked.catch.spread_by_run.items():
            verdict, sure = catch_verdict(asked.catch, key)
            spread_said = f"spread {spread_words(spread, asked.catch.u_by_run.get(key))}"
            said = "; ".join(_without_empty(", ".join(_without_empty(verdict, sure)), spread_said))
            cells.append(Cell(f"Catch, {run_kind(key)}: {said}."))
    last = {move.part: move for move in asked.ledger}
    for part, move in last.items():
        total = f"{shown(abs(move.total), 'angle')} {direction(move.total)} from where it was found"
        where = total if direction(move.total) else "where it was found"
        cells.append(Cell(f"{part.replace('_', ' ').capitalize()}: {where}."))
    return [Points("In short", tuple(cells))] if cells else []


def _outside(asked: Answers) -> list[Cell]:
    """Readings first, each with its limit; then whatever else is outside, in job's own words."""
    readings = [one for one in asked.judge.readings if one.stands and one.verdict == "outside"]
    cells = [
        Cell(
            f"{named(one)}: {one.shown}",
            _without_empty(f"limit {one.limit.words}, {one.limit.source}" if one.limit else ""),
        )
        for one in readings
    ]
    titles = [one.title.lower() for one in readings]
    others = [words for words in asked.path.outside if not any(title in words.lower() for title in titles)]
    return [*cells, *(Cell(sentence(words)) for words in others)]


def put_back_cells(items: Sequence[PutBackAnswer]) -> tuple[Cell, ...]:
    """The put-back list, alike things joined: ``Screw the spark plug in, cylinders 1 to 6``."""
    groups: dict[tuple[str, str, str | None], list[PutBackAnswer]] = {}
    for item in items:
        groups.setdefault((item.words or item.name, item.hangs, item.overridden), []).append(item)
    return tuple(_joined(words, group) for (words, _, _), group in groups.items())


def _joined(words: str, group: Sequence[PutBackAnswer]) -> Cell:
    numbers = [item.cylinder for item in group if item.cylinder is not None]
    where = f", cylinder{'s' if len(numbers) > 1 else ''} {cylinder_list(numbers)}" if numbers else ""
    first = min(group, key=lambda item: item.since or "")
    cell = put_back_cell(first)
    return replace(cell, text=sentence(f"{words.rstrip('.')}{where}"))


def put_back_cell(item: PutBackAnswer) -> Cell:
    """An item of the put-back list, and since when."""
    over = f"passed over: {item.overridden}" if item.overridden else ""
    small = _without_empty(f"since {when(item.since)}", item.hangs, over)
    return Cell(sentence(item.words or item.name), small)


def _on_one_page(
    lists: Sequence[tuple[Points, str]], counted_up: Sequence[Points], room: float
) -> tuple[Block, ...]:
    """The lists, each cut to as many items as leave room for all, with a word on where the others stand; what
    was mended is all named, the others in one line.
    """
    for most in range(MOST, 0, -1):
        blocks = (*(_cut(points, where, most) for points, where in lists), *counted_up)
        if sum(map(_height, blocks)) <= room:
            break
    return blocks


def _height(points: Points) -> float:
    """How many lines of the page it fills, nearly; rather too many than too few."""
    items = sum(_lines(one.text) + SMALL * sum(map(_lines, one.small)) for one in points.items)
    return TITLE + items


def _lines(text: str) -> int:
    return -(-len(text) // WIDTH) or 1


def _cut(points: Points, where: str, most: int) -> Points:
    left = points.items[most:]
    if not left:
        return points
    rest = f"And {len(left)} more: see “{where}”."
    if where == JOURNAL:
        rest = f"Also: {'; '.join(_at_each(one.text for one in left))}. When: see “{where}”."
    return replace(points, items=(*points.items[:most], Cell(rest)))


def _at_each(mended: Iterable[str]) -> list[str]:
    """What was mended, the cylinders of one part together: ``spark plug replaced, cylinders 1 to 6``."""
    found: dict[str, set[int]] = {}
    for words in (text.rstrip(".") for text in mended):
        number = re.search(r" (\d+)(?= \w+$)", words)
        of = found.setdefault(words.replace(number[0], "") if number else words, set())
        of |= {int(number[1])} if number else set()
    return [
        f"{words[:1].lower()}{words[1:]}"
        + (f", cylinder{'s' if len(of) > 1 else ''} {cylinder_list(sorted(of))}" if of else "")
        for words, of in found.items()
    ]


def _without_empty(*texts: str) -> tuple[str, ...]:
    return tuple(text for text in texts if text)
