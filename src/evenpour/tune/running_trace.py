r"""What lambda over air flow tells: screw, control pressure and leaks bend it each in its own way.

The plate lifts with the air flow m over the root of control pressure and of the air's density; the plunger
meters in proportion to its lift, plus what plate rest and screw add. So the fuel is A m + B, with A falling
with the root of the control pressure and B from the screw, and air that leaks in past the plate is metered
nowhere:

.. math:: \lambda = \frac{m + m_{leak}}{AFR_{st} (A m + B)}

How much richer than expected it runs is then, to first order, a constant (control pressure, and the density
of the air), less and less with 1/m (screw and plate rest), and leaner with the leak over m; a leak is choked
while the manifold's vacuum is deep and fades with it, which is all that tells it from the screw.

The shapes are handed in, so that a model of the engine can supply its own, and what it expects.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import OutOfRange
from evenpour.physics.orifice import gas_flow
from evenpour.tune.laws import Told
from evenpour.tune.steady import Stretches

Array = NDArray[np.float64]

BEFOREHAND = 0.5  # standard deviation of any effect at the smallest flow: plus or minus 100 % is all there is
ALIKE = 0.95  # correlation, of either sign, at which two effects are not told apart
DRAWS, SEED = 4000, 7
LEAST_WIDE = 0.2  # of the air flows, in their logarithm
CURVE, NEAR = 80, 0.1  # points of the curve; so much apart, in logs of air flow, is near
# Half of a stretch's stray is its own (temperature, load); half wanders, and averages out in a longer one.
WANDERS = 10.0  # s; common practice, no source
SCATTERS = np.linspace(
    2e-4, 0.04, 100
)  # of single stretches about the shapes, share of lambda; any as likely


@dataclass(frozen=True, slots=True)
class Shape:
    """How one cause makes the mixture richer over the stretches: 1 where it acts most. Negative: leaner."""

    name: str
    title: str
    values: Array


@dataclass(frozen=True, slots=True)
class Effect:
    """How much richer a cause makes it where it acts most, as a share; leaner below zero."""

    shape: Shape
    share: Told


@dataclass(frozen=True, slots=True)
class RunningFit:
    """What bends lambda over air flow.

    Attributes:
        effects: Of every shape; where two are not told apart each is wide by itself.
        undivided: Groups of names that this drive cannot tell apart.
        together: Of each such group what all do together at the smallest air flow, as a share richer.
        scatter: How far single stretches lie from the curve, as a share of lambda.
        air_flow, value, u: Of the stretches, by air flow.
        curve_flow, curve, curve_low, curve_high: Lambda of the fit over air flow, with its 95 %; where a
            shape or what is expected hangs on more than that, as it is on average nearby.
    """

    effects: tuple[Effect, ...]
    undivided: tuple[tuple[str, ...], ...]
    together: tuple[Told, ...]
    scatter: Told
    air_flow: Array
    value: Array
    u: Array
    curve_flow: Array
    curve: Array
    curve_low: Array
    curve_high: Array


def plain_shapes(air_flow: Array, vacuum_ratio: Array | None = None) -> tuple[Shape, ...]:
    """The three shapes without a model of the engine.

    Args:
        air_flow: Of the stretches, any unit in proportion to mass, above zero.
        vacuum_ratio: Manifold pressure over air pressure, both absolute; ``None`` where nobody logged it, and
            a leak is taken as choked throughout: then it looks like the screw, the other way round.
    """
    least = float(np.min(air_flow))
    fades = least / air_flow
    choked = np.ones_like(air_flow)
    if vacuum_ratio is not None:
        through = gas_flow(1.0, 1.0, np.minimum(vacuum_ratio, 1.0), 1.0)
        choked = np.asarray(through / gas_flow(1.0, 1.0, 0.0, 1.0), dtype=np.float64)
    return (
        Shape("everywhere", "control pressure and air density", np.ones_like(air_flow)),
        Shape("screw", "mixture screw and plate rest", fades),
        Shape("leak", "air leak past the plate", -fades * choked),
    )


def enough_for_shapes(air_flow: Array, shapes: int = 3) -> bool:
    """Whether stretches at these flows can tell of as many shapes at all."""
    return bool(air_flow.size > shapes and np.ptp(np.log(air_flow)) >= LEAST_WIDE)


def running_fit(
    stretches: Stretches,
    air_flow: Array,
    shapes: Sequence[Shape],
    expected: Array | float = 1.0,
    sensor_u: float = 0.0,
    expected_curve: Array | None = None,
) -> RunningFit:
    """Find how much of each shape is in lambda over the stretches.

    Args:
        air_flow: Of the stretches, in proportion to mass.
        shapes: Of the same stretches.
        expected: Lambda where nothing is off, of each stretch; 1 without a model.
        sensor_u: Standard uncertainty that all readings of lambda share, as a share of it.
        expected_curve: Lambda where nothing is off, at the flows of :func:`curve_flows`; where it is not
            known, as it is on average over the stretches nearby.
    Raises:
        OutOfRange: fewer stretches than shapes, or all at one air flow.
    """
    if not enough_for_shapes(air_flow, len(shapes)):
        raise OutOfRange(
            "steady stretches", stretches.value.size, "are too few, or lie at one air flow",
            allowed=f"more than {len(shapes)}, from idle to a good deal more",
            remedy="Hold idle, a fast idle and some loads for ten seconds each",
        )  # fmt: skip
    foreseen = np.broadcast_to(np.asarray(expected, dtype=np.float64), stretches.value.shape)
    richer = foreseen / stretches.value - 1.0
    columns = np.stack([shape.values for shape in shapes], axis=1)
    wander = np.sqrt(0.5 + 0.5 * np.minimum(1.0, WANDERS / (stretches.end - stretches.start)))
    draws, scatter = _draws(columns, richer, stretches.u / stretches.value, wander, sensor_u)
    names = [shape.name for shape in shapes]
    groups = _alike(np.atleast_2d(np.corrcoef(draws.T)), names)
    least, order = int(np.argmin(air_flow)), np.argsort(air_flow)
    flow, near = _near(air_flow)
    foreseen_here = near @ foreseen if expected_curve is None else expected_curve
    lines = foreseen_here / (1.0 + draws @ (near @ columns).T)
    low, middle, high = np.quantile(lines, [0.025, 0.5, 0.975], axis=0)
    return RunningFit(
        effects=tuple(Effect(shape, _told(draws[:, j])) for j, shape in enumerate(shapes)),
        undivided=groups,
        together=tuple(_told(_sum_of(draws, columns[least], names, group)) for group in groups),
        scatter=_told(scatter),
        air_flow=air_flow[order],
        value=stretches.value[order],
        u=stretches.u[order],
        curve_flow=flow,
        curve=middle,
        curve_low=low,
        curve_high=high,
    )


def curve_flows(air_flow: Array) -> Array:
    """Air flows, evenly in proportion, at which the fit's curve is told."""
    return np.geomspace(np.min(air_flow), np.max(air_flow), CURVE)


