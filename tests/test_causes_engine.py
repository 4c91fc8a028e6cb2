"""The inference's parts where the answer is known in closed form, by enumeration or by plain quadrature."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annealed import anneal
from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.evidence import by_draws, by_laplace, summed
from evenpour.causes.laplace import Modes, begin, local, settle
from evenpour.causes.linear import Linear
from evenpour.causes.normal import log_sum, log_sum_by, normal_at, normal_below
from evenpour.causes.predictive import left_out
from evenpour.causes.problem import NONE, Array, Columns, Faults, alone, graded, grid_of, ungraded
from evenpour.causes.proposal import proposal
from evenpour.causes.seen import Noise, noise_of, without
from evenpour.causes.severe import Severe
from long_run import refined

D, M = 5, 7
RANDOM = np.random.default_rng(3)
SLOPES = RANDOM.standard_normal((4, D, M))
OFFSETS = RANDOM.standard_normal((4, M))
MIXED = RANDOM.standard_normal((M, M))
NOISE = MIXED @ MIXED.T / M + 0.3 * np.eye(M)
Y = 2.0 * RANDOM.standard_normal(M)
GRID = grid_of([ungraded(f"cause {h}", f"remedy {h}", math.log(0.1 * (h + 1))) for h in range(4)])
NODES = np.arange(4)


def straight(faults: Faults, z: Array) -> Array:
    """Four hypotheses, each linear in the car's numbers."""
    return np.asarray(OFFSETS[faults.which[:, 0]] + np.einsum("rd,rdm->rm", z, SLOPES[faults.which[:, 0]]))


SEVERE = Severe(straight, GRID, D)


def numbers(y: Array = Y, covariance: Array = NOISE) -> Columns:
    count = len(y)
    rows = np.arange(count)
    return Columns(
        column=rows,
        check=rows // 2,
        reading=rows,
        y=y,
        covariance=covariance,
        choices=(None,) * count,
        flat=np.full(count, 60.0),
        cylinder=np.full(count, NONE),
    )


def at_modes(columns: Columns, severe: Severe = SEVERE) -> tuple[Noise, Modes]:
    noise = noise_of(columns)
    nodes = np.arange(len(severe.grid))
    start = begin(severe.predict, nodes, np.zeros((len(nodes), severe.size)))
    return noise, settle(noise, severe.predict, nodes, start)


def linearised(noise: Noise, modes: Modes) -> None:
    """What does not change is worked out once, and comes to what it comes to each time."""
    modes = modes.take(np.arange(len(modes)))
    linear, every = Linear(noise, *modes.z.shape), np.arange(len(modes))
    for rows in (every, every[1:3], every):
        toward, at = linear.at(rows, modes.z, modes.f, modes.J), local(noise, modes.take(rows))
        across, down = toward.place[:, None, :], toward.place[:, :, None]
        its = at.H[np.arange(len(rows))[:, None, None], down, across]
        np.testing.assert_allclose(toward.H, its, rtol=1e-9, atol=1e-9)
        pull = np.take_along_axis(at.pull, toward.place, axis=1)
        np.testing.assert_allclose(toward.pull, pull, rtol=1e-9, atol=1e-9 * np.abs(at.pull).max())
        np.testing.assert_allclose(np.linalg.slogdet(toward.H)[1], np.linalg.slogdet(at.H)[1], rtol=1e-9)
        step, promised = toward.step()
        whole = at.goal() - at.z
        np.testing.assert_allclose(step, whole, rtol=1e-6, atol=1e-7)
        saved = 0.5 * np.sum(whole * np.matmul(at.H, whole[..., None])[..., 0], axis=1)
        np.testing.assert_allclose(promised, saved, rtol=1e-6, atol=1e-9)
        modes.z[:] += 0.1
        modes.J[2] *= -0.5
        modes.J[1, 0] = 0.0 if rows is every else 0.1  # it moves nothing any more, and does again
        linear.forget(np.array([1, 2]))


@pytest.mark.parametrize("unit", [1.0, 1e7])
def test_nodes_that_move_are_linearised_as_each_would_be_by_itself(unit: float) -> None:
    columns = numbers(unit * Y, unit**2 * NOISE)
    _, modes = at_modes(numbers())
    of_unit = replace(modes, f=unit * modes.f, J=unit * modes.J)
    linearised(noise_of(columns), of_unit)
    linearised(noise_of(numbers(unit * Y, np.diag(unit**2 * np.diag(NOISE)))), of_unit)
    small = replace(modes, f=modes.f / unit, J=modes.J / unit)
    linearised(noise_of(numbers(Y / unit, NOISE / unit**2)), small)
    words = (ChoiceLine((0.0,), 1, 0.01), ChoiceLine((-0.5, 0.5), 0, 0.02))
    linearised(noise_of(replace(numbers(), choices=(None,) * (M - 2) + words)), modes)


