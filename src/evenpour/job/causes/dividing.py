"""Which check would tell apart what the readings so far cannot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenpour.causes.next_test import Held, held_by, ranked
from evenpour.job.causes.answers import CauseName
from evenpour.job.causes.candidates import Asked, check_words
from evenpour.job.causes.case import Case

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
    return check_words(case, asked[best.candidate].possible)


def _held(case: Case, names: Sequence[CauseName]) -> list[Held]:
    """The places of these causes alone, of all parts."""
    wanted = {(one.cause, one.cylinder) for one in names}
    found = []
    for part in case.weighed.parts:
        which = [h for h, one in enumerate(part.told.suspects) if (one.id, one.cylinder) in wanted]
        held = held_by(part.told, case.weighed.singles(part))
        found.append(held.take(np.flatnonzero(np.isin(held.severe.grid.owner[held.nodes], which))))
    return found
