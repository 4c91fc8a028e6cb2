"""Cars made up from the model, with a fault or none, and what a workshop would read on them.

A *mismatch* makes the readings from another car than the model's: so that a diagnosis is tried on cars it
does not know. Each kind of mismatch is another way of being wrong; what is tuned is tuned on some kinds and
reported on others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenpour.causes.car_model import drawn, spoil
from evenpour.causes.observed import Observation
from evenpour.causes.problem import Faults
from evenpour.causes.suspects import Suspect
from evenpour.job.engine_model import checks_predicted
from evenpour.job.sheet.found import known_checks
from evenpour.machine.asking import query
from evenpour.machine.checks import ChoiceCheck, NumberCheck, predict
from evenpour.machine.kind import Kind
from evenpour.machine.readout import Query, Readout
from evenpour.machine.set_up import set_since, set_up
from evenpour.machine.situation import Situation

#: Checks read on a pressure gauge.
PRESSURES = frozenset({
    "system_pressure", "control_pressure_cold", "control_pressure_warm", "holding_pressure", "pump_deadhead",
    "injector_opening_pressure",
})  # fmt: skip
HOME = Situation(altitude=240.0, ambient_temperature=291.15, fuel=0.05)
#: One sigma of a decent workshop's instruments, SI, or a share of the value. Invented.
INSTRUMENT = {
    "system_pressure": 0.035e5, "control_pressure_cold": 0.035e5, "control_pressure_warm": 0.035e5,
    "holding_pressure": 0.035e5, "pump_delivery": 6e-6, "onset": 0.03, "catch": 0.2e-6, "exhaust_co": 0.0008,
    "exhaust_o2": 0.001, "exhaust_hc": 12e-6, "exhaust_lambda": 0.005, "idle_speed": 0.17,
    "manifold_vacuum": 0.012e5, "compression": 0.12e5, "timing_static": 0.4 / 360.0, "pump_voltage": 0.05,
    "injector_opening_pressure": 0.04e5, "regulator_heater_resistance": 0.2, "plate_rest_height": 0.05e-3,
    "control_flow": 0.05e-6, "cylinder_drop": 0.12, "exhaust_co2": 0.0015,
    "exhaust_port_temperature": 4.0, "lambda_duty": 0.006,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mismatch:
    """How a car departs from the model. All neutral by default."""

    spread: float = 1.0  # factor on the kind's own spread
    tails: float | None = None  # degrees of freedom of Student's t in place of the normal
    noise: float = 1.0  # factor on the instruments' error and on repeatability
    constants: float = 0.0  # relative error of the model's own constants: torque, leaks' shares, capacities
    leak_law: float = 0.0  # 0 as modelled; 1: the leaks after the stop go with pressure, not with its root
    geometry: float = 0.0  # relative error of lever, plate, plunger and funnel, which no spread covers
    gauge: float = 0.0  # relative error that all pressures share: one gauge that reads wrong
    misread: float = 0.02  # share of words taken down wrongly
    other_day: float = 0.0  # 1: seven kelvin warmer, 150 m higher and on E10, with nobody saying so


def questions(kind: Kind, some: Sequence[str], home: Situation = HOME) -> list[Query]:
    """A workshop's usual questions, for the checks named."""
    cylinders = range(1, kind.design.cylinders + 1)
    found: list[Query] = []
    stated: dict[str, list[dict[str, float | str]]] = {
        "control_pressure_cold": [{"regulator_temperature": home.ambient_temperature}],
        "control_pressure_warm": [{"after": 300.0, "voltage": 12.2, "vacuum": "none"}],
        "holding_pressure": [{"after": 600.0}, {"after": 1200.0}],
        "pump_delivery": [{"voltage": 12.0, "duration": 30.0}],
        "onset": [{"through": "lines"}, {"through": "injectors"}],
        "catch": [
            {"through": through, "opening": opening, "duration": time}
            for through in ("lines", "injectors")
            for opening, time in (("idle", 150.0), ("full", 35.0))
        ],
        "exhaust_lambda": [{"state": "idle_warm"}, {"state": "fast_idle"}, {"state": "road_steady"}],
    }
    checks, _ = known_checks()
    for name in some:
        for conditions in stated.get(name, [{}]):
            each = cylinders if checks[name].per_cylinder else (None,)
            found += [query(kind, name, cylinder, conditions, home) for cylinder in each]
    return found