def test_slopes_steeper_than_rounding_bears_are_cut_alike() -> None:
    noise, modes = at_modes(numbers())
    modes.J[1] *= 1e6
    linearised(noise, modes)


def gaussian(y: Array, mean: Array, cov: Array) -> float:
    """Log density of a normal in many dimensions, in plain algebra."""
    apart = y - mean
    return float(-0.5 * (apart @ np.linalg.solve(cov, apart) + np.linalg.slogdet(2.0 * math.pi * cov)[1]))


def closed(rows: list[int], h: int) -> float:
    """Log evidence of some rows under a linear hypothesis."""
    J = SLOPES[h][:, rows]
    return gaussian(Y[rows], OFFSETS[h][rows], J.T @ J + NOISE[np.ix_(rows, rows)])


def test_a_linear_model_has_the_closed_gaussian_evidence() -> None:
    _, modes = at_modes(numbers())
    expected = [closed(list(range(M)), h) for h in range(4)]
    assert modes.log_evidence == pytest.approx(expected, abs=1e-8)
    assert modes.arrived.all()


def test_the_posterior_of_linear_hypotheses_is_bayes_rule() -> None:
    _, modes = at_modes(numbers())
    weight = GRID.log_prior + by_laplace(GRID, NODES, modes).log_evidence
    expected = np.array([0.1 * (h + 1) * math.exp(closed(list(range(M)), h)) for h in range(4)])
    assert np.exp(weight - log_sum(weight)) == pytest.approx(expected / expected.sum(), abs=1e-8)


def test_two_readings_at_once_are_one_after_the_other() -> None:
    first, rest = [0, 1, 2, 3], [4, 5, 6]
    noise, modes = at_modes(numbers())
    _, before = at_modes(numbers().keep(np.isin(np.arange(M), first)))
    added = left_out(noise, local(noise, modes), modes.f, [np.array(rest)]).log_density[:, 0]
    assert before.log_evidence + added == pytest.approx(modes.log_evidence, abs=1e-8)


def test_every_set_is_foreseen_from_all_the_others_as_the_closed_form_says() -> None:
    noise, modes = at_modes(numbers())
    sets = [np.array([0]), np.array([1, 4]), np.array([2, 3, 6])]
    found = left_out(noise, local(noise, modes), modes.f, sets)
    for g, rows in enumerate(sets):
        others = [row for row in range(M) if row not in rows]
        expected = [closed(list(range(M)), h) - closed(others, h) for h in range(4)]
        assert found.log_density[:, g] == pytest.approx(expected, abs=1e-8)


def test_a_reading_of_huge_doubt_changes_nothing() -> None:
    noise = NOISE.copy()
    noise[6, :] = noise[:, 6] = 0.0
    noise[6, 6] = 1e16
    _, modes = at_modes(numbers(covariance=noise))
    _, before = at_modes(numbers().keep(np.arange(M) != 6))
    after = modes.log_evidence - modes.log_evidence[0]
    assert after == pytest.approx(before.log_evidence - before.log_evidence[0], abs=1e-6)


def test_readings_that_share_a_doubt_prove_no_more_than_it_allows() -> None:
    # a hundred repeats whose error is common tell as much as one
    shared = np.full((100, 100), 0.25) + 1e-6 * np.eye(100)

    def model(faults: Faults, z: Array) -> Array:
        return np.asarray(np.repeat(1.0 * (faults.which[:, 0] == 1)[:, None] + z[:, :1], 100, axis=1))

    grid = grid_of([ungraded("nothing", "none", 0.0), ungraded("cause", "mend", 0.0)])
    many = at_modes(numbers(np.full(100, 0.9), shared), Severe(model, grid, 1))[1].log_evidence
    one = gaussian(np.array([0.9]), np.array([1.0]), np.array([[1.25]]))
    none = gaussian(np.array([0.9]), np.array([0.0]), np.array([[1.25]]))
    assert many[1] - many[0] == pytest.approx(one - none, abs=1e-4)  # 1e-6 of the noise is each one's own


# Choices.

LINE = ChoiceLine(cuts=(-1.0, 0.5, 1.5), observed=2, misread=0.04, blur=0.7)


@given(margin=st.floats(-30.0, 30.0), cut=st.floats(-3.0, 3.0), misread=st.floats(0.0, 0.5))
def test_the_choices_of_a_line_are_all_there_is(margin: float, cut: float, misread: float) -> None:
    line = lines_of([ChoiceLine((cut, cut + 1.0), 0, misread)])
    chance = line.probabilities(np.array([margin]))
    assert chance.sum() == pytest.approx(1.0, abs=1e-12)
    assert chance.min() >= misread / 3.0 * (1.0 - 1e-12)


