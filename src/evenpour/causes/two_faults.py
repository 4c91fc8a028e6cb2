"""Two causes at once: which pairs are worth the work.

There are tens of thousands; nearly all can be seen to be hopeless from what each of the two does alone. All
are screened at all severities, in the space of what is compared, as if their effects on the middle car added;
the best are then fitted with the model itself, each on a small grid of both severities.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from evenpour.causes.beside_one import Laid
from evenpour.causes.explanation import Explanation
from evenpour.causes.normal import log_sum
from evenpour.causes.problem import Array
from evenpour.causes.screening import Screen, screen_of, two_words
from evenpour.causes.seen import Noise, without
from evenpour.causes.tried import Tried
from evenpour.machine.set_up import SINCE

#: How much oftener the same cause is at another cylinder too than by chance: dirt and wear do not choose one.
#: Common practice, no source.
AGAIN = 10.0
TRIED = 24  # pairs fitted with the model
ON_ONE, BEHIND = 4, 8.0  # pairs of a likely cause, and nat behind the best of its, as screened on its car
HIDDEN, NEAR = 12, 4.0  # pairs that a check hides, and nat behind the best within which one comes without it
HIDES = 1.0  # nat by which a check speaks against a pair more than against the likeliest without it, at least
BESIDE = 8  # pairs with what may be so beside any, fitted with the model
HALVES = 2  # cells of each severity


@dataclass(frozen=True, slots=True)
class Beside:
    """Something that may be so beside any hypothesis, or alone: whoever did it knew of none of them.

    Attributes:
        which: Its own hypothesis, by number.
        log_odds: Log odds that it is so.
        cell: Between which severities it then is.
    """

    which: int
    log_odds: float
    cell: tuple[float, float]


def pairs_worth(
    told: Explanation, seen: Screen, on: Mapping[int, Laid], prior: float, beside: Beside | None = None
) -> tuple[list[Tried], float]:
    """The pairs worth a fit, and the score of the best as screened, no pair's being a single cause's.

    Args:
        on: The cars of the likeliest causes, each by its node.
        prior: Where something is wrong, how likely it is two causes at once, all together.
        beside: What may be so beside any other.
    """
    words = two_words(told, seen, told.noise)
    best, alone = _scores(told, seen, words, prior, beside)
    chosen = list(itertools.islice(_likeliest(told, best), TRIED))
    top = max([float(best[pair]) for pair in chosen[:1]] + [alone])
    priors = log_priors(told, prior, beside)
    near = _beside_one(told, on, told.noise, priors)
    chosen += [pair for behind, pair in sorted(near) if behind < BEHIND and pair not in chosen]
    hidden = _hidden(told, seen, on, near, words, best, priors, prior, beside)
    chosen += [pair for pair in hidden if pair not in chosen]
    tried = [
        Tried(
            pair,
            float(priors[pair]),
            _cells(told, pair, beside),
            hidden_by=hidden.get(pair, frozenset()),
            fewer=() if beside is not None and beside.which in pair else tuple((h,) for h in pair),
        )
        for pair in chosen
    ]
    return [*tried, *_beside_two(told, seen, words, prior, beside)], top


def _beside_one(
    told: Explanation,
    on: Mapping[int, Laid],
    noise: Noise,
    priors: Array,
    said: Mapping[int, Array] | None = None,
) -> list[tuple[float, tuple[int, int]]]:
    """How far pairs lie behind the best of all of these as screened on the car that one of them makes, [nat],
    the likeliest few of each car.

    Args:
        said: Log probability of all words on each car, where it is known, (N, w).
    """
    grid, found, top = told.fitted.grid, dict[tuple[int, int], float](), -np.inf
    for node, car in on.items():
        density = car.log_density(noise, None if said is None else said[node])
        one = int(grid.owner[node])
        best = (density + grid.log_weight)[grid.best_of_each(density)] + priors[one]
        top = max(top, float(density[0] + grid.log_weight[0] + grid.log_prior[one]))
        others = [
            int(other)
            for other in np.argsort(-best, kind="stable")
            if other != one and told.suspects[other].cause is not None and may_meet(told, one, int(other))
        ]
        for other in others[:ON_ONE]:
            pair = (min(one, other), max(one, other))
            found[pair] = max(found.get(pair, -np.inf), float(best[other]))
    top = max([top, *found.values()])
    return [(top - score, pair) for pair, score in found.items()]


def _hidden(
    told: Explanation,
    seen: Screen,
    on: Mapping[int, Laid],
    near: Sequence[tuple[float, tuple[int, int]]],
    words: Array,
    own: Array,
    priors: Array,
    prior: float,
    beside: Beside | None,
) -> dict[tuple[int, int], frozenset[int]]:
    """Pairs that would be among the likeliest were one check left out, the likeliest then first, and which
    checks hide them so.

    What a check weighs is not known without those that it alone speaks against.

    Args:
        on: The cars of the likeliest causes, each by its node.
        near: How far pairs lie behind on those with all readings.
        own: What every two score with all readings.
    """
    own_beside = {pair: behind for behind, pair in near}
    behind: dict[tuple[int, int], float] = {}
    hides: dict[tuple[int, int], set[int]] = {}

    def hidden(pair: tuple[int, int], by: int, its: float) -> None:
        behind[pair] = min(behind.get(pair, np.inf), its)
        hides.setdefault(pair, set()).add(int(by))

    of_words = told.seen.columns.check[told.noise.choice]
    every = {node: car.screen(told.noise).said for node, car in on.items()}
    for check in told.checks:
        rest = without(told.noise, told.seen.columns.check == check)
        if not len(rest.columns):
            continue
        gone, kept = np.flatnonzero(of_words == check), of_words != check
        left = screen_of(seen.f, told.fitted.modes.J[0], rest, seen.said[:, kept])
        said = words - two_words(told, seen, told.noise, gone) if len(gone) else words
        best, alone = _scores(told, left, said, prior, beside)
        likely = list(itertools.islice(_likeliest(told, best), HIDDEN))
        if not likely:
            return {}
        top = max(float(best[likely[0]]), alone)
        gain = best - own
        for pair in likely:
            if best[pair] > top - NEAR and gain[pair] > float(gain[likely[0]]) + HIDES:
                hidden(pair, check, top - float(best[pair]))
        for its, pair in _beside_one(
            told, on, rest, priors, {node: some[:, kept] for node, some in every.items()}
        ):
            if its < NEAR and its < own_beside.get(pair, np.inf) - HIDES:
                hidden(pair, check, its)
    some = sorted(hides, key=lambda pair: behind[pair])[:HIDDEN]
    return {pair: frozenset(hides[pair]) for pair in some}


def _beside_two(
    told: Explanation, seen: Screen, words: Array, prior: float, beside: Beside | None
) -> Iterator[Tried]:
    """Two causes with what may be so beside any, the likeliest as screened on a car on which that is so."""
    if beside is None:
        return
    grid = told.fitted.grid
    own = np.flatnonzero((grid.owner == beside.which) & (grid.low[:, 0] == beside.cell[0]))
    if not len(own):
        return
    best, _ = _scores(told, seen.beside(int(own[0])), words, prior, None)
    priors = log_priors(told, prior, beside)
    others = (pair for pair in _likeliest(told, best) if _are_beside(told, pair, beside))
    for pair in itertools.islice(others, BESIDE):
        which = (*pair, beside.which)
        less = tuple(tuple(sorted((h, beside.which))) for h in pair)
        yield Tried(which, float(priors[pair]) + beside.log_odds, _cells(told, which, beside), fewer=less)


def _are_beside(told: Explanation, pair: tuple[int, int], beside: Beside) -> bool:
    return beside.which not in pair and all(may_meet(told, h, beside.which) for h in pair)


def best_score(told: Explanation, seen: Screen, words: Array, prior: float, beside: Beside | None) -> float:
    """What the likeliest two, or one alone, score as screened.

    Args:
        words: Log probability of all words under every two nodes, (N, N).
        prior: Where something is wrong, how likely it is two causes at once, all together.
        beside: What may be so beside any other.
    """
    best, alone = _scores(told, seen, words, prior, beside)
    return max([float(best[pair]) for pair in itertools.islice(_likeliest(told, best), 1)] + [alone])


def _scores(
    told: Explanation, seen: Screen, words: Array, prior: float, beside: Beside | None
) -> tuple[Array, float]:
    """What every two hypotheses score at their best as screened, (H, H), and the best alone."""
    grid = told.fitted.grid
    own = grid.log_prior[grid.owner] + grid.log_weight
    plain = seen.two_figures() + words
    first = np.flatnonzero(np.diff(grid.owner, prepend=-1))
    score = plain + own[:, None] + own + np.log(prior)
    best = np.maximum.reduceat(np.maximum.reduceat(score, first, axis=0), first, axis=1) + _oftener(told)
    if beside is not None:
        for pairs in (best[beside.which], best[:, beside.which]):
            pairs += beside.log_odds - grid.log_prior[beside.which] - np.log(prior)
    return best, float((plain[0] + own).max())


def _likeliest(told: Explanation, best: Array) -> Iterator[tuple[int, int]]:
    """The pairs of causes that may meet, those that score best first."""
    one, two = np.triu_indices(len(best), 1)
    for at in np.argsort(-best[one, two], kind="stable"):
        pair = int(one[at]), int(two[at])
        if all(told.suspects[h].cause is not None for h in pair) and may_meet(told, *pair):
            yield pair


def log_priors(told: Explanation, prior: float, beside: Beside | None) -> Array:
    """Log prior of every two: two at once has its own share, and the products are its parts, (H, H)."""
    own = told.fitted.grid.log_prior
    found = own[:, None] + log_odds_beside(told, prior, beside) + _oftener(told)
    if beside is not None:
        found[beside.which] = found[:, beside.which] = own + beside.log_odds
    return found


def log_odds_beside(told: Explanation, prior: float, beside: Beside | None) -> Array:
    """Log odds of each hypothesis that it stands beside another cause, not of its own kind, (H,)."""
    own = told.fitted.grid.log_prior
    apart = None if beside is None else beside.which
    causes = [h for h, one in enumerate(told.suspects) if one.cause is not None and h != apart]
    one, two = np.triu_indices(len(causes), 1)
    each = own[:, None] + own + _oftener(told)
    whole = log_sum(each[np.ix_(causes, causes)][one, two])
    found = own - whole + np.log(prior) + log_sum(own[causes])
    if beside is not None:
        found[beside.which] = beside.log_odds
    return np.asarray(found)


def _oftener(told: Explanation) -> Array:
    """Log of how much oftener two causes come together than by chance, (H, H)."""
    causes = np.unique([one.id for one in told.suspects], return_inverse=True)[1]
    return np.where(causes[:, None] == causes, np.log(AGAIN), 0.0)


def may_meet(told: Explanation, first: int, second: int) -> bool:
    """Whether two causes can be wrong at once: not the two ends of one setting, nor one part's two ways."""
    one, two = told.suspects[first], told.suspects[second]
    assert one.cause is not None
    assert two.cause is not None
    touched = {act.parameter for form in one.cause.forms for act in form} - {SINCE}
    also = {act.parameter for form in two.cause.forms for act in form}
    same_place = one.cylinder == two.cylinder or one.cylinder is None or two.cylinder is None
    return not (touched & also and same_place)


def _cells(
    told: Explanation, which: tuple[int, ...], beside: Beside | None
) -> tuple[tuple[tuple[float, float], ...], ...]:
    if beside is None or beside.which not in which:
        return tuple(itertools.product(*(_parts(told, h, HALVES) for h in which)))
    # a cause beside it is as finely divided as it is alone, or it would stand otherwise with its rivals
    fine = len(which) == 2
    return tuple(
        itertools.product(
            *(
                [beside.cell] if h == beside.which else _parts(told, h, None if fine else HALVES)
                for h in which
            )
        )
    )


def _parts(told: Explanation, owner: int, halves: int | None) -> list[tuple[float, float]]:
    """Cells of a severity: its own, or so many of each way."""
    edges = told.hypotheses[owner].edges
    if halves is not None:
        edges = np.linspace(edges[0], edges[-1], (2 * halves if edges[0] < 0.0 else halves) + 1)
    return [(float(low), float(high)) for low, high in itertools.pairwise(edges)]
