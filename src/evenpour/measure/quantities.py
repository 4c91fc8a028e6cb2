"""Quantities as people type them: ``4,8 bar``, ``1 1/4 turn``, ``64 °F``, ``2 min 30 s``, ``18 ± 1 degC``.

Comma and point are both the decimal mark and never a thousands mark. A unit must stand there (a plain
number will do for lambda and for counts), and it must be of a kind the field takes. Nothing is guessed:
what cannot be read is refused with the units that would do.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenpour.errors import FieldProblem, OutOfRange, WrongUnit
from evenpour.measure.unit_table import Unit, allowed_units, kind_words, step_of, units_named

PERFECT_VACUUM = -1.1e5  # Pa gauge; below any barometer on earth, with a little for a gauge's own error

_FRACTIONS = {
    "½": 1 / 2,
    "¼": 1 / 4,
    "¾": 3 / 4,
    "⅛": 1 / 8,
    "⅜": 3 / 8,
    "⅝": 5 / 8,
    "⅞": 7 / 8,
    "⅓": 1 / 3,
    "⅔": 2 / 3,
}
LONGEST = 60  # characters of a figure; Python itself refuses whole numbers of some thousand digits
_SIGN = r"(?P<sign>[+\-−–])?\s*"
_NUMBER = re.compile(
    _SIGN + r"(?:"
    r"(?P<whole>\d+)(?:\s+|\s*-\s*)(?P<above>\d+)\s*[/⁄]\s*(?P<below>\d+)"
    r"|(?P<whole_sign>\d+)?\s*(?P<fraction>[½¼¾⅛⅜⅝⅞⅓⅔])"
    r"|(?P<above_only>\d+)\s*[/⁄]\s*(?P<below_only>\d+)"
    r"|(?P<decimal>(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][+\-−]?\d+)?)"
    r")"
)
_FRACTIONS_OF = frozenset({"angle", "length", "volume", "mass", "time"})  # 5/6 bar is two readings, not 0.83
_PLUS_MINUS = re.compile(r"±|\+\s*/\s*[-−]|\+[-−]")
_PREFIX = re.compile(r"^(lambda|λ|afr)\s*[=:]?\s*(?=[\d.,+\-−])(.*)$", re.IGNORECASE | re.DOTALL)
_REFERENCE = re.compile(r"^(.*?)[\s(]*(absolute|abs|gauge|gage|a|g)\.?\)?$", re.IGNORECASE)
_BELOW_ZERO_NEVER = frozenset(  # a speed may fall: changes of speed are read as well
    {"volume", "mass", "time", "resistance", "lambda", "afr", "count", "volume_flow", "mass_flow"}
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, as typed and in SI.

    ``half_width`` is the half-width stated behind ±, in SI; ``reference`` is "gauge" or "absolute" where
    a pressure said so; ``step`` is half the last digit typed, in SI: what the person could not have read
    more finely than.
    """

    value: float
    dimension: str
    unit: str
    text: str
    reference: str | None = None
    half_width: float | None = None
    step: float = 0.0


def parse(text: object, takes: str | Sequence[str], *, field: str = "value") -> Quantity:
    """Read one quantity.

    Args:
        text: As typed. A bare number (a TOML ``900``) is read as its text.
        takes: The dimension, or the dimensions, the field takes.
        field: The field's name for messages.
    Raises:
        WrongUnit: the unit is missing, unknown, or of another kind.
        OutOfRange: nan, infinite, or physically impossible (a negative volume).
        FieldProblem: it cannot be read, or a mark looks like a thousands mark.
    """
    kinds = (takes,) if isinstance(takes, str) else tuple(takes)
    typed = _typed(text, kinds, field)
    main, mark, doubt = typed, "", ""
    found = _PLUS_MINUS.search(typed)
    if found:
        main, mark, doubt = typed[: found.start()].strip(), found.group(), typed[found.end() :].strip()
    quantity = _with_doubt(main, doubt, typed, kinds, field) if mark else _one(main, typed, kinds, field)
    return _possible(quantity, field)