def read(
    kind: Kind,
    suspects: Sequence[Suspect],
    fault: int,
    severity: float,
    asked: Sequence[Query],
    rng: np.random.Generator,
    mismatch: Mismatch = Mismatch(),
    others: Sequence[tuple[int, float]] = (),
) -> tuple[Observation, ...]:
    """What is read on one car with suspect number *fault* at *severity*, and *others* at theirs; 0 is nothing
    wrong.
    """
    plan = kind.blueprint
    free = plan.free
    z = rng.standard_normal(len(free))
    if mismatch.tails is not None:
        z = rng.standard_t(mismatch.tails, len(free)) / np.sqrt(mismatch.tails / (mismatch.tails - 2.0))
    model = _off(kind, mismatch, rng)
    cars = drawn(plan, free, mismatch.spread * plan.spread[free], z[None, :])
    screws = set_up(model.design, model.torque, model.funnel, cars, HOME)
    which, how = zip((fault, severity), *others, strict=True)
    spoil(
        plan,
        cars,
        suspects,
        Faults(np.array([which]), np.array([how])),
    )
    screws = set_since(model.design, model.torque, model.funnel, cars, HOME, screws)
    if mismatch.leak_law:
        _other_leaks(cars, kind)
    known = checks_predicted()
    there = [_really(one, mismatch) for one in asked]
    values = predict(Readout(model, cars, screws), [(known[one.check], one) for one in there])[0]
    gauge = 1.0 + mismatch.gauge * rng.standard_normal() if mismatch.gauge else 1.0
    level = {one.situation: rng.normal(0.0, 0.02 * mismatch.noise) for one in asked if one.check == "catch"}
    found, numbers = [], {}
    for one, value in zip(asked, values, strict=True):
        check = known[one.check]
        reading = numbers.setdefault(
            (one.check, one.situation, one.cylinder if one.check != "catch" else 0), len(numbers)
        )
        if isinstance(check, ChoiceCheck):
            seen_at = value + rng.standard_normal()
            place = int(np.searchsorted(check.cuts, seen_at))
            if rng.random() < mismatch.misread:
                place = int(rng.integers(len(check.order)))
            found.append(Observation(check, one, None, 0.0, check.word(place, one), reading))
            continue
        if one.check in PRESSURES:
            value = check.compared(gauge * check.uncompared(value))
        found.append(_number(check, one, value, reading, level, rng, mismatch))
    return tuple(found)


def _really(one: Query, mismatch: Mismatch) -> Query:
    """The question as it is on the car, where the surroundings are not what was said."""
    if not mismatch.other_day:
        return one
    said = one.situation
    warmer = said.ambient_temperature + 7.0 * mismatch.other_day
    higher = said.altitude + 150.0 * mismatch.other_day
    fuel = said.fuel + 0.05 * mismatch.other_day
    return replace(one, situation=replace(said, ambient_temperature=warmer, altitude=higher, fuel=fuel))


def _number(
    check: NumberCheck,
    one: Query,
    value: float,
    reading: int,
    level: dict[Situation, float],
    rng: np.random.Generator,
    mismatch: Mismatch,
) -> Observation:
    value = value + level.get(one.situation, 0.0) * (one.check == "catch")
    off = mismatch.noise * np.hypot(check.repeats, 0.7 * check.model) * rng.standard_normal()
    true = float(check.uncompared(value + off))
    u = INSTRUMENT.get(one.check, 0.02 * abs(true))
    got = true + mismatch.noise * u * rng.standard_normal()
    if check.logarithmic:
        got = max(got, 0.0)
    checks, _ = known_checks()
    return Observation(check, one, got, u, None, reading, (), checks[one.check].sense, one.check)


def _off(kind: Kind, mismatch: Mismatch, rng: np.random.Generator) -> Kind:
    """The same kind with its fixed constants off: another engine of the same sheet."""
    if mismatch.geometry:
        kind = _bent(kind, mismatch.geometry, rng)
    if mismatch.constants == 0.0:
        return kind
    off = lambda: float(np.exp(mismatch.constants * rng.standard_normal()))  # noqa: E731
    torque = replace(
        kind.torque,
        friction_torque=kind.torque.friction_torque * off(),
        specific=kind.torque.specific * off(),
    )
    return replace(kind, torque=torque, control_flow=kind.control_flow * off())


def _bent(kind: Kind, size: float, rng: np.random.Generator) -> Kind:
    """The same kind with lever, plate and plunger not as the funnel was shaped for: its mixture bends."""
    lever, plate, plunger = np.exp(size * rng.standard_normal(3) * (1.0, 0.3, 0.6))
    design = replace(
        kind.design,
        lever_ratio=kind.design.lever_ratio * float(lever),
        plate_diameter=kind.design.plate_diameter * float(plate),
        plunger_area=kind.design.plunger_area * float(plunger),
    )
    return replace(kind, design=design)


def _other_leaks(cars: object, kind: Kind) -> None:
    """Turn the leaks' law: holes become gaps that leak alike at the shut pressure."""
    root = np.sqrt(kind.centre["shut_pressure"])
    values = cars.values  # type: ignore[attr-defined]
    rows = cars.rows  # type: ignore[attr-defined]
    total = 0.0
    for name in ("non_return_leak", "regulator_leak", "control_leak"):
        total = total + values[rows[name].start]
        values[rows[name].start] *= 0.0
    values[rows["barrel_leak"].start] += total / root


STANDARD = (
    "system_pressure", "control_pressure_cold", "control_pressure_warm", "holding_pressure", "pump_delivery",
    "onset", "catch", "exhaust_co", "exhaust_o2", "exhaust_hc", "exhaust_lambda", "idle_speed",
    "manifold_vacuum", "intake_smoke", "plug_look", "plunger_return", "start_outcome", "hot_restart",
)  # fmt: skip
