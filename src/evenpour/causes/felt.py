"""Which of the differences between cars the readings feel, on a healthy car and under each cause.

A healthy car's pump has so much in hand that nobody can tell how fine the feed is, nor at what pressure each
injector opens; starve it, and both decide what is caught. So the numbers that integrate over the car are
those that a healthy car feels and those that any cause lets the readings feel; each cause moves its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.problem import Array, Faults, Flags, alone
from evenpour.causes.suspects import Suspect
from evenpour.machine.checks import NumberCheck

FELT = 0.03  # of a reading's own noise, below which a difference between healthy cars is left out
#: The same under a fault: what is left out there widens a reading by less than a twentieth.
FELT_ILL = 0.3
ILL = (0.45, 0.7, 0.9)  # severities at which a cause is tried: a supply falls short in a third of its range
MILD = (0.1, 0.2, 0.3, 0.4)  # the same where it has long done all it can by then: with an engine that stands


def with_spread(model: CarModel) -> CarModel:
    """The model with every difference between healthy cars that its columns feel."""
    free = model.kind.blueprint.free
    whole = model.varying(free)
    d = len(free)
    found = whole(healthy(2 * d), np.concatenate([np.eye(d), -np.eye(d)]))
    felt = np.abs(found[:d] - found[d:]) / (2.0 * _width(model))
    return model.varying(free[felt.max(axis=1, initial=0.0) > FELT])


def with_ill_spread(model: CarModel) -> tuple[CarModel, Flags]:
    """The model with what its columns feel under any cause too, and which numbers each suspect moves, (H, d).

    Causes are tried on their first cylinder; what one feels, all cylinders of that cause are taken to feel.
    """
    plan = model.kind.blueprint
    sound = np.isin(plan.free, model.free)
    names = [name for name, rows in plan.rows.items() if np.isin(_within(rows), plan.free[~sound]).any()]
    alike = np.array([np.isin(plan.free, _within(plan.rows[name])) for name in names], dtype=bool)
    first = [h for h, one in enumerate(model.suspects) if one.cylinder in (None, 1)]
    # of what every cylinder has, every other one: what all share shows, and what one takes from the others
    own = {int(row): number for rows in plan.rows.values() for number, row in enumerate(_within(rows))}
    every_other = np.array([own[int(row)] % 2 == 0 for row in plan.free])
    shift = np.concatenate([np.zeros((1, len(plan.free))), alike & ~sound & every_other])
    whole, width = model.varying(plan.free), _width(model)
    tried = [(h, at) for h in first for at in _severities(model.suspects[h], ILL)]
    found = _shifted(whole, tried, shift)
    spent = _spent(tried, found[:, 0] / width)
    more = [(h, at) for h in spent for at in _severities(model.suspects[h], MILD)]
    if more:
        tried, found = tried + more, np.concatenate([found, _shifted(whole, more, shift)])
    moved = (np.abs(found[:, 1:] - found[:, :1]) / width).max(axis=2, initial=0.0) > FELT_ILL
    by_cause: dict[str, Flags] = {}
    for (h, _), its in zip(tried, moved, strict=True):
        cause = model.suspects[h].id
        by_cause[cause] = by_cause.get(cause, np.zeros(len(names), dtype=bool)) | its
    felt = np.array([sound | by_cause[one.id] @ alike for one in model.suspects], dtype=bool)
    kept = felt.any(axis=0)
    return model.varying(plan.free[kept]), felt[:, kept]


def _shifted(whole: CarModel, tried: Sequence[tuple[int, float]], shift: Array) -> Array:
    """What cars with these faults read, each with its severity, and every shift of their numbers: (tried,
    shifts, C).
    """
    rows = np.repeat(np.arange(len(tried)), len(shift))
    which, how = (np.array(part) for part in zip(*tried, strict=True))
    found = whole(alone(which[rows], how[rows]), np.tile(shift, (len(tried), 1)))
    return found.reshape(len(tried), len(shift), -1)


def _spent(tried: Sequence[tuple[int, float]], read: Array) -> list[int]:
    """The causes that do something, and no more at the worst severities that were tried than at the least of
    them: (tried, C) is what they read, in widths of the noise.
    """
    at = np.array([h for h, _ in tried])
    found = []
    for h in np.unique(at[1:]):
        its = read[at == h]
        still = np.ptp(its, axis=0) < FELT_ILL
        if np.any(still & (np.abs(its[0] - read[0]) > FELT_ILL)):
            found.append(int(h))
    return found


def unfelt(model: CarModel, spread: float) -> Array:
    """Covariance of the model's columns from what its numbers leave out, on the middle car, (C, C).

    Args:
        model: With columns of its own; its numbers are those that other columns feel.
        spread: Factor on the car's own spread.
    """
    plan = model.kind.blueprint
    others = model.varying(plan.free[~np.isin(plan.free, model.free)])
    d = len(others.free)
    ends = others(healthy(2 * d), spread * np.concatenate([np.eye(d), -np.eye(d)]))
    half = 0.5 * (ends[:d] - ends[d:])
    return np.asarray(half.T @ half)


def healthy(count: int) -> Faults:
    """Nothing wrong with so many cars."""
    return alone(np.zeros(count, dtype=np.int64), np.zeros(count))


def _severities(one: Suspect, sizes: Sequence[float]) -> Iterator[float]:
    if one.cause is None:
        yield 0.0
        return
    yield from sizes
    if len(one.cause.forms) > 1:
        yield from (-at for at in sizes)


def _within(rows: slice) -> Sequence[int]:
    return range(rows.start, rows.stop)


def _width(model: CarModel) -> Array:
    """Noise of each column besides the instrument's, in the space in which it is compared."""
    return np.array(
        [np.hypot(one.repeats, one.model) if isinstance(one, NumberCheck) else 1.0 for one, _ in model.asked]
    )
