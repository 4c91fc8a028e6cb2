"""What an exhaust shows besides its mixture: readings that do not belong together, stray air, misfire.

The gases add up to one whatever the engine does, so a sum that does not is a wrong reading. Once it is right,
CO, CO2 and O2 leave two figures: lambda, and how far CO and O2 stand beside each other. Stray air and uneven
cylinders make the same two figures; unburnt fuel beside them tells a misfire. What cannot be told apart is
said together. The words are data.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from evenpour.measure.mixture import LEAST_BURNT, LEAST_CO, Drawn, GasValue, Mixture
from evenpour.measure.showing import shown
from evenpour.physics.blend import Blend
from evenpour.physics.combustion import dry_shares, oxygen_demand
from evenpour.physics.exhaust_balance import CARBON_PER_HEXANE, nitrogen_balance, oxygen_missing

Kind = Literal[
    "not_together",
    "too_thin",
    "misfire",
    "unburnt_fuel",
    "stray_air_or_uneven",
    "too_lean",
    "too_rich",
    "little_co",
    "meter_differs",
    "meter_too_lean",
    "meter_too_rich",
]
KINDS: tuple[str, ...] = get_args(Kind)

MOISTURE = 0.035  # what a water trap leaves in the gas at 27 °C: the readings add up to that much less than 1
SURE = 3.0  # standard uncertainties that the sum must lie off before a reading is called wrong
PATCHY = 0.10  # [-] in lambda; a sound engine shows 0.02 to 0.08 (common practice: O2 below 2 % beside CO)
LEAST_ODD_O2 = 0.01  # share of O2 that any engine may leave, crevices and all (common practice)
SOUND = 0.05  # the patchiness taken as an engine's own when stray air is reckoned
MOST_SOUND = 0.08  # the most that a sound one shows: O2 that comes of it is no sign of a misfire
UNBURNT = 0.03  # of the fuel, 800 ppm as hexane; an old engine idles at 100 to 400 (common practice)
WITH_ITS_AIR = 0.5  # O2 beyond the engine's own, over that of the unburnt fuel: from here on it passed whole
MORE_THAN_ITS_AIR = 3.0  # infrared sees about half of an exhaust's HC, so twice is still the misfire's own
LEANEST, RICHEST = 1.15, 0.75  # lambda between which an engine idles or pulls (common practice)
AIR_OXYGEN = 0.2095
MOST_CO, LEAST_CO2 = 0.12, 0.03  # shares that a reading may have been meant as
_GASES = ("co", "co2", "o2", "hc", "nox")
_NAMES = {"co": "CO", "co2": "CO2", "o2": "O2"}


@dataclass(frozen=True, slots=True)
class Sign:
    """One thing the gases show, and the figures to say it with, as a screen writes them."""

    kind: Kind
    figures: Mapping[str, str]


def signs_of(mixture: Mixture, gases: Mapping[str, GasValue], fuel: Blend) -> tuple[Sign, ...]:
    """Everything odd about readings that were taken together, the gravest first.

    Args:
        mixture: What the same gases say of the mixture.
        gases: Dry shares, as given to :func:`evenpour.measure.mixture.mixture_from_gas`.
        fuel: The blend in the tank.
    """
    balance = mixture.balance
    if balance is not None and abs(_astray(balance)) > SURE * balance.u:
        return (_not_together(balance, gases, fuel),)  # nothing else can be read from wrong figures
    if "co2" in gases and gases["co"].value + gases["co2"].value < LEAST_BURNT:
        burnt = shown(gases["co"].value + gases["co2"].value, "share")
        return (Sign("too_thin", {"burnt": burnt, "least": shown(LEAST_BURNT, "share")}),)
    found = [*_unburnt(mixture, gases, fuel), *_side_by_side(mixture, gases, fuel)]
    return tuple(found) or tuple(_extremes(mixture, gases))


def meter_sign(mixture: Mixture, meter: GasValue) -> Sign | None:
    """Whether a wideband display and the gases tell two lambdas; None if they may be one."""
    gases = mixture.lambda_
    if gases is None or abs(gases.value - meter.value) <= SURE * math.hypot(gases.u, meter.u):
        return None
    return Sign("meter_differs", {"meter": f"{meter.value:.3f}", "lambda": f"{gases.value:.3f}"})


def meter_alone_sign(meter: GasValue) -> Sign | None:
    """Whether a wideband display, with no gas read beside it, tells a lambda at which no engine runs."""
    if RICHEST <= meter.value <= LEANEST:
        return None
    kind: Kind = "meter_too_rich" if meter.value < RICHEST else "meter_too_lean"
    return Sign(kind, {"lambda": f"{meter.value:.2f}"})


def _astray(balance: Drawn) -> float:
    """How far the sum lies off what the moisture left in the gas can explain."""
    off = balance.value - 1.0
    return off if off > 0.0 else min(0.0, off + MOISTURE)


def _not_together(balance: Drawn, gases: Mapping[str, GasValue], fuel: Blend) -> Sign:
    figures = {"sum": _per_cent(balance.value), "least": f"{100.0 * (1.0 - MOISTURE):.0f} to 100 %"}
    *others, last = [*_fitting(balance, gases, fuel)] or [""]
    offers = f"{', '.join(others)} or {last}" if others else last
    return Sign("not_together", {**figures, **({"offers": offers} if offers else {})})


def _fitting(balance: Drawn, gases: Mapping[str, GasValue], fuel: Blend) -> Iterator[str]:
    """Each gas's value that would make the sum right, where such a value can be."""
    target = 1.0 if balance.value > 1.0 else 1.0 - 0.5 * MOISTURE
    most_co2 = float(dry_shares(1.0, fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon).co2)
    for name, least, most in (("co", 0.0, MOST_CO), ("co2", LEAST_CO2, most_co2), ("o2", 0.0, AIR_OXYGEN)):
        step = 1e-4 if gases[name].value < 0.5 else -1e-4
        moved = {**gases, name: GasValue(gases[name].value + step, 0.0)}
        slope = (_sum(moved, fuel) - _sum(gases, fuel)) / step
        fits = gases[name].value + (target - balance.value) / slope
        if least <= fits <= most:
            yield f"{_NAMES[name]} near {shown(round(fits, 3), 'share')}"


