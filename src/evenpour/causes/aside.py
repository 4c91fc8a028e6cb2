"""All that may be the matter on one scale: one cause or several, every reading belonging, some set aside, or
one written wrongly.

An explanation counts in that one thing may not belong, but its places are those that all readings pull at.
Where a check does not belong more likely than not, that is no good to tell anything from: an absurd reading
drags every place to where no car is. So the case is parted: in one part the reading is taken to belong, in
the other it is set aside, with the flat density that it then has, and the rest is explained by itself; there
another may not belong in its turn. A slip that may well have been made is a part, too: there the readings
are explained as they were meant. The parts' weights add up, and what is told is told from the part that holds
the weight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.beside_one import on_the_likeliest
from evenpour.causes.beside_several import sets_beside_one
from evenpour.causes.beyond_one import beyond_one
from evenpour.causes.explanation import Explanation, fitted_without, posterior_of, strays, summed_up
from evenpour.causes.normal import log_sum
from evenpour.causes.observed import Seen
from evenpour.causes.parts import ASTRAY, Part, Way, Weighed
from evenpour.causes.problem import Array
from evenpour.causes.ran import Ran, together_as_it_ran
from evenpour.causes.screening import screen
from evenpour.causes.seen import without
from evenpour.causes.several_cylinders import sets_worth
from evenpour.causes.sharpened import changed, changed_by_draws, taken_by_draws
from evenpour.causes.slip_beside_two import exchanged_beside_two
from evenpour.causes.slip_kinds import Slip
from evenpour.causes.slips import Apart, explained_as_meant, likely_slips
from evenpour.causes.together import Jointly, doubted, fitted_together
from evenpour.causes.tried import Tried
from evenpour.causes.two_faults import Beside, pairs_worth
from evenpour.causes.unexplained import by_check, rows_but

LIKELY = 1e-3  # of single causes under which a check does belong, from which they are weighed by draws
MOST = 3  # things set aside one after the other


@dataclass(frozen=True, slots=True)
class Often:
    """How often several causes come at once.

    Attributes:
        pairs: Two of any kind, where something is wrong.
        several: Of a cause of one cylinder, that three cylinders or more have it.
        beside: What may be so beside any other, if there is such.
        ran: States in which the engine ran, whatever is wrong, and what may have changed since.
    """

    pairs: float
    several: float
    beside: Beside | None = None
    ran: tuple[Ran, ...] = ()


def weighed(told: Explanation, often: Often) -> Weighed:
    """Everything on one scale.

    Args:
        told: The explanation of all readings.
        often: How often several causes come at once.
    """
    parts = list(_parted(told, Way(), often))
    parts += _with_a_slip(told, told, (), parts, often)
    parts += _exchanged(told, Weighed(tuple(parts)), often)
    found = Weighed(tuple(parts))
    known = found.parts[found.main].way
    if known.slips and known.aside:  # one slip hides another
        right = explained_as_meant(told, known.slips, np.ones(len(told.seen.columns), dtype=np.bool_))
        parts += _with_a_slip(told, right, known.slips, parts, often)
    return Weighed(tuple(parts))


def _with_a_slip(
    told: Explanation, right: Explanation, known: tuple[Slip, ...], parts: Sequence[Part], often: Often
) -> list[Part]:
    """The readings with one more slip put right, in parts.

    Args:
        told: The explanation of the readings as they are written.
        right: With what is *known* put right.
        parts: All so far.
    """
    apart = [
        Apart(part.told, part.joint, part.way.aside)
        for part in parts
        if part.way.aside and part.way.slips == known
    ]
    level = Weighed(tuple(parts)).log_total - Way(known).level
    found: list[Part] = []
    for one in likely_slips(right, apart, level, known):
        way = Way((*known, one.slip), one.aside)
        read = rows_but(one.aside, len(told.seen.columns))
        found += _parted(explained_as_meant(told, way.slips, read), way, often)
    return found


def _exchanged(told: Explanation, found: Weighed, often: Often) -> list[Part]:
    """Where not all belong as they are written: the readings with two exchanged that two causes explain."""
    way = found.parts[found.main].way
    if not way.aside and not way.slips:
        return []
    slip = exchanged_beside_two(told, often.pairs, often.beside, [one for one, _ in found.slips])
    if slip is None:
        return []
    read = np.ones(len(told.seen.columns), dtype=np.bool_)
    return list(_parted(explained_as_meant(told, (slip,), read), Way((slip,)), often))


def _parted(told: Explanation, way: Way, often: Often) -> Iterator[Part]:
    """The readings in parts.

    Args:
        told: The explanation of those that are not set aside to begin with.
        way: How they are taken to begin with.
    """
    joint = at_once(told, often)
    while len(way.aside) < MOST and len(told.checks):
        is_true = doubted(told, joint)
        astray = by_check(told.doubts, told.checks, is_true)
        if astray.max() <= ASTRAY:
            break
        check = told.checks[int(np.argmax(astray))]
        d = int(np.argmax(np.where([one.check == check for one in told.doubts], is_true, -1.0)))
        belongs = taken_to_belong(told, d), joint.taken_to_belong(d)
        part = _part(*belongs, way, often, likely=is_true[d] < 1.0 - LIKELY)
        yield part
        way = replace(way, aside=(*way.aside, told.doubts[d].among(part.kept)))
        told = set_aside(told, d)
        joint = at_once(told, often)
    yield _part(told, joint, way, often, likely=True)


def taken_to_belong(told: Explanation, d: int) -> Explanation:
    """The same explanation without doubt number *d*."""
    odd = told.odd.copy()
    odd[:, d] = -np.inf
    log = posterior_of(told.fitted.grid, told.fitted.modes.log_evidence + strays(odd))
    return replace(told, odd=odd, log_posterior=log)


def set_aside(told: Explanation, d: int) -> Explanation:
    """The explanation of all but what doubt number *d* is about."""
    gone = told.doubts[d].gone(len(told.seen.columns))
    left = tuple(one for one, out in zip(told.seen.observations, gone, strict=True) if not out)
    rest = Seen(told.seen.asked, told.seen.columns.keep(~gone), left)
    heard = without(told.noise, gone)
    fitted = told.again.get(d) or fitted_without(told.severe, told.noise, told.doubts[d])
    # nodes are moved in place as the rest is explained
    fitted = replace(fitted, modes=fitted.modes.take(np.arange(len(fitted.modes))))
    return summed_up(
        told.suspects, told.hypotheses, told.severe, told.model, rest, told.middle, told.wider, heard, fitted
    )


def _part(told: Explanation, joint: Jointly, way: Way, often: Often, *, likely: bool) -> Part:
    grid = told.fitted.grid
    nodes = grid.log_prior[grid.owner] + grid.log_weight + told.fitted.modes.log_evidence
    whole = float(log_sum(nodes + strays(told.odd)))
    weight = np.array([one.log_weight for one in joint.sets])
    weight = beyond_one(told.log_posterior + whole, grid.log_prior, joint.tried, weight)
    log, poor = told.log_posterior, np.zeros(len(told.log_posterior), dtype=bool)
    if likely:
        change = changed_by_draws(told)
        log, poor = changed(told, change.by), change.poor
        weight += _beside_alike(joint, often.beside, change.by)
        weight += taken_by_draws(told, joint, weight, float(log_sum(log)) + whole)
    return Part(way, told, joint, log + whole + way.level, weight + way.level, poor)


def _beside_alike(joint: Jointly, beside: Beside | None, change: Array) -> Array:
    """What draws change of the log weight of every set: of a cause and what may be so beside any, what they
    change of that cause alone, or a thing done to the car would change how it stands with its rivals.
    """
    found = np.zeros(len(joint.sets))
    for number, one in enumerate(joint.sets):
        others = [h for h in one.which if beside is not None and h != beside.which]
        if len(others) == 1 and len(one.which) == 2:
            found[number] = change[others[0]]
    return found


def at_once(told: Explanation, often: Often) -> Jointly:
    """Two causes, one at several cylinders, and that beside another, on the readings of an explanation."""
    if not len(told.noise.columns):
        return fitted_together(told, [])
    seen, on = screen(told), on_the_likeliest(told)
    pairs, level = pairs_worth(told, seen, on, often.pairs, often.beside)
    sets = sets_worth(told, seen, often.several, level)
    more = sets_beside_one(told, seen, on, often.several, often.pairs, often.beside, sets, level)
    tried: dict[tuple[int, ...], Tried] = {}
    for one in (*pairs, *sets, *more):
        tried.setdefault(one.which, one)
    joint = fitted_together(told, [*tried.values()])
    return together_as_it_ran(told, joint, often.ran)