def test_a_lines_score_and_information_are_the_slopes_of_its_probabilities() -> None:
    line, step = lines_of([LINE]), 1e-5
    for margin in (-3.0, -0.4, 0.9, 2.5):
        at = np.array([margin])
        score, information = line.score_and_information(at)
        ahead, behind = line.log_chosen(at + step), line.log_chosen(at - step)
        assert score[0] == pytest.approx((ahead - behind)[0] / (2.0 * step), abs=1e-6)
        slopes = (line.probabilities(at + step) - line.probabilities(at - step))[0] / (2.0 * step)
        assert information[0] == pytest.approx(np.sum(slopes**2 / line.probabilities(at)[0]), rel=1e-6)


def test_a_margin_in_doubt_spreads_the_choices_as_quadrature_says() -> None:
    line = lines_of([LINE])
    margin, variance = 0.3, 1.7
    x, w = np.polynomial.hermite_e.hermegauss(80)
    each = line.probabilities((margin + math.sqrt(variance) * x)[:, None])[:, 0]
    expected = (w / w.sum()) @ each
    assert line.probabilities(np.array([margin]), variance)[0] == pytest.approx(expected, abs=1e-6)


def test_discrete_findings_are_weighed_as_by_enumeration() -> None:
    chance = np.array([[0.9, 0.2], [0.3, 0.7], [0.5, 0.5]])  # of "yes" in two findings under three causes
    prior = np.array([0.2, 0.3, 0.5])
    grid = grid_of([ungraded(str(h), str(h), float(np.log(p))) for h, p in enumerate(prior)])

    def model(faults: Faults, z: Array) -> Array:
        del z
        return normal_at(chance[faults.which[:, 0]])

    misread = 0.03
    lines = tuple(ChoiceLine((0.0,), found, misread) for found in (1, 0))
    columns = replace(numbers(np.zeros(2), np.eye(2)), choices=lines)
    _, modes = at_modes(columns, Severe(model, grid, 1))
    seen = (1.0 - misread) * np.column_stack([chance[:, 0], 1.0 - chance[:, 1]]) + misread / 2.0
    expected = prior * seen.prod(axis=1)
    weight = grid.log_prior + modes.log_evidence
    assert np.exp(weight - log_sum(weight)) == pytest.approx(expected / expected.sum(), abs=1e-12)


def test_one_misread_choice_does_not_decide_the_case() -> None:
    line = lines_of([ChoiceLine((0.0,), 1, 0.04)])
    against = line.log_chosen(np.array([-50.0]))[0] - line.log_chosen(np.array([50.0]))[0]
    assert against == pytest.approx(math.log(0.02 / 0.98), abs=1e-9)


# A bent model against plain quadrature.


def bent(faults: Faults, z: Array) -> Array:
    """One number of the car; a leak that decays, and a severity that adds to it."""
    leak = np.exp(-1.0 + 0.8 * z[:, 0] + 2.0 * faults.severity[:, 0] * (faults.which[:, 0] == 1))
    return np.column_stack([np.log(np.exp(-leak) + 0.05), 0.5 * z[:, 0]])


BENT = Severe(bent, grid_of([ungraded("nothing", "none", 0.0), graded("leak", "seal", 0.0, count=6)]), 1)
READ = numbers(np.array([-1.1, 0.3]), np.diag([0.01, 0.09]))


def by_quadrature(h: int) -> float:
    z = np.linspace(-8.0, 8.0, 2001)
    severity = np.linspace(0.05, 1.0, 1201) if h else np.zeros(1)
    s, x = np.meshgrid(severity, z, indexing="ij")
    rows = s.size
    faults = alone(np.full(rows, h), s.ravel())
    f = bent(faults, x.reshape(-1, 1))
    apart = (READ.y - f) / np.sqrt(np.diag(READ.covariance))
    log = -0.5 * np.sum(apart**2, axis=1) - 0.5 * np.sum(np.log(2.0 * math.pi * np.diag(READ.covariance)))
    value = np.exp(log - 0.5 * x.ravel() ** 2).reshape(s.shape) / math.sqrt(2.0 * math.pi)
    inner = np.trapezoid(value, z, axis=1)
    whole = np.trapezoid(inner, severity) / 0.95 if h else inner[0]
    return math.log(whole)


