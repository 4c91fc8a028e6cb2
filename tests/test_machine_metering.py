"""Ports, lines and injectors: what a catch and an onset show, on every kind of engine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenpour.machine.engine_off import SEEN_BARE
from evenpour.machine.readout import Readout
from machine_world import (
    HOME,
    SHEETS,
    catches,
    changed,
    drawn_cars,
    kind,
    seen,
    value,
    with_,
)

BAR = 1e5
WARM = ("idle_warm", "fast_idle", "road_steady", "full_load")

every_sheet = pytest.mark.parametrize("name", SHEETS)


# Metering: catches


@every_sheet
@pytest.mark.parametrize("part", ["line", "injector"])
def test_a_partly_clogged_line_or_injector_hides_at_the_idle_opening_and_shows_at_the_full_one(
    name: str, part: str
) -> None:
    of = kind(name)
    right, clogged = catches(seen(of)), catches(with_(of, f"{part}_restricted", 0.2))
    left = {which: clogged[which] / right[which] for which in right}
    assert left["injectors", "idle"] == pytest.approx(1.0, abs=1e-3)
    assert left["injectors", "full"] < 0.75
    assert left["lines", "idle"] == pytest.approx(1.0, abs=1e-3)
    # a bare line has the whole system pressure to push with
    assert left["lines", "full"] > left["injectors", "full"] + 0.1
    if part == "injector":
        assert left["lines", "full"] == pytest.approx(1.0, abs=1e-6)


@every_sheet
def test_a_line_that_looks_perfect_bare_starves_through_its_injector(name: str) -> None:
    of = kind(name)
    right = catches(seen(of))
    tried = [catches(with_(of, "line_restricted", severity)) for severity in np.linspace(0.0, 0.3, 16)]
    assert any(
        one["lines", "full"] > 0.97 * right["lines", "full"]
        and one["injectors", "full"] < 0.8 * right["injectors", "full"]
        for one in tried
    )


@every_sheet
def test_a_severely_clogged_injector_shows_at_every_opening(name: str) -> None:
    of = kind(name)
    # further than the cause goes, whose gross form still passes an idle's fuel
    right, clogged = catches(seen(of)), catches(changed(of, "injector_restriction", 0.008))
    for opening in ("idle", "part", "full"):
        assert clogged["injectors", opening] < 0.5 * right["injectors", opening]


@every_sheet
def test_a_short_port_shows_at_every_opening_bare_and_through_injectors(name: str) -> None:
    of = kind(name)
    right, short = catches(seen(of)), catches(with_(of, "port_restricted", 0.3))
    left = [short[which] / right[which] for which in right]
    # friction in the layers at a slit's edges takes a little more of a narrow one
    assert max(left) - min(left) < 0.02
    assert max(left) < 0.7


@every_sheet
def test_a_port_that_leaks_drips_bare_and_holds_behind_a_shut_injector(name: str) -> None:
    of = kind(name)
    leak, minute = 20e-6 / 60.0, {"opening": "rest", "duration": 60.0}
    shut = with_(of, "injector_shut", 1.0)
    shut.cars.values[of.blueprint.where("port_leak", 1)] = leak
    assert value(shut, "catch", through="lines", **minute)[0] == pytest.approx(20e-6, rel=0.05)
    assert value(shut, "catch", through="injectors", **minute)[0] < 0.5e-6
    assert value(shut, "rest_delivery")[0] < value(seen(of), "rest_delivery")[0] - 4.0


@every_sheet
def test_an_opening_counts_from_the_onset_so_that_the_screw_moves_no_catch(name: str) -> None:
    of = kind(name)
    right, turned = catches(seen(of)), catches(with_(of, "mixture_screw_rich", 0.5))
    for which, amount in right.items():
        assert turned[which] == pytest.approx(amount, rel=1e-9)


@every_sheet
def test_fuel_shows_through_injectors_within_a_quarter_turn_after_it_shows_bare(name: str) -> None:
    cars = seen(kind(name), drawn_cars(kind(name), 500))
    bare, fitted = (value(cars, "onset", through=one) for one in ("lines", "injectors"))
    assert np.all(fitted > bare)
    assert np.quantile(fitted - bare, 0.97) < 0.25
    assert bare.mean() == pytest.approx(kind(name).design.start, abs=0.08)


@every_sheet
def test_an_onset_is_where_a_turn_of_the_screw_brings_the_first_drop(name: str) -> None:
    """Turned to its onset, the first bare port gives what one sees as a drop; a hair before, much less."""
    of = kind(name)
    cars = seen(of, drawn_cars(of, 50))
    at = value(cars, "onset", through="lines")
    for extra, low, high in ((0.0, 0.5, 1.6), (-0.1, 0.0, 0.5)):
        turned = cars.cars.copy()
        turned.values[turned.rows["mixture_screw"]] += at + extra
        flow = Readout(of, turned, cars.screws).pour(replace(HOME, lines=True)).fuel.max(axis=0)
        assert np.all((flow > low * SEEN_BARE) & (flow < high * SEEN_BARE))
