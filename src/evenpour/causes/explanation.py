"""All readings explained together: how likely each cause is, and what does not belong.

Two answers stand side by side. *Within* a hypothesis every reading belongs; and one check of them may not, or
one value of a check (a gauge, an engine in another state, a figure misread), which has a small prior of its
own and a flat density over what can be read at all. The second keeps one bad reading from deciding the case,
and its weight is what `unexplained` reports where no plain slip mends it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.car_model import CarModel
from evenpour.causes.felt import with_ill_spread, with_spread
from evenpour.causes.fitting import Fitted, fit, summed
from evenpour.causes.laplace import Modes, local, settle
from evenpour.causes.middle_car import Middle
from evenpour.causes.normal import log_sum, log_sum_by
from evenpour.causes.observed import Observation, Seen, seen
from evenpour.causes.predictive import LeftOut, left_out
from evenpour.causes.problem import Array, Columns, Grid, Hypothesis, Indices, grid_of
from evenpour.causes.seen import Noise, noise_of, without
from evenpour.causes.severe import Severe
from evenpour.causes.suspects import Suspect
from evenpour.causes.unexplained import Doubt, by_check, checks_of, doubts_of
from evenpour.machine.checks import NumberCheck
from evenpour.machine.kind import Kind
from evenpour.machine.situation import Situation

# Real cars are odder than the data says. From a method measured elsewhere; benchmarks/causes.py tries both.
WIDER_SPREAD = 1.4
WIDER_NOISE = 1.3
SUSPECTED, MOST_AGAIN = 0.2, 4  # that something does not belong, from which it is fitted anew; at most
BELIEVED = 8.0  # nat that something is taken not to belong by what is foreseen alone
HELD_BACK = 6.0  # nat behind the best, where a node stays that was not brought to its mode
LOST = 20.0  # nat behind, beyond which such a node falls no farther back than it was
PLAIN = 3.0  # noise widths below a sound car, from which a cause brings a check down
NOTHING = 2.0  # standard uncertainties, up to which a reading shows nothing
FOLLOWED, STILL_FELT = 2, 9.0  # rounds, and nat behind the best, in which a node is brought to its mode


@dataclass(frozen=True, slots=True)
class Explanation:
    """What the readings say. Arrays over the hypotheses, H, in the order of the suspects.

    Attributes:
        wider: Factor on the noise of the readings as they are seen.
        doubts: What may not belong.
        odd: Log odds that one of them does not, at each node and doubt: (N, D).
        foreseen: What each is about, as all else foresees it.
        again: Every node without what one doubt is about, by its number, where that was fitted anew.
        log_posterior: Of every hypothesis, one doubt that is true counted in, (H,).
    """

    kind: Kind
    home: Situation
    suspects: tuple[Suspect, ...]
    hypotheses: tuple[Hypothesis, ...]
    severe: Severe
    model: CarModel
    seen: Seen
    middle: Middle
    wider: float
    noise: Noise
    fitted: Fitted
    doubts: tuple[Doubt, ...]
    foreseen: LeftOut
    odd: Array
    again: Mapping[int, Fitted]
    log_posterior: Array

    @property
    def checks(self) -> Indices:
        """The checks that were read, each with its state, (G,)."""
        return checks_of(self.seen.columns)

    @property
    def whole(self) -> Indices:
        """Of each check, the number of the doubt about all of it, (G,)."""
        return np.flatnonzero([one.whole for one in self.doubts])

    @property
    def probability(self) -> Array:
        """Of every hypothesis, (H,); they sum to 1."""
        return np.asarray(np.exp(self.log_posterior))

    @property
    def node_weight(self) -> Array:
        """Posterior weight of every node, (N,); they sum to 1."""
        grid = self.fitted.grid
        log = grid.log_prior[grid.owner] + grid.log_weight + self.fitted.modes.log_evidence
        log = log + strays(self.odd)
        weight = np.exp(log - log.max())
        return np.asarray(weight / weight.sum())

    @property
    def is_true(self) -> Array:
        """Probability of each doubt, (D,)."""
        return np.asarray(self.node_weight @ true_at(self.odd))

    @property
    def does_not_belong(self) -> Array:
        """Probability that a check, or a value of it, does not belong with the others, (G,)."""
        return by_check(self.doubts, self.checks, self.is_true)

    def severity(self, owner: int) -> tuple[float, float]:
        """Mean and standard deviation of a hypothesis's severity, 0 to 1."""
        rows = np.flatnonzero(self.fitted.grid.owner == owner)
        weight = self.node_weight[rows]
        weight = weight / max(weight.sum(), 1e-300)
        grid = self.fitted.grid
        at = self.severe.faults(rows, self.fitted.modes.z[rows]).severity[:, 0]
        width = (grid.high[rows, 0] - grid.low[rows, 0]) / np.sqrt(12.0) * self._loose(rows)
        size = np.abs(at)
        mean = float(weight @ size)
        return mean, float(np.sqrt(max(weight @ ((size - mean) ** 2 + width**2), 0.0)))

    def second_form(self, owner: int) -> float:
        """Of a hypothesis's probability, the share of its second form."""
        rows = np.flatnonzero(self.fitted.grid.owner == owner)
        weight = self.node_weight[rows]
        return float(weight[self.fitted.grid.high[rows, 0] <= 0.0].sum() / max(weight.sum(), 1e-300))

    def _loose(self, rows: Indices) -> Array:
        """How much of a cell's width the readings leave a severity, (n,) from 0 to 1."""
        at = local(self.noise, self.fitted.modes.take(rows))
        left = np.linalg.inv(at.H)[:, self.severe.d, self.severe.d]
        return np.asarray(np.sqrt(np.clip(left, 0.0, 1.0)))


