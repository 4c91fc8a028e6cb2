"""The benchmark of the causes: its measures where the answer is known, and a few of its cars."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"
sys.path.append(str(BENCHMARKS / "common"))

from cause_cars import KEPT_APART, KINDS, car, told, world_of  # noqa: E402

spec = importlib.util.spec_from_file_location("causes_benchmark", BENCHMARKS / "causes.py")
assert spec is not None
assert spec.loader is not None
benchmark = importlib.util.module_from_spec(spec)
spec.loader.exec_module(benchmark)


def test_a_teller_that_is_always_right_when_sure_is_calibrated_and_a_boaster_is_not() -> None:
    stated = np.full(200, 0.9)
    right = np.arange(200) % 10 > 0
    assert benchmark.calibration(stated, right) == pytest.approx(0.0, abs=1e-9)
    assert benchmark.calibration(np.full(200, 1.0), right) == pytest.approx(0.1)


def test_a_perfect_teller_scores_by_chance_what_is_known_for_so_many_cars() -> None:
    """Ten equal bins: about 0.09 for 120 cars, 0.05 for 400 and 0.02 for 2,000."""
    stated = np.random.default_rng(1).uniform(0.2, 0.9, 2000)
    gaps = [benchmark.chance_gap(stated[:count]) for count in (120, 400, 2000)]
    assert gaps == sorted(gaps, reverse=True)
    assert gaps[1] == pytest.approx(0.055, abs=0.015)
    assert gaps[2] == pytest.approx(0.024, abs=0.01)


def test_the_same_key_is_the_same_car_and_sound_ones_have_no_fault() -> None:
    world = world_of("flat-six")
    assert car(world, (1, 2)) == car(world, (1, 2))
    assert car(world, (1, 2)) != car(world, (1, 3))
    assert car(world, (1, 2), sound=True).fault == 0
    assert all(car(world, (1, n), sound=False).fault > 0 for n in range(20))
    faults = [car(world, (5, n)).fault == 0 for n in range(400)]
    assert np.mean(faults) == pytest.approx(world_prior(), abs=4.0 * 0.0217)  # four standard deviations


def world_prior() -> float:
    return float(np.exp(world_of("flat-six").guesses[0].log_prior))


def test_kinds_that_are_kept_apart_differ_from_all_that_may_be_looked_at() -> None:
    looked_at = [how for name, how in KINDS.items() if name not in KEPT_APART]
    assert len(KEPT_APART) == 2
    for name in KEPT_APART:
        assert KINDS[name] not in looked_at
        assert not any(how.gauge or how.other_day for how in looked_at)


def test_a_report_needs_no_run_and_tells_finished_pieces(tmp_path: Path) -> None:
    world = world_of("flat-six")
    row = told(world, car(world, (1, 2), sound=True), KEPT_APART[0])
    assert row["cause"] == "nothing_wrong"
    assert 0.0 <= float(str(row["blamed"])) <= 1.0
    (tmp_path / "healthy-00.json").write_text(benchmark.json.dumps([row]))
    said = list(benchmark.report(tmp_path))
    assert said == [
        benchmark.ASKED,
        f"nothing wrong, with mismatch: {int(float(str(row['blamed'])) > 0.5)} of 1 cars blamed above 0.5",
    ]
