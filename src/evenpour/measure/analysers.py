"""What an exhaust gas analyser of a stated class may be wrong by, gas by gas, and what its HC stands for.

Source: OIML R 99-1 & 2 (2008) and ISO 3930, maximum permissible errors on first verification: the absolute
    figure or 5 % of the reading, whichever is more. That there are classes 00, 0 and I was seen in the
    standard's scope, and that the larger of the two counts in a national law that takes it over; the figures
    are from memory, not verified. The analyser's own papers come first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.errors import FieldProblem, Questioned, unknown

RELATIVE = 0.05  # of the reading

# Shares of the gas. NOx is no part of R 99; the figure is a usual one of electrochemical cells (from memory).
_ABSOLUTE: Mapping[str, Mapping[str, float]] = {
    "00": {"co": 0.0002, "co2": 0.003, "o2": 0.001, "hc": 4e-6, "nox": 25e-6},
    "0": {"co": 0.0003, "co2": 0.005, "o2": 0.001, "hc": 10e-6, "nox": 25e-6},
    "I": {"co": 0.0006, "co2": 0.005, "o2": 0.001, "hc": 12e-6, "nox": 25e-6},
}
CLASSES = tuple(_ABSOLUTE)

HC_AS = ("hexane", "propane", "carbon")
# Propane equivalency factor: hexane = propane * PEF, 0.49 to 0.54 by analyser (from memory); on its plate.
PEF, PEF_WIDTH = 0.515, 0.025
PEF_SENSE = (0.4, 0.6)
HEXANE_PER_CARBON = 1.0 / 6.0


@dataclass(frozen=True, slots=True)
class AnalyserClass:
    """An analyser's class of accuracy."""

    name: str
    absolute: Mapping[str, float]

    def half_width(self, gas: str, value: float) -> float:
        """The largest error of a reading of *value*, as shares of the gas: "co", "co2", "o2", "hc", "nox"."""
        return max(self.absolute[gas], RELATIVE * abs(value))

    def u(self, gas: str, value: float) -> float:
        """Standard uncertainty of a reading: any error up to the largest is as likely (GUM, 4.3.7)."""
        return self.half_width(gas, value) / math.sqrt(3.0)

    @property
    def basis(self) -> str:
        """Where the doubt comes from, in the record's words."""
        return f"analyser of class {self.name} (OIML R 99, figures from memory)"


def analyser_class(name: str) -> AnalyserClass:
    """The class of that name; 1 is I.

    Raises:
        UnknownName: none of the classes.
    Example:
        >>> round(analyser_class("I").half_width("co", 0.015), 5)
        0.00075
    """
    wanted = {"1": "I", "i": "I"}.get(name.strip().lower(), name.strip())
    if wanted not in _ABSOLUTE:
        raise unknown("class", name, CLASSES, kind="class of an exhaust gas analyser")
    return AnalyserClass(wanted, _ABSOLUTE[wanted])


def hexane_factor(hc_as: str, pef: float | None = None) -> tuple[float, float]:
    """What makes n-hexane of HC shown otherwise, and the factor's own standard uncertainty.

    Args:
        hc_as: "hexane", "propane", or "carbon" for single atoms of it, as flame detectors count.
        pef: The propane equivalency factor on the analyser's plate; None takes the middle of the usual ones.
    Raises:
        UnknownName: another gas.
        FieldProblem: a factor beside another gas than propane.
        Questioned: a factor that no analyser has.
    Example:
        >>> hexane_factor("propane", 0.52)
        (0.52, 0.0)
    """
    if hc_as not in HC_AS:
        raise unknown("hc-as", hc_as, HC_AS, kind="gas that HC is shown as")
    if pef is not None and hc_as != "propane":
        raise FieldProblem("pef", f"{pef:g}", "belongs to HC shown as propane", remedy="Say --hc-as propane.")
    low, high = PEF_SENSE
    if pef is not None and not low <= pef <= high:
        raise Questioned("pef", f"{pef:g}", "is odd", allowed=f"usually {low:g} to {high:g}",
                         remedy="It stands on the analyser's plate as PEF.")  # fmt: skip
    if hc_as == "propane":
        return (PEF, PEF_WIDTH / math.sqrt(3.0)) if pef is None else (pef, 0.0)
    return (1.0 if hc_as == "hexane" else HEXANE_PER_CARBON), 0.0
