"""From what a person typed to a reading: value, doubt, conditions; and a question where a slip is likelier.

A value outside its check's sense is questioned with a guess at the slip (a decimal point, psi typed as
bar), unless the person says that it is so. What cannot be at all (a negative volume, nan) is refused
always.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from evenpour.errors import FieldProblem, Questioned, WrongUnit, unknown
from evenpour.measure.checks import Check, ConditionKind, kept_value
from evenpour.measure.instruments import Instrument
from evenpour.measure.quantities import Quantity, parse
from evenpour.measure.showing import range_shown, shown
from evenpour.measure.slips import IF_SO, question_odd
from evenpour.measure.unit_table import kind_words, step_of, units_named

OPEN_CIRCUIT = frozenset({"open", "open circuit", "ol", "o.l.", "infinite", "∞"})
_ROOT_3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition as stated: a value in SI with its standard uncertainty, or a choice."""

    name: str
    value: float | None
    choice: str | None
    u: float
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One check's reading, repeats and all. Values in SI; ``u_b`` is the gauge's standard uncertainty."""

    check: str
    cylinder: int | None
    values: tuple[float, ...]
    choice: str | None
    u_b: float
    basis: str
    conditions: Mapping[str, Condition]
    unit: str


class ReadValue(NamedTuple):
    """SI value or choice, its standard uncertainty, where that comes from, and the typed unit.

    The unit is empty where the value is kept as another kind: an AFR as lambda, grams as a volume.
    """

    value: float | str
    u_b: float
    basis: str
    unit: str


def read_value(
    check: Check,
    text: object,
    instrument: Instrument | None,
    *,
    sure: bool = False,
    density: float | None = None,
    system: str | None = None,
) -> ReadValue:
    """Read one value of *check*.

    Args:
        check: What was checked; decides the kinds of unit, the choices and the sense.
        text: As typed: ``"4.8 bar"``, ``"dry"``, ``"open"`` for an open circuit, ``"4.8 ± 0.1 bar"``.
        instrument: What it was read on; ``None`` takes the check's assumed error, and says so.
        sure: The person says that the value is so, odd as it looks.
        density: The fuel's, kg/m³ at its temperature; turns a weighed amount into the volume the check keeps.
        system: Units in which an assumed error is told; ``None`` tells it in the unit typed.
    Raises:
        FieldProblem: no such choice, wrong unit, impossible value, or an instrument of another kind.
        Questioned: outside the check's sense or the instrument's range, and not *sure*.
    """
    if check.choices:
        return ReadValue(_choice(check.id, text, check.choices), 0.0, "looked at", "")
    dimension = check.dimensions[0]
    if isinstance(text, str) and text.strip().lower() in OPEN_CIRCUIT and "resistance" in check.dimensions:
        return ReadValue(math.inf, 0.0, "open circuit", "ohm")
    quantity = parse(text, check.dimensions, field=check.id)
    if quantity.reference == "absolute":
        raise FieldProblem(
            check.id,
            quantity.text,
            "is an absolute pressure",
            allowed="gauge pressure",
            remedy="Take the barometer off it (about 1 bar or 14.7 psi at sea level)",
        )
    scale = instrument.scale if instrument else None
    value = kept_value(quantity, dimension, scale)
    if quantity.dimension == "mass" and dimension == "volume":
        if density is None:
            raise FieldProblem(
                check.id,
                quantity.text,
                "is weighed, and the fuel's density is not known",
                allowed="ml, fl oz",
            )
        value = quantity.value / density
    if instrument is not None:
        _is_of_kind(check, instrument)
    if not sure:
        question_odd(check.id, value, quantity, dimension, check.sense, check.dimensions)
        if instrument is not None:
            _on_scale(check, quantity, instrument)
    u_b, basis = _doubt(check, quantity, value, instrument, system)
    return ReadValue(value, u_b, basis, _unit_for_width(quantity, dimension) or "")


def reading_from(
    check: Check,
    texts: object,
    instrument: Instrument | None = None,
    conditions: Mapping[str, Condition] | None = None,
    *,
    cylinder: int | None = None,
    sure: bool = False,
    system: str | None = None,
) -> Reading:
    """A reading from one typed value, or from a list of repeats; the rest as for :func:`read_value`."""
    listed = list(texts) if isinstance(texts, (list, tuple)) else [texts]
    if not listed:
        raise FieldProblem(check.id, None, "is missing")
    read = [read_value(check, text, instrument, sure=sure, system=system) for text in listed]
    values = tuple(one.value for one in read if isinstance(one.value, float))
    choice = read[-1].value if isinstance(read[-1].value, str) else None
    if choice is not None and len({one.value for one in read}) > 1:
        typed = ", ".join(map(str, listed))
        raise FieldProblem(check.id, typed, "holds different choices", remedy="Enter the last one alone")
    worst = max(read, key=lambda one: one.u_b)
    return Reading(
        check.id, cylinder, values, choice, worst.u_b, worst.basis, dict(conditions or {}), read[-1].unit
    )


def read_conditions(
    check: Check,
    plain: Mapping[str, object],
    kinds: Mapping[str, ConditionKind],
    *,
    general: Mapping[str, object] | None = None,
    sure: bool = False,
) -> Mapping[str, Condition]:
    """The conditions of one reading.

    Args:
        check: What was checked; it lists the conditions it may carry.
        plain: Name to text, as typed.
        kinds: All kinds of condition.
        general: What holds for all readings of a job; names this check does not carry are left out.
        sure: The person says that odd values are so.
    Raises:
        UnknownName: a condition the check does not carry.
        FieldProblem, Questioned: as for :func:`read_value`.
    """
    found: dict[str, Condition] = {}
    for name, text in (general or {}).items():
        if name not in kinds:
            raise unknown(name, name, kinds, kind="condition")
        if (name in check.conditions or kinds[name].everywhere) and name not in plain:
            found[name] = read_condition(kinds[name], text, sure=sure)
    for name, text in plain.items():
        if name not in kinds or not (name in check.conditions or kinds[name].everywhere):
            carried = [*check.conditions, *(kind.id for kind in kinds.values() if kind.everywhere)]
            raise unknown(name, name, carried, kind=f"condition of {check.id}")
        found[name] = read_condition(kinds[name], text, sure=sure)
    return found


def read_condition(kind: ConditionKind, text: object, *, sure: bool = False) -> Condition:
    """One condition: a choice of its kind, or a quantity with the doubt stated behind ± or assumed."""
    if kind.choices and (kind.dimension is None or not _starts_with_a_number(text)):
        choice = _condition_choice(kind, text)
        return Condition(kind.id, None, choice, 0.0, choice)
    assert kind.dimension is not None
    quantity = parse(text, kind.dimension, field=kind.id)
    if not sure:
        question_odd(kind.id, quantity.value, quantity, kind.dimension, kind.sense, (kind.dimension,))
    half_width = kind.assumed_error if quantity.half_width is None else quantity.half_width
    return Condition(kind.id, quantity.value, None, half_width / _ROOT_3, quantity.text)


def meant(check: Check, conditions: Mapping[str, Condition]) -> dict[str, Condition]:
    """*conditions*, and those that some of them mean at this check: the pump's voltage is the voltage."""
    found = dict(conditions)
    for name, means in check.same:
        if name in conditions and conditions[name].value is not None:
            found.setdefault(means, replace(conditions[name], name=means))
    return found


