"""The algebra against slow and certain ways of computing the same."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from evenness_world import LIMITS, Car, p_off
from evenpour.measure import catch_model, odd_sets, part_findings
from evenpour.measure.catch_model import SMALL, CatchModel
from evenpour.measure.catches import Part, Run
from evenpour.measure.evenness import evenness


def model_of(car: Car, missing: tuple[tuple[int, int], ...] = ()) -> CatchModel:
    places = [
        (run, k) for run in range(len(car.runs)) for k in range(car.cylinders) if (run, k) not in missing
    ]
    return catch_model.build(car.runs, car.parts, places)


def dense(model: CatchModel, scale: float, members: tuple[int, ...]) -> float:
    """Density of the amounts' contrasts within runs, from the whole covariance matrix."""
    v = model.variants
    S = list(members)
    columns = model.B[:, v.column[S]]
    A0 = model.B[:, model.small_column]
    cov = np.diag((scale * model.sigma) ** 2) + SMALL**2 * A0 @ A0.T + model.containers @ model.containers.T
    cov = cov + columns @ np.diag(v.width[S] ** 2) @ columns.T
    basis = np.linalg.svd(model.levels.T)[2][model.levels.shape[1] :]  # orthonormal, no level left
    apart = basis @ (model.y - columns @ v.mean[S])
    return float(multivariate_normal(cov=basis @ cov @ basis.T).logpdf(apart))


def test_the_density_of_a_set_is_the_multivariate_normal_of_the_amounts_without_their_levels() -> None:
    random = np.random.default_rng(3)
    car = Car(random, 4, [("injector", 2, "moderate", -0.2)])
    for through, opening in (("lines", "idle"), ("lines", "full"), ("injectors", "full")):
        car.catch(through, opening)
    car.catch("injectors", "full", [("injector", 1, 2), ("line", 3, 4)])
    model = model_of(car, missing=((1, 2),))
    sizes = model.levels.sum(axis=0)
    m, levels = model.levels.shape
    constant = -0.5 * (m - levels) * math.log(2.0 * math.pi) + 0.5 * float(np.log(sizes).sum())
    for scale in catch_model.NOISE_SCALES:
        kernel = model.kernel(scale, 0.0)
        for size in range(5):
            members = tuple(random.choice(model.variants.size, size, replace=False).tolist())
            if len(set(model.variants.column[list(members)].tolist())) < size:
                continue
            ours = odd_sets.log_density(model, kernel, members) + constant
            assert ours == pytest.approx(dense(model, scale, members), abs=1e-9, rel=0.0)


def test_three_cylinders_agree_with_every_subset_there_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        catch_model, "WIDTHS", ((0.15, 1.0),)
    )  # one width: 5832 sets a noise scale, not 600 000
    car = Car(np.random.default_rng(8), 3, [("port", 2, "moderate", 0.25)])
    car.catch("lines", "idle")
    model = model_of(car)
    v = model.variants
    groups = [[-1, *np.nonzero(v.group == group)[0].tolist()] for group in range(int(v.group.max()) + 1)]
    odd, logs = [], []
    for kernel in model.kernels():
        for choice in itertools.product(*groups):
            members = tuple(sorted(member for member in choice if member >= 0))
            logs.append(
                odd_sets.log_density(model, kernel, members)
                + kernel.log_prior
                + float(v.log_odds[list(members)].sum())
            )
            odd.append([member >= 0 for member in choice])
    weight = np.exp(np.array(logs) - max(logs))
    certain = (weight / weight.sum()) @ np.array(odd, dtype=np.float64)
    # The enumeration stops once a further member adds less than 1e-3 of the weight.
    assert odd_sets.weigh(model).odd() == pytest.approx(certain, abs=2e-3)


def test_members_found_one_at_a_time_weigh_what_the_closed_formula_says() -> None:
    car = Car(np.random.default_rng(4), 5, [("line", 2, "severe", -0.3), ("port", 4, "moderate", 0.2)])
    car.usual()
    model = model_of(car)
    found = odd_sets.weigh(model)
    v = model.variants
    every = []
    for block in found.blocks:
        for members, weight in list(zip(block.members, block.weight, strict=True))[:20]:
            log = odd_sets.log_density(model, block.kernel, tuple(members))
            every.append(log + block.kernel.log_prior + float(v.log_odds[members].sum()) - math.log(weight))
    assert max(every) - min(every) < 1e-9
    assert sum(float(block.weight.sum()) for block in found.blocks) == pytest.approx(1.0)
    assert max(block.members.shape[1] for block in found.blocks) >= 3  # two odd parts: the growth went on


def test_no_set_holds_two_ways_or_widths_of_one_part() -> None:
    car = Car(np.random.default_rng(4), 6, [("injector", 2, "severe", -0.3)])
    car.usual()
    found = odd_sets.weigh(model_of(car))
    for block in found.blocks:
        group = np.sort(found.model.variants.group[block.members], axis=1)
        assert (np.diff(group, axis=1) > 0).all()


