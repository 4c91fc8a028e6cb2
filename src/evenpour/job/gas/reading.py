"""The gases of one analysis as typed, understood: per cent and ppm, propane, wet gas, an analyser's class."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from evenpour.errors import FieldProblem
from evenpour.job.catalogue import Catalogue
from evenpour.measure.analysers import PEF, PEF_WIDTH, AnalyserClass, analyser_class, hexane_factor
from evenpour.measure.instruments import AFR_AT_LAMBDA_1, Instrument, instrument_from
from evenpour.measure.mixture import GasValue, dried
from evenpour.measure.readings import read_value
from evenpour.measure.units import in_unit, parse
from evenpour.physics.blend import Blend

UNITS = {"co": "%", "co2": "%", "o2": "%", "hc": "ppm", "nox": "ppm"}  # as every analyser shows them
_BARE = re.compile(r"[\s0-9.,+\-−–±/]+")
_ROOT_3 = math.sqrt(3.0)
_END = 0.999  # of an instrument's scale: a display that can go no further stands there


@dataclass(frozen=True, slots=True)
class GasRead:
    """One gas: as typed, and as a dry share with its doubt; HC as n-hexane."""

    check: str
    title: str
    unit: str
    typed: str
    gas: GasValue
    basis: str
    converted: tuple[str, ...] = ()  # what was done to the figure typed
    at_the_end: bool = False  # of the instrument's scale: the gas may hold more


@dataclass(frozen=True, slots=True)
class MeterRead:
    """A wideband display's figure: what it shows at lambda 1, and the lambda it means."""

    typed: str
    scale: float
    gas: GasValue
    basis: str


@dataclass(frozen=True, slots=True)
class Analyser:
    """What the gases were read on, as far as it was said.

    ``class_`` stands where no ± is typed, ``instrument`` (of the job) where no class is said. ``hc_as`` and
    ``pef`` say what HC was shown as; ``wet``: hot, with its water.
    """

    class_: AnalyserClass | None = None
    instrument: Instrument | None = None
    hc_as: str = "hexane"
    pef: str | None = None
    wet: bool = False


UNSAID = Analyser()


def analyser_of(
    class_: str | None, hc_as: str = "hexane", pef: str | None = None, wet: bool = False
) -> Analyser:
    """The analyser as it was said in words.

    Raises:
        UnknownName: no such class.
    """
    return Analyser(None if class_ is None else analyser_class(class_), None, hc_as, pef, wet)


def read_gases(
    texts: Mapping[str, str], known: Catalogue, analyser: Analyser, fuel: Blend, *, sure: bool = False
) -> dict[str, GasRead]:
    """Every gas that was typed, by name.

    Args:
        texts: Gas to text; a bare number is per cent (CO, CO2, O2) or ppm (HC, NOx), as analysers show them.
        known: The checks, which say what is odd and which error is assumed.
        analyser: What they were read on.
        fuel: The blend; the water of a wet gas is worked out from it.
        sure: Odd values are so.
    Raises:
        FieldProblem: a value that cannot be read.
        Questioned: an odd value, and not *sure*.
    """
    read = {name: _read(name, text, known, analyser, sure) for name, text in texts.items()}
    if analyser.wet:
        dry = dried({name: one.gas for name, one in read.items()}, fuel)
        words = "read wet; turned into dry shares, as a meter behind a water trap shows them"
        read = {
            name: replace(one, gas=dry[name], converted=(*one.converted, words)) for name, one in read.items()
        }
    return read


def _read(name: str, text: str, known: Catalogue, analyser: Analyser, sure: bool) -> GasRead:
    check = known.checks[f"exhaust_{name}"]
    typed = f"{text} {UNITS[name]}" if _BARE.fullmatch(text) else text
    read = read_value(check, typed, analyser.instrument, sure=sure)
    value, u, basis = float(read.value), read.u_b, read.basis
    if analyser.class_ is not None and parse(typed, "share", field=check.id).half_width is None:
        u, basis = analyser.class_.u(name, value), analyser.class_.basis
    scale = analyser.instrument.range if analyser.instrument else None
    at_the_end = scale is not None and value >= _END * scale[1]
    gas = GasValue(value, u)
    found = GasRead(check.id, check.title, UNITS[name], typed, gas, basis, at_the_end=at_the_end)
    return _as_hexane(found, analyser) if name == "hc" else found


def _as_hexane(found: GasRead, analyser: Analyser) -> GasRead:
    pef = None if analyser.pef is None else parse(analyser.pef, "count", field="pef").value
    factor, doubt = hexane_factor(analyser.hc_as, pef)
    if factor == 1.0:
        return found
    value, u = found.gas.value, found.gas.u
    words = f"shown as {analyser.hc_as}; times {factor:.3g} it is hexane"
    if doubt:
        low, high = PEF - PEF_WIDTH, PEF + PEF_WIDTH
        words = (
            f"shown as propane; its factor (PEF on the analyser's plate) is taken as {low:.2f} to {high:.2f}"
        )
    gas = GasValue(value * factor, math.hypot(u * factor, value * doubt))
    return replace(found, gas=gas, converted=(words,))


def read_meter(text: str, scale: str | None, known: Catalogue, *, sure: bool = False) -> MeterRead:
    """A wideband display's figure as lambda.

    Args:
        text: "0.95" (lambda) or "14.1 AFR".
        known: The checks.
        scale: What it shows at lambda 1: "14.7", or "9.8 AFR at lambda 1"; 14.7 if not said.
        sure: An odd value is so.
    Raises:
        FieldProblem, Questioned: it cannot be read, or is odd.
    """
    plain = {"id": "the display", "kind": "wideband display"}
    if scale is not None:
        plain["scale"] = f"{scale} AFR" if _BARE.fullmatch(scale) else scale
    display = instrument_from(plain)
    read = read_value(known.checks["exhaust_lambda"], text, display, sure=sure)
    if not isinstance(read.value, float):
        raise FieldProblem("meter", text, "is no figure")
    return MeterRead(text, display.scale or AFR_AT_LAMBDA_1, GasValue(read.value, read.u_b), read.basis)


def kept_text(read: GasRead, analyser: Analyser) -> str:
    """The gas as a job keeps it: as typed, unless it was converted or its doubt comes from a class."""
    if not read.converted and analyser.class_ is None:
        return read.typed
    value, half = (in_unit(side, read.unit, "share") for side in (read.gas.value, read.gas.u * _ROOT_3))
    return f"{value:.6g} ± {half:.2g} {read.unit}"
