"""Instruments: what a gauge, a scale, a meter or a container can be trusted to.

Half-widths are taken as rectangular (any value inside is as likely): u = half-width / √3 (JCGM 100:2008,
4.3.7). The error of the gauge and the reading of its scale are two causes and add in quadrature. Repeats
shrink neither: the same gauge errs the same way each time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from evenpour.errors import FieldProblem, WrongUnit
from evenpour.measure.plain import number_of, only, text_of
from evenpour.measure.quantities import Quantity, parse
from evenpour.measure.unit_table import DIMENSIONS, kind_words, step_of

AFR_AT_LAMBDA_1 = 14.7  # what most displays print at lambda 1; common practice, no source

_FIELDS = ("id", "kind", "range", "class", "error", "resolution", "scale", "calibrated", "note")
_MEASURED = tuple(dimension for dimension in DIMENSIONS if dimension not in ("temperature_step", "count"))


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument of a job.

    ``half_width`` is its error (class or stated), ``resolution`` its smallest division, both in SI;
    ``relative`` an error in shares of the reading. All three zero: it states nothing, and a check's
    assumed error is taken instead. ``calibrated`` is the day it last was, if anybody said so.
    """

    id: str
    kind: str
    dimension: str | None
    range: tuple[float, float] | None
    half_width: float
    resolution: float
    scale: float | None  # AFR shown at lambda 1
    basis: str
    relative: float = 0.0
    calibrated: date | None = None

    @property
    def u(self) -> float:
        """Standard uncertainty of one reading, SI, without the part that grows with the reading."""
        return math.hypot(self.half_width, 0.5 * self.resolution) / math.sqrt(3.0)

    def u_at(self, value: float) -> float:
        """Standard uncertainty of a reading of *value*, SI."""
        return math.hypot(self.u, self.relative * value / math.sqrt(3.0))


def instrument_from(plain: Mapping[str, object]) -> Instrument:
    """An instrument as a job file states it.

    ``class`` is per cent of the range; ``error`` a half-width, or per cent of the reading; ``resolution`` the
    smallest division; ``scale`` what a wideband display calls lambda 1; ``calibrated`` the day it last was.

    Raises:
        FieldProblem: naming the field.
    """
    only(plain, _FIELDS, "an instrument")
    name, kind = text_of(plain, "id"), text_of(plain, "kind", "instrument")
    span = _range(plain["range"]) if "range" in plain else None
    dimension = span[0].dimension if span else None
    error, relative = _error(plain, dimension)
    dimension = dimension or (error.dimension if error else None)
    resolution = _width(plain, "resolution", dimension)
    dimension = dimension or (resolution.dimension if resolution else None)
    width = error.value if error else 0.0
    words = [kind]
    if "class" in plain:
        if span is None:
            raise FieldProblem(
                "range", None, "is missing", remedy="A class is per cent of the range: state both"
            )
        if error or relative:
            raise FieldProblem(
                "error", plain["error"], "stands beside a class", remedy="State one of the two"
            )
        per_cent = number_of(plain, "class", 0.0)
        width = per_cent / 100.0 * (span[1].value - span[0].value)
        words.append(f"class {per_cent:g}" if per_cent % 1 else f"class {per_cent:.1f}")
    if span:
        words.append(_range_words(span))
    if error:
        words.append(f"± {error.text}")
    if relative:
        words.append(f"± {100.0 * relative:g} % of the reading")
    if resolution:
        words.append(f"read to {resolution.text}")
    if resolution and not (width or relative):
        width = resolution.value  # a gauge without a class still has its smallest division
        words.append("no class stated, one division assumed")
    return Instrument(
        id=name,
        kind=kind,
        dimension=dimension,
        range=(span[0].value, span[1].value) if span else None,
        half_width=width,
        resolution=resolution.value if resolution else 0.0,
        scale=_scale(plain),
        basis=", ".join(words),
        relative=relative,
        calibrated=_calibrated(plain),
    )


def _calibrated(plain: Mapping[str, object]) -> date | None:
    if "calibrated" not in plain:
        return None
    try:
        return date.fromisoformat(text_of(plain, "calibrated"))
    except ValueError:
        raise FieldProblem(
            "calibrated", plain["calibrated"], "is no date", allowed="a day like 2026-03-01"
        ) from None


def _range(stated: object) -> tuple[Quantity, Quantity]:
    """``"6 bar"`` starts at 0; ``"-1 to 3 bar"`` and ``["-1 bar", "3 bar"]`` say where."""
    if isinstance(stated, (list, tuple)) and len(stated) == 2:
        low, high = (parse(side, _MEASURED, field="range") for side in stated)
    elif isinstance(stated, str) and " to " in stated:
        first, _, last = stated.partition(" to ")
        high = parse(last, _MEASURED, field="range")
        bare = first.strip().replace(",", ".").lstrip("+-−").replace(".", "", 1).isdigit()
        low = parse(f"{first} {high.unit}" if bare else first, high.dimension, field="range")
    else:
        high = parse(stated, _MEASURED, field="range")
        low = parse(f"0 {high.unit}", high.dimension, field="range")
    if low.dimension != high.dimension or not low.value < high.value:
        raise FieldProblem("range", stated, "does not run upwards", allowed='like "6 bar" or "0 to 6 bar"')
    return low, high


def _range_words(span: tuple[Quantity, Quantity]) -> str:
    low, high = span
    start = low.text.removesuffix(high.unit).strip() if low.text.endswith(high.unit) else low.text
    return f"{start} to {high.text.partition(' to ')[2] or high.text}"


def _error(plain: Mapping[str, object], dimension: str | None) -> tuple[Quantity | None, float]:
    """The stated error, or its share of the reading where a gauge of something else states per cent."""
    if "error" not in plain:
        return None, 0.0
    error = _width(plain, "error", None)
    assert error is not None
    if error.dimension == "share" and dimension not in (None, "share"):
        return None, error.value
    if dimension is not None and error.dimension != step_of(dimension):
        raise WrongUnit(
            "error",
            plain["error"],
            f"is {kind_words((error.dimension,))}, the range {kind_words((dimension,))}",
        )
    return error, 0.0


def _width(plain: Mapping[str, object], name: str, dimension: str | None) -> Quantity | None:
    """A width (error, resolution) in SI; of a temperature it is a difference."""
    if name not in plain:
        return None
    kinds = (
        (step_of(dimension),)
        if dimension
        else ("temperature_step", *(m for m in _MEASURED if m != "temperature"))
    )
    width = parse(plain[name], kinds, field=name)
    if not width.value > 0.0:
        raise FieldProblem(name, plain[name], "has no width", allowed="more than 0")
    return width


def _scale(plain: Mapping[str, object]) -> float | None:
    """``"14.7 AFR at lambda 1"``."""
    if "scale" not in plain:
        return None
    stated = text_of(plain, "scale")
    front, at, behind = stated.partition(" at ")
    ratio = parse(front, "afr", field="scale").value
    if at and parse(behind, "lambda", field="scale").value != 1.0:
        raise FieldProblem(
            "scale", stated, "is not stated at lambda 1", allowed='like "14.7 AFR at lambda 1"'
        )
    if not 5.0 <= ratio <= 20.0:
        raise FieldProblem("scale", stated, "is no fuel's air-fuel ratio", allowed="5 to 20 AFR at lambda 1")
    return ratio
