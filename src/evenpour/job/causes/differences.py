"""What a check would read under the likeliest explanations: why it is worth doing, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.next_test import Candidate
from evenpour.causes.problem import Array
from evenpour.causes.suspects import Suspect
from evenpour.job.causes.case import Case
from evenpour.job.causes.naming import all_shortly, things
from evenpour.job.causes.round_figures import rough_alike
from evenpour.job.causes.words import about, value_words, word_at
from evenpour.job.condition_words import one_stated
from evenpour.job.port_words import caught_words
from evenpour.machine.checks import ChoiceCheck, NumberCheck
from evenpour.measure.units import shown

MOST = 12  # explanations that are set beside each other
FAR = 4.0  # noise widths, beyond which further apart tells no more
LEAST = 1.0  # noise widths, below which nothing is said


@dataclass(frozen=True, slots=True)
class _Told:
    """Explanations, E of them: what is done about each, what it is, and what it would have read."""

    remedy: tuple[str, ...]
    which: tuple[tuple[Suspect, ...], ...]
    weight: Array  # (E,)
    value: Array  # (E, columns)


def differences(case: Case, candidates: Sequence[Candidate]) -> list[str]:
    """Of each candidate what the two explanations that it divides best would have it read.

    ``about 3.6 bar if nothing is wrong, about 2.9 bar if the primary pressure regulator is set too low``;
    empty where all would have it read alike.
    """
    if not candidates:
        return []
    found = _foreseen(case, candidates)
    words, at = [], 0
    for one in candidates:
        words.append(_of_one(case, one, found, range(at, at + len(one.asked))))
        at += len(one.asked)
    return words


def _foreseen(case: Case, candidates: Sequence[Candidate]) -> _Told:
    listed = case.explanation.suspects
    every: list[tuple[float, tuple[int, ...]]] = [(p, (h,)) for h, p in case.probability.items()]
    every += [(p, which) for which, p in case.weighed.joint.items() if not case.weighed.is_idle(which)]
    chosen = sorted(every, key=lambda one: -one[0])[:MOST]
    asked = [one for candidate in candidates for one in candidate.asked]
    places = [case.weighed.place_of(which) for _, which in chosen]
    value = np.empty((len(chosen), len(asked)))
    alike: dict[int, list[int]] = {}
    for number, place in enumerate(places):
        alike.setdefault(id(place.severe), []).append(number)
    for numbers in alike.values():  # one question for all places of one model
        first = places[numbers[0]]
        severe = replace(first.severe, model=first.model.columns_of(asked))
        nodes = np.concatenate([places[number].nodes for number in numbers])
        value[numbers] = severe.predict(nodes, first.modes.z[nodes])
    return _Told(
        tuple(remedy for place in places for remedy in place.remedies),
        tuple(tuple(listed[h] for h in which) for _, which in chosen),
        np.array([p for p, _ in chosen]),
        value,
    )


def _of_one(case: Case, one: Candidate, found: _Told, columns: range) -> str:
    best, which = 0.0, None
    for column, (check, _) in zip(columns, one.asked, strict=True):
        width = 1.0
        value = found.value[:, column]
        if isinstance(check, NumberCheck):
            # as the middle of the values would be read
            middle = float(check.uncompared(np.median(value)))
            u = check.compared_u(middle, one.u * abs(middle) if one.relative else one.u)
            width = float(np.sqrt(u**2 + check.repeats**2 + check.model**2))
        for a in range(len(value)):
            for b in range(a):
                if found.remedy[a] == found.remedy[b]:
                    continue  # what is done is the same
                apart = min(abs(value[a] - value[b]) / width, FAR)
                worth = found.weight[a] * found.weight[b] * apart**2
                if worth > best and apart > LEAST:
                    best, which = worth, (column, b, a)
    if which is None:
        return ""
    column, first, second = which
    check, query = one.asked[column - columns.start]
    said = []
    like = None
    if isinstance(check, NumberCheck):
        like = max(float(check.uncompared(found.value[place, column])) for place in (first, second))
    names = _apart(case, found.which[first], found.which[second])
    for place, name in zip((first, second), names, strict=True):
        reads = float(found.value[place, column])
        if isinstance(check, ChoiceCheck):
            word = word_at(check, reads, query)
        else:
            word = value_words(case.job, check.check, float(check.uncompared(reads)), like)
        said.append((word, name))
    if isinstance(check, NumberCheck):
        figures = rough_alike([word for word, _ in said])
        said = [(about(word), cause) for word, (_, cause) in zip(figures, said, strict=True)]
    if said[0][0] == said[1][0]:
        return ""
    port = ""
    if check.check == "catch" and query.cylinder is not None:
        where = caught_words(case.kind.design.line_map, query.cylinder)
        time = shown(query.number("duration", 0.0), "time", unit="s")
        port = f"in {time} at {where}{', ' if ',' in where else ' '}"
    elif len(one.asked) > 1:
        so = [one_stated(name, word) for name, word in query.stated.items() if isinstance(word, str)]
        port = f"with {' and '.join(so)} "
    return port + ", ".join(f"{word} if {cause}" for word, cause in said)


def _apart(case: Case, one: Sequence[Suspect], other: Sequence[Suspect]) -> tuple[str, str]:
    """Two explanations by what they do not have in common, where each has such."""
    # a thing at other cylinders is another thing
    both = [thing for thing in things(one) if thing in things(other)]
    mine, theirs = (
        [h for thing in things(some) if thing not in both for h in thing] for some in (one, other)
    )
    if not mine or not theirs:
        mine, theirs = list(one), list(other)
    return all_shortly(case, mine), all_shortly(case, theirs)
