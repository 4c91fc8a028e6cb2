"""Figures of a fit as they are answered: in the units shown, with their doubt in words."""

from __future__ import annotations

import math
import re

from evenpour.job.trace.answers import TraceFigure
from evenpour.measure.showing import shown
from evenpour.measure.unit_table import step_of
from evenpour.measure.units import in_unit, label, with_minus
from evenpour.tune.laws import Told

_WITH_DOUBT = re.compile(r"(−?[0-9]+(?:\.[0-9]+)?) ± ([0-9]+(?:\.[0-9]+)?)")
FAR_OFF = 5.0  # one end over the other
LOPSIDED = 1.2  # one side of the 95 % over the other: then the two ends say more than a ± would


def figure(
    name: str, title: str, told: Told, dimension: str, unit: str, *, per: str = "", note: str = ""
) -> TraceFigure:
    """A figure in *unit*.

    Args:
        told: In SI.
        per: What stands behind the unit: "/min" for a pressure that falls so much in a minute.
    """
    value, low, high = (_plain(in_unit(one, unit, dimension)) for one in (told.value, told.low, told.high))
    u = in_unit(told.u, unit, step_of(dimension)) if math.isfinite(told.u) else None
    return TraceFigure(
        name=name,
        title=title,
        value=value,
        u=u,
        low=low,
        high=high,
        unit=f"{label(unit)}{per}",
        shown=f"{words(told, dimension, unit)}{per}",
        range_shown=f"{range_words(told, dimension, unit)}{per}",
        note=note,
    )


def words(told: Told, dimension: str, unit: str) -> str:
    """``2.13 ± 0.04 bar``; of a lopsided one the value alone, with digits that its doubt allows."""
    if not math.isfinite(told.value):
        return "never"
    if not math.isfinite(told.high):
        return f"about {shown(told.value, dimension, unit=unit)}"
    with_doubt = shown(told.value, dimension, u=told.u, unit=unit)
    if _lopsided(told):
        behind = f" {label(unit)}" if " ± " in with_doubt and unit != "lambda" else ""
        return with_doubt.partition(" ± ")[0] + behind
    return with_doubt


def range_words(told: Told, dimension: str, unit: str) -> str:
    """``2.09 to 2.17 bar``, ``at least 25 min``; beside a value with its ± that value's own ends."""
    if not math.isfinite(told.low):
        return "never"
    if not math.isfinite(told.high):
        return f"at least {rounded(told.low, told.low / 4.0, dimension, unit)} {label(unit)}"
    low, high = _ends(told, dimension, unit)
    if low == high:  # told apart by nobody
        return low if unit == "lambda" else f"{low} {label(unit)}"
    return f"{low} to {high}" if unit == "lambda" else f"{low} to {high} {label(unit)}"


def _lopsided(told: Told) -> bool:
    below, above = told.value - told.low, told.high - told.value
    return max(below, above) > LOPSIDED * min(below, above) + 1e-12


def _ends(told: Told, dimension: str, unit: str) -> tuple[str, str]:
    said = _WITH_DOUBT.search(shown(told.value, dimension, u=told.u, unit=unit))
    if said is not None and not _lopsided(told):  # rounded once, so that both columns say the same
        value, half = float(said[1].replace("−", "-")), float(said[2])
        decimals = len(said[2].partition(".")[2])
        return with_minus(f"{value - half:.{decimals}f}"), with_minus(f"{value + half:.{decimals}f}")
    low, high = (
        rounded(one, u, dimension, unit) for one, u in zip((told.low, told.high), _doubts(told), strict=True)
    )
    return low, high


def _doubts(told: Told) -> tuple[float, float]:
    """How finely each end is told: both alike, unless one lies so much farther off that the other would be
    rounded away.
    """
    sides = (0.5 * (told.value - told.low), 0.5 * (told.high - told.value))
    near, far = min(sides), max(sides)
    return sides if 0.0 < near < far / FAR_OFF else (told.u, told.u)


def rounded(value: float, u: float, dimension: str, unit: str) -> str:
    """The number alone, with the digits that a doubt of *u* allows."""
    with_doubt = shown(value, dimension, u=u, unit=unit)
    return with_doubt.partition(" ± ")[0].removesuffix(f" {label(unit)}").removeprefix("lambda ")


def _plain(value: float) -> float | None:
    return float(f"{value:.10g}") if math.isfinite(value) else None
