"""Whatever is caught, the answer stays an answer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evenness_world import LIMITS, Car, drawn_faults, p_off
from evenpour.measure import arrangements
from evenpour.measure.evenness import Part, Run, evenness

amount = st.none() | st.just(0.0) | st.floats(1e-9, 1e-3)


@st.composite
def sets_of_runs(draw: st.DrawFn) -> tuple[list[Run], list[Part]]:
    n = draw(st.integers(3, 6))
    parts = [Part(kind, k + 1, k) for kind in ("port", "line", "injector") for k in range(n)]
    runs = []
    for _ in range(draw(st.integers(1, 3))):
        through = draw(st.sampled_from(["lines", "injectors"]))
        order = tuple(draw(st.permutations(range(n))))
        runs.append(
            Run(
                through=through,
                opening=draw(st.sampled_from(["idle", "part", "full", "rest", "12 mm"])),
                amounts=tuple(draw(amount) for _ in range(n)),
                u=tuple(draw(st.floats(1e-8, 1e-5)) for _ in range(n)),
                durations=tuple(draw(st.floats(5.0, 300.0)) for _ in range(n)),
                u_duration=draw(st.floats(0.0, 3.0)),
                timed_each=draw(st.booleans()),
                ports=tuple(range(n)),
                lines=tuple(range(n)),
                injectors=order if through == "injectors" else None,
                containers=draw(st.none() | st.just(tuple(range(n)))),
                u_container=draw(st.sampled_from([0.0, 0.01])),
            )
        )
    return runs, parts


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sets_of_runs(), st.booleans())
def test_probabilities_stay_probabilities_and_nothing_is_ever_nan(
    given_runs: tuple[list[Run], list[Part]], swappable: bool
) -> None:
    runs, parts = given_runs
    answer = evenness(runs, parts, LIMITS, lines_swappable=swappable)
    assert len(answer.parts) == len(parts)
    for part in answer.parts:
        assert part.p_off is not None
        assert 0.0 <= part.p_off <= 1.0
        assert math.isfinite(part.deviation)
        assert math.isfinite(part.u)
        assert part.u >= 0.0
    assert all(0.0 <= p <= 1.0 for p in answer.even_by_run.values())
    assert all(math.isfinite(s.value) and math.isfinite(s.u) for s in answer.spread_by_run.values())
    for suspect in answer.suspect_amounts:
        assert 0 <= suspect.run < len(runs)
    if not swappable and answer.next_catch is not None:
        assert all(kind != "line" for kind, _, _ in answer.next_catch.swaps)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(1e-6, 1e-4), min_size=4, max_size=4), st.sampled_from(["idle", "full"]))
def test_bare_lines_alone_never_blame_an_injector(amounts: list[float], opening: str) -> None:
    parts = [Part(kind, k + 1, k) for kind in ("port", "line", "injector") for k in range(4)]
    run = Run(
        "lines",
        opening,
        tuple(amounts),
        (3e-7,) * 4,
        (60.0,) * 4,
        0.5,
        False,
        (0, 1, 2, 3),
        (0, 1, 2, 3),
        None,
    )
    answer = evenness([run], parts, LIMITS)
    before = p_off(evenness([], parts, LIMITS), "injector", 1)
    assert all(p.p_off == pytest.approx(before) for p in answer.parts if p.kind == "injector")
    assert before < 0.1
    assert all(kind != "injector" for group in answer.undivided for kind, _ in group)


@given(st.integers(2, 12), st.integers(0, 11))
def test_exchanged_neighbours_move_every_injector_but_at_most_one(n: int, resting: int) -> None:
    parts = [Part(kind, k + 1, k) for kind in ("port", "line", "injector") for k in range(n)]
    swaps = arrangements.pairs("injector", range(1, n + 1), min(resting, n - 1))
    rows = arrangements.arranged(parts, arrangements.Candidate("injectors", "full", swaps, 10.0, "pairs"))
    stayed = [k for k, identity in enumerate(rows["injector"]) if identity == k]
    assert len(stayed) == n % 2
    assert sorted(k for k in rows["injector"] if k is not None) == list(range(n))
    assert rows["line"] == tuple(range(n))


@given(st.sampled_from([3, 5, 7, 9, 11]))
def test_a_ring_of_three_leaves_no_injector_at_home_where_the_number_is_odd(n: int) -> None:
    parts = [Part(kind, k + 1, k) for kind in ("port", "line", "injector") for k in range(n)]
    swaps = arrangements.ring("injector", range(1, n + 1))
    rows = arrangements.arranged(parts, arrangements.Candidate("injectors", "full", swaps, 10.0, "ring"))
    assert all(identity != k for k, identity in enumerate(rows["injector"]))


@pytest.mark.parametrize("noise", [1.0, 2.0])
def test_healthy_cars_raise_no_part_even_if_the_noise_is_twice_what_was_stated(noise: float) -> None:
    random = np.random.default_rng(31)
    raised = 0
    for case in range(14):
        answer = Car(random, noise=noise, tipped=case % 7 == 6).usual()
        raised += any((part.p_off or 0.0) > 0.5 for part in answer.parts)
    assert raised <= 1  # 5 % of 14


def test_the_stated_chance_is_kept_on_average_though_the_noise_is_twice_what_was_stated() -> None:
    random = np.random.default_rng(44)
    stated, truth = [], []
    for _ in range(25):
        car = Car(random, faults=drawn_faults(random), noise=2.0)
        answer, _ = car.follow(car.usual(), 1)
        stated += [part.p_off or 0.0 for part in answer.parts]
        truth += [car.off(part.kind, part.number) for part in answer.parts]
    p, off = np.array(stated), np.array(truth, dtype=np.float64)
    sd = math.sqrt(float((p * (1.0 - p)).sum()))  # of the number truly off, were every p exact
    assert abs(p.sum() - off.sum()) < 3.0 * sd + 1.0
    assert np.mean((p - off) ** 2) < 0.5 * off.mean() * (1.0 - off.mean())
