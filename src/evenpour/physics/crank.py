"""Crank and distributor: where a piston stands, arcs on a pulley, top dead centre from a stop, and dwell.

Angles are in turns (a quarter turn is 0.25), of the crankshaft unless said otherwise; the distributor turns
half as fast.

Source: slider and crank without offset as in J. B. Heywood, Internal Combustion Engine Fundamentals (1988),
    equations 2.5 and 2.6 rearranged (from memory); the rest is plain geometry. Dwell is that of one set of
    points on a four-stroke engine (common practice).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.physics.within import plain, within

STROKE_HINT = "80 mm is 0.08 m."
ROD_HINT = "A rod is longer than half the stroke."
DEPTH_HINT = "A piston goes no deeper than its stroke."
ARC_HINT = "Is it in millimetres?"
DWELL_HINT = "Is it an angle of the crank? Halve it."


def piston_position(angle: ArrayLike, stroke: ArrayLike, rod: ArrayLike) -> Any:
    r"""How far a piston stands below its top dead centre.

    .. math:: x = 2 r \sin^2\frac{\theta}{2} + \frac{r^2 \sin^2\theta}{L + \sqrt{L^2 - r^2 \sin^2\theta}}

    That is r (1 - cos) + L - sqrt(L² - r² sin²), written without the differences that lose digits near the
    top.

    Args:
        angle: Of the crank after top dead centre, [turn], any number of turns; before it is negative.
        stroke: Twice the crank's radius r, [m].
        rod: Length L of the connecting rod between centres, [m]; more than half the stroke.
    Returns:
        Distance, [m].
    Raises:
        OutOfRange: an argument lies where a crank could not turn.
    Holds for:
        A gudgeon pin without offset, no play, nothing stretched.
    Example:
        >>> round(piston_position(0.25, 0.080, 0.150) * 1e3, 5)
        45.43168
    """
    theta = 2.0 * np.pi * within("angle", angle, -100.0, 100.0, "turn")
    radius, length = _crank(stroke, rod)
    swing = (radius * np.sin(theta)) ** 2
    return plain(2.0 * radius * np.sin(0.5 * theta) ** 2 + swing / (length + np.sqrt(length**2 - swing)))


def angle_at_depth(depth: ArrayLike, stroke: ArrayLike, rod: ArrayLike) -> Any:
    r"""Angle after top dead centre at which the piston stands *depth* below it; the same before it.

    .. math:: \sin^2\frac{\theta}{2} = \frac{x (2 L - x)}{4 r (r + L - x)}

    Args:
        depth: x, [m], 0 to the stroke.
        stroke: Twice the crank's radius r, [m].
        rod: Length L of the connecting rod, [m].
    Returns:
        Angle, [turn], 0 to 0.5.
    Raises:
        OutOfRange: the piston never stands there, or the crank could not turn.
    Example:
        >>> round(angle_at_depth(1e-3, 0.080, 0.150) * 360.0, 3)
        11.413
    """
    radius, length = _crank(stroke, rod)
    below = 2.0 * radius * within("depth over stroke", depth / (2.0 * radius), 0.0, 1.0, "", DEPTH_HINT)
    share = below * (2.0 * length - below) / (4.0 * radius * (radius + length - below))
    return plain(np.arcsin(np.sqrt(np.minimum(share, 1.0))) / np.pi)


def pulley_arc(diameter: ArrayLike, angle: ArrayLike) -> Any:
    """Length along a pulley's rim for an angle of the shaft it sits on.

    Args:
        diameter: Of the rim where the marks are, [m].
        angle: [turn].
    Returns:
        Arc, [m]; its sign is that of *angle*.
    Raises:
        OutOfRange: no diameter of a pulley, or more than a hundred turns.
    Example:
        >>> round(pulley_arc(0.130, 10 / 360) * 1e3, 4)
        11.3446
    """
    turns = within("angle", angle, -100.0, 100.0, "turn")
    return plain(np.pi * _rim(diameter) * turns)


def arc_angle(diameter: ArrayLike, arc: ArrayLike) -> Any:
    """Angle of the shaft for a length along its pulley's rim: :func:`pulley_arc` the other way.

    Args:
        diameter: Of the rim where the marks are, [m].
        arc: [m], at most three times round.
    Returns:
        Angle, [turn]; its sign is that of *arc*.
    Raises:
        OutOfRange: no diameter of a pulley, or an arc of more than three times round.
    Example:
        >>> round(arc_angle(0.130, 0.0113446) * 360.0, 3)
        10.0
    """
    return plain(within("arc in turns", arc / (np.pi * _rim(diameter)), -3.0, 3.0, "turn", ARC_HINT))


def top_dead_centre(before: ArrayLike, after: ArrayLike) -> Any:
    """Top dead centre from the two places at which a piston meets a stop in its bore.

    The stop keeps the crank out of a stretch of its turn, and top dead centre is the middle of that stretch.
    Two stops on one scale are enough, whatever its zero; how deep the stop stands does not matter, which is
    why this is better than looking for the highest place, where a degree moves the piston by 0.01 mm.

    Args:
        before: Reading of the scale, rising with forward rotation, where the forward turn ended, [turn].
        after: Reading of the scale where the backward turn ended, [turn].
    Returns:
        Reading of the scale at top dead centre, [turn], 0 to 1.
    Raises:
        OutOfRange: no reading of a scale, that is not from -1 to 1 turn.
    Example:
        >>> round(top_dead_centre(310 / 360, 46 / 360) * 360.0, 6)
        358.0
    """
    first = within("before", before, -1.0, 1.0, "turn")
    second = within("after", after, -1.0, 1.0, "turn")
    return plain(np.mod(first + 0.5 * np.mod(second - first, 1.0), 1.0))


def dwell_share(angle: ArrayLike, cylinders: ArrayLike) -> Any:
    """Share of the time that the points stay closed, from the dwell angle.

    Args:
        angle: Dwell at the distributor, [turn]; at most 1/cylinders.
        cylinders: Cams on the distributor's shaft, one for each cylinder; 2 to 16.
    Returns:
        Share, [-], 0 to 1.
    Raises:
        OutOfRange: more dwell than there is room between two sparks.
    Example:
        >>> round(dwell_share(38 / 360, 6), 4)
        0.6333
    """
    return plain(within("dwell share", angle * _cams(cylinders), 0.0, 1.0, "", DWELL_HINT))


def dwell_angle(share: ArrayLike, cylinders: ArrayLike) -> Any:
    """Dwell angle at the distributor from the share of the time that the points stay closed.

    Args:
        share: [-], 0 to 1.
        cylinders: Cams on the distributor's shaft; 2 to 16.
    Returns:
        Angle, [turn] of the distributor; of the crank it is twice that.
    Raises:
        OutOfRange: a share below 0 or above 1.
    Example:
        >>> round(dwell_angle(0.6, 6) * 360.0, 6)
        36.0
    """
    return plain(within("share", share, 0.0, 1.0, "", "50 % is 0.5.") / _cams(cylinders))


def firing_interval(cylinders: ArrayLike) -> Any:
    """Angle of the crank between two sparks of a four-stroke engine that fires evenly.

    Args:
        cylinders: 1 to 16.
    Returns:
        Angle, [turn] of the crank; of the distributor it is half that.
    Raises:
        OutOfRange: no number of cylinders.
    Example:
        >>> firing_interval(6) * 360.0
        120.0
    """
    return plain(2.0 / within("cylinders", cylinders, 1.0, 16.0, ""))


def _crank(stroke: ArrayLike, rod: ArrayLike) -> tuple[Any, Any]:
    travel: Any = within("stroke", stroke, 0.01, 0.5, "m", STROKE_HINT)
    return 0.5 * travel, travel * within("rod over stroke", rod / travel, 0.51, 10.0, "", ROD_HINT)


def _rim(diameter: ArrayLike) -> Any:
    return within("diameter", diameter, 0.01, 1.0, "m", "130 mm is 0.13 m.")


def _cams(cylinders: ArrayLike) -> Any:
    return within("cylinders", cylinders, 2.0, 16.0, "")
