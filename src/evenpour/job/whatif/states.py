"""The inside of the machine in each state, and the mixture over air flow, as they are answered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenpour.job.whatif.answers import CurveMark, InsideTold, MixtureCurve, PortTold, StateTold
from evenpour.job.whatif.words import STATES, state_words
from evenpour.machine.inside import Inside, inside
from evenpour.machine.kind import Kind
from evenpour.machine.line_map import LineMap
from evenpour.machine.mixture_curve import mixture_curve, most_air, usual_flows
from evenpour.machine.readout import Readout
from evenpour.machine.sheet import Sheet
from evenpour.machine.situation import Situation
from evenpour.machine.sound import runs, soundness
from evenpour.measure.limits import Band, band
from evenpour.measure.readings import Condition
from evenpour.measure.units import in_unit, shown

BAR, MBAR, ML_PER_MINUTE, GRAM, MM, CM2 = 1e5, 1e2, 1e-6 / 60.0, 1e-3, 1e-3, 1e-4
OFF_STATES = {
    "rest": "pump on, plate at rest",
    "opening_idle": "pump on, plate at the idle opening",
    "opening_part": "pump on, plate at the part opening",
    "opening_full": "pump on, plate at the full opening",
}
MARKED = ("idle_warm", "fast_idle", "road_steady", "full_load")
WITHOUT_SENSOR = "Without correction by the oxygen sensor. "
CURVE_WORDS = (
    "Lambda over the air through the plate, engine warm, from under idle to full load; the band holds 90 of "
    "100 healthy cars. Air that leaks in past the plate weighs most where little goes through it."
)


def situations(kind: Kind, home: Situation) -> dict[str, Situation]:
    """Every state that is shown, in the surroundings *home*."""
    off = replace(home, engine="off", lines=False, opening=None)
    found = {"rest": off}
    for name, lift in kind.design.openings.items():
        if f"opening_{name}" in OFF_STATES:
            found[f"opening_{name}"] = replace(off, opening=lift)
    running: dict[str, Situation] = {name: replace(home, engine=name) for name in STATES}  # type: ignore[arg-type]
    return found | running


def insides(seen: Readout, home: Situation, system: str) -> dict[str, InsideTold]:
    """The machine opened in every state."""
    return {
        name: inside_told(inside(seen, situation), seen.kind, system)
        for name, situation in situations(seen.kind, home).items()
    }


def usual_mixtures(many: Readout, home: Situation) -> dict[str, tuple[float, float]]:
    """Between which lambda nine of ten healthy cars lie, by state; of those that run."""
    found = {}
    for name, situation in situations(many.kind, home).items():
        if situation.running:
            state = many.running(situation)
            low, high = np.quantile(state.whole[runs(many.kind, state)], (0.05, 0.95))
            found[name] = (_rounded(low), _rounded(high))
    return found


def states_told(
    now: Readout,
    home: Situation,
    healthy: Mapping[str, InsideTold],
    usual: Mapping[str, tuple[float, float]],
    system: str,
) -> list[StateTold]:
    """Every state with what is set, and without: *healthy*, and lambda of *usual* cars, by state."""
    return [
        _state(name, now, situation, healthy[name], usual.get(name), system)
        for name, situation in situations(now.kind, home).items()
    ]


def _state(
    name: str,
    now: Readout,
    situation: Situation,
    healthy: InsideTold,
    usual: tuple[float, float] | None,
    system: str,
) -> StateTold:
    told = inside_told(inside(now, situation), now.kind, system)
    if not situation.running:
        words = OFF_STATES[name]
        return StateTold(state=name, title=words, runs=None, words=words, now=told, healthy=healthy)
    state = now.running(situation)
    sound = soundness(now.kind, state)
    speed, whole = float(np.ravel(state.speed)[0]), float(state.whole[0])
    return StateTold(
        state=name,
        title=STATES[name],
        runs=sound.runs,
        words=state_words(name, sound, speed, whole),
        now=told if sound.runs else None,
        healthy=healthy,
        healthy_low=None if usual is None else usual[0],
        healthy_high=None if usual is None else usual[1],
    )


def inside_told(found: Inside, kind: Kind, system: str) -> InsideTold:
    """The one car's machine, opened."""
    running = found.speed is not None
    fuel = found.fuel[:, 0]
    values: dict[str, Any] = {
        "plate_lift_mm": found.plate_lift[0] / MM,
        "plunger_lift_mm": found.plunger_lift[0] / MM,
        "plate_gap_cm2": found.plate_gap[0] / CM2,
        "plate_drop_mbar": found.plate_drop[0] / MBAR,
        "system_pressure_bar": found.system[0] / BAR,
        "control_pressure_bar": found.control[0] / BAR,
        "regulator_temperature_degc": in_unit(float(found.regulator[0]), "degC", "temperature"),
        "screw_turn": found.screw[0],
        "pump_voltage_v": found.pump_volts[0],
        "pump_pressure_bar": found.pump_pressure[0] / BAR,
        "pump_ml_per_min": found.pump_flow[0] / ML_PER_MINUTE,
        "control_ml_per_min": found.control_flow[0] / ML_PER_MINUTE,
        "return_ml_per_min": found.returned[0] / ML_PER_MINUTE,
        "air_g_per_s": found.air[0] / GRAM,
        "plate_air_g_per_s": found.plate_air[0] / GRAM,
        "leak_air_g_per_s": found.leak_air[0] / GRAM,
        "fuel_ml_per_min": fuel.sum() / ML_PER_MINUTE,
        "manifold_pressure_bar_abs": found.manifold[0] / BAR if running else None,
        "speed_rpm": found.speed[0] * 60.0 if running else None,
        "lambda_": found.whole[0] if running else None,
        "duty": found.duty[0] if running and kind.oxygen_control else None,
    }
    rounded: dict[str, Any] = {
        name: None if value is None else _rounded(value) for name, value in values.items()
    }
    return InsideTold(
        **rounded,
        ports=[_port(found, one, kind.design.line_map, system) for one in range(len(fuel))],
        shown=dict(_shown(found, system)),
    )


