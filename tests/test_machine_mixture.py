"""The mixture over air, control pressure, screw and leaks, on every kind of engine."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.machine.air_meter import annulus, plate_drop
from evenpour.physics.air import dry_air_density
from machine_world import (
    HOME,
    SHEETS,
    changed,
    kind,
    mixture,
    seen,
    value,
    with_,
)

BAR = 1e5
WARM = ("idle_warm", "fast_idle", "road_steady", "full_load")

every_sheet = pytest.mark.parametrize("name", SHEETS)


# Air meter: thin air, low control pressure


@given(thinner=st.floats(0.5, 1.0), lower=st.floats(0.1, 1.0), air=st.floats(2e-3, 0.15))
def test_the_plate_opens_as_one_over_the_root_of_air_density_and_of_control_pressure(
    thinner: float, lower: float, air: float
) -> None:
    design = kind("flat-six").design
    here = annulus(air, 1.2, plate_drop(design, 3.6 * BAR))
    there = annulus(air, 1.2 * thinner, plate_drop(design, 3.6 * BAR * lower))
    assert there / here == pytest.approx(1.0 / math.sqrt(thinner * lower), rel=1e-12)


@every_sheet
def test_drag_holds_the_plate_back_where_it_comes_from(name: str) -> None:
    """Rich at an idle, which is come down to; lean where the throttle was opened, as no screw makes it."""
    of = kind(name)
    stiff, rich = with_(of, "plunger_sticks", 0.5), with_(of, "mixture_screw_rich", 0.5)
    for state, sign in (("idle_warm", -1.0), ("fast_idle", 1.0), ("road_steady", 1.0), ("full_load", 1.0)):
        sound = mixture(seen(of), state)
        assert sign * (mixture(stiff, state) / sound - 1.0) > 0.02
        assert mixture(rich, state) < sound


@every_sheet
def test_an_engine_set_in_the_plain_runs_richer_in_the_hills_by_the_root_of_the_air(name: str) -> None:
    of = kind(name)
    cars = seen(of)
    low, high = (dry_air_density(replace(HOME, altitude=one).outside, 300.0) for one in (200.0, 2000.0))
    for state in WARM:
        power = math.log(mixture(cars, state, altitude=2000.0) / mixture(cars, state)) / math.log(high / low)
        if state == "road_steady" and "load_diaphragm" in of.devices:
            # up there the throttle stands wider for the same work, and the diaphragm, with less vacuum to
            # hold it, lowers the control pressure on top
            assert 0.5 < power < 0.9
        else:
            # the speed of an idle answers the mixture a little, and with it the air; at full load in the
            # middle of the speed range thin air moves the plate a little back towards the part-load zone
            assert power == pytest.approx(0.5, abs=0.015), state


@every_sheet
def test_a_lower_warm_control_pressure_enriches_by_its_root(name: str) -> None:
    of = kind(name)
    right, low = seen(of), changed(of, "warm_setting", 0.9)
    for state in WARM:
        power = math.log(mixture(low, state) / mixture(right, state)) / math.log(0.9)
        if state == "full_load" and "load_diaphragm" in of.devices:
            # without vacuum the diaphragm takes off a fixed step: a tenth of the warm pressure is then more
            # than a tenth of what is left
            assert 0.5 < power < 0.75
        else:
            # the regulator's inlet and return add a little of the system's pressure, which does not change
            assert power == pytest.approx(0.5, abs=0.015), state


@every_sheet
def test_warmer_air_enriches_by_its_root(name: str) -> None:
    cars = seen(kind(name))
    cool, warm = (mixture(cars, "fast_idle", intake_temperature=one) for one in (293.15, 303.15))
    assert warm / cool == pytest.approx(math.sqrt(293.15 / 303.15), rel=2e-3)


@every_sheet
def test_ethanol_in_the_fuel_leans_by_what_it_needs_less_of_air(name: str) -> None:
    cars = seen(kind(name))
    lean = mixture(cars, "full_load", fuel=0.85) / mixture(cars, "full_load", fuel=0.05)
    assert 1.3 < lean < 1.5  # E5 needs 14.3 times its mass in air, E85 9.8; it is a little denser


@every_sheet
def test_the_funnels_angles_are_about_the_sheets_and_a_little_steeper_in_the_middle(name: str) -> None:
    of = kind(name)
    stated = math.degrees(math.atan(of.design.funnel_tangent))
    idle, middle, full = (math.degrees(angle) for angle in of.funnel.angles(of.design))
    assert all(abs(angle - stated) <= 5.5 for angle in (idle, middle, full))
    assert middle > full


# Screw and leaks: where they act


@every_sheet
def test_the_screw_moves_the_idle_far_more_than_full_load(name: str) -> None:
    cars = seen(kind(name))
    moved = [math.log(mixture(cars, state, screw=0.1) / mixture(cars, state)) for state in WARM]
    assert all(one < 0.0 for one in moved)  # clockwise is richer
    assert moved[0] < 2.0 * moved[1] < moved[2]
    assert moved[0] < 10.0 * moved[3]


@every_sheet
def test_a_leak_past_the_plate_leans_the_idle_most_and_fades_with_load(name: str) -> None:
    of = kind(name)
    right, leaky = seen(of), with_(of, "air_leak_common", 0.4)
    leaned = [math.log(mixture(leaky, state) / mixture(right, state)) for state in WARM]
    assert leaned[0] > 0.04
    assert leaned[0] > 2.0 * leaned[1] > 2.0 * leaned[2] > 8.0 * leaned[3] > 0.0


@every_sheet
def test_a_leak_in_one_runner_leans_its_own_cylinder_most(name: str) -> None:
    of = kind(name)
    state = with_(of, "air_leak_runner", 0.5, cylinder=2).running(replace(HOME, engine="idle_warm"))
    others = np.delete(state.mixture[:, 0], 1)
    assert state.mixture[1, 0] > 1.1 * others.max()
    assert np.ptp(others) < 1e-6


@every_sheet
def test_a_plate_set_lower_on_its_lever_enriches_like_the_screw_and_moves_no_onset(name: str) -> None:
    """The air holds the plate where it belongs in its funnel, the lever with it; at rest a stop holds it."""
    of = kind(name)
    turns = 0.1
    by_screw = mixture(seen(of), "idle_warm", screw=turns)
    lowered = changed(of, "plate_height", more=-turns * of.design.screw_pitch * of.design.lever_ratio)
    assert mixture(lowered, "idle_warm") == pytest.approx(by_screw, rel=1e-6)
    for check in ("onset", "lever_play"):
        assert value(lowered, check)[0] == value(seen(of), check)[0]
    assert value(lowered, "plate_rest_height")[0] > value(seen(of), "plate_rest_height")[0]


@every_sheet
def test_a_bent_stop_moves_onset_and_play_and_no_running_mixture(name: str) -> None:
    of = kind(name)
    right, deep = seen(of), with_(of, "plate_rest_wrong", 0.5)
    assert value(deep, "plate_rest_height")[0] == pytest.approx(
        value(right, "plate_rest_height")[0] + 2.265e-3, abs=1e-9
    )
    turns = 2.265e-3 / (of.design.lever_ratio * of.design.screw_pitch)
    assert value(deep, "onset")[0] == pytest.approx(value(right, "onset")[0] + turns, abs=1e-6)
    assert value(deep, "lever_play")[0] > value(right, "lever_play")[0] + 0.4e-3
    for state in WARM:
        assert mixture(deep, state) == mixture(right, state)


@every_sheet
def test_denser_petrol_enriches_by_its_root(name: str) -> None:
    """A slit's velocity goes with one over the root of the density, and what it carries with the density."""
    cars = seen(kind(name))
    light, heavy = (mixture(cars, "full_load", fuel_density=one) for one in (725.0, 775.0))
    assert math.log(heavy / light) / math.log(775.0 / 725.0) == pytest.approx(-0.5, abs=0.02)