def parse_rate(text: object, over: str, under: str, *, field: str = "value") -> float:
    """Read a rate such as ``0.05 bar/degC``, ``10 %/V`` or ``-0.02 bar per min``, in SI.

    Temperatures count as differences on both sides.
    """
    over, under = step_of(over), step_of(under)
    typed = _typed(text, (over,), field)
    number, _, rest = _number(typed, typed, field)
    rest = re.sub(r"\s+per\s+(?!cent)", "/", f" {rest}").strip()
    for cut in (place for place, sign in enumerate(rest) if sign == "/"):
        above = [unit for unit in units_named(rest[:cut]) if unit.dimension == over]
        below = [unit for unit in units_named(rest[cut + 1 :]) if unit.dimension == under]
        if above and below:
            return number * above[0].factor / below[0].factor
    allowed = (
        f"{allowed_units((over,)).split(',')[0]} per {allowed_units((under,)).split(',')[0]} and the like"
    )
    raise WrongUnit(field, typed, f"is not {kind_words((over,))} per {kind_words((under,))}", allowed=allowed)


def _typed(text: object, kinds: Sequence[str], field: str) -> str:
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        text = str(text)
    if not isinstance(text, str):
        raise FieldProblem(field, text, f"is not {kind_words(kinds)}", allowed=allowed_units(kinds))
    typed = text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ").strip()
    if not typed:
        raise FieldProblem(field, None, "is missing", allowed=allowed_units(kinds))
    if re.match(r"[+\-−]?\s*(nan|inf|∞)", typed, re.IGNORECASE):
        raise OutOfRange(field, typed, "is no finite number", allowed=allowed_units(kinds))
    if prefixed := _PREFIX.match(typed):
        typed = f"{prefixed[2].strip()} {prefixed[1]}"
    return typed


def _number(text: str, typed: str, field: str) -> tuple[float, float, str]:
    """The leading number, half its last digit (0 for fractions), and what stands behind it."""
    match = _NUMBER.match(text)
    if not match:
        raise FieldProblem(
            field, typed, "does not start with a number", remedy="Write it like 4.8 bar, 4,8 bar or 1/4 turn"
        )
    if len(match[0]) > LONGEST:
        raise OutOfRange(field, typed, "has more digits than any reading")
    rest = text[match.end() :]
    if re.match(r"[.,'’]\d|\s+(?!1\s*/\s*(?:s|min)\b)\d", rest):
        raise FieldProblem(
            field,
            typed,
            "has more than one decimal mark, or a thousands mark",
            remedy="Comma and point are both the decimal mark; write 1234.5 or 1234,5",
        )
    half_digit = 0.0
    if match["decimal"]:
        plain = match["decimal"].replace(",", ".").replace("−", "-")
        value = float(plain)
        digits, _, power = plain.lower().partition("e")
        half_digit = 0.5 * float(f"1e{int(power or 0) - len(digits.partition('.')[2])}")
    elif match["fraction"]:
        value = float(match["whole_sign"] or 0) + _FRACTIONS[match["fraction"]]
    else:
        above, below = match["above"] or match["above_only"], match["below"] or match["below_only"]
        if int(below) == 0:
            raise FieldProblem(field, typed, "divides by zero")
        value = float(match["whole"] or 0) + int(above) / int(below)
    if not math.isfinite(value):
        raise OutOfRange(field, typed, "is no finite number")
    return (-value if match["sign"] in ("-", "−", "–") else value), half_digit, rest.strip()


def _unit_of(name: str, typed: str, kinds: Sequence[str], field: str) -> tuple[Unit, str | None]:
    """The unit, and gauge or absolute where the name says so."""
    if not name:
        for plain in ("lambda", "count"):
            if plain in kinds:
                return next(unit for unit in units_named({"lambda": "lambda", "count": ""}[plain])), None
        raise WrongUnit(field, typed, "has no unit", allowed=allowed_units(kinds))
    units, reference = units_named(name), None
    if not units and (split := _REFERENCE.match(name)):
        units = [unit for unit in units_named(split[1]) if unit.dimension == "pressure"]
        reference = "absolute" if split[2].lower().startswith("a") else "gauge"
    for kind in kinds:
        for unit in units:
            if unit.dimension == kind:
                return unit, reference
    allowed = allowed_units(kinds)
    if not units:
        gallon = re.fullmatch(r"(gal|gallon|pt|pint|qt|quart)s?", name, re.IGNORECASE)
        remedy = "Say US or imp: the two differ by a fifth." if gallon and "volume" in kinds else ""
        raise WrongUnit(field, typed, f"has the unknown unit {name!r}", allowed=allowed, remedy=remedy)
    raise WrongUnit(
        field,
        typed,
        f"is {kind_words((units[0].dimension,))}, not {kind_words(kinds)}",
        allowed=allowed,
        remedy=_mixed_up(units[0], kinds),
    )


