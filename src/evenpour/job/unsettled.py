"""Claims that were read for and stay undecided: what was read, and what would settle it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenpour.job.judging import Judged
from evenpour.job.pathway import value_words
from evenpour.measure.verdicts import NO_LIMIT
from evenpour.path.plan import ClaimKey, Step
from evenpour.path.staleness import Claims
from evenpour.path.state import PathState
from evenpour.path.words import told_by_cylinder


@dataclass(frozen=True, slots=True)
class Unsettled:
    """A claim for which a step is done, and which its readings, as they stand, leave undecided.

    ``words`` say what was read and what would settle it; ``stage`` is where one can go on without it.
    """

    claim: str
    says: str
    stage: str
    words: str


def unsettled(
    step: Step, state: PathState, claims: Claims, judged: Sequence[Judged]
) -> tuple[Unsettled, ...]:
    """The claims that a step is done for and of which its readings cannot tell, in the step's own order.

    One of which something was touched since is not among them: it is read again for that reason.
    """
    found = []
    for claim in (state.plan.claim[name] for name in step.proves):
        keys = state.plan.keys_of(claim.id)
        groups = [one for key in keys for one in _telling_nothing(key, step, state, claims, judged)]
        if groups:
            found.append(Unsettled(claim.id, claim.says, claim.stage, _words(groups)))
    return tuple(found)


def _telling_nothing(
    key: ClaimKey, step: Step, state: PathState, claims: Claims, judged: Iterable[Judged]
) -> list[Judged]:
    """The step's readings that leave a claim undecided; none where one is outside, or not the newest word."""
    against = {one.entry for one in claims[key].proof if not one.supports}
    if not claims[key].refuted or not against:
        return []
    groups = [one for one in judged if one.stands and one.facts[-1].told.entry in against]
    if any(one.verdict.verdict == "outside" or one.rank < _touched(key, state) for one in groups):
        return []
    return [one for one in groups if one.check.id in step.checks]


def _touched(key: ClaimKey, state: PathState) -> int:
    """When something that the claim rests on was touched last; -1 if never."""
    claim = state.plan.claim[key[0]]
    resting = (item for name in claim.rests_on for item in state.plan.items(name, key[1]))
    ranks = [one.rank for item in resting for one in state.touched.get(item, ())]
    ranks += [one.rank for what in claim.ages_on for one in state.happened.get(what, ())]
    return max(ranks, default=-1)


def _words(groups: Iterable[Judged]) -> str:
    read: dict[str, list[int]] = {}
    settle: dict[str, None] = {}
    for group in groups:
        cylinder = group.reading.cylinder
        words = f"{group.check.named} {value_words(group)}"
        read.setdefault(words, []).extend(() if cylinder is None else (cylinder,))
        settle[settled(group.verdict.settle or "")] = None
    return ". ".join([told_by_cylinder(read), *filter(None, settle)])


def settled(words: str) -> str:
    """What would settle it, as a sentence; where no gauge would, or there is no limit, it says that."""
    for start, told in (("nothing ordinary would: ", "No ordinary gauge"), ("nothing would: ", "No gauge")):
        if words.startswith(start):
            return f"{told} would settle it: {words.removeprefix(start)}"
    if words == NO_LIMIT or words.endswith("would settle it"):
        return f"{words[:1].upper()}{words[1:]}"
    return f"What would settle it: {words}" if words else ""