def test_renaming_the_cylinders_renames_the_answer() -> None:
    car = Car(np.random.default_rng(12), 6, [("injector", 3, "moderate", -0.17)])
    car.usual()
    order = [4, 2, 5, 0, 3, 1]  # new position k holds what was at order[k]
    new = {old: k for k, old in enumerate(order)}
    runs = [
        Run(
            through=run.through,
            opening=run.opening,
            amounts=tuple(run.amounts[old] for old in order),
            u=tuple(run.u[old] for old in order),
            durations=run.durations,
            u_duration=run.u_duration,
            timed_each=run.timed_each,
            ports=tuple(new[run.ports[old]] for old in order),
            lines=tuple(new[run.lines[old]] for old in order),
            injectors=None if run.injectors is None else tuple(new[run.injectors[old]] for old in order),
        )
        for run in car.runs
    ]
    here, there = car.answer(), evenness(runs, car.parts, LIMITS)
    for part in here.parts:
        renamed = p_off(there, part.kind, new[part.number - 1] + 1)
        assert renamed == pytest.approx(part.p_off, abs=1e-6)
    for key, p in here.even_by_run.items():
        assert there.even_by_run[key] == pytest.approx(p, abs=0.03)  # 4000 draws: sd 0.008 at one half


def test_the_same_amounts_give_the_same_answer_to_the_last_digit() -> None:
    car = Car(np.random.default_rng(12), 6, [("injector", 3, "moderate", -0.17)])
    car.usual()
    assert car.answer() == car.answer()


def test_noise_scales_weigh_one_together() -> None:
    assert sum(catch_model.scale_weights()) == pytest.approx(1.0)


def test_a_fixed_container_error_is_not_charged_to_the_port() -> None:
    def answer(containers: tuple[int, ...] | None) -> float:
        parts = [Part(kind, k + 1, k) for kind in ("port", "line") for k in range(4)]
        amounts = tuple(80e-6 * share for share in (1.06, 1.0, 1.0, 1.0))
        runs = [
            Run("lines", "full", amounts, (0.4e-6,) * 4, (35.0,) * 4, 0.5, False, (0, 1, 2, 3), (0, 1, 2, 3),
                None, containers, 0.03)
            for _ in range(3)
        ]  # fmt: skip
        return p_off(evenness(runs, parts, LIMITS), "port", 1)

    assert answer((0, 1, 2, 3)) < 0.6 * answer(None)


def test_no_pair_is_left_out_that_weighs_as_much_as_one_that_is_kept() -> None:
    car = Car(np.random.default_rng(11), 3, [("port", 2, "moderate", 0.25), ("line", 1, "severe", -0.3)])
    for opening in ("idle", "full"):
        car.catch("lines", opening)
    model = model_of(car)
    v = model.variants
    kept, certain = {}, {}
    for block in odd_sets.weigh(model).blocks:
        if block.members.shape[1] == 2:
            scale = block.kernel.scale
            kept |= {(scale, a, b): float(w) for (a, b), w in zip(block.members, block.weight, strict=True)}
    for kernel in model.kernels():
        for pair in itertools.combinations(range(v.size), 2):
            if v.group[pair[0]] != v.group[pair[1]]:
                prior = kernel.log_prior + float(v.log_odds[list(pair)].sum())
                certain[kernel.scale, *pair] = odd_sets.log_density(model, kernel, pair) + prior
    heaviest = sorted(certain, key=lambda one: -certain[one])[: len(kept)]
    assert len(kept) > 100
    assert set(heaviest) == set(kept)


def test_how_many_sets_are_added_to_at_once_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    car = Car(np.random.default_rng(4), 5, [("line", 2, "severe", -0.3), ("port", 4, "moderate", 0.2)])
    car.usual()
    model = model_of(car)
    one = odd_sets.weigh(model)
    monkeypatch.setattr(odd_sets, "AT_ONCE", 1500)
    other = odd_sets.weigh(model)
    assert [block.members.tolist() for block in one.blocks] == [
        block.members.tolist() for block in other.blocks
    ]
    for mine, theirs in zip(one.blocks, other.blocks, strict=True):
        assert mine.weight == pytest.approx(theirs.weight, rel=1e-9)


def test_the_chance_to_be_off_is_that_of_a_normal_effect() -> None:
    random = np.random.default_rng(5)
    mean, sd, half = random.normal(0.0, 0.3, 500), 10 ** random.uniform(-6, 0, 500), np.full(500, 0.06)
    half[7] = math.nan
    found = part_findings.p_beyond(mean, sd**2, half)
    certain = norm.sf(math.log1p(0.06), mean, sd) + norm.cdf(math.log1p(-0.06), mean, sd)
    certain[7] = math.nan
    assert found == pytest.approx(certain, abs=1e-13, nan_ok=True)
