"""Lambda over air flow: the short way to the mixture agrees with the engine that finds its own balance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenpour import data
from evenpour.job.engine_model import causes_known, kind_for
from evenpour.machine.faults import with_fault
from evenpour.machine.inside import inside
from evenpour.machine.kind import Kind
from evenpour.machine.mixture_curve import driven_manifold, mixture_curve, most_air, usual_flows
from evenpour.machine.parameters import Cars
from evenpour.machine.readout import Readout
from evenpour.machine.set_up import SetUp, set_up
from evenpour.machine.situation import Situation
from evenpour.machine.sound import runs, soundness

HOME = Situation()
STATES = ("idle_warm", "road_steady", "full_load")


def cars_of(kind: Kind, count: int = 1) -> tuple[Cars, SetUp]:
    """Healthy cars with their screws set; the first is the one in the middle."""
    draws = np.random.default_rng(5).standard_normal((count, len(kind.blueprint.free)))
    draws[0] = 0.0
    cars = kind.blueprint.cars(draws)
    return cars, set_up(kind.design, kind.torque, kind.funnel, cars, HOME)


@pytest.mark.parametrize("sheet", data.sheet_names())
@pytest.mark.parametrize("cause", [None, "air_leak_common", "crankcase_fuel", "cold_start_valve_leaks"])
def test_the_curve_is_the_mixture_of_the_running_engine(sheet: str, cause: str | None) -> None:
    kind = kind_for(sheet)
    cars, screws = cars_of(kind)
    if cause is not None:
        cars = with_fault(kind.blueprint, cars, causes_known()[cause], None, 0.4)
    for engine in STATES:
        # the curve ends with full load at the highest speed: in the middle of its range one draws as much
        # with its throttle half open, and a load diaphragm tells the two apart
        speed = kind.design.rated_speed if engine == "full_load" else None
        there = replace(HOME, engine=engine, sensor="off", speed=speed)  # type: ignore[arg-type]
        state = Readout(kind, cars, screws).running(there)
        plate_air = np.ravel(state.plate_air)
        found = mixture_curve(kind, cars, screws, HOME, plate_air)
        # the manifold's pressure is a plausible one here and the engine's own there: it moves the leak, and
        # the control pressure where a load diaphragm is just changing over
        assert found[0, 0] == pytest.approx(float(state.whole[0]), rel=0.006)


def test_many_cars_and_flows_at_once_are_each_as_alone() -> None:
    kind = kind_for("vee-six")
    cars, screws = cars_of(kind, 5)
    air = usual_flows(kind, HOME)
    together = mixture_curve(kind, cars, screws, HOME, air)
    assert together.shape == (5, len(air))
    for car in range(5):
        some = slice(car, car + 1)
        alone = mixture_curve(kind, cars.part(some), screws.part(some), HOME, air[3:6])
        assert alone[0] == pytest.approx(together[car, 3:6], rel=1e-9)


def test_the_manifold_fills_as_more_is_drawn_and_never_beyond_what_is_outside() -> None:
    kind = kind_for("flat-six")
    air = usual_flows(kind, HOME)
    for altitude in (0.0, 2500.0):
        outside = replace(HOME, altitude=altitude).outside
        pressure = driven_manifold(kind, air, outside)
        assert np.all(np.diff(pressure) >= 0.0)
        assert np.all(pressure < outside)


def test_thin_or_hot_air_ends_the_curve_sooner() -> None:
    kind = kind_for("flat-six")
    most = most_air(kind, HOME)
    assert most_air(kind, replace(HOME, altitude=2000.0)) == pytest.approx(
        most * replace(HOME, altitude=2000.0).outside / HOME.outside
    )
    assert most_air(kind, replace(HOME, ambient_temperature=313.15)) < most
    full = Readout(kind, *cars_of(kind)).running(
        replace(HOME, engine="full_load", speed=kind.design.rated_speed)
    )
    assert float(np.ravel(full.air)[0]) == pytest.approx(most, rel=1e-6)


def test_a_car_without_spark_does_not_run_and_a_healthy_one_does() -> None:
    kind = kind_for("flat-six")
    cars, screws = cars_of(kind, 2)
    dead = with_fault(kind.blueprint, cars, causes_known()["spark_none"], None, np.array([0.0, 1.0]))
    for engine in ("idle_cold", "idle_warm", "fast_idle", "road_steady", "full_load"):
        situation = replace(HOME, engine=engine)  # type: ignore[arg-type]
        assert runs(kind, Readout(kind, cars, screws).running(situation)).all()
        assert not runs(kind, Readout(kind, dead, screws).running(situation)).any()
    sound = soundness(kind, Readout(kind, dead, screws).running(HOME_IDLE), 1)
    assert (sound.runs, sound.burns, sound.missed) == (False, False, (1.0,) * 6)


HOME_IDLE = replace(HOME, engine="idle_warm")


def test_the_drop_over_a_slit_is_the_one_its_valve_holds_while_it_can() -> None:
    kind = kind_for("flat-six")
    seen = Readout(kind, *cars_of(kind, 3))
    found = inside(seen, HOME_IDLE)
    assert found.slit_drop == pytest.approx(seen.cars["pressure_drop"], rel=0.01)
    assert found.slit_open == pytest.approx(np.maximum(found.plunger_lift - seen.cars["slit_edge"], 0.0))
    bare = inside(seen, replace(HOME, opening=0.02, lines=True))
    assert np.all(bare.before_injector == 0.0)
    assert bare.mixture is None
