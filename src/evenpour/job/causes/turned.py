"""What turning the mixture screw does to what is believed of it: it mends nothing else, and tells nothing.

The causes are asked for the car as it stands now. A screw that stood right when the engine first ran, and
was turned since, stands wrong now; that it stands right now takes a screw that was wrong by just that much.
Without this an air leak would vanish with a turn of the screw, which can hide one at idle and nowhere else.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.problem import Hypothesis
from evenpour.causes.suspects import Suspect
from evenpour.causes.two_faults import Beside
from evenpour.job.causes.facts import Told, moves
from evenpour.job.causes.ran_since import shows_it_ran
from evenpour.job.job import Job
from evenpour.machine.asking import RUNNING

RICH, LEAN = "mixture_screw_rich", "mixture_screw_lean"
#: What is read otherwise with the mixture screw elsewhere.
FOLLOW_THE_SCREW = RUNNING | {"catch", "onset", "start_outcome"}
# Common practice, no source.
FOUND, SET = 1.2, 0.3  # turns, as far as one stands off that was left alone, and one set with the engine off
NEAR_BY = 0.95  # of screws that were set with the engine off and are not right, those within that
TURNED_TO = (
    0.6  # the same of those that stand wrong to the side they were turned to, by more than that in all
)
NARROW = 0.01  # of the severities, the least that is told apart
SET_RIGHT = 0.5  # of what may be called wrong, about which a screw that was set right stands beside the place
OFF = 1.0  # times as likely as right, that one set with the engine off is too lean yet, and as much, too rich


@dataclass(frozen=True, slots=True)
class Turned:
    """How the screw was turned.

    Attributes:
        before: Turns in all before the first reading of the running engine, whichever way.
        net: What they come to, clockwise positive.
        since: Turns since the first reading of the running engine, clockwise positive.
    """

    before: float
    net: float
    since: float


def read_far_off(one: Told) -> bool:
    """Whether something was read with the screw farther from where it stands now than screws are known to be
    off, and by it: that tells of no cause any more.
    """
    observation = one.observation
    return observation.check.check in FOLLOW_THE_SCREW and abs(observation.query.situation.screw) > FOUND


def turned(job: Job, told: Sequence[Told]) -> Turned:
    """How the mixture screw was turned in a job."""
    ran = [one.rank for one in told if one.group is not None and shows_it_ran(one.group)]
    first = min(ran, default=math.inf)
    before = [turns for rank, turns in moves(job) if rank < first]
    since = [turns for rank, turns in moves(job) if rank > first]
    return Turned(math.fsum(map(abs, before)), math.fsum(before), math.fsum(since))


def believed(
    how: Turned, listed: Sequence[Suspect], guesses: Sequence[Hypothesis]
) -> tuple[tuple[Hypothesis, ...], Beside | None]:
    """The causes with what a turn makes of the screw's own, and that it may stand wrong now beside any other.

    Args:
        listed: The suspects, nothing wrong first.
        guesses: Their hypotheses as they are believed when the engine first runs.
    """
    at = {one.id: number for number, one in enumerate(listed)}
    changed = list(guesses)
    if RICH not in at or LEAN not in at:
        return tuple(changed), None
    nothing = guesses[0].log_prior
    set_here = how.before >= _ends(listed[at[RICH]])[0]  # a hair's turn sets nothing
    if set_here:
        for number, net in ((at[RICH], how.net), (at[LEAN], -how.net)):
            near_by = TURNED_TO if net > SET else NEAR_BY
            changed[number] = _near(changed[number], listed[number], nothing + math.log(OFF), near_by)
    now, was = (RICH, LEAN) if how.since > 0.0 else (LEAN, RICH)
    right, most = _ends(listed[at[now]])
    turns, beside = abs(how.since), SET_RIGHT * right
    if not right - beside < turns <= most:  # it still is right, or farther than screws are known to be off
        return tuple(changed), None
    # against one that was right: that it was wrong that way, by just that much, and that it still is right
    off = math.exp(changed[at[was]].log_prior - nothing)
    share = 2.0 * right * (NEAR_BY / SET if set_here else 1.0 / FOUND)
    still = max(0.5 * (right - turns + beside) / beside, 0.0)
    right_now, wrong_now = off * share + still, 1.0 - still
    cell = _cell(listed[at[now]], turns)
    edges = np.unique([0.0, *cell, 1.0])
    before = math.exp(changed[at[now]].log_prior - nothing)
    weights = np.where(edges[:-1] == cell[0], wrong_now, before * np.diff(edges))
    changed[at[was]] = replace(
        changed[at[was]], log_prior=nothing + math.log(off * (1.0 - share) / right_now)
    )
    changed[at[now]] = replace(
        changed[at[now]],
        log_prior=nothing + math.log(float(weights.sum()) / right_now),
        severities=0.5 * (edges[1:] + edges[:-1]),
        edges=edges,
        weights=weights / weights.sum(),
    )
    return tuple(changed), Beside(at[now], math.log(wrong_now / right_now), cell)


def _near(guess: Hypothesis, screw: Suspect, log_prior: float, near_by: float) -> Hypothesis:
    """A screw that stands wrong, such a share by no more than one that was set with the engine off does."""
    least, gross = _ends(screw)
    edges = np.array([0.0, 0.5, 1.0, (gross - least) / (SET - least)]) * (SET - least) / (gross - least)
    weights = np.array([0.5 * near_by, 0.5 * near_by, 1.0 - near_by])
    return replace(
        guess, log_prior=log_prior, severities=0.5 * (edges[1:] + edges[:-1]), edges=edges, weights=weights
    )


def _ends(screw: Suspect) -> tuple[float, float]:
    """Turns about which a screw may stand beside the right place without being called wrong, and at most."""
    assert screw.cause is not None
    ((act,),) = screw.cause.forms
    return abs(act.least), abs(act.gross)


def _cell(screw: Suspect, turns: float) -> tuple[float, float]:
    """The severities of a screw that stood right and was turned so far."""
    least, gross = _ends(screw)
    low, high = (
        (at - least) / (gross - least) for at in (turns - SET_RIGHT * least, turns + SET_RIGHT * least)
    )
    low = min(max(low, 0.0), 1.0 - NARROW)
    return low, min(max(high, low + NARROW), 1.0)