def _mixed_up(unit: Unit, kinds: Sequence[str]) -> str:
    if unit.name == "deg" and {"temperature", "temperature_step"} & set(kinds):
        return "For a temperature say degC or degF."
    if unit.name in ("degC", "degF") and "angle" in kinds:
        return "For an angle say deg."
    if unit.name == "oz" and "volume" in kinds:
        return "oz is a weight; for a volume say fl oz (US) or imp fl oz."
    if unit.name == "m" and "time" in kinds:
        return "m is the metre; for minutes say min."
    return ""


def _one(text: str, typed: str, kinds: Sequence[str], field: str) -> Quantity:
    """One number and unit, or several of one kind that add up (2 min 30 s, 1 lb 4 oz)."""
    number, half_digit, rest = _number(text, typed, field)
    # A further number makes a compound, but digits belong to many units (cm2, H2O, 1/min): a blank must
    # part them.
    cut = re.search(r"(?<=[A-Za-z°'\"])\s+(?=\d)|(?<=^min)(?=\d)|(?<=^h)(?=\d)", rest)
    unit, reference = _unit_of(rest[: cut.start()] if cut else rest, typed, kinds, field)
    if (
        half_digit == 0.0
        and unit.dimension not in _FRACTIONS_OF
        and not any(sign in text for sign in _FRACTIONS)
    ):
        raise FieldProblem(
            field,
            typed,
            "is written as a fraction",
            remedy="Write it with a decimal mark; of two values, one",
        )
    first = Quantity(
        number * unit.factor + unit.offset,
        unit.dimension,
        unit.name,
        typed,
        reference,
        step=half_digit * unit.factor,
    )
    if cut is None:
        return first
    second = _one(rest[cut.end() :], typed, (unit.dimension,), field)
    smaller = next(iter(u for u in units_named(second.unit) if u.dimension == unit.dimension))
    if unit.offset or smaller.factor >= unit.factor or number < 0:
        raise FieldProblem(
            field,
            typed,
            "holds two numbers that do not add up",
            remedy="Write the larger unit first, like 2 min 30 s",
        )
    return replace(first, value=first.value + second.value, unit=second.unit, step=second.step)


def _with_doubt(main: str, doubt: str, typed: str, kinds: Sequence[str], field: str) -> Quantity:
    """``18 ± 1 degC``, ``18 degC ± 1``, ``18 degC +- 2 degF``, ``850 ml ± 2 %``."""
    width, _, behind = _number(doubt, typed, field)
    _, _, unit_in_front = _number(main, typed, field)
    if not unit_in_front and behind:
        main = f"{main} {behind}"
    quantity = _one(main, typed, kinds, field)
    if width <= 0.0:
        raise OutOfRange(field, typed, "has no width behind ±", allowed="more than 0")
    if behind == "%" and quantity.dimension not in ("share", "temperature"):
        return replace(quantity, half_width=abs(quantity.value) * width / 100.0)
    kind = step_of(quantity.dimension)
    unit, _ = _unit_of(behind or quantity.unit, typed, (kind,), field)
    return replace(quantity, half_width=width * unit.factor)


def _possible(quantity: Quantity, field: str) -> Quantity:
    value, dimension = quantity.value, quantity.dimension
    if not math.isfinite(value):
        raise OutOfRange(field, quantity.text, "is no finite number")
    if dimension in _BELOW_ZERO_NEVER and value < 0.0:
        raise OutOfRange(field, quantity.text, "is below zero", allowed="0 or more")
    if dimension == "temperature" and value < 0.0:
        raise OutOfRange(field, quantity.text, "is below absolute zero", allowed="-273.15 degC or more")
    if dimension == "pressure":
        floor, words = (
            (0.0, "0 bar abs or more")
            if quantity.reference == "absolute"
            else (
                PERFECT_VACUUM,
                "about -1 bar gauge or more: emptier than empty is not possible",
            )
        )
        if value < floor:
            raise OutOfRange(field, quantity.text, "is below a perfect vacuum", allowed=words)
    return quantity
