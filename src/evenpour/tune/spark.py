"""Spark: top dead centre from a piston stop, what lies where on cap and pulley, dwell, and what a turn does.

Angles are in turns, of the crankshaft unless said otherwise, and later is positive where a mark is late.

Source: geometry, with evenly spaced sparks; what is common practice says so beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenpour.errors import FieldProblem
from evenpour.measure.verdicts import p_conform
from evenpour.physics.crank import firing_interval, piston_position, top_dead_centre

ROOT_3 = 3.0**0.5
MARK_ERROR = 0.5e-3  # m, half-width of a mark painted or read on a rim; common practice, no source
WHEEL_ERROR = 0.5 / 360.0  # turn, half-width of a reading on a degree wheel; common practice, no source
MARK_TRUE = 1.0 / 360.0  # turn; a mark that is off by no more will do for setting; common practice, no source
FLATTEST_STOP = 10.0 / 360.0  # turn; nearer to the top the stop hardly says where it was met
DEEPEST_STOP = 0.25  # turn; further down the middle is still right, but the stop stands below half stroke


@dataclass(frozen=True, slots=True)
class Centre:
    """Top dead centre found with a piston stop.

    Attributes:
        half: From either mark of the stop to top dead centre, [turn] or [m] along the rim, as measured.
        late: By how much the maker's mark comes to the pointer after the true top dead centre, same unit;
            below zero it comes before.
        u: Standard uncertainty of *late* and of top dead centre itself.
    """

    half: float
    late: float
    u: float


@dataclass(frozen=True, slots=True)
class Post:
    """One post of the distributor's cap, and what belongs to its cylinder.

    Attributes:
        cylinder: Whose lead sits on it.
        clockwise: The cylinder of the next post clockwise, seen from above the cap.
        anticlockwise: The one of the next post the other way.
        rotor: From cylinder 1's post in the way the rotor turns, [turn] of the distributor.
        crank: After cylinder 1 fired, [turn] of the crank.
        mark: Where its top dead centre lies after cylinder 1's mark, [turn] of the crank, 0 to below 1.
        shares: The cylinder that stands at its top at the same mark, half a cycle away; or ``None``.
    """

    cylinder: int
    clockwise: int
    anticlockwise: int
    rotor: float
    crank: float
    mark: float
    shares: int | None


def centre_between(ahead: float, behind: float, half_width: float) -> Centre:
    """Top dead centre from the ways along the rim (or angles) from the maker's mark to the stop's two marks.

    Args:
        ahead: From the maker's mark to the one made turning forward; it lies ahead of it the way the pulley
            turns. Below zero if it lies on the other side.
        behind: From the maker's mark to the one made turning backward, which lies behind it.
        half_width: Of the error of each of the two, same unit.
    Raises:
        FieldProblem: the two do not part.
    """
    if ahead + behind <= 0.0:
        raise FieldProblem(
            "forward", None, "and backward leave no room between the stop's two marks",
            remedy="The mark made turning forward lies ahead of the maker's, the other one behind it.",
        )  # fmt: skip
    # Half the sum and half the difference of two that err alike and apart.
    u = half_width / ROOT_3 / 2.0**0.5
    return Centre(half=0.5 * (ahead + behind), late=0.5 * (ahead - behind), u=u)


def centre_on_wheel(forward: float, backward: float, half_width: float = WHEEL_ERROR) -> tuple[float, Centre]:
    """Top dead centre on a degree wheel whose figures rise as the engine turns forward.

    Args:
        forward: Reading where the forward turn met the stop, [turn].
        backward: Reading where the backward turn met it, [turn].
        half_width: Of the error of each, [turn].
    Returns:
        The wheel's reading at top dead centre, [turn], and how far its zero is late.
    """
    centre = top_dead_centre(forward, backward)
    late = centre - 1.0 if centre > 0.5 else centre
    half = 0.5 * ((backward - forward) % 1.0)
    # The wheel's nought passes the pointer at reading 0; top dead centre comes at `late`, so nought is early.
    return centre, Centre(half=half, late=-late, u=half_width / ROOT_3 / 2.0**0.5)


def p_mark_true(centre: Centre) -> float:
    """Probability that a mark, in turns, is off by no more than :data:`MARK_TRUE`."""
    return p_conform(centre.late, centre.u, -MARK_TRUE, MARK_TRUE)


def stop_depth(half: float, stroke: float, rod: float) -> float:
    """How far below its top the stop held the piston, [m], from the half angle between its marks, [turn]."""
    return float(piston_position(half, stroke, rod))


def posts(order: Sequence[int], clockwise: bool) -> tuple[Post, ...]:
    """The posts of the cap, clockwise from cylinder 1's.

    Args:
        order: The firing order; every cylinder once.
        clockwise: Whether the rotor turns clockwise, seen from above its cap.
    Holds for:
        Sparks evenly spaced, as on nearly every engine of these sheets; a few engines with offset crankpins
        or a narrow vee are not.
    """
    start = list(order).index(1)
    firing = [*order[start:], *order[:start]]
    count = len(firing)
    around = firing if clockwise else [firing[0], *firing[:0:-1]]
    interval = float(firing_interval(count))
    found = []
    for place, cylinder in enumerate(around):
        fires = firing.index(cylinder)
        half_cycle = fires + count // 2
        found.append(
            Post(
                cylinder=cylinder,
                clockwise=around[(place + 1) % count],
                anticlockwise=around[place - 1],
                rotor=fires / count,
                crank=fires * interval,
                mark=(2 * fires % count) / count,
                shares=firing[half_cycle % count] if count % 2 == 0 else None,
            )
        )
    return tuple(found)


def gap_words(angle: float, low: float | None, high: float | None) -> str:
    """Which way the gap must go for a dwell angle to come inside its limits; "" inside them."""
    if high is not None and angle > high:
        return "widen the gap"
    if low is not None and angle < low:
        return "close the gap a little"
    return ""


def timing_shift(dwell_change: float) -> float:
    """By how much a change of dwell makes the spark later, [turn] of the crank.

    The cam is alike on both flanks: half of the change, at the distributor, lies where the points open, and
    the crank turns twice as fast. So a degree of dwell is a degree of crank, as common practice has it.
    """
    return dwell_change


def distributor_turn(crank: float) -> float:
    """How far the distributor's body is turned for a change of timing, [turn]: it turns half as fast."""
    return 0.5 * crank