def _port(found: Inside, own: int, line_map: LineMap, system: str) -> PortTold:
    fuel = float(found.fuel[own, 0])
    return PortTold(
        cylinder=own + 1,
        port=line_map.port(own + 1),
        slit_open_mm=_rounded(found.slit_open[own, 0] / MM),
        slit_drop_bar=_rounded(found.slit_drop[own, 0] / BAR),
        valve_open=_rounded(found.valve_open[own, 0]),
        before_injector_bar=_rounded(found.before_injector[own, 0] / BAR),
        fuel_ml_per_min=_rounded(fuel / ML_PER_MINUTE),
        lambda_=None if found.mixture is None else _rounded(found.mixture[own, 0]),
        missed=None if found.missed is None else _rounded(found.missed[own, 0]),
        fuel_shown=_flow(fuel, system),
    )


def _shown(found: Inside, system: str) -> Iterator[tuple[str, str]]:
    """The figures a drawing labels, in the user's units."""
    yield "plate_lift", shown(float(found.plate_lift[0]), "length", system)
    yield "plunger_lift", shown(float(found.plunger_lift[0]), "length", system)
    yield "plate_drop", shown(float(found.plate_drop[0]), "pressure", system, unit=_small(system))
    yield "system_pressure", shown(float(found.system[0]), "pressure", system)
    yield "control_pressure", shown(float(found.control[0]), "pressure", system)
    yield "regulator_temperature", shown(float(found.regulator[0]), "temperature", system)
    yield "fuel", _flow(float(found.fuel[:, 0].sum()), system)
    yield "plate_air", shown(float(found.plate_air[0]), "mass_flow", system)
    yield "leak_air", shown(float(found.leak_air[0]), "mass_flow", system)
    if found.speed is not None:
        yield "speed", shown(float(found.speed[0]), "speed", system)
        yield "lambda", shown(float(found.whole[0]), "lambda", system)
        yield "manifold_pressure", f"{shown(float(found.manifold[0]), 'pressure', system)} abs"


def _small(system: str) -> str:
    return "mbar" if system == "metric" else "inH2O"


def _flow(flow: float, system: str) -> str:
    return shown(flow, "volume_flow", system, unit="ml/min" if system == "metric" else None)


def _rounded(value: float) -> float:
    return float(f"{float(value):.7g}") + 0.0


@dataclass(frozen=True, slots=True)
class HealthyCurve:
    """Lambda over air flow of the healthy car and of most healthy cars. Shapes (points,); SI."""

    air: NDArray[np.float64]
    middle: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def healthy_curve(middle: Readout, many: Readout, home: Situation) -> HealthyCurve:
    """The curve of the car in the middle, and of 90 of 100 healthy ones."""
    air = usual_flows(middle.kind, home)
    own = mixture_curve(middle.kind, middle.cars, middle.screws, home, air)[0]
    all_ = mixture_curve(many.kind, many.cars, many.screws, home, air)
    low, high = np.quantile(all_, (0.05, 0.95), axis=0)
    return HealthyCurve(air, own, low, high)


def curve_told(
    now: Readout, home: Situation, usual: HealthyCurve, states: Sequence[StateTold], sheet: Sheet
) -> MixtureCurve:
    """The curve as it is now, beside the healthy ones, with the states on it."""
    mine = mixture_curve(now.kind, now.cars, now.screws, home, usual.air)[0]
    most = (1.0 + 1e-9) * most_air(now.kind, home)
    by_name = {state.state: state for state in states}
    return MixtureCurve(
        air_g_per_s=_all(usual.air / GRAM),
        lambda_=[_rounded(one) if air <= most else None for air, one in zip(usual.air, mine, strict=True)],
        healthy=_all(usual.middle),
        low=_all(usual.low),
        high=_all(usual.high),
        marks=[_mark(by_name[name], sheet) for name in MARKED],
        words=(WITHOUT_SENSOR if now.kind.oxygen_control else "") + CURVE_WORDS,
    )


def _mark(state: StateTold, sheet: Sheet) -> CurveMark:
    low, high = _limit(state.state, sheet)
    assert state.healthy.lambda_ is not None
    return CurveMark(
        state=state.state,
        title=state.title,
        air_g_per_s=state.now.plate_air_g_per_s if state.now else None,
        lambda_=state.now.lambda_ if state.now else None,
        healthy_air_g_per_s=state.healthy.plate_air_g_per_s,
        healthy_lambda=state.healthy.lambda_,
        low=low,
        high=high,
    )


def _limit(state: str, sheet: Sheet) -> tuple[float | None, float | None]:
    """The sheet's limit of lambda in a state; where there is an oxygen sensor, with it unplugged."""
    conditions = {
        name: Condition(name, None, word, 0.0, word) for name, word in (("state", state), ("sensor", "off"))
    }
    found = [band(limit, conditions) for limit in sheet.limits_for("exhaust_lambda")]
    bands = [one for one in found if isinstance(one, Band)]
    return (bands[0].low, bands[0].high) if bands else (None, None)


def _all(values: NDArray[np.float64]) -> list[float]:
    return [_rounded(value) for value in values]