def _condition_choice(kind: ConditionKind, text: object) -> str:
    wanted = _joined(text) if isinstance(text, str) else ""
    meant = dict(kind.also).get(wanted, text)
    if kind.other_words and wanted and not difflib.get_close_matches(wanted, kind.choices, n=1, cutoff=0.8):
        return wanted if meant is text else str(meant)
    return _choice(kind.id, meant, kind.choices)


def _joined(text: str) -> str:
    """``Long crank`` and ``long-crank`` are ``long_crank``."""
    return "_".join(text.strip().lower().replace("-", " ").split())


def _starts_with_a_number(text: object) -> bool:
    return not isinstance(text, str) or text.strip()[:1] in "+-−–.0123456789½¼¾"


def _choice(field: str, text: object, choices: Sequence[str]) -> str:
    if isinstance(text, bool) and {"yes", "no"} <= set(choices):
        return "yes" if text else "no"
    if text is None or text == "":
        raise FieldProblem(field, None, "is missing", allowed=", ".join(choices))
    if not isinstance(text, str):
        raise FieldProblem(field, text, "is no choice", allowed=", ".join(choices))
    wanted = _joined(text)
    for choice in choices:
        if wanted == choice.lower():
            return choice
    raise unknown(field, text, choices, kind=f"choice of {field}")


