"""Which check would tell apart what the readings so far cannot."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from evenpour.causes.information import entropy
from evenpour.causes.next_test import Held, held_by, ranked
from evenpour.job.causes.answers import CauseName
from evenpour.job.causes.candidates import Asked, check_words
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import cause_titles

TELLS = 0.25  # bit, from which a check is said to tell them apart; the house's choice
NEARLY = 0.5  # of what the best check tells, from which one that takes less time is named rather


def what_divides(case: Case, asked: Sequence[Asked], names: Sequence[CauseName]) -> str:
    """The check that tells these causes apart best for its time, in words; empty where none does, or where
    what is done about them is the same.

    Args:
        asked: The checks that could be done.
        names: Causes that all readings leave nearly as likely.
    """
    held = [one for one in _held(case, names) if len(one.nodes)]
    if not held or not asked:
        return ""
    order = ranked(held, [one.candidate for one in asked])
    most = max(worth.information for worth in order)
    if most < TELLS:
        return ""
    best = next(worth for worth in order if worth.information >= NEARLY * most)
    words = check_words(case, asked[best.candidate].possible)
    return f"{words}{_as_far_as(case, asked[best.candidate], names)}"


def _as_far_as(case: Case, asked: Asked, names: Sequence[CauseName]) -> str:
    """Which of these causes a check parts from all others, where it does not do so with each: ``, but only
    whether the fuel is stale``; empty where it parts them all.
    """
    causes = list(dict.fromkeys(one.cause for one in names))
    left = set[str]()  # each with another one from which the check does not part it
    for pair in itertools.combinations(causes, 2):
        if not _parts(case, asked, [name for name in names if name.cause in pair]):
            left |= {*pair}
    if not left:
        return ""
    alone = [cause_titles()[one].partition(":")[0] for one in causes if one not in left]
    if alone:
        return f", but only whether {', or '.join(alone)}"
    return ", as far as anything does" if len(causes) == 2 else ", but not each from each other"


def _parts(case: Case, asked: Asked, pair: Sequence[CauseName]) -> bool:
    """Whether a check tells most of what there is to tell of two causes."""
    held = [one for one in _held(case, pair) if len(one.nodes)]
    if not held:
        return True
    chance: dict[str, float] = {}
    for place in held:
        for remedy, weight in zip(place.remedies, place.weight, strict=True):
            chance[remedy] = chance.get(remedy, 0.0) + float(weight)
    doubt = entropy(np.array(list(chance.values())) / sum(chance.values()))
    return ranked(held, [asked.candidate])[0].information >= NEARLY * doubt > 0.0


def _held(case: Case, names: Sequence[CauseName]) -> list[Held]:
    """The places of these causes alone, of all parts."""
    wanted = {(one.cause, one.cylinder) for one in names}
    found = []
    for part in case.weighed.parts:
        which = [h for h, one in enumerate(part.told.suspects) if (one.id, one.cylinder) in wanted]
        held = held_by(part.told, case.weighed.singles(part))
        found.append(held.take(np.flatnonzero(np.isin(held.severe.grid.owner[held.nodes], which))))
    return found