def explain(
    kind: Kind,
    suspects: Sequence[Suspect],
    hypotheses: Sequence[Hypothesis],
    observations: Sequence[Observation],
    home: Situation,
    *,
    spread: float = WIDER_SPREAD,
    noise: float = WIDER_NOISE,
) -> Explanation:
    """Explain *observations* by every hypothesis.

    Args:
        spread, noise: Factors on the car's own spread and on the readings' noise.
    """
    middle = Middle(kind, home)
    columns = seen(observations, middle)
    bare = CarModel(kind, tuple(suspects), home, columns.asked, np.zeros(0, dtype=np.intp), np.zeros(0))
    model, felt = with_ill_spread(with_spread(bare))
    severe = Severe(model, grid_of(hypotheses), len(model.free), spread, felt)
    columns = replace(columns, columns=_nothing_is_least(columns, severe))
    heard = noise_of(columns.columns.noisier(noise))
    fitted = fit(severe, heard)
    return summed_up(suspects, hypotheses, severe, model, columns, middle, noise, heard, fitted)


def _nothing_is_least(columns: Seen, severe: Severe) -> Columns:
    """The columns with what reads nothing as low as any cause brings it: a cause may be worse than its data
    says, and nothing at all is no other finding than next to nothing.
    """
    numbers = np.flatnonzero(~columns.columns.is_choice)
    nothing = [row for row in numbers if _reads_nothing(columns.observations[row])]
    if not nothing:
        return columns.columns
    nodes = np.arange(len(severe.grid))
    f = severe.predict(nodes, np.zeros((len(nodes), severe.size)))[:, columns.columns.column[nothing]]
    noise = np.sqrt(np.diag(columns.columns.covariance)[nothing])
    lacks = f.min(axis=0) < f[0] - PLAIN * noise
    y = columns.columns.y.copy()
    y[nothing] = np.where(lacks, np.maximum(y[nothing], f.min(axis=0)), y[nothing])
    return replace(columns.columns, y=y)


def _reads_nothing(one: Observation) -> bool:
    """Of ohms nothing is no lack, but a short: where turns are shorted, some are left."""
    assert one.value is not None
    in_ohms = isinstance(one.check, NumberCheck) and one.check.misread > 0.0
    return not in_ohms and 0.0 <= one.value <= NOTHING * one.u


def asked_model(
    kind: Kind, suspects: Sequence[Suspect], observations: Sequence[Observation], home: Situation
) -> tuple[CarModel, Seen]:
    """The model for these observations, with every difference between healthy cars that they feel."""
    columns = seen(observations, Middle(kind, home))
    bare = CarModel(kind, tuple(suspects), home, columns.asked, np.zeros(0, dtype=np.intp), np.zeros(0))
    return with_spread(bare), columns


def summed_up(
    suspects: Sequence[Suspect],
    hypotheses: Sequence[Hypothesis],
    severe: Severe,
    model: CarModel,
    columns: Seen,
    middle: Middle,
    wider: float,
    heard: Noise,
    fitted: Fitted,
) -> Explanation:
    """An explanation from fitted nodes."""
    doubts = doubts_of(columns.columns)
    fitted, foreseen = _followed(severe, heard, fitted, doubts)
    odd, again = _fitted_without(severe, heard, fitted, doubts, odds_of(doubts, foreseen))
    log = posterior_of(fitted.grid, fitted.modes.log_evidence + strays(odd))
    return Explanation(
        model.kind, model.home, tuple(suspects), tuple(hypotheses), severe, model, columns, middle, wider,
        heard, fitted, doubts, foreseen, odd, again, log,
    )  # fmt: skip


