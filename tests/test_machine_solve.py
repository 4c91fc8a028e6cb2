"""How the model solves a block of cars: each car as if it were alone, whatever stands beside it."""

from dataclasses import fields, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from evenpour.causes.car_model import spoil
from evenpour.causes.problem import Faults, alone
from evenpour.causes.suspects import Suspect, suspects
from evenpour.job.engine_model import causes_of, kind_for
from evenpour.machine.balance import CORNER, LEAST, Demand, balance
from evenpour.machine.control import bimetal_temperature, control_pressure, regulated
from evenpour.machine.design_point import SLIT_ROUNDING
from evenpour.machine.engine_off import pour, pressures
from evenpour.machine.faults import with_fault
from evenpour.machine.kind import Kind
from evenpour.machine.metering import TRAVEL_CORNER, fuel, metered, paths
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Readout
from evenpour.machine.running import ENDS, run, run_together
from evenpour.machine.set_up import SetUp, set_up
from evenpour.machine.situation import Situation
from evenpour.machine.smooth import positive
from evenpour.machine.supply import free_flow, supplied
from evenpour.machine.tank import tank
from evenpour.physics.blend import blend_viscosity
from evenpour.physics.orifice import slit_discharge

HOME = Situation(altitude=200.0)
STATES = ("idle_warm", "idle_cold", "fast_idle", "road_steady", "full_load", "cranking")
#: The rounds end at 1e-7 of the work. A car that rounding stops one round later differs by so much in its
#: pressure; a share of missed charges, on its steep ends, by up to some thirty times as much.
ALIKE = {"rtol": 3e-6, "atol": 3e-8}
BURNS_NOT = 2.0  # lambda, beyond which no charge burns


@cache
def kind(name: str = "flat-six") -> Kind:
    return kind_for(name)


@cache
def listed(name: str = "flat-six") -> tuple[Suspect, ...]:
    return suspects(kind(name), causes_of(kind(name)))


def cars_with(name: str, which: Any, severity: Any, seed: int = 3) -> tuple[Cars, SetUp]:
    """Cars drawn from the spread, set up, each with its fault."""
    draws = np.random.default_rng(seed).standard_normal((len(which), len(kind(name).blueprint.free)))
    cars = kind(name).blueprint.cars(draws)
    screws = set_up(kind(name).design, kind(name).torque, kind(name).funnel, cars, HOME)
    faults = alone(np.asarray(which), np.asarray(severity, dtype=float))
    spoil(kind(name).blueprint, cars, listed(name), faults)
    return cars, screws


def all_causes(name: str, severity: float) -> tuple[Cars, SetUp]:
    """One car for each suspect, the sound one first."""
    count = len(listed(name))
    return cars_with(name, np.arange(count), np.full(count, severity))


def picked(cars: Cars, screws: SetUp, rows: Any) -> tuple[Cars, SetUp]:
    return cars.some(np.asarray(rows)), SetUp(screws.screw[rows], screws.idle_area[rows])


def state_of(name: str, cars: Cars, screws: SetUp, engine: str) -> dict[str, Any]:
    """Everything known of a state, each of shape (..., cars)."""
    if engine == "off":
        found: Any = pour(kind(name), cars, screws, replace(HOME, opening=0.055))
    else:
        found = run(kind(name), cars, screws, replace(HOME, engine=engine))
    every = np.zeros(len(cars))
    state = {field.name: getattr(found, field.name) + every for field in fields(found)}
    return state | {
        "unbalanced": found.converged
    }  # what is left within that is by how much a round went too far


@pytest.mark.parametrize("engine", ["off", *STATES])
@pytest.mark.parametrize("name", ["flat-six", "inline-four-oxygen"])
def test_a_car_solved_alone_is_what_it_is_in_a_block_of_all_causes(name: str, engine: str) -> None:
    cars, screws = all_causes(name, 0.9)
    together = state_of(name, cars, screws, engine)
    for car in np.random.default_rng(1).choice(len(cars), 12, replace=False):
        alone = state_of(name, *picked(cars, screws, [car]), engine)
        # of a car that does not run so, that is all there is to say
        known = together if alone["unbalanced"][0] else {"unbalanced": together["unbalanced"]}
        for what, values in known.items():
            np.testing.assert_allclose(values[..., car], alone[what][..., 0], err_msg=what, **ALIKE)


@pytest.mark.parametrize("engine", ["off", *STATES])
def test_the_order_of_the_cars_does_not_matter(engine: str) -> None:
    cars, screws = all_causes("flat-six", 0.7)
    order = np.random.default_rng(2).permutation(len(cars))
    as_they_stand = state_of("flat-six", cars, screws, engine)
    turned = state_of("flat-six", *picked(cars, screws, order), engine)
    for what, values in as_they_stand.items():
        np.testing.assert_allclose(values[..., order], turned[what], err_msg=what, **ALIKE)


