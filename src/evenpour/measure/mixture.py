"""Mixture from exhaust gas: lambda and the air-fuel ratio with their doubt, from whatever gases were read.

The doubt is found by drawing (JCGM 101): a reading of zero is cut off on one side, the water-gas ratio and
the fuel are known only within limits, and lambda over CO alone is bent, so that a straight line would be
wrong where it matters. Errors of the gases are drawn apart. A fault that all cells of one analyser share
(pressure, temperature, span gas) cancels in lambda but for its part in O2, so that drawing them apart does
not make the doubt too small.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from evenpour.errors import FieldProblem
from evenpour.physics.blend import Blend, blend
from evenpour.physics.combustion import WATER_GAS, dry_shares, oxygen_demand, stoichiometric_afr
from evenpour.physics.exhaust_balance import (
    CARBON_PER_HEXANE,
    LEAST_CO2,
    dry_per_wet,
    lambda_from_co,
    lambda_from_gas,
    nitrogen_balance,
    oxygen_missing,
)

Method = Literal["whole", "co_and_co2", "co"]
Case = Mapping[str, Any]  # one value, or draws, of everything that lambda depends on

DRAWS, SEED = 10_000, 7
WATER_GAS_WIDTH = 0.3  # K freezes between 3.2 and 3.8; by Cantera 3.4 at 1700 K and 3.8 at 1796 K
METHOD_WIDTH = 0.003  # in lambda: what uneven cylinders do to the equation (computed)
PETROL_WIDTH = 0.1  # in H/C; pump petrols run from 1.77 to 1.97 (from memory)
ETHANOL_WIDTH, ETHANOL_WIDTH_RELATIVE = 0.02, 0.1  # a pump's label says at most, or a range (common practice)
UNMIXED = 0.028  # patchiness of a sound engine, [-] in lambda: 0.5 % of CO at lambda 1 (see combustion.py)
ASSUMED_HC = 150e-6  # as hexane, of a sound warm engine, give or take as much (common practice)
MOST_UNSEEN = 1.2  # HC over what infrared shows, less 1: it is 2.0 to 2.2 times in all (from memory)
LEAST_CO = 0.005  # below it CO says that the mixture is not rich, and no more
LEAST_BURNT = 0.06  # CO + CO2; US 40 CFR part 51 subpart S appendix B voids an idle test below it
_LEAST_MISSING = 0.005  # of the oxygen, about 0.2 % of CO: keeps draws near no CO finite
READ_COVERAGE = 0.95 * math.sqrt(3.0)  # standard uncertainties that hold 95 % of an error known by its limits
_CAUSES = {
    "co": ("co",),
    "co2": ("co2",),
    "o2": ("o2",),
    "hc": ("hc",),
    "nox": ("nox",),
    "fuel": ("y", "z"),
    "method": ("water_gas", "unmixed", "off"),
}
_ENDS = {"co2": (LEAST_CO2, 1.0), "hc": (0.0, 0.1), "lambda": (0.0, math.inf)}  # what a gas can hold
_DRAWN = (*_CAUSES, "ethanol", "patch", "off", "lambda", "unseen")  # in this order whatever was read


@dataclass(frozen=True, slots=True)
class GasValue:
    """A gas as it was read: its share, and its standard uncertainty; any error up to √3 u is as likely."""

    value: float
    u: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """A result with its standard uncertainty, and what holds 95 % of the draws."""

    value: float
    u: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Mixture:
    """What a set of readings says of the mixture.

    Attributes:
        method: "whole": the balance of all gases; "co_and_co2" and "co": without O2.
        lambda_: None where the gases hold no answer.
        afr: Mass of air for one of this fuel.
        budget: Each cause's share of u(lambda) squared; sums to 1.
        balance: What all gases of a whole analysis add up to: 1, less the moisture left in them.
        burnt_lambda: From CO and CO2 alone, which stray air cannot change; None with little CO.
        patchiness: How much CO and O2 stand beside each other, [-] in lambda.
        unburnt: Share of the fuel that left as HC, as far as the analyser shows it.
        assumed: Gases that were not read, and taken as a sound engine's.
    """

    method: Method
    lambda_: Drawn | None
    afr: Drawn | None
    budget: Mapping[str, float]
    balance: Drawn | None
    burnt_lambda: float | None
    patchiness: Drawn | None
    unburnt: float | None
    assumed: tuple[str, ...]


def mixture_from_gas(gases: Mapping[str, GasValue], fuel: Blend, *, infrared: bool = True) -> Mixture:
    """The mixture behind readings that were taken together.

    The equation takes HC as shown, which is how it is written; what infrared did not see is in the doubt.

    Args:
        gases: Dry shares by name: "co" always; "co2" and "o2" for a whole analysis; "hc" as n-hexane; "nox".
        fuel: The blend in the tank.
        infrared: HC was read by infrared, as every workshop's analyser does; a flame counts all of it.
    Raises:
        FieldProblem: no CO, O2 without CO2, or nothing burnt in the gas.
    Source:
        ``physics.exhaust_balance``: Brettschneider's equation; without O2 the oxygen that was missing, with a
        sound engine's patchiness. What infrared sees: Singer and Harley (1998), from memory, not verified.
    """
    method = _method(gases)
    assumed = ("hc",) if method == "whole" and "hc" not in gases else ()
    known = {**gases, **{name: GasValue(ASSUMED_HC, ASSUMED_HC / math.sqrt(3.0)) for name in assumed}}
    centre = _centre(known, fuel)
    draws = _draws(known, fuel, MOST_UNSEEN if infrared else 0.0)
    answers = not _is_mute(method, centre)
    drawn = _lambda(method, draws) if answers else None
    value = float(_lambda(method, centre)) if answers else 0.0
    whole = method == "whole"
    return Mixture(
        method=method,
        lambda_=None if drawn is None else _about(value, drawn),
        afr=None if drawn is None else _about(_afr(value, centre), _afr(drawn, draws)),
        budget=_budget(method, centre, draws, value) if answers else {},
        balance=_about(float(_balance(centre)), _balance(draws)) if whole else None,
        burnt_lambda=_burnt_lambda(centre) if "co2" in known else None,
        patchiness=_about(float(_patchiness(centre)), _patchiness(draws)) if whole else None,
        unburnt=_unburnt(centre) if whole and "hc" in gases else None,
        assumed=assumed,
    )


def dried(gases: Mapping[str, GasValue], fuel: Blend) -> dict[str, GasValue]:
    """Dry shares of gases that were read hot, with their water in them.

    Raises:
        FieldProblem: CO or CO2 is missing, from which the water is worked out.
    """
    for name in ("co", "co2"):
        if name not in gases:
            raise FieldProblem(name, None, "is missing: the water in a wet gas is worked out from it")
    factor = dry_per_wet(gases["co"].value, gases["co2"].value, fuel.hydrogen_per_carbon)
    return {name: GasValue(gas.value * factor, gas.u * factor) for name, gas in gases.items()}


def _method(gases: Mapping[str, GasValue]) -> Method:
    if "co" not in gases:
        raise FieldProblem("co", None, "is missing", remedy="Without CO there is no telling rich from lean.")
    if "co2" not in gases:
        if "o2" in gases:
            raise FieldProblem("co2", None, "is missing", remedy="O2 tells something only beside CO2.")
        return "co"
    burnt = gases["co2"]
    if burnt.value < max(LEAST_CO2, burnt.u):
        raise FieldProblem(
            "co2",
            f"{100.0 * burnt.value:g} %",
            "is none: nothing burnt in this gas",
            remedy="Is the engine running and the probe in the pipe?",
        )
    return "whole" if "o2" in gases else "co_and_co2"


def _is_mute(method: Method, centre: Case) -> bool:
    """Whether these gases hold no answer at all."""
    thin = method != "co" and centre["co"] + centre["co2"] < LEAST_BURNT
    return thin or (method != "whole" and centre["co"] < LEAST_CO)


def _centre(gases: Mapping[str, GasValue], fuel: Blend) -> Case:
    return {
        **{name: max(0.0, gas.value) for name, gas in gases.items()},
        "nox": max(0.0, gases["nox"].value) if "nox" in gases else 0.0,
        "y": fuel.hydrogen_per_carbon,
        "z": fuel.oxygen_per_carbon,
        "water_gas": WATER_GAS,
        "unmixed": UNMIXED,
        "off": 0.0,
    }


def _draws(gases: Mapping[str, GasValue], fuel: Blend, unseen: float = 0.0) -> Case:
    """Draws of everything; one reading more or less moves the draws of no other.

    Args:
        unseen: The most of HC that was not shown, over what was.
    """
    random = np.random.default_rng(SEED)
    uniform = {name: random.uniform(-1.0, 1.0, DRAWS) for name in _DRAWN}
    drawn = {name: _possible(name, gas, uniform[name]) for name, gas in gases.items()}
    if "hc" in drawn:
        more = drawn["hc"] * (1.0 + 0.5 * unseen * (1.0 + uniform["unseen"]))
        drawn["hc"] = np.minimum(more, _ENDS["hc"][1])
    ethanol = fuel.ethanol_share
    width = ETHANOL_WIDTH + ETHANOL_WIDTH_RELATIVE * ethanol
    ends = [blend(min(1.0, max(0.0, ethanol + side))) for side in (-width, 0.0, width)]
    place = [-1.0, 0.0, 1.0]
    y = np.interp(uniform["ethanol"], place, [end.hydrogen_per_carbon for end in ends])
    z = np.interp(uniform["ethanol"], place, [end.oxygen_per_carbon for end in ends])
    return {
        "nox": np.zeros(DRAWS),
        **drawn,
        "y": y + PETROL_WIDTH * (1.0 - ethanol) * uniform["fuel"],
        "z": z,
        "water_gas": WATER_GAS + WATER_GAS_WIDTH * uniform["method"],
        "unmixed": UNMIXED * (1.0 + uniform["patch"]),
        "off": METHOD_WIDTH * uniform["off"],
    }


def _possible(name: str, gas: GasValue, uniform: NDArray[np.float64]) -> NDArray[np.float64]:
    """What the gas may be: what is left of an error that would reach beyond nothing or all is as likely."""
    least, most = _ENDS.get(name, (0.0, 1.0))
    half = math.sqrt(3.0) * gas.u
    low, high = (min(most, max(least, gas.value + side)) for side in (-half, half))
    return 0.5 * (low + high) + 0.5 * (high - low) * uniform


def _lambda(method: Method, case: Case) -> Any:
    fuel, ratio = (case["y"], case["z"]), case["water_gas"]
    if method == "whole":
        co, co2, o2, hc, nox = (case[name] for name in ("co", "co2", "o2", "hc", "nox"))
        return lambda_from_gas(co, co2, o2, hc, nox, *fuel, ratio) + case["off"]
    if method == "co":
        missing = 1.0 - lambda_from_co(case["co"], *fuel, ratio)
    else:
        missing = oxygen_missing(case["co"], case["co2"], case["y"], ratio) / oxygen_demand(*fuel)
    return _as_burnt(missing, case["unmixed"]) + case["off"]


def _as_burnt(missing: Any, unmixed: Any) -> Any:
    """Lambda of a patchy charge that lacked a share of its oxygen: combustion.py solved for lambda."""
    lack = np.maximum(missing, _LEAST_MISSING)
    return 1.0 - lack + 0.25 * unmixed * unmixed / lack


def _afr(lambda_: Any, case: Case) -> Any:
    return lambda_ * stoichiometric_afr(case["y"], case["z"])


def _balance(case: Case) -> Any:
    gases = (case[name] for name in ("co", "co2", "o2", "hc", "nox", "y", "z", "water_gas"))
    return nitrogen_balance(*gases)


def _burnt_lambda(centre: Case) -> float | None:
    if centre["co"] < LEAST_CO * (centre["co"] + centre["co2"]) / 0.15:  # little for what was burnt
        return None
    return float(_lambda("co_and_co2", centre))


def _patchiness(case: Case) -> Any:
    """The product of missing and spare oxygen is (s w / 2) squared: combustion.py solved for w.

    Fuel that did not burn brought its own air, which is no sign of patches.
    """
    demand = oxygen_demand(case["y"], case["z"])
    missing = oxygen_missing(case["co"], case["co2"], case["y"], case["water_gas"])
    spare = np.maximum(0.0, case["o2"] - CARBON_PER_HEXANE * case["hc"] * demand) / (case["co"] + case["co2"])
    return 2.0 * np.sqrt(missing * spare) / demand


def _unburnt(centre: Case) -> float:
    raw = CARBON_PER_HEXANE * centre["hc"]
    return float(raw / (raw + centre["co"] + centre["co2"]))


def _about(value: float, draws: NDArray[np.float64]) -> Drawn:
    """The doubt about *value* itself, so that what a cut-off shifts is counted in."""
    low, high = np.quantile(draws, (0.025, 0.975))
    return Drawn(value, float(np.sqrt(np.mean((draws - value) ** 2))), float(low), float(high))


def _budget(method: Method, centre: Case, draws: Case, value: float) -> dict[str, float]:
    """Each cause drawn alone, the others at their values."""
    squares = {
        cause: float(np.mean((_lambda(method, {**centre, **_only(names, draws)}) - value) ** 2))
        for cause, names in _CAUSES.items()
    }
    total = math.fsum(squares.values())
    return {cause: square / total for cause, square in squares.items() if square > 0.0}


def _only(names: tuple[str, ...], draws: Case) -> dict[str, Any]:
    return {name: draws[name] for name in names if name in draws}


def afr_of(lambda_: GasValue, fuel: Blend) -> Drawn:
    """The air-fuel ratio on *fuel* of a lambda that was measured, with what is not known of the fuel.

    A display calibrated for another fuel shows that fuel's ratio: its lambda is right, and this is the ratio.
    """
    draws = _draws({"lambda": lambda_}, fuel)
    return _about(lambda_.value * fuel.stoichiometric_afr, _afr(draws["lambda"], draws))


def sound_exhaust(lambda_: float, fuel: Blend) -> dict[str, float]:
    """Dry CO, CO2 and O2, as shares, of a sound engine at *lambda_*."""
    made = dry_shares(lambda_, fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon, WATER_GAS, UNMIXED)
    return {"co": float(made.co), "co2": float(made.co2), "o2": float(made.o2)}


def as_read(gas: GasValue) -> Drawn:
    """A reading as a result: any error up to √3 u is as likely, so 95 % of them hold 95 % of it."""
    half = READ_COVERAGE * gas.u
    return Drawn(gas.value, gas.u, gas.value - half, gas.value + half)
