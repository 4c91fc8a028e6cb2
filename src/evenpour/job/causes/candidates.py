"""The checks that could be done next, as questions to the model, and those worth doing in words."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.information import entropy
from evenpour.causes.next_test import Candidate, Worth
from evenpour.causes.suspects import remedy_of
from evenpour.job.causes.answers import NextCheckLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.clashes import Clash, as_typed
from evenpour.job.causes.differences import differences
from evenpour.job.causes.facts import Told, arranged, torn
from evenpour.job.causes.possible_checks import Possible, possible_checks
from evenpour.job.causes.words import named, place_words, value_words
from evenpour.job.condition_words import one_stated
from evenpour.job.engine_model import checks_predicted, unstated
from evenpour.job.job import Job
from evenpour.job.rules import read_swap
from evenpour.machine.asking import query
from evenpour.machine.readout import Query
from evenpour.measure.units import shown

ROOT_3 = math.sqrt(3.0)
TOLD = 6  # next checks told
PLAIN = ("state", "through", "opening")  # conditions whose word says what it is of
WAYS = ("after", "soak", "opening")  # conditions in figures that make it another check
LEAST_INFORMATION = 0.03  # bit, below which a check is not worth its minutes; the house's choice
READ_AGAIN = 0.3  # that a check does not belong, from which it is to be read again
SETTLED = 0.9  # of a repair, from which a check is worth telling only for what it divides
ALIKE = 1.5  # how much more a check may tell at one cylinder than at another, none of them standing out
NO_SLIP = 0.5  # how often a reading that no known slip mends stands; a round figure, no source
TORN = 0.5  # of two readings that contradict each other, that the one stands rather than the other
SETTLES = 0.6  # bit, from which a check would decide most of what is open
TIMES = {"idle": 150.0, "part": 60.0, "full": 35.0}  # s, a catch's usual time; common practice, no source


@dataclass(frozen=True, slots=True)
class Asked:
    """A possible check with its questions to the model."""

    possible: Possible
    candidate: Candidate


def asked_of(case: Case) -> list[Asked]:
    """Every check that can be done and was not done already as the car now is."""
    done = {_asked(one.observation.query) for one in case.read}
    found: dict[object, Asked] = {}
    for possible in possible_checks(case.job):
        one = _not_read(case, possible)
        questions = _questions(case, one)
        if all(_asked(q) in done for q in questions) or _read(case, one):
            continue
        key = tuple((q.check, q.cylinder, q.situation, tuple(sorted(q.stated.items()))) for q in questions)
        asked = Asked(one, _candidate(case, one, questions))
        if key not in found or asked.possible.minutes < found[key].possible.minutes:
            found[key] = asked
    return list(found.values())


def _asked(q: Query) -> tuple[object, ...]:
    return (q.check, q.cylinder, q.situation, _blocked(q.stated))


def _blocked(stated: Mapping[str, object]) -> object:
    """What is shut off where something is read so; nothing where nobody says so."""
    return stated.get("blocked", stated.get("pinched", "none"))


def _not_read(case: Case, one: Possible) -> Possible:
    """Of what is read several times over in turn, what was not read yet."""
    if not one.in_turn:
        return one
    was = {_blocked(told.observation.query.stated) for told in case.read if _check_of(told) == one.check}
    return replace(one, in_turn=tuple(so for so in one.in_turn if _blocked(so) not in was))


def _check_of(told: Told) -> str:
    return told.observation.query.check


def _read(case: Case, one: Possible) -> bool:
    """Whether the same was read in the same way, whatever the weather or the battery then was."""
    # catches are told apart by their exchanges; a second run of the same is worth something
    return one.check != "catch" and any(_is_again(one, told) for told in case.read)


def _questions(case: Case, one: Possible) -> list[Query]:
    stated = dict(one.stated)
    if one.in_turn:
        return [query(case.kind, one.check, one.cylinder, {**stated, **so}, case.home) for so in one.in_turn]
    if one.check != "catch":
        return [query(case.kind, one.check, one.cylinder, stated, case.home)]
    stated["duration"] = _seconds(case, str(stated.get("through")), str(stated.get("opening")))
    asked = [query(case.kind, "catch", port, stated, case.home) for port in case.job.plan.all_cylinders]
    if not one.swaps:
        return asked
    swaps = [swap for swap in map(read_swap, one.swaps) if swap is not None]
    lines, injectors = arranged(swaps, case.kind.design.line_map)
    return [replace(q, situation=replace(q.situation, line_at=lines, injector_at=injectors)) for q in asked]


def _seconds(case: Case, through: str, opening: str) -> float:
    """For how long a catch is made: as the newest at that opening was, through the same if there is one."""
    made = [one for one in case.job.facts.catches if one.opening == opening and not one.discard]
    alike = [one for one in made if one.through == through] or made
    return statistics.median(alike[-1].durations) if alike else TIMES.get(opening, 60.0)


def _candidate(case: Case, one: Possible, questions: Sequence[Query]) -> Candidate:
    check = case.job.known.checks[one.check]
    known = checks_predicted()
    relative = check.assumed_relative > 0.0
    width = check.assumed_relative if relative else check.assumed_error
    if one.check == "catch":
        width, relative = 0.5e-6, False
    return Candidate(tuple((known[q.check], q) for q in questions), width / ROOT_3, one.minutes, relative)


def next_lines(
    case: Case, asked: Sequence[Asked], order: Sequence[Worth], clashing: Sequence[Clash]
) -> list[NextCheckLine]:
    """What has to be read again, then the most telling checks, one line a check: of a per-cylinder check its
    best cylinder.
    """
    again = [line for told in case.read if torn(told) for line in _read_again(case, told, TORN)]
    entries = {told.entry for told in case.read if torn(told)}
    again += [
        line
        for one in clashing
        if one.probability > READ_AGAIN and one.told.entry not in entries
        for line in _again(case, one)
    ]
    chosen: list[tuple[Asked, Worth]] = []
    seen: set[tuple[object, ...]] = {(line.what, line.state) for line in again}
    for worth in order:
        one = asked[worth.candidate].possible
        # the same in other words tells the same
        keys = {(one.check, _conditions(case, one)), (one.check, round(worth.information, 9))}
        if keys & seen or worth.information < LEAST_INFORMATION:
            continue
        seen |= keys
        chosen.append((asked[worth.candidate], worth))
        if len(chosen) + len(again) == TOLD:
            break
    why = differences(case, [one.candidate for one, _ in chosen])
    # nothing that could be read need divide what is left; where a repair is as good as sure, it must
    some = any(why) or _settled(case)
    every = _at_every_cylinder(case, asked, order)
    return again + [
        _line(case, one.possible, worth, words, every=(one.possible.check, worth.rate) in every)
        for (one, worth), words in zip(chosen, why, strict=True)
        if words or not some
    ]


def _at_every_cylinder(
    case: Case, asked: Sequence[Asked], order: Sequence[Worth]
) -> frozenset[tuple[str, float]]:
    """Checks, with the rate of their best cylinder, that tell about as much at most of the others."""
    rates: dict[tuple[str, str], list[float]] = {}
    for worth in order:
        one = asked[worth.candidate].possible
        if one.cylinder is not None:
            rates.setdefault((one.check, _conditions(case, one)), []).append(worth.rate)
    half = case.job.plan.cylinders / 2.0
    return frozenset(
        (check, max(some))
        for (check, _), some in rates.items()
        if sum(ALIKE * rate > max(some) for rate in some) > half
    )


def _settled(case: Case) -> bool:
    """Whether one repair is as good as sure to be called for."""
    listed = case.explanation.suspects
    chance: dict[str, float] = {}
    every: list[tuple[float, tuple[int, ...]]] = [(p, (h,)) for h, p in case.probability.items() if h]
    joint = zip(case.joint, case.joint_probability, strict=True)
    for p, some in every + [(p, one.which) for one, p in joint]:
        for remedy in {remedy_of(listed[h]) for h in some}:
            chance[remedy] = chance.get(remedy, 0.0) + p
    return max(chance.values(), default=0.0) > SETTLED


def _again(case: Case, clash: Clash) -> list[NextCheckLine]:
    """A reading that does not go with the others, read once more as it was read; none where it cannot be."""
    # whether it stands: what no plain slip mends does so as often as not, a round figure
    stands = 1.0 - clash.probability * (1.0 - NO_SLIP * (1.0 - clash.mended))
    return _read_again(case, clash.told, stands)


def _read_again(case: Case, told: Told, stands: float) -> list[NextCheckLine]:
    """The same reading once more; *stands*: how likely it is to come out as it did."""
    observation = told.observation
    alike = [one for one in possible_checks(case.job) if _is_again(one, told)]
    if not alike:
        return []
    one = min(alike, key=lambda possible: (len(possible.before), possible.minutes))
    read = as_typed(case.job, told)
    again = "read it again, with another instrument if there is one"
    if told.caught is not None:
        again = "catch again"
    elif observation.choice is not None:
        again = "do it again, or have somebody else do it"
    if told.group is not None and torn(told):
        values = told.group.reading.values
        low, high = (
            value_words(case.job, observation.check.check, one) for one in (min(values), max(values))
        )
        name = f", cylinder {observation.query.cylinder}" if observation.query.cylinder else ""
        read = f"{named(case.job.known.checks[observation.check.check])}{name}, {low} and {high}"
    found = _line(case, one, Worth(0, _bits(stands), 0.0), "")
    return [
        found.model_copy(
            update={
                "cylinder": observation.query.cylinder if told.caught is None else None,
                "why": f"{read}: {again}; correct the entry if it was a slip{_first(case.job, one.before)}",
            }
        )
    ]


def _first(job: Job, before: Sequence[str]) -> str:
    """What is to be done first, to stand behind a check."""
    return f"; first: {', '.join(job.plan.step[name].title for name in before)}" if before else ""


def _is_again(one: Possible, told: Told) -> bool:
    """Whether a possible check is that reading once more."""
    asked = told.observation.query
    if one.check != asked.check or one.in_turn or _blocked(one.stated) != _blocked(asked.stated):
        return False
    if told.caught is not None:
        ways = {"through": told.caught.through, "opening": told.caught.opening}
        return one.stated == ways and not one.swaps and not told.caught.swaps
    words = {name: word for name, word in one.stated.items() if isinstance(word, str) or name in WAYS}
    return one.cylinder == asked.cylinder and all(
        asked.stated.get(name, word) == word for name, word in words.items()
    )


def _bits(p: float) -> float:
    """Information of a question with two answers, the one of them with probability *p*."""
    return entropy(np.array([p, 1.0 - p]))


def _line(case: Case, one: Possible, worth: Worth, difference: str, *, every: bool = False) -> NextCheckLine:
    """One line. ``every``: nothing says at which cylinder to begin, so it is told for all of them."""
    job = case.job
    check = job.known.checks[one.check]
    words = _conditions(case, one)
    settles = (
        "would decide most of what is open" if worth.information > SETTLES else "tells most for its time"
    )
    if difference:
        settles = difference
    first = _first(job, one.before)
    return NextCheckLine(
        what=one.check,
        cylinder=None if every else one.cylinder,
        state=words,
        conditions={name: _word(case, name, value) for name, value in one.stated.items()}
        | ({"in_turn": _in_turn(case, one)} if one.in_turn else {}),
        information=worth.information,
        minutes=one.minutes + (case.job.plan.cylinders - 1) * check.minutes * every,
        why=f"{check_words(case, one, every=every)}: {settles}{first}",
        step=one.step,
        before=list(one.before),
        cautions=list(one.cautions),
        swaps=list(one.swaps),
    )


def check_words(case: Case, one: Possible, *, every: bool = False) -> str:
    """A check by name, with where and how it is read: ``the warm control pressure (heater unplugged)``.

    Args:
        every: Whether it is told for each cylinder.
    """
    words = _conditions(case, one)
    title = named(case.job.known.checks[one.check]) if one.check != "catch" else "a catch"
    where = "" if one.cylinder is None else ", at each cylinder" if every else f", cylinder {one.cylinder}"
    return f"{title}{where}{f' ({words})' if words else ''}"


def _conditions(case: Case, one: Possible) -> str:
    decides = unstated(case.job.sheet, one.check, ())
    words = [
        _word(case, name, value) for name, value in one.stated.items() if value != "none" or name in decides
    ]
    if one.in_turn:
        words.append(_in_turn(case, one))
    if one.swaps:
        words.append(swap_words(one.swaps, by_port=case.kind.design.line_map.crosses))
    return ", ".join(words)


def _in_turn(case: Case, one: Possible) -> str:
    """``feed blocked, then return blocked``."""
    every = [[_word(case, name, word) for name, word in so.items()] for so in one.in_turn]
    return ", then ".join(" and ".join(words) for words in every)


def swap_words(swaps: Sequence[str], *, by_port: bool = False) -> str:
    """``injectors 1 and 2, 3 and 4 exchanged``; *by_port* where a cylinder may have another number."""
    read = [found for found in map(read_swap, swaps) if found is not None]
    kind = f"{read[0][0]}s{' of ports' if by_port else ''}" if read else ""
    return f"{kind} {', '.join(f'{a} and {b}' for _, a, b in read)} exchanged"


def _word(case: Case, name: str, value: float | str) -> str:
    kind = case.job.known.kinds[name]
    if isinstance(value, str):
        if name == "where":
            return place_words(case.job.known, value)
        return value.replace("_", " ") if name in PLAIN else one_stated(name, value)
    return one_stated(name, shown(value, kind.dimension or "count", case.job.system))