def test_weighed_draws_meet_plain_quadrature_of_a_bent_model() -> None:
    noise, modes = at_modes(READ, BENT)
    nodes, both = np.arange(len(BENT.grid)), np.array([0, 1])
    found, error, effective = by_draws(proposal(noise, BENT, nodes, modes, both), count=8000)
    expected = np.array([by_quadrature(0), by_quadrature(1)])
    assert effective.min() > 1600.0
    assert np.all(np.abs(found - expected) < 4.0 * error + 1e-3)
    few, rough, _ = by_draws(proposal(noise, BENT, nodes, modes, both), count=128)
    assert np.all(np.abs(few - expected) < 4.0 * rough + 0.02)
    # Laplace alone is off by what bends between two standard deviations
    assert np.all(np.abs(by_laplace(BENT.grid, nodes, modes).log_evidence - expected) < 0.3)


def test_what_one_draw_met_is_a_hint_and_what_many_met_counts_in_full() -> None:
    weights = np.zeros((3, 256))
    weights[1, 7], weights[2, :32] = 9.0, 9.0
    even, lucky, met = summed(weights)[0]
    assert even == pytest.approx(0.0, abs=1e-12)
    # the mean w of 255 ones and one that counts 16 w: of what it says, the sixteenth part at most
    assert lucky == pytest.approx(math.log(255 / 256 / (1 - 1 / 16)), abs=1e-12)
    assert met == pytest.approx(math.log((224 + 32 * math.exp(9.0)) / 256), abs=1e-12)


def test_an_annealed_cloud_meets_plain_quadrature_too_and_knows_its_error() -> None:
    noise, modes = at_modes(READ, BENT)
    nodes, both = np.arange(len(BENT.grid)), np.array([0, 1])
    found = refined(noise, BENT, nodes, modes, both, draws=20)  # too few to be trusted
    assert found.annealed.all()
    assert not found.failed.any()
    expected = np.array([by_quadrature(0), by_quadrature(1)])
    assert np.all(np.abs(found.log_evidence - expected) < 4.0 * found.error)
    assert found.error.max() < 0.1


def test_a_sharp_peak_far_from_where_the_cloud_begins_is_found() -> None:
    # log of a normal density at y of (mean 0, variance 1 + 0.05²), known exactly
    def ratio(problem: np.ndarray, v: Array) -> Array:
        y = np.array([0.5, 3.5])[problem]
        return np.asarray(-0.5 * ((y - v[:, 0]) / 0.05) ** 2 - math.log(0.05 * math.sqrt(2.0 * math.pi)))

    cloud = anneal(ratio, 2, 4, np.random.default_rng(1), count=1000)
    expected = [gaussian(np.array([y]), np.zeros(1), np.array([[1.0025]])) for y in (0.5, 3.5)]
    assert np.all(np.abs(cloud.log_evidence - expected) < 4.0 * cloud.error)
    assert np.all(cloud.temperature > 1.0 - 1e-9)


def test_where_draws_and_cloud_fail_it_is_said() -> None:
    # two readings that only a thin ring of two numbers can meet: no Gaussian covers it, few draws hit it
    def ring(faults: Faults, z: Array) -> Array:
        del faults
        return np.column_stack([np.hypot(z[:, 0], z[:, 1]), np.zeros(len(z))])

    severe = Severe(ring, grid_of([ungraded("nothing", "none", 0.0)]), 13)
    noise, modes = at_modes(numbers(np.array([3.5, 0.0]), np.diag([1e-4, 1.0])), severe)
    one = np.array([0])
    found = refined(noise, severe, one, modes, one, draws=100, particles=20, moves=1)
    assert found.failed[0]
    assert found.effective[0] < 100.0


@settings(max_examples=20)
@given(st.lists(st.floats(-700.0, 700.0), min_size=1, max_size=6))
def test_sums_of_logs_are_plain_sums(values: list[float]) -> None:
    logs = np.array(values)
    top = logs.max()
    assert float(log_sum(logs)) == pytest.approx(top + math.log(np.exp(logs - top).sum()))
    owner = np.arange(len(logs)) % 2
    by_owner = log_sum_by(logs, owner, 3)
    assert by_owner[2] == -np.inf
    assert float(log_sum(by_owner)) == pytest.approx(float(log_sum(logs)))


def test_the_normal_and_its_inverse_meet() -> None:
    share = np.array([1e-9, 0.1, 0.5, 0.975])
    assert normal_below(normal_at(share)) == pytest.approx(share, rel=1e-9)


def test_a_set_aside_reading_leaves_the_others_as_they_were() -> None:
    noise = noise_of(numbers())
    rest = without(noise, np.arange(M) == 2)
    assert rest.columns.y == pytest.approx(np.delete(Y, 2))
    assert rest.columns.covariance == pytest.approx(np.delete(np.delete(NOISE, 2, 0), 2, 1))
