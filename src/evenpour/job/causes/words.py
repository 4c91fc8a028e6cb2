"""Causes in words: how grave, what speaks for and against, what would read otherwise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from evenpour.causes.problem import Array
from evenpour.job.causes.answers import BETTER, SAME, WORSE
from evenpour.job.causes.exchanged import exchange_told
from evenpour.job.causes.expected import Expectations, Expected, common_level
from evenpour.job.causes.facts import OPEN_FROM, Told
from evenpour.job.causes.naming import titled
from evenpour.job.causes.round_figures import rough_alike
from evenpour.job.causes.turned import FOLLOW_THE_SCREW
from evenpour.job.condition_words import PLACES
from evenpour.job.job import Job
from evenpour.job.port_words import caught_words
from evenpour.machine.checks import ChoiceCheck, NumberCheck
from evenpour.machine.line_map import line_map_of
from evenpour.machine.readout import Query
from evenpour.measure.checks import Check
from evenpour.measure.choice_words import choice_words
from evenpour.measure.showing import unit_for
from evenpour.measure.units import shown
from evenpour.path.words import in_cylinders, listed

if TYPE_CHECKING:
    from evenpour.job.catalogue import Catalogue
    from evenpour.job.causes.case import Case

NOTICEABLE = 3.0  # of a reading's own noise, above which it would read clearly otherwise
PLAIN = 2.0  # times what a reading's limit allows, from which nothing is slight; our choice, no source
SCALE = ((0.15, "barely"), (0.4, "slightly"), (0.65, "clearly"), (0.85, "badly"))  # below which severity
MOST = 4  # readings told
FITS = 1.5  # noise widths by which a reading for a cause lies at most outside of what it gives
BESIDE = 1.0  # noise widths, from which a reading is told as beside what is to be expected
BEARS_OUT = 0.5  # noise widths by which a reading for a cause is nearer to what it gives than to what else
LEFT_OPEN = 0.22  # of a severity's doubt; one that nothing is known of has 0.29
OPEN = "open circuit"
FAR = 30.0  # times, from which two resistances have each its own unit
KILOHM = 1000.0  # ohm, from which a resistance is told in them


_PLACES = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def severity_words(severity: float | None, u: float | None, moved: float = 0.0) -> str:
    """Barely, slightly, clearly, badly, wholly; where the readings leave that open: cannot tell.

    Args:
        severity: 0 barely noticeable to 1 gross, None if nothing is known of it.
        u: Its standard uncertainty.
        moved: As :func:`most_moved` tells. On the scale of a cause that may stop a cylinder, a quarter
            short is little; against what the sheet allows it is not.
    """
    if severity is None or (u is not None and u > LEFT_OPEN):
        return "cannot tell"
    place = sum(severity >= limit for limit, _ in SCALE)
    seen = (moved >= 1.0) + (moved >= PLAIN)
    return (*(word for _, word in SCALE), "wholly")[max(place, seen)]


def each_words(words: Sequence[str]) -> str:
    """How severe several things are: one word where it is the same of all, else of each by its place."""
    if len(set(words)) == 1:
        return words[0]
    return listed([f"the {place} {word}" for place, word in zip(_PLACES, words, strict=False)])


def spanned(words: Sequence[str]) -> str:
    """How severe one cause is at several cylinders: one word, or from the least to the worst of them."""
    if len(set(words)) == 1:
        return words[0]
    order = [*(word for _, word in SCALE), "wholly"]
    return f"{min(words, key=order.index)} to {max(words, key=order.index)}"


def most_moved(case: Case, now: Array, mended: Array) -> float:
    """By how many times what its limit allows a cause moves the reading that it moves most.

    0 where the sheet has no limit from both sides for anything that was read.
    """
    return max((_moved(case, row, now, mended) for row in range(len(case.told))), default=0.0)


def _moved(case: Case, row: int, now: Array, mended: Array) -> float:
    told = case.told[row]
    check = told.observation.check
    if not isinstance(check, NumberCheck):
        return 0.0
    column = int(case.explanation.seen.columns.column[row])
    read, whole = float(check.uncompared(now[column])), float(check.uncompared(mended[column]))
    sheet = case.job.sheet
    if told.caught is not None:  # of the mean of all ports: what a mended one would pour
        allowed = whole * sheet.evenness_limits().get(told.caught.opening, math.inf)
    else:
        sides = [(limit.low, limit.high) for limit in sheet.limits_for(check.check)]
        allowed = max(
            (high - low for low, high in sides if low is not None and high is not None), default=0.0
        )
    return abs(read - whole) / allowed if allowed > 0.0 else 0.0


def strength_of(weight: float) -> str:
    """How strongly a check speaks."""
    size = abs(weight)
    return "strongly" if size > 3.0 else "clearly" if size > 1.0 else "a little"


def reading_words(job: Job, told: Told) -> str:
    """A reading by name, with its value: ``control pressure, warm, 2.10 bar``."""
    return f"{_named_whole(job, told)}, {_read(job, told)}"


def several_words(job: Job, some: Sequence[Told], like: Told) -> str:
    """The check of a reading by name with the places of some: ``fuel caught through injectors, part, ports 2
    and 4``; of none of them, without places.
    """
    words, places = _named(job, like, None), [one.observation.query.cylinder for one in some]
    cylinders = [one for one in places if one is not None]
    if cylinders and like.caught is not None:
        return f"{words}, {listed([caught_words(line_map_of(job.sheet), one) for one in cylinders])}"
    return f"{words}, {in_cylinders(cylinders)}" if cylinders else words


def named(check: Check) -> str:
    """A check inside a sentence; what the probe reads has no article."""
    return check.named.removeprefix("the ") if check.id.startswith("exhaust_") else check.named


def _named_whole(job: Job, told: Told) -> str:
    return _named(job, told, told.observation.query.cylinder)


def _named(job: Job, told: Told, cylinder: int | None) -> str:
    check = job.known.checks[told.observation.check.check]
    query = told.observation.query
    words = named(check)
    if told.caught is not None:
        way = "bare lines" if told.caught.through == "lines" else "injectors"
        words = f"fuel caught through {way}, {told.caught.opening}"
    if cylinder is not None and told.caught is not None:
        words += f", {caught_words(line_map_of(job.sheet), cylinder)}"
    elif cylinder is not None:
        words += f", cylinder {cylinder}"
    state = query.stated.get("state")
    if isinstance(state, str):
        words += f" ({state.replace('_', ' ')})"
    after = query.stated.get("after")
    if isinstance(after, float | int) and check.id == "holding_pressure":
        words += f", after {after / 60.0:.0f} min" if after >= 60.0 else f", after {after:.0f} s"
    blocked, where = query.stated.get("blocked"), query.stated.get("where")
    if isinstance(blocked, str) and blocked != "none":
        words += f", {blocked.replace('_', ' ')} blocked"
    if isinstance(where, str) and sum(group.check.id == check.id for group in job.judged) > 1:
        words += f" ({place_words(job.known, where)})"  # else nobody asks which
    return words


def place_words(known: Catalogue, where: str) -> str:
    """Where something is read: ``on the bench``, ``at the regulator return``; in own words, those."""
    words = where.replace("_", " ")
    return PLACES.get(where) or (f"at the {words}" if where in known.kinds["where"].choices else words)


def _read(job: Job, told: Told) -> str:
    if told.observation.choice is not None:
        return choice_words(told.observation.choice)
    assert told.observation.value is not None
    return value_words(job, told.observation.check.check, told.observation.value)


def value_words(job: Job, check: str, value: float, like: float | None = None) -> str:
    """A check's value in the user's units; in the unit that fits *like*, if given, beside which it stands."""
    known = job.known.checks[check]
    dimension = known.dimension
    assert dimension is not None
    if dimension == "resistance" and value >= OPEN_FROM:
        return OPEN
    if dimension == "resistance":
        unit = _ohms(value, like)
    else:
        unit = unit_for(dimension, job.system, known.prefer, value if like is None else like)
    words = shown(value, dimension, job.system, unit=unit)
    return words.removeprefix("lambda ") if check == "exhaust_lambda" else words


def _ohms(value: float, like: float | None) -> str:
    """The unit of a resistance, beside *like* the same where both show in it: 22 Ω are not 0.02 kΩ."""
    beside = like if like is not None and like / FAR < value < like * FAR else value
    return "kohm" if beside >= KILOHM else "ohm"


def about_words(job: Job, told: Told, compared: float) -> str:
    """The same, of a number no more than its first figures: ``about 3.6 bar``."""
    return about_alike(job, told, (compared,))[0]


def about_alike(job: Job, told: Told, several: Sequence[float]) -> list[str]:
    """The same of several that stand in one sentence, in figures alike."""
    said = [foreseen_words(job, told, one) for one in several]
    if told.observation.choice is not None:
        return said
    return [about(words) for words in rough_alike(said)]


def about(words: str) -> str:
    """``about 22 Ω``; an open circuit is just that."""
    return words if words == OPEN else f"about {words}"


def _span_words(told: Told, low: str, high: str) -> str:
    """From where to where a reading may be: ``0 to 1.90 bar``; of words, either."""
    if low == high:
        return low
    if told.observation.choice is not None:
        return f"{low} or {high}"
    low, high = low.removeprefix("about "), high.removeprefix("about ")
    figure, _, unit = low.rpartition(" ")
    return f"{figure if figure and high.endswith(f' {unit}') else low} to {high}"


def foreseen_words(job: Job, told: Told, compared: float) -> str:
    """What the model foresees for a reading, in words."""
    check = told.observation.check
    if isinstance(check, NumberCheck):
        read = told.observation.value
        like = (
            None if read is not None and read >= OPEN_FROM else read
        )  # nobody asks for megohms of a winding
        return value_words(job, check.check, float(check.uncompared(compared)), like)
    assert isinstance(check, ChoiceCheck)
    return word_at(check, compared, told.observation.query)


def word_at(check: ChoiceCheck, compared: float, query: Query) -> str:
    """What one would say at a place on a check's line: ``still``; where only one word is right and any other
    is as wrong, ``anything but swings``.
    """
    place = sum(compared > cut for cut in check.cuts)
    if check.right and not place:
        return f"anything but {choice_words(check.word(1, query))}"
    return choice_words(check.word(place, query))


def reason_words(
    case: Case,
    expect: Expectations,
    owner: int,
    g: int,
    weight: float,
    cars: tuple[Array, Array] | None = None,
) -> str:
    """``control pressure, warm, 2.10 bar: with it one would expect about 2.05 bar, without it 3.60 bar``.

    Where parts were exchanged between two catches, what came of it: that is what settles it. Empty where the
    figures do not bear out what the check weighs: nobody could follow that. What a cause leaves as it is
    speaks only against its rival, and is told as that.

    Args:
        cars: All columns of the car with the cause, and of the same car with it mended, where that is asked.
    """
    job = case.job
    exchanged = exchange_told(case, owner, g, _read) if weight > 0.0 else ""
    if exchanged:
        return exchanged
    found = expect.of(owner, g, speaks_for=weight > 0.0)
    told = case.told[found.row]
    low, high, theirs = about_alike(job, told, (*found.span, found.without))
    mine = _span_words(told, low, high)
    if told.observation.choice is not None and foreseen_words(job, told, found.with_it) != theirs:
        mine = foreseen_words(job, told, found.with_it)  # either word would be no help
    read = _and_more(case, found.row)
    if mine == theirs:
        return f"{read}: one would expect {mine} {SAME}"
    if found.support < BEARS_OUT or found.outside > FITS if weight > 0.0 else found.support > -BEARS_OUT:
        return ""
    instead = f"if instead {titled(case, case.explanation.suspects[found.rival])}" if found.rival else ""
    moves_it = cars is None or _apart(case, found.row, *cars) >= NOTICEABLE
    with_it = "with it" if moves_it or not found.rival else "with or without it"
    if weight > 0.0 and not moves_it and found.rival:
        return f"{read}: {with_it} one would expect {mine}; that counts against a rival, {theirs} {instead}"
    if weight > 0.0 and _is_beside(case, found):
        nearer = f"nearer to {mine}, as {with_it}, than to {theirs}, as {instead or 'without it'}"
        return f"{read}: {_beyond_both(case, found)}{nearer}"
    if weight < 0.0 and found.outside <= 0.0:
        return f"{read}: fits it, at {mine}, but fits {theirs} closer, as {instead or 'without it'}"
    other = f"{theirs} {instead}" if instead else f"without it {theirs}"
    return f"{read}: {with_it} one would expect {mine}, {other}"


def _is_beside(case: Case, found: Expected) -> bool:
    """Whether a reading is told as beside what a cause gives: not where the figures say it is in it."""
    told, read = case.told[found.row], float(case.explanation.seen.columns.y[found.row])
    if told.observation.choice is not None:
        return found.outside > BESIDE
    low, high, shown_as = about_alike(case.job, told, (*found.span, read))
    return found.outside > 0.0 and shown_as not in (low, high)


def _beyond_both(case: Case, found: Expected) -> str:
    """Said first of a figure less, or more, than both what a cause gives and what one would else expect."""
    read, all_of = float(case.explanation.seen.columns.y[found.row]), (*found.span, found.without)
    if case.told[found.row].observation.choice is not None or min(all_of) <= read <= max(all_of):
        return ""
    return f"{'below' if read < min(all_of) else 'above'} both, but "


def together_words(
    case: Case, g: int, now: Array, mended: Array, *, several: bool = False, better: bool = True
) -> str:
    """A check that speaks for a cause by how it goes with the others: what the other checks leave to be
    expected of it shows nothing, but the same car without the cause may well.

    Args:
        several: Whether it is several causes at once.
        better: Whether it speaks for them.
    """
    row, here, sound = _shown_best(case, g, now, mended)
    read = _and_more(case, row)
    if not better or _apart(case, row, now, mended) < NOTICEABLE or sound == here:
        return f"{read}: {BETTER if better else WORSE}"
    return f"{read}: one would expect {sound} of the same car without {'them' if several else 'it'}"


def _and_more(case: Case, row: int) -> str:
    """A reading by name, with its value, and how many more of its check there are."""
    check = case.explanation.seen.columns.check
    more = int((check == check[row]).sum()) - 1
    read = reading_words(case.job, case.told[row])
    return f"{read} (and {more} more of that check)" if more else read


def _shown_best(case: Case, g: int, now: Array, mended: Array) -> tuple[int, str, str]:
    """Of a check the reading that shows a cause best, and what the car reads there with it, and mended."""
    columns = case.explanation.seen.columns
    rows = np.flatnonzero(columns.check == case.explanation.checks[g])
    row = int(max(rows, key=lambda one: _apart(case, int(one), now, mended)))
    level, column = common_level(case, rows, now, mended), int(columns.column[row])
    here, sound = (about_words(case.job, case.told[row], float(car[column]) + level) for car in (now, mended))
    return row, here, sound


def bare_words(case: Case, g: int, *, better: bool) -> str:
    """A check whose figures do not show by themselves what it says of a cause.

    Args:
        better: Whether it speaks for it.
    """
    row = int(np.argmax(case.explanation.seen.columns.check == case.explanation.checks[g]))
    return f"{_and_more(case, row)}: {BETTER if better else WORSE}"


def without_words(case: Case, g: int, now: Array, mended: Array, *, several: bool = False) -> str:
    """The reading of a check that shows a cause best: ``the idle speed, 960 rpm (885 rpm without it)``."""
    row, _, sound = _shown_best(case, g, now, mended)
    told, read = case.told[row], _and_more(case, row)
    as_read = about_words(case.job, told, float(case.explanation.seen.columns.y[row]))
    if sound in (as_read, _read(case.job, told)):
        return read
    return f"{read} ({sound} without {'them' if several else 'it'})"


def _apart(case: Case, row: int, one: Any, two: Any) -> float:
    column = int(case.explanation.seen.columns.column[row])
    return abs(float(one[column] - two[column])) * float(case.explanation.noise.per_sd[row])


def mended_words(case: Case, now: Any, mended: Any) -> list[str]:
    """What would read clearly otherwise with the cause mended, most of all first."""
    columns = case.explanation.seen.columns
    rows = sorted(range(len(case.told)), key=lambda row: -_apart(case, row, now, mended))
    found: dict[str, None] = {}
    for row in rows:
        if _apart(case, row, now, mended) < NOTICEABLE or len(found) == MOST:
            break
        told = case.told[row]
        if told.observation.query.situation.screw and told.observation.check.check in FOLLOW_THE_SCREW:
            continue  # it was read with the screw elsewhere: nobody can read it so again
        if int(columns.check[row]) in meant_otherwise(case):
            continue  # what is told from is not what was written
        level = common_level(case, np.flatnonzero(columns.check == columns.check[row]), now, mended)
        foreseen = float(mended[int(columns.column[row])]) + level
        words, read = foreseen_words(case.job, told, foreseen), _read(case.job, told)
        if words != read:  # apart in the model only: nobody would see it
            found.setdefault(f"{_named_whole(case.job, told)}: {words} instead of {read}")
    return list(found)


def meant_otherwise(case: Case) -> set[int]:
    """Checks of which something was meant otherwise than it was written."""
    if not case.slips:
        return set()
    of_row = case.weighed.parts[0].told.seen.columns.check
    return {int(of_row[row]) for slip in case.slips for row in slip.rows}