def _is_of_kind(check: Check, instrument: Instrument) -> None:
    """Containers read by weight or volume, displays by lambda or AFR: any kind the check takes will do."""
    kind = instrument.dimension
    if kind is not None and kind.replace("_step", "") not in check.dimensions:
        raise WrongUnit(
            "instrument",
            instrument.id,
            f"measures {kind_words((kind,))}",
            allowed=f"an instrument for {kind_words(check.dimensions)}",
        )


def _on_scale(check: Check, quantity: Quantity, instrument: Instrument) -> None:
    """The instrument reaches this far."""
    if instrument.range is None or instrument.dimension is None:
        return
    low, high = instrument.range
    same = kept_value(quantity, instrument.dimension, instrument.scale)
    slack = 1e-9 * (high - low)
    comparable = quantity.dimension == instrument.dimension or instrument.dimension in ("lambda", "afr")
    if comparable and not low - slack <= same <= high + slack:
        raise Questioned(
            check.id,
            quantity.text,
            f"is off the scale of {instrument.id}",
            allowed=range_shown(low, high, instrument.dimension, unit=_unit_for_range(instrument, quantity)),
            remedy=f"Another instrument, or another unit? {IF_SO}",
        )


def _unit_for_range(instrument: Instrument, quantity: Quantity) -> str | None:
    return quantity.unit if quantity.dimension == instrument.dimension else None


def _doubt(
    check: Check, quantity: Quantity, value: float, instrument: Instrument | None, system: str | None
) -> tuple[float, str]:
    """Standard uncertainty of one reading and its basis, the first of: stated, gauge, assumed, digits."""
    share = abs(value / quantity.value) if quantity.value and quantity.dimension != check.dimension else 1.0
    if quantity.half_width is not None:
        return quantity.half_width * share / _ROOT_3, f"stated with the reading: {quantity.text}"
    if instrument is not None and (u := _gauge(check, quantity, value, instrument)) > 0.0:
        return u, instrument.basis
    named = f"{instrument.id} states no error; " if instrument else "no instrument stated; "
    if check.assumed_error or check.assumed_relative:
        width = math.hypot(check.assumed_error, check.assumed_relative * value)
        kind = step_of(str(check.dimension))
        # No system has a unit of its own for angles: degrees of timing and turns of a screw stay as typed.
        typed = _unit_for_width(quantity, kind) if system is None or kind == "angle" else None
        return width / _ROOT_3, f"{named}± {shown(width, kind, system or 'metric', unit=typed)} assumed"
    step = quantity.step * share
    return step / _ROOT_3, f"{named}the last digit typed is taken as its smallest division"


def _gauge(check: Check, quantity: Quantity, value: float, instrument: Instrument) -> float:
    if instrument.dimension == "afr" and check.dimension == "lambda":
        unit = kept_value(Quantity(1.0, "afr", "AFR", ""), "lambda", instrument.scale)
        return instrument.u_at(value / unit) * unit
    if instrument.dimension == "mass" and check.dimension == "volume":
        return instrument.u_at(quantity.value) * abs(value / quantity.value) if quantity.value else 0.0
    return instrument.u_at(value)


def _unit_for_width(quantity: Quantity, kind: str) -> str | None:
    """The typed unit, where the width is of its kind: who reads in psi is told of psi."""
    return quantity.unit if any(unit.dimension == kind for unit in units_named(quantity.unit)) else None
