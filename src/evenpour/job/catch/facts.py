"""A catch as typed becomes amounts in cubic metres with their doubt, and which part stood where."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evenpour.errors import FieldProblem, OutOfRange, Questioned
from evenpour.job.catalogue import Catalogue
from evenpour.job.fold import Standing
from evenpour.job.rules import read_swap
from evenpour.job.told import Told
from evenpour.machine.sheet import Sheet
from evenpour.measure.instruments import Instrument
from evenpour.measure.readings import Condition, read_condition
from evenpour.measure.units import Quantity, in_unit, parse, shown
from evenpour.physics.fuel import petrol_density

ROOT_3 = math.sqrt(3.0)
# Without an instrument: a measuring cylinder read to 1 ml, a scale to 1 g, a watch to half a second (common
# practice).
ASSUMED_VOLUME = 0.5e-6  # half-width, [m³]
ASSUMED_MASS = 0.5e-3  # half-width, [kg]
ASSUMED_TIME = 0.5  # half-width, [s]
REFERENCE_DENSITY = 745.0  # petrol at 15 °C where the sheet says nothing, [kg/m³]; from memory, not verified
MOST = 5e-3  # more than 5 l from one port is a slip, [m³]


@dataclass(frozen=True, slots=True)
class CatchFact:
    """One run of the flow test, understood. Positions are ports, counted from 0.

    ``amounts`` in m³ (None: lost), ``u`` their standard doubt, ``durations`` in s; ``swaps`` as (kind,
    number, number).
    """

    told: Told
    through: str
    opening: str
    amounts: tuple[float | None, ...]
    u: tuple[float, ...]
    durations: tuple[float, ...]
    u_duration: float
    timed_each: bool
    swaps: tuple[tuple[str, int, int], ...]
    containers: tuple[int, ...] | None
    u_container: float  # relative; the marks of a container err alike wherever it stands
    discard: bool
    unit: str
    typed: tuple[str, ...]
    basis: str
    notes: tuple[str, ...]

    @property
    def key(self) -> str:
        """``lines:idle``"""
        return f"{self.through}:{self.opening}"


def catch_from(
    one: Standing,
    told: Told,
    instruments: Mapping[str, Instrument],
    general: Mapping[str, Condition],
    known: Catalogue,
    sheet: Sheet,
    units: str | None = None,
) -> CatchFact:
    """Understand one catch.

    Raises:
        FieldProblem: amounts for another number of cylinders, a wrong unit, a negative amount, a swap that
        cannot be.
    """
    content = one.content
    typed = tuple(content["amounts"])
    if len(typed) != sheet.cylinders:
        raise FieldProblem(
            "amounts", None, f"holds {len(typed)} amounts",
            allowed=f"{sheet.cylinders}, one for each port of this engine",
            remedy='Write "" for one that was lost.',
        )  # fmt: skip
    quantities = [_amount(text, position) for position, text in enumerate(typed)]
    density, notes = _density(content, general, known, sheet, quantities)
    tares = _tares(content, len(typed))
    instrument = instruments.get(content.get("instrument", ""))
    amounts = tuple(
        _volume(quantity, tare, density, position)
        for position, (quantity, tare) in enumerate(zip(quantities, tares, strict=True))
    )
    width, basis = _reading_error(quantities, instrument, density, content.get("instrument"), units)
    containers = _containers(content)
    marks = _marks_error(instrument, amounts) if containers is not None else 0.0
    if instrument is not None and marks > 0.0:
        width = 0.5 * instrument.resolution / ROOT_3 or width
    durations, u_duration, timed_each = _durations(content, len(typed))
    return CatchFact(
        told=told,
        through=content["through"],
        opening=_opening(content["opening"]),
        amounts=amounts,
        u=(width,) * len(amounts),
        durations=durations,
        u_duration=u_duration,
        timed_each=timed_each,
        swaps=_swaps(content, sheet.cylinders),
        containers=containers,
        u_container=marks,
        discard=bool(content.get("discard", False)),
        unit=next(quantity.unit for quantity in quantities if quantity),
        typed=typed,
        basis=basis,
        notes=notes,
    )


def _amount(text: str, position: int) -> Quantity | None:
    if text == "":
        return None
    name = f"amounts, port {position + 1}"
    quantity = parse(text, ("volume", "mass"), field=name)
    if quantity.value < 0.0:
        raise OutOfRange(
            name, text, "is below nothing", allowed="0 and more", remedy='Write "" if it was lost.'
        )
    return quantity


def _density(
    content: Mapping[str, Any],
    general: Mapping[str, Condition],
    known: Catalogue,
    sheet: Sheet,
    quantities: Sequence[Quantity | None],
) -> tuple[float, tuple[str, ...]]:
    """Density for weighed amounts, [kg/m³], and what had to be assumed for it."""
    if not any(quantity and quantity.dimension == "mass" for quantity in quantities):
        return REFERENCE_DENSITY, ()
    stated = content.get("temperature") or content.get("conditions", {}).get("temperature")
    ambient = general.get("ambient_temperature")
    if stated is not None:
        kelvin = read_condition(known.kinds["temperature"], stated).value
    elif ambient is not None:
        kelvin = ambient.value
    else:
        kelvin = None
    at_15 = sheet.values.get("fuel_reference_density")
    density = (
        float(at_15.value) if at_15 is not None and isinstance(at_15.value, float) else REFERENCE_DENSITY
    )
    if kelvin is None:
        return density, (
            "Weighed without a fuel temperature: 15 °C taken; every port alike, so evenness is not touched.",
        )
    return petrol_density(density, kelvin), ()


def _tares(content: Mapping[str, Any], ports: int) -> list[float]:
    stated = content.get("tare")
    if stated is None:
        return [0.0] * ports
    listed = stated if isinstance(stated, list) else [stated] * ports
    return [parse(text, "mass", field="tare").value for text in listed]


def _volume(quantity: Quantity | None, tare: float, density: float, position: int) -> float | None:
    if quantity is None:
        return None
    name = f"amounts, port {position + 1}"
    value = (quantity.value - tare) / density if quantity.dimension == "mass" else quantity.value
    if value < 0.0:
        raise OutOfRange(
            name, quantity.text, "weighs less than its empty container", remedy="Check tare and weight."
        )
    if value > MOST:
        raise Questioned(name, quantity.text, "is more than any port pours in a catch", allowed="0 to 5 l",
                         remedy="Is the unit right?")  # fmt: skip
    return value


def _reading_error(
    quantities: Sequence[Quantity | None],
    instrument: Instrument | None,
    density: float,
    name: str | None,
    units: str | None,
) -> tuple[float, str]:
    """Standard doubt of one reading of the container or scale, [m³], and where it comes from."""
    weighed = any(quantity and quantity.dimension == "mass" for quantity in quantities)
    if instrument is not None and instrument.dimension in ("volume", "mass"):
        per = density if instrument.dimension == "mass" else 1.0
        if (instrument.dimension == "mass") != weighed:
            raise FieldProblem(
                "instrument", instrument.id, f"measures {instrument.dimension}",
                allowed="an instrument for what was typed: ml with a container, g with a scale",
            )  # fmt: skip
        if instrument.u > 0.0:
            return instrument.u / per, instrument.basis
    if instrument is not None and instrument.dimension not in (None, "volume", "mass"):
        raise FieldProblem(
            "instrument", instrument.id, f"measures {instrument.dimension}, not an amount",
            allowed="a measuring cylinder or a scale",
        )  # fmt: skip
    said = "no instrument stated" if name is None else f"{name} states no error"
    if weighed:
        return ASSUMED_MASS / density / ROOT_3, f"{said}; ± 0.5 g assumed"
    return ASSUMED_VOLUME / ROOT_3, f"{said}; ± {shown(ASSUMED_VOLUME, 'volume', units or 'metric')} assumed"


def _durations(content: Mapping[str, Any], ports: int) -> tuple[tuple[float, ...], float, bool]:
    several = content.get("durations")
    texts = several if several is not None else [content["duration"]]
    quantities = [parse(text, "time", field="durations" if several else "duration") for text in texts]
    for quantity in quantities:
        if not 1.0 <= quantity.value <= 3600.0:
            raise Questioned("duration", quantity.text, "is odd for a catch", allowed="1 s to 1 h",
                             remedy="Is the unit right?")  # fmt: skip
    width = max(ASSUMED_TIME if one.half_width is None else one.half_width for one in quantities)
    values = tuple(one.value for one in quantities)
    return (values if several else values * ports), width / ROOT_3, several is not None


def _opening(text: str) -> str:
    name = text.strip().lower()
    if name in ("rest", "idle", "part", "full"):
        return name
    lift = parse(text, "length", field="opening")
    if not 0.0 <= lift.value <= 0.2:
        raise Questioned(
            "opening", text, "is no lift of a sensor plate", allowed="rest, idle, part, full, or 0 to 200 mm"
        )
    return f"{in_unit(lift.value, 'mm'):.4g} mm"


def _swaps(content: Mapping[str, Any], cylinders: int) -> tuple[tuple[str, int, int], ...]:
    found = []
    for text in content.get("swaps", ()):
        swap = read_swap(text)
        if swap is None:
            raise FieldProblem("swaps", text, "is no swap", allowed='"line 3 with 5" or "injector 2 with 4"')
        kind, first, second = swap
        for number in (first, second):
            if not 1 <= number <= cylinders:
                raise FieldProblem("swaps", text, f"names {kind} {number}", allowed=f"1 to {cylinders}")
        if kind == "injector" and content["through"] == "lines":
            raise FieldProblem(
                "swaps", text, "exchanges injectors in a catch from bare lines",
                allowed="lines, as in line 2 with 4", remedy="Is the catch through injectors?",
            )  # fmt: skip
        found.append(swap)
    return tuple(found)


def _marks_error(instrument: Instrument | None, amounts: Sequence[float | None]) -> float:
    """The error of a measuring container's marks against what was caught; a scale errs alike for all."""
    known = [amount for amount in amounts if amount]
    if instrument is None or instrument.dimension != "volume" or not known:
        return 0.0
    return instrument.half_width / ROOT_3 / (math.fsum(known) / len(known))


def _containers(content: Mapping[str, Any]) -> tuple[int, ...] | None:
    named = content.get("containers")
    if named is None:
        return None
    order = {name: number for number, name in enumerate(sorted({str(name) for name in named}))}
    return tuple(order[str(name)] for name in named)