@pytest.mark.parametrize("severity", [0.3, 0.7, 1.0])
@pytest.mark.parametrize("name", ["flat-six", "inline-four-oxygen"])
def test_engines_worked_out_together_run_as_each_does_alone(name: str, severity: float) -> None:
    some = all_causes(name, severity)
    few = picked(*some, np.arange(0, len(some[0]), 7))
    places = [
        replace(HOME, engine=state, altitude=altitude, hose=hose, sensor=sensor)
        for state in STATES
        for altitude, hose, sensor in ((0.0, True, "connected"), (1500.0, False, "off"))
    ]
    places.append(replace(HOME, engine="fast_idle", speed=40.0, vacuum=0.5e5, air_pump=False, fuel=0.85))
    asked = [(*cars, place) for place in places for cars in (some, few)]
    for one, together in zip(asked, run_together(kind(name), asked), strict=True):
        alone, every = run(kind(name), *one), np.zeros(len(one[0]))
        np.testing.assert_array_equal(alone.converged, together.converged)
        runs = np.flatnonzero(alone.converged)  # what does not run ends anywhere
        for what in {field.name for field in fields(alone)} - {"unbalanced"}:
            values, theirs = (getattr(found, what) + every for found in (alone, together))
            if what == "mixture":  # leaner than any that burns, a wreck's runs away with the last round
                values, theirs = np.minimum(values, BURNS_NOT), np.minimum(theirs, BURNS_NOT)
            np.testing.assert_allclose(values[..., runs], theirs[..., runs], err_msg=what, **ALIKE)


def test_what_is_solved_for_together_is_what_is_solved_for_one_by_one() -> None:
    cars, screws = all_causes("flat-six", 0.6)
    seen, again = (Readout(kind(), cars, screws) for _ in range(2))
    for opening, lines in ((None, True), (0.02, True), (0.055, False), (0.055, True)):
        seen.pour(replace(HOME, opening=opening, lines=lines))
    for vacuum in (None, 0.5e5):
        seen.pressures(replace(HOME, vacuum=vacuum))
        for time, blocked in ((600.0, "none"), (1200.0, "none"), (600.0, "feed")):
            seen.held(replace(HOME, vacuum=vacuum), time, blocked)
    again.solve(seen.solved)
    assert set(again.solved) == set(seen.solved)
    for what, key in seen.solved:
        if what == "held":
            np.testing.assert_allclose(seen.held(*key), again.held(*key), **ALIKE)
            continue
        one, two = ((found.pour if what == "pour" else found.pressures)(key) for found in (seen, again))
        np.testing.assert_array_equal(one.converged, two.converged)
        for field in fields(one):
            values, theirs = getattr(one, field.name), getattr(two, field.name)
            np.testing.assert_allclose(values, theirs, err_msg=field.name, **ALIKE)


@settings(max_examples=20, deadline=None)
@given(st.data())
def test_a_sound_car_does_not_feel_which_wrecks_stand_beside_it(data: st.DataObject) -> None:
    others = data.draw(st.lists(st.integers(1, len(listed()) - 1), min_size=1, max_size=12))
    severity = data.draw(st.floats(0.0, 1.0))
    cars, screws = cars_with("flat-six", [0, *others], [0.0] + [severity] * len(others))
    beside = state_of("flat-six", cars, screws, "road_steady")
    alone = state_of("flat-six", *picked(cars, screws, [0]), "road_steady")
    for what, values in beside.items():
        np.testing.assert_allclose(values[..., 0], alone[what][..., 0], err_msg=what, **ALIKE)


