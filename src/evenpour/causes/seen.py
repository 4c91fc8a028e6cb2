"""The readings seen from a node's predictions: misfit, likelihood, and scaled slopes.

Numbers are divided by their standard noise. A choice enters by its score and expected information, as a
number that was read with unit noise (Fisher scoring).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenpour.causes.choice_line import Lines, lines_of
from evenpour.causes.normal import LOG_2PI
from evenpour.causes.problem import Array, Columns, Flags, Indices
from evenpour.causes.whitening import Block, blocks_of

#: Below this a choice says nothing of its margin.
NO_INFORMATION = 1e-12
#: In units of the noise for a standard deviation of the car: what is steeper is a jump, and no slope at all.
STEEPEST = 1e4


@dataclass(frozen=True, slots=True)
class Noise:
    """Columns made ready for many evaluations."""

    columns: Columns
    number: Indices  # rows of numbers
    choice: Indices  # rows of choices
    per_sd: Array  # (m,) one over the standard noise, 1 for choices
    correlation: Array  # (m, m) of the noise; choices stand alone
    log_norm: float  # half the log determinant of 2 pi R among numbers
    lines: Lines
    blocks: tuple[Block, ...]  # numbers whose noise is common
    alone: Indices  # rows of numbers whose noise is their own


def noise_of(columns: Columns) -> Noise:
    """Columns made ready."""
    is_choice = columns.is_choice
    number, choice = np.flatnonzero(~is_choice), np.flatnonzero(is_choice)
    per_sd = np.ones(len(columns))
    covariance = columns.covariance[np.ix_(number, number)]
    per_sd[number] = 1.0 / np.sqrt(np.diag(covariance))
    among = covariance * per_sd[number][:, None] * per_sd[number]
    correlation = np.eye(len(columns))
    correlation[np.ix_(number, number)] = among
    log_norm = 0.5 * (np.linalg.slogdet(among)[1] + len(number) * LOG_2PI) - np.log(per_sd[number]).sum()
    blocks, alone = blocks_of(number, columns.column, correlation, per_sd)
    return Noise(
        columns=columns,
        number=number,
        choice=choice,
        per_sd=per_sd,
        correlation=correlation,
        log_norm=float(log_norm),
        lines=lines_of([line for line in columns.choices if line is not None]),
        blocks=blocks,
        alone=alone,
    )


def log_likelihood(noise: Noise, f: Array) -> Array:
    """Log probability of all readings given all columns' predictions, (..., M) to (...)."""
    own = f[..., noise.columns.column]
    r = (noise.columns.y - own) * noise.per_sd
    total = -0.5 * np.sum(r[..., noise.alone] ** 2, axis=-1) - noise.log_norm
    for one in noise.blocks:
        shared = r[..., one.rows]
        total = total - 0.5 * np.sum((shared @ one.inverse) * shared, axis=-1)
    if len(noise.choice):
        total = total + noise.lines.log_chosen(own[..., noise.choice]).sum(axis=-1)
    return np.asarray(total)


def residuals(noise: Noise, f: Array) -> tuple[Array, Array]:
    """Scaled misfit of every row, and the factor that scales its slopes, (n, m) each."""
    own = f[:, noise.columns.column]
    factor = np.broadcast_to(noise.per_sd, own.shape).copy()
    r = np.empty_like(own)
    r[:, noise.number] = (noise.columns.y[noise.number] - own[:, noise.number]) * noise.per_sd[noise.number]
    if len(noise.choice):
        score, information = noise.lines.score_and_information(own[:, noise.choice])
        root = np.sqrt(information + NO_INFORMATION)
        r[:, noise.choice], factor[:, noise.choice] = score / root, root
    return r, factor


def white_numbers(noise: Noise, J: Array) -> Array:
    """Slopes of the numbers among the readings in directions of unit noise that has nothing in common."""
    return gentle(across_numbers(noise, J))


def across_numbers(noise: Noise, J: Array) -> Array:
    """The same however steep, (n, d, p)."""
    parts = [J[:, :, noise.columns.column[noise.alone]] * noise.per_sd[noise.alone]]
    parts += [np.matmul(J[:, :, one.column], one.across) for one in noise.blocks]
    return np.concatenate(parts, axis=2)


def white_slopes(noise: Noise, J: Array, factor: Array) -> Array:
    """Slopes of the readings in directions of unit noise that has nothing in common, (n, d, p)."""
    column = noise.columns.column
    own = np.concatenate([noise.alone, noise.choice])
    parts = [J[:, :, column[own]] * factor[:, None, own]]
    parts += [np.matmul(J[:, :, one.column], one.across) for one in noise.blocks]
    return gentle(np.concatenate(parts, axis=2))


def gentle(A: Array) -> Array:
    """Slopes of readings in units of their noise, none steeper than rounding can bear, in place."""
    return np.clip(A, -STEEPEST, STEEPEST, out=A)


def white_misfit(noise: Noise, r: Array) -> Array:
    """Misfits of the readings in the same directions, from those in units of their noise, (n, p)."""
    own = np.concatenate([noise.alone, noise.choice])
    return np.concatenate([r[:, own], *(r[:, one.rows] @ one.turn for one in noise.blocks)], axis=1)


def over_noise(noise: Noise, values: Array) -> Array:
    """Values of all readings in units of their noise, times the inverse of its correlation, (..., m)."""
    found = values.copy()
    for one in noise.blocks:
        found[..., one.rows] = values[..., one.rows] @ one.inverse
    return found


def without(noise: Noise, rows: Flags) -> Noise:
    """As if these rows had not been read."""
    return noise_of(noise.columns.keep(~rows))