def _followed(
    severe: Severe, heard: Noise, fitted: Fitted, doubts: Sequence[Doubt]
) -> tuple[Fitted, LeftOut]:
    """The same with every node at its mode that has weight once something need not belong, and what each
    doubt is about as all else foresees it there.
    """
    foreseen = foreseen_at(heard, fitted.modes, doubts)
    for _ in range(FOLLOWED):
        grid = fitted.grid
        log = grid.log_prior[grid.owner] + grid.log_weight + fitted.modes.log_evidence
        log = log + strays(odds_of(doubts, foreseen))
        waiting = np.flatnonzero((log > log.max() - STILL_FELT) & ~fitted.modes.arrived)
        if not len(waiting):
            break
        modes = fitted.modes
        its = settle(heard, severe.predict, waiting, modes.take(waiting), most=5, moving=severe.moving)
        modes.put(waiting, its)
        fitted = summed(grid, modes)
        foreseen.put(waiting, foreseen_at(heard, its, doubts))
    return fitted, foreseen


def foreseen_at(heard: Noise, modes: Modes, doubts: Sequence[Doubt]) -> LeftOut:
    """What each doubt is about as all else foresees it at these modes."""
    return left_out(heard, local(heard, modes), modes.f, [one.rows for one in doubts])


def _fitted_without(
    severe: Severe, heard: Noise, fitted: Fitted, doubts: Sequence[Doubt], foreseen: Array
) -> tuple[Array, dict[int, Fitted]]:
    """The log odds put right by fitting anew without what seems not to belong, and those fits.

    A reading that is far off pulls every node far, and what they would be without it cannot be foreseen from
    there. What is foreseen too well comes to the top, is fitted, and sinks. At most so many are fitted; what
    is foreseen of the others counts no more than it can be believed.
    """
    grid, evidence = fitted.grid, fitted.modes.log_evidence
    prior = grid.log_prior[grid.owner] + grid.log_weight
    odd, again = foreseen.copy(), dict[int, Fitted]()
    while len(again) < min(MOST_AGAIN, odd.shape[1]):
        # first what most nodes say does not belong, then what decides the case as it now stands
        believed = np.exp(prior) @ np.clip(odd, -BELIEVED, BELIEVED)
        stray = strays(odd)
        log = prior + evidence + stray
        share = np.exp(log - log_sum(log)) @ np.exp(odd - stray[:, None])
        share[list(again)], believed[list(again)] = 0.0, 0.0
        d = int(np.argmax(believed)) if not again and believed.max() > 0.0 else int(np.argmax(share))
        if share[d] < SUSPECTED and believed[d] <= 0.0:
            break
        again[d] = fitted_without(severe, heard, doubts[d])
        odd[:, d] = doubts[d].log_flat + again[d].modes.log_evidence - evidence
    for d in set(range(odd.shape[1])) - set(again):
        odd[:, d] = np.minimum(odd[:, d], BELIEVED)
    return odd, again


def fitted_without(severe: Severe, heard: Noise, doubt: Doubt) -> Fitted:
    """All nodes fitted without what may not belong, what did not arrive held well behind what did."""
    rest = without(heard, doubt.gone(len(heard.columns)))
    modes = _followed(severe, rest, fit(severe, rest), doubts_of(rest.columns))[0].modes
    best = modes.log_evidence[modes.arrived].max() if modes.arrived.any() else np.inf
    modes.log_evidence = np.where(
        modes.arrived, modes.log_evidence, np.minimum(modes.log_evidence, best - HELD_BACK)
    )
    return summed(severe.grid, modes)


def not_fitted(log: Array, best: float, behind: Array) -> Array:
    """Log weight of what was not brought to its mode without a check: no nearer to the best than six nat, or
    than it was with the check, and not lost behind it.

    Args:
        log: As foreseen, (...).
        best: Of what was brought to its mode.
        behind: How far each was behind with the check, not below 0, (...).
    """
    return np.asarray(np.clip(log, best - np.maximum(behind, LOST), best - np.minimum(behind, HELD_BACK)))


def posterior_of(grid: Grid, nodes: Array) -> Array:
    """Log posterior of every hypothesis from its nodes' log evidence, (H,)."""
    log = grid.log_prior + log_sum_by(grid.log_weight + nodes, grid.owner, len(grid.log_prior))
    log = log - log.max()
    return np.asarray(log - np.log(np.exp(log).sum()))


def odds_of(doubts: Sequence[Doubt], foreseen: LeftOut) -> Array:
    """Log odds of each doubt at each node, (N, D): flat over what can be read, against what all else
    foresees.
    """
    return np.asarray(np.array([one.log_flat for one in doubts]) - foreseen.log_density)


def true_at(odd: Array) -> Array:
    """Probability of each doubt at each node, from its log odds, (N, D)."""
    return np.asarray(np.exp(odd - strays(odd)[:, None]))


def strays(odd: Array) -> Array:
    """Log of one and the odds, all together, that one thing does not belong, (N,)."""
    return np.asarray(np.logaddexp(0.0, log_sum(odd, axis=1)))
