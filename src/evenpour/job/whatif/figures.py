"""The figures of an opened machine as a drawing writes them, with their unit, beside the healthy car's."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from evenpour.job.whatif.answers import InsideTold, PortTold, StateTold
from evenpour.measure.units import from_unit, in_unit, label, shown, unit_for, with_minus

NOTHING = "–"
LEANEST = 2.0  # lambda, above which nobody asks how lean
SMALL = {"metric": "mbar", "us": "inH2O", "imperial": "inH2O"}
FINE = {"metric": "mm", "us": "thou", "imperial": "thou"}
FLOW = {"metric": "ml/min"}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of the drawing.

    Attributes:
        number, unit: As written; ``unit`` may be empty. ``healthy``: the healthy car's number.
        changed: Whether the two differ as they are written.
    """

    number: str
    healthy: str
    unit: str

    @property
    def changed(self) -> bool:
        return self.number != self.healthy

    @property
    def text(self) -> str:
        """The number with its unit."""
        return _worded(self.number, self.unit)

    @property
    def was(self) -> str:
        """The healthy car's number with its unit, where it differs; else nothing."""
        return _worded(self.healthy, self.unit) if self.changed else ""


def _worded(number: str, unit: str) -> str:
    return number if number == NOTHING else f"{number} {unit}".rstrip()


@dataclass(frozen=True, slots=True)
class _Written:
    """Where a figure stands in the answer, in which unit and kind, and how fine it is written."""

    field: str
    unit: str
    dimension: str
    fine: bool = False  # three figures, whatever the size; else as a workshop writes the unit
    decimals: int | None = None  # or so many
    own: Mapping[str, str] | None = None  # the unit by system, where it is not the usual one


_MACHINE = {
    "plate_lift": _Written("plate_lift_mm", "mm", "length", fine=True),
    "plunger_lift": _Written("plunger_lift_mm", "mm", "length", fine=True, own=FINE),
    "plate_drop": _Written("plate_drop_mbar", "mbar", "pressure", fine=True, own=SMALL),
    "plate_air": _Written("plate_air_g_per_s", "g/s", "mass_flow", fine=True),
    "leak_air": _Written("leak_air_g_per_s", "g/s", "mass_flow", fine=True),
    "screw": _Written("screw_turn", "turn", "angle"),
    "pump_voltage": _Written("pump_voltage_v", "V", "voltage", decimals=1),
    "pump_pressure": _Written("pump_pressure_bar", "bar", "pressure"),
    "pump_flow": _Written("pump_ml_per_min", "ml/min", "volume_flow", fine=True, own=FLOW),
    "return_flow": _Written("return_ml_per_min", "ml/min", "volume_flow", fine=True, own=FLOW),
    "control_flow": _Written("control_ml_per_min", "ml/min", "volume_flow", fine=True, own=FLOW),
    "fuel": _Written("fuel_ml_per_min", "ml/min", "volume_flow", fine=True, own=FLOW),
    "system_pressure": _Written("system_pressure_bar", "bar", "pressure"),
    "control_pressure": _Written("control_pressure_bar", "bar", "pressure"),
    "regulator_temperature": _Written("regulator_temperature_degc", "degC", "temperature", decimals=0),
}
_PORT = {
    "slit_open": _Written("slit_open_mm", "mm", "length", fine=True, own=FINE),
    "slit_drop": _Written("slit_drop_bar", "bar", "pressure", fine=True),
    "before_injector": _Written("before_injector_bar", "bar", "pressure"),
    "port_fuel": _Written("fuel_ml_per_min", "ml/min", "volume_flow", fine=True, own=FLOW),
}


def figures(state: StateTold, drawn: InsideTold, system: str) -> dict[str, Figure]:
    """All that is written in the drawing of a state, by key; of one port with its cylinder: ``slit_open.1``.

    Args:
        drawn: The machine as it is drawn: that of the state, or of one it falls back to.
    """
    now, healthy = dict(_numbers(drawn, system)), dict(_numbers(state.healthy, system))
    if state.now is None:
        now |= dict.fromkeys(("speed", "lambda", "manifold_pressure"), (NOTHING, ""))
    return {
        key: Figure(number, healthy[key][0], unit or healthy[key][1]) for key, (number, unit) in now.items()
    }


def _numbers(found: InsideTold, system: str) -> Iterator[tuple[str, tuple[str, str]]]:
    for key, written in _MACHINE.items():
        yield key, _written(float(getattr(found, written.field)), written, system)
    yield "speed", _running(found.speed_rpm, lambda rpm: f"{round(rpm, -1):.0f}", "rpm")
    yield "lambda", _running(found.lambda_, _mixture, "")
    yield "manifold_pressure", _manifold(found.manifold_pressure_bar_abs, system)
    yield "duty", (NOTHING if found.duty is None else f"{100.0 * found.duty:.0f}", "%")
    ports = [dict(_port(port, system)) for port in found.ports]
    for port, own in zip(found.ports, ports, strict=True):
        yield from ((f"{key}.{port.cylinder}", one) for key, one in own.items())
    yield from ((key, _together([one[key] for one in ports])) for key in (*_PORT, "valve_open"))


def _together(ports: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """What all ports show, or from the least to the most of them."""
    numbers = sorted({number for number, _ in ports}, key=lambda number: float(number.replace("−", "-")))
    words = numbers[0] if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
    return words, ports[0][1]


def _port(port: PortTold, system: str) -> Iterator[tuple[str, tuple[str, str]]]:
    for key, written in _PORT.items():
        yield key, _written(float(getattr(port, written.field)), written, system)
    yield "valve_open", (_three(100.0 * port.valve_open), "%")
    yield "lambda", _running(port.lambda_, _mixture, "")


def _mixture(value: float) -> str:
    return f"{value:.3f}" if value < LEANEST else f"over {LEANEST:g}"


def _running(value: float | None, words: Callable[[float], str], unit: str) -> tuple[str, str]:
    return (NOTHING, "") if value is None else (words(value), unit)


def _manifold(pressure: float | None, system: str) -> tuple[str, str]:
    if pressure is None:
        return NOTHING, ""
    number, unit = _apart(shown(from_unit(pressure, "bar"), "pressure", system))
    return number, f"{unit} abs"


def _written(value: float, written: _Written, system: str) -> tuple[str, str]:
    si = from_unit(value, written.unit, written.dimension)
    unit = (written.own or {}).get(system) or unit_for(written.dimension, system)
    number = in_unit(si, unit, written.dimension)
    if written.fine:
        return _three(number), label(unit)
    if written.decimals is not None:
        return with_minus(f"{number:.{written.decimals}f}"), label(unit)
    return _apart(shown(si, written.dimension, unit=unit))


def _apart(text: str) -> tuple[str, str]:
    """``3.61 bar`` as its two parts; a fraction stays whole: ``1 1/2 turn``."""
    number, _, unit = text.rpartition(" ")
    return number, unit


def _three(number: float) -> str:
    """Three figures, at most three decimals, and never ``−0``."""
    number = float(f"{number:.3g}")
    decimals = 3 if abs(number) < 1e-9 else min(3, max(0, 2 - math.floor(math.log10(abs(number)))))
    text = f"{number:.{decimals}f}"
    return with_minus(text) if text.strip("-0.") else "0"