@pytest.mark.parametrize("severity", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("name", ["flat-six", "vee-eight", "inline-four-oxygen"])
def test_every_cause_leaves_supply_and_demand_in_balance(name: str, severity: float) -> None:
    cars, _ = all_causes(name, severity)
    off = replace(HOME, engine="off")
    lift = np.full(len(cars), kind(name).design.openings["full"] / kind(name).design.lever_ratio)
    demand = Demand(metered(cars, lift, off), paths(cars, off))
    set_to = regulated(cars, bimetal_temperature(cars, off), 0.0)
    found = balance(cars, off).pressure(set_to, demand)
    assert np.all(found.unbalanced <= 1e-7)  # before the last step
    for car in range(len(cars)):
        one, asks = cars.some(np.array([car])), demand.some(np.array([car]))

        def missed(pressure: float, one: Cars = one, asks: Demand = asks, car: int = car) -> float:
            lift = (pressure - one["system_setting"]) / (0.02e5 / 10e-6 + one["return_resistance"])
            control = control_pressure(one, pressure, set_to[car])
            taken = one["feed_orifice"] * np.sqrt(np.maximum(pressure - control, 1.0))
            supply, _ = supplied(one, free_flow(one, off), pressure)
            returned = 0.5 * (lift + np.sqrt(lift * lift + CORNER * CORNER))
            return float((supply - taken - asks.poured(pressure).sum() - returned)[0])

        right = LEAST if missed(LEAST) <= 0.0 else brentq(missed, LEAST, 12e5, xtol=1e-6, rtol=1e-14)
        # a step of Newton's from a share 1e-7 of the flow out of balance leaves far less than that
        assert found.pressure[car] == pytest.approx(right, rel=1e-8)
        np.testing.assert_allclose(found.poured[:, car], asks.poured(right)[:, 0], rtol=1e-6, atol=1e-15)


@pytest.mark.parametrize("engine", [state for state in STATES if state != "full_load"])
@pytest.mark.parametrize("name", ["flat-six", "inline-four-oxygen"])
def test_an_engine_without_a_balance_says_so_and_stands_at_an_end(name: str, engine: str) -> None:
    cars, screws = all_causes(name, 1.0)
    found = run(kind(name), cars, screws, replace(HOME, engine=engine))
    assert found.converged[0]
    share = found.manifold[~found.converged] / HOME.outside
    assert np.all(np.isclose(share, ENDS[0], rtol=1e-12) | np.isclose(share, ENDS[1], rtol=1e-12))
    # the rounds end at 3e-7 of 5 bar; an open regulator passes 10 ml/s more for each 0.02 bar: of the pump's
    # 42 ml/s that is 2e-5
    assert np.all(found.unbalanced[found.converged] <= 2e-5)


def test_an_engine_without_spark_finds_no_balance() -> None:
    spark = next(number for number, one in enumerate(listed()) if one.id == "spark_none")
    cars, screws = cars_with("flat-six", [0, spark], [0.0, 1.0])
    found = run(kind(), cars, screws, replace(HOME, engine="idle_warm"))
    assert found.converged.tolist() == [True, False]


def test_a_pump_that_does_not_run_leaves_what_stands_in_the_lines() -> None:
    silent = next(number for number, one in enumerate(listed()) if one.id == "pump_relay_silent")
    cars, _ = cars_with("flat-six", [0, silent], [0.0, 1.0])
    found = pressures(cars, replace(HOME, engine="cranking"))
    assert found.system[1] == LEAST
    assert found.converged.all()


def test_a_slit_passes_area_times_velocity_times_its_discharge() -> None:
    cars, _ = all_causes("flat-six", 0.8)
    lift = np.linspace(-20e-6, 4e-3, len(cars))
    free = positive(lift - cars["slit_edge"], 1.2e-6)
    fuel = tank(cars, HOME)
    jet = np.sqrt(2.0 * cars["pressure_drop"] / fuel.density)
    viscosity = blend_viscosity(fuel.blend, HOME.ambient_temperature)
    across = 2.0 * cars["slit_width"] * free / (cars["slit_width"] + free)  # four areas over the edge
    reynolds = jet * across / viscosity
    right = SLIT_ROUNDING * slit_discharge(reynolds) * cars["slit_width"] * free * jet
    np.testing.assert_allclose(metered(cars, lift, HOME), right, rtol=1e-12)


def test_a_path_passes_the_lesser_of_what_is_metered_and_what_its_valve_lets_through() -> None:
    cars, _ = all_causes("flat-six", 0.8)
    lift, system = np.full(len(cars), 3.4e-3), cars["system_setting"]
    wanted, most = metered(cars, lift, HOME), paths(cars, HOME).most(system)
    apart = wanted - most
    right = 0.5 * (wanted + most - np.sqrt(apart * apart + TRAVEL_CORNER**2 * wanted * most))
    # where one is far the lesser, the difference of two near numbers costs this form some of its digits
    np.testing.assert_allclose(fuel(cars, lift, system, HOME), right + cars["port_leak"], rtol=1e-9)


@pytest.mark.parametrize("severity", [0.0, 0.37, 1.0])
def test_faults_put_on_at_once_are_those_put_on_one_by_one(severity: float) -> None:
    plan = kind().blueprint
    middle = plan.cars(np.zeros((1, len(plan.free))))
    for number, suspect in enumerate(listed()):
        for form in range(1 if suspect.cause is None else len(suspect.cause.forms)):
            signed = np.array([-severity if form else severity])
            if form and severity == 0.0:
                continue  # least of the second form: there is no sign to tell it by
            cars = middle.copy()
            spoil(plan, cars, listed(), alone(np.array([number]), signed))
            right = middle
            if suspect.cause is not None:
                right = with_fault(plan, middle, suspect.cause, suspect.cylinder, severity, form)
            np.testing.assert_allclose(cars.values, right.values, rtol=1e-13, err_msg=suspect.id)


def test_a_second_fault_is_put_on_the_first() -> None:
    plan = kind().blueprint
    by_id = {one.id: number for number, one in enumerate(listed())}
    cars = plan.cars(np.zeros((1, len(plan.free))))
    both = Faults(
        np.array([[by_id["pump_weak"], by_id["filter_restricted"]]]),
        np.array([[0.4, 0.6]]),
    )
    first, second = (listed()[by_id[name]].cause for name in ("pump_weak", "filter_restricted"))
    assert first is not None
    assert second is not None
    right = with_fault(plan, with_fault(plan, cars, first, None, 0.4), second, None, 0.6)
    spoil(plan, cars, listed(), both)
    np.testing.assert_allclose(cars.values, right.values, rtol=1e-13)