def _near(air_flow: Array) -> tuple[Array, Array]:
    """The curve's air flows, and how much each stretch counts at each, (flows, stretches)."""
    flow = curve_flows(air_flow)
    away = np.log(flow)[:, None] - np.log(air_flow)
    apart = np.min(np.abs(away), axis=1, keepdims=True)
    weight = np.exp(-0.5 * (away / (NEAR + apart)) ** 2)
    return flow, weight / np.sum(weight, axis=1, keepdims=True)


def _draws(columns: Array, richer: Array, u: Array, wander: Array, sensor_u: float) -> tuple[Array, Array]:
    """Draws of the effects and of the scatter: exact for each scatter, the scatters weighed by how likely.

    What all readings err by together is one more unknown, the same everywhere.
    """
    k = columns.shape[1]
    wide = np.append(columns, np.ones((columns.shape[0], 1)), axis=1)
    precision = np.append(np.full(k, 1.0 / BEFOREHAND**2), 1.0 / max(sensor_u, 1e-6) ** 2)
    log_weights, middles, roots = [], [], []
    for scatter in SCATTERS:
        variance = u**2 + (scatter * wander) ** 2
        spread = np.linalg.inv((wide / variance[:, None]).T @ wide + np.diag(precision))
        middle = spread @ (wide.T @ (richer / variance))
        rest = richer - wide @ middle
        misfit = np.sum(rest**2 / variance) + np.sum(precision * middle**2)
        log_weights.append(0.5 * (np.linalg.slogdet(spread)[1] - np.sum(np.log(variance)) - misfit))
        middles.append(middle)
        roots.append(np.linalg.cholesky(spread))
    weights = np.exp(np.array(log_weights) - max(log_weights))
    random = np.random.default_rng(SEED)
    chosen = random.choice(SCATTERS.size, size=DRAWS, p=weights / weights.sum())
    normal = random.standard_normal((DRAWS, k + 1))
    draws = np.array(middles)[chosen] + np.einsum("mij,mj->mi", np.array(roots)[chosen], normal)
    return draws[:, :k], SCATTERS[chosen]


def _sum_of(draws: Array, at: Array, names: Sequence[str], group: Sequence[str]) -> Array:
    """What a group of causes does together where each shape is as *at* says."""
    some = [names.index(one) for one in group]
    return np.asarray(draws[:, some] @ at[some])


def _told(values: Array) -> Told:
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975])
    return Told(float(middle), float(low), float(high))


def _alike(correlation: Array, names: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Names that hang together, each with some other of its group."""
    groups: list[set[str]] = []
    for one in range(len(names)):
        for other in range(one):
            if abs(correlation[one, other]) > ALIKE:
                pair = {names[one], names[other]}
                joined = [group for group in groups if group & pair]
                groups = [group for group in groups if not group & pair] + [pair.union(*joined)]
    return tuple(tuple(name for name in names if name in group) for group in groups)
