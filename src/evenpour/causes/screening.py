"""What several causes at once would foresee, as if their effects on the middle car added.

Each node of the single causes is asked once; what two or more of them together would make of the readings is
then a sum, in the space in which readings are compared.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.choice_line import lines_of
from evenpour.causes.explanation import Explanation
from evenpour.causes.problem import Array
from evenpour.causes.seen import Noise

FAR = 1e6  # noise widths, beyond which nothing is told apart
STILL = 1e-9  # of a word's margin, that a cause moves it by
WIDER = 1.5  # on the noise's variance while screening, since effects do not quite add


@dataclass(frozen=True, slots=True)
class Screen:
    """The middle car's misfit, and what every node alone does to it, N of them.

    Attributes:
        f: All columns at every node, (N, C).
        misfit: Of the numbers that were read, in directions of unit noise, (p,).
        effect: Of every node on those, (N, p).
        said: Log probability of every word that was read, (N, w).
        root: Of the covariance by which they were made so, in the noise's own widths, (p, p).
    """

    f: Array
    misfit: Array
    effect: Array
    said: Array
    root: Array

    @property
    def log_scale(self) -> float:
        """What makes a misfit a density: minus the log of the volume of those directions."""
        return -float(np.log(np.diag(self.root)).sum())

    def beside(self, node: int) -> Screen:
        """The same on a car with what that node does, (N, p) misfits; words are left as they are."""
        return replace(self, misfit=self.misfit - self.effect[node])

    def moved(self, by: Array) -> Screen:
        """The same with other numbers read, (p,) *by* so many of the noise's widths."""
        return replace(self, misfit=self.misfit + np.linalg.solve(self.root, by))

    def two_figures(self) -> Array:
        """Log density of all numbers, up to a constant, under every two nodes, (N, N)."""
        size, toward = np.sum(self.effect**2, axis=1), self.effect @ self.misfit
        # |misfit - a - b|^2
        miss = (size - 2.0 * toward)[:, None] + (size - 2.0 * toward) + 2.0 * self.effect @ self.effect.T
        miss += self.misfit @ self.misfit
        return np.asarray(-0.5 * miss)


def screen(told: Explanation) -> Screen:
    """Every node of an explanation on the middle car."""
    nodes = np.arange(len(told.fitted.grid))
    f = told.severe.predict(nodes, np.zeros((len(nodes), told.severe.size)))
    return screen_of(f, told.fitted.modes.J[0], told.noise)


def screen_of(f: Array, slopes: Array, noise: Noise, said: Array | None = None) -> Screen:
    """The same of some readings, with what every node foresees there, (N, M), the first of them nothing.

    Args:
        slopes: Of all columns by the car's numbers, (d, M).
        said: Log probability of their words, (N, w), where it is known.
    """
    column, scale = noise.columns.column[noise.number], noise.per_sd[noise.number]
    effect = np.clip((f[:, column] - f[0, column]) * scale, -FAR, FAR)
    misfit = np.clip((noise.columns.y[noise.number] - f[0, column]) * scale, -FAR, FAR)
    root = _root_of(slopes, noise)
    white = np.linalg.solve(root, np.vstack([misfit, effect]).T).T
    words = _words_of(f, slopes, noise) if said is None else said
    return Screen(f, white[0], white[1:], words, root)


def _root_of(slopes: Array, noise: Noise) -> Array:
    """Of the covariance of the numbers that were read, in the noise's own widths, (p, p)."""
    A = slopes[:, noise.columns.column[noise.number]] * noise.per_sd[noise.number]
    B = A.T @ A + WIDER * noise.correlation[np.ix_(noise.number, noise.number)]
    return np.asarray(np.linalg.cholesky(B))


def _words_of(f: Array, slopes: Array, noise: Noise) -> Array:
    """Log probability of every word that was read where *f* is foreseen, (N, w)."""
    said = np.zeros((len(f), len(noise.choice)))
    for w, row in enumerate(noise.choice):
        line, at = noise.columns.choices[row], noise.columns.column[row]
        assert line is not None
        open_ = float(np.sum(slopes[:, at] ** 2))  # variance of its margin between cars
        said[:, w] = lines_of([line]).log_chosen(f[:, at][:, None], open_)[:, 0]
    return said


def two_words(told: Explanation, seen: Screen, noise: Noise, only: Iterable[int] | None = None) -> Array:
    """Log probability of all words of some readings under every two nodes, (N, N); it is a sum over them.

    Args:
        only: The words that count, by number; all of them if not given.
    """
    found = np.zeros((len(seen.f), len(seen.f)))
    for w in range(len(noise.choice)) if only is None else only:
        row = noise.choice[w]
        line, margin = noise.columns.choices[row], seen.f[:, noise.columns.column[row]]
        assert line is not None
        alone, effect = seen.said[:, w], margin - margin[0]
        found += alone[:, None] + alone - alone[0]  # where one of the two moves it
        both = np.flatnonzero(np.abs(effect) > STILL)
        if len(both):
            together = margin[both][:, None] + effect[both]
            exact = lines_of([line]).log_chosen(together[..., None], _open(told, noise, row))[..., 0]
            found[np.ix_(both, both)] += exact - (alone[both][:, None] + alone[both] - alone[0])
    return found


def _open(told: Explanation, noise: Noise, row: int) -> float:
    """Variance of a word's margin between sound cars."""
    return float(np.sum(told.fitted.modes.J[0][:, noise.columns.column[row]] ** 2))