def _sum(gases: Mapping[str, GasValue], fuel: Blend) -> float:
    co, co2, o2, hc, nox = (max(0.0, gases[name].value) if name in gases else 0.0 for name in _GASES)
    return float(nitrogen_balance(co, co2, o2, hc, nox, fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon))


def _unburnt(mixture: Mixture, gases: Mapping[str, GasValue], fuel: Blend) -> Iterator[Sign]:
    """Fuel that left as it came: with its air it is a misfire, without it something too rich, or oil."""
    if mixture.unburnt is None or mixture.unburnt < UNBURNT:
        return
    figures = {
        "unburnt": _per_cent(mixture.unburnt),
        "hc": shown(gases["hc"].value, "share", unit="ppm"),
        "o2": shown(gases["o2"].value, "share"),
    }
    yield Sign("misfire" if _is_misfire(gases, fuel) else "unburnt_fuel", figures)


def _is_misfire(gases: Mapping[str, GasValue], fuel: Blend) -> bool:
    """Whether O2 is more than any sound engine shows, and what its own leaves is the unburnt fuel's air."""
    o2 = gases["o2"].value
    air = o2 - _own_o2(gases, fuel, SOUND)
    return o2 > _own_o2(gases, fuel, MOST_SOUND) and air >= WITH_ITS_AIR * _unburnt_air(gases, fuel)


def _own_o2(gases: Mapping[str, GasValue], fuel: Blend, patchiness: float) -> float:
    """O2 that a sound engine so patchy leaves beside this CO: at most what it leaves at lambda 1.

    What goes beyond that comes of a lean mixture, and is there for fuel that did not burn as well.
    """
    co, co2 = max(0.0, gases["co"].value), gases["co2"].value
    spare = 0.5 * patchiness * oxygen_demand(fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon)
    missing = float(oxygen_missing(co, co2, fuel.hydrogen_per_carbon))
    return float((co + co2) * spare * min(1.0, spare / missing if missing > 0.0 else 1.0))


def _air_of_unburnt(gases: Mapping[str, GasValue], fuel: Blend) -> float:
    """O2 read, over the O2 that the unburnt fuel's own air holds at lambda 1."""
    return gases["o2"].value / _unburnt_air(gases, fuel)


def _unburnt_air(gases: Mapping[str, GasValue], fuel: Blend) -> float:
    """O2 that fuel needs which left unburnt."""
    raw = CARBON_PER_HEXANE * gases["hc"].value if "hc" in gases else 0.0
    return float(raw * oxygen_demand(fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon))


def _side_by_side(mixture: Mixture, gases: Mapping[str, GasValue], fuel: Blend) -> Iterator[Sign]:
    """More CO and O2 together than one even mixture leaves, and than a misfire accounts for."""
    patchy = mixture.patchiness
    if patchy is None or patchy.value - patchy.u < PATCHY or gases["o2"].value < LEAST_ODD_O2:
        return
    raw = mixture.unburnt is not None and mixture.unburnt >= UNBURNT
    if raw and _air_of_unburnt(gases, fuel) < MORE_THAN_ITS_AIR:
        return
    figures = {
        "co": shown(gases["co"].value, "share"),
        "o2": shown(gases["o2"].value, "share"),
        "air": _per_cent(_stray_air(gases, fuel)),
    }
    if mixture.burnt_lambda is not None:
        figures["burnt_lambda"] = f"{mixture.burnt_lambda:.2f}"
    yield Sign("stray_air_or_uneven", figures)


def _stray_air(gases: Mapping[str, GasValue], fuel: Blend) -> float:
    """Share of the gas that is stray air, if a sound engine burnt the rest."""
    burnt = gases["co"].value + gases["co2"].value
    demand = oxygen_demand(fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon)
    missing = oxygen_missing(gases["co"].value, gases["co2"].value, fuel.hydrogen_per_carbon)
    own = burnt * (0.5 * SOUND * demand) ** 2 / missing + _unburnt_air(gases, fuel)
    return float(min(1.0, max(0.0, (gases["o2"].value - own) / AIR_OXYGEN)))


def _extremes(mixture: Mixture, gases: Mapping[str, GasValue]) -> Iterator[Sign]:
    """A lambda at which an engine hardly runs, or none because CO is too low to tell."""
    if mixture.method != "whole" and gases["co"].value < LEAST_CO:
        yield Sign("little_co", {"co": shown(gases["co"].value, "share")})
    if mixture.lambda_ is None:
        return
    figures = {"lambda": f"{mixture.lambda_.value:.2f}"}
    if mixture.lambda_.value > LEANEST:
        yield Sign("too_lean", figures)
    if mixture.lambda_.value < RICHEST:
        yield Sign("too_rich", figures)


def _per_cent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
