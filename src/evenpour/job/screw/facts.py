"""From a job's facts to a screw's ledger: its moves, the onsets found, and what spoilt either."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import cast

from evenpour.job.facts import Facts, ReadingFact
from evenpour.job.wording import when_said
from evenpour.path.state import PathState
from evenpour.tune.screw_ledger import (
    ONSET_INJECTORS,
    ONSET_LINES,
    PLAY,
    Approach,
    Found,
    Ledger,
    Spoiler,
    Turn,
    ledger,
)

SCREW = "mixture_screw"
CLAIMS = ("onset_lines_known", "onset_injectors_known")


def book_of(facts: Facts, part: str) -> Ledger:
    """Every move of one screw as the journal stands, corrections applied; no onsets."""
    return ledger(_turns(facts, part), (), _replaced(facts, part))


def mixture_book(facts: Facts, state: PathState, play: float = PLAY) -> Ledger:
    """The mixture screw's ledger with its onsets.

    Args:
        state: Where the path stands; it knows what was touched of what an onset rests on.
        play: Of the thread, [turn].
    """
    spoilers = [*_replaced(facts, SCREW), *_touched(state)]
    return ledger(_turns(facts, SCREW), _onsets(facts), spoilers, play)


def fitted_at(facts: Facts) -> int:
    """The rank at which the mixture screw that is in now was fitted; -1 for the one that was found."""
    ranks = (one.told.rank for one in facts.touches if one.part == SCREW and one.action == "replaced")
    return max(ranks, default=-1)


def _turns(facts: Facts, part: str) -> Iterator[Turn]:
    for touch in facts.touches:
        if touch.part == part and touch.turns is not None:
            yield Turn(
                rank=touch.told.rank,
                turns=touch.turns,
                typed=touch.typed,
                approach=cast(Approach, touch.approach),
                mark=touch.mark,
                at=touch.told.at,
                who=touch.told.who,
                note=touch.told.note,
                entry=touch.told.entry,
            )


def _onsets(facts: Facts) -> Iterator[Found]:
    """Onsets of the readings, counted from where the screw stood when each was read."""
    for fact in facts.readings:
        if fact.check.id == "onset" and fact.reading.values:
            values = fact.reading.values
            yield Found(
                rank=fact.told.rank,
                name=ONSET_INJECTORS if _through(fact) == "injectors" else ONSET_LINES,
                turns=math.fsum(values) / len(values),
                u=fact.reading.u_b,
                at=fact.told.at,
                entry=fact.told.entry,
            )


def _through(fact: ReadingFact) -> str:
    through = fact.reading.conditions.get("through")
    return (through.choice or "") if through is not None else ""


def _replaced(facts: Facts, part: str) -> Iterator[Spoiler]:
    for touch in facts.touches:
        if touch.part == part and touch.action == "replaced":
            words = f"{part.replace('_', ' ')} replaced, {when_said(touch.told.at)}"
            yield Spoiler(touch.told.rank, words, screw=True)


def _touched(state: PathState) -> Iterator[Spoiler]:
    """What was done to the parts on which the claims about an onset rest."""
    claims = [claim for claim in state.plan.claims if claim.id in CLAIMS]
    names = dict.fromkeys(name for claim in claims for name in claim.rests_on)
    for item in dict.fromkeys(item for name in names for item in state.plan.items(name, None)):
        for touch in state.touched.get(item, ()):
            yield Spoiler(touch.rank, touch.words)
