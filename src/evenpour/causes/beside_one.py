"""Two causes screened on the car that one of them makes.

Effects add on a car that is nearly sound. One that does not fire burns nothing, whatever leaks; a plunger
that hangs hides the screw. So the likeliest causes are each taken as true, on the car with which they fit
best, and every other is laid on that car with the model itself.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenpour.causes.choice_line import lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.problem import Array, Faults
from evenpour.causes.screening import FAR, WIDER

TAKEN = 4  # causes taken as true, the likeliest


def scores_beside(told: Explanation) -> Iterator[tuple[int, Array]]:
    """Of each of the likeliest causes its hypothesis, and the log density of all readings under every node
    beside it, up to a constant of its own, (N,).
    """
    for node in _likeliest_nodes(told):
        yield int(told.fitted.grid.owner[node]), _scores(told, node)


def _likeliest_nodes(told: Explanation) -> list[int]:
    """The best node of each of the likeliest causes, one cylinder of each."""
    grid, found = told.fitted.grid, dict[str, int]()
    for node in np.argsort(-told.node_weight, kind="stable"):
        suspect = told.suspects[grid.owner[node]]
        if suspect.cause is not None:
            found.setdefault(suspect.id, int(node))
        if len(found) == TAKEN:
            break
    return list(found.values())


def _scores(told: Explanation, node: int) -> Array:
    grid, modes, noise, d = told.fitted.grid, told.fitted.modes, told.noise, told.severe.d
    own = np.array([node])
    one = told.severe.faults(own, modes.z[own])
    others = grid.faults
    which = np.column_stack([np.repeat(one.which, len(grid), axis=0), others.which])
    severity = np.column_stack([np.repeat(one.severity, len(grid), axis=0), others.severity])
    car, slopes = modes.z[node, :d], modes.J[node, :d]
    f = told.severe.model(Faults(which, severity), np.tile(told.severe.spread * car, (len(grid), 1)))
    f = f - car @ slopes  # as of the middle car, the slopes being what they are here
    column, scale = noise.columns.column[noise.number], noise.per_sd[noise.number]
    A = slopes[:, column] * scale
    B = A.T @ A + WIDER * noise.correlation[np.ix_(noise.number, noise.number)]
    misfit = np.clip((noise.columns.y[noise.number] - f[:, column]) * scale, -FAR, FAR)
    white = np.linalg.solve(np.linalg.cholesky(B), misfit.T)
    found = -0.5 * np.sum(white**2, axis=0)
    for row in noise.choice:
        line, at = noise.columns.choices[row], noise.columns.column[row]
        assert line is not None
        open_ = float(np.sum(slopes[:, at] ** 2))
        found += lines_of([line]).log_chosen(f[:, at][:, None], open_)[:, 0]
    return np.asarray(found)
