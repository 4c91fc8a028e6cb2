"""What comes out of the exhaust of a fuel CH_yO_z burnt at a stated lambda; the engine's model lives on it.

Complete combustion as far as the oxygen goes; what is missing leaves carbon monoxide and hydrogen, divided
by the water-gas ratio K = CO * H2O / (CO2 * H2) as it freezes in the exhaust. The way back, from a gas
analyser to lambda, is in exhaust_balance.py.

Source: atom balance of carbon, hydrogen and oxygen. K = 3.5 is the constant of Brettschneider's equation
    (1979, from memory); equilibrium thermodynamics gives 3.5 at 1721 K and 3.8 at 1796 K.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenpour.physics.within import plain, within

NITROGEN_PER_OXYGEN = 3.773  # mol per mol, argon counted in: dry air with 20.95 % O2
WATER_GAS = 3.5  # K, [-]
CARBON, HYDROGEN, OXYGEN, AIR = 12.011, 1.008, 15.999, 28.962  # g/mol; dry air


class Products(NamedTuple):
    """Exhaust of one mol of carbon in the fuel, [mol]; arrays of the shape the arguments broadcast to."""

    co: Any
    co2: Any
    o2: Any
    n2: Any
    h2: Any
    h2o: Any
    dry_total: Any


class DryShares(NamedTuple):
    """Shares of the exhaust gas with all its water taken out, as fractions (0.02 is 2 %)."""

    co: Any
    co2: Any
    o2: Any
    h2: Any


def oxygen_demand(hydrogen_per_carbon: Any, oxygen_per_carbon: Any) -> Any:
    """Oxygen for complete combustion, [mol O2 per mol C]: 1 + y/4 - z/2. Hot: no validation."""
    return 1.0 + 0.25 * hydrogen_per_carbon - 0.5 * oxygen_per_carbon


def dry_products(
    lambda_: ArrayLike,
    hydrogen_per_carbon: Any,
    oxygen_per_carbon: Any,
    water_gas: float = WATER_GAS,
    unmixed: Any = 0.0,
) -> Products:
    r"""Exhaust gas of a fuel burnt at *lambda_*, per mol of its carbon. Hot: no validation, NumPy out.

    With s the oxygen demand, the oxygen missing on the rich side is D/2 = s (1 - lambda). It leaves
    CO + H2 = D, and the water-gas ratio divides them:

    .. math:: (K-1)\, n^2 - (K + (K-1) D + y/2)\, n + K D = 0, \quad n = n_{CO} \text{ (the smaller root)}

    Args:
        lambda_: Air over the air for complete combustion, [-].
        hydrogen_per_carbon, oxygen_per_carbon: Fuel CH_yO_z, [-]; a blend's, or arrays.
        water_gas: K, [-], 1 or more.
        unmixed: How patchy the charge is, [-] in lambda: the exhaust of a real engine holds CO and O2 at
            once. Missing and spare oxygen become s (sqrt(e^2 + w^2) ± e)/2 with e = 1 - lambda, so both
            differ by what the balance asks and lambda is unchanged. 0 is the ideal gas with its kink at
            lambda 1; 0.02 to 0.06 gives the 0.3 to 1 % of CO that real engines show there (from memory).
    Returns:
        Products, [mol per mol C]: co + co2 = 1; dry_total counts all but water.
    Holds for:
        lambda above about 0.4 (petrol). Total on all finite inputs: where oxygen would not even make CO of
        all carbon, the gas is held at that limit (all CO and H2), and negative lambda counts as no air.
    Source:
        Atom balance; see the module.
    Example:
        >>> burnt = dry_products(0.9, 1.87, 0.0)
        >>> round(float(100.0 * burnt.co / burnt.dry_total), 4)
        3.6792
    """
    y = np.asarray(hydrogen_per_carbon, dtype=np.float64)
    demand = oxygen_demand(y, oxygen_per_carbon)
    air = np.maximum(lambda_, 0.0)
    short = 1.0 - air
    reach = np.sqrt(short * short + unmixed * unmixed)
    spare = 0.5 * demand * (reach - short)
    unburnt = np.minimum(demand * (reach + short), 1.0 + 0.5 * y)
    slope = water_gas + (water_gas - 1.0) * unburnt + 0.5 * y
    wanted = water_gas * unburnt
    co = 2.0 * wanted / (slope + np.sqrt(slope * slope - 4.0 * (water_gas - 1.0) * wanted))
    h2 = unburnt - co
    n2 = NITROGEN_PER_OXYGEN * demand * air
    return Products(co, 1.0 - co, spare, n2, h2, 0.5 * y - h2, 1.0 + h2 + spare + n2)


def dry_shares(
    lambda_: ArrayLike,
    hydrogen_per_carbon: Any,
    oxygen_per_carbon: Any,
    water_gas: float = WATER_GAS,
    unmixed: Any = 0.0,
) -> DryShares:
    """What an ideal gas analyser shows behind its water trap; arguments as for `dry_products`. Hot.

    Example:
        >>> round(float(100.0 * dry_shares(1.1, 1.87, 0.0).o2), 4)
        2.0277
    """
    made = dry_products(lambda_, hydrogen_per_carbon, oxygen_per_carbon, water_gas, unmixed)
    per_mol = 1.0 / made.dry_total
    return DryShares(made.co * per_mol, made.co2 * per_mol, made.o2 * per_mol, made.h2 * per_mol)


def stoichiometric_afr(hydrogen_per_carbon: ArrayLike, oxygen_per_carbon: ArrayLike) -> Any:
    r"""Mass of dry air that burns unit mass of fuel CH_yO_z completely, [-].

    .. math:: AFR = 4.773 \cdot 28.962 \, (1 + y/4 - z/2) / (12.011 + 1.008 y + 15.999 z)

    Args:
        hydrogen_per_carbon: y, [-], 0 to 4.
        oxygen_per_carbon: z, [-], 0 to 1.
    Returns:
        A float for scalars, else an array of the shape the arguments broadcast to.
    Raises:
        OutOfRange: an argument belongs to no motor fuel; nan counts.
    Source:
        Atom balance; dry air with 20.95 % O2, molar mass 28.962 g/mol. Books with 4.76 mol of air of
        28.84 g/mol come out 0.7 % lower.
    Example:
        >>> round(stoichiometric_afr(1.87, 0.0), 3)
        14.599
    """
    y, z = fuel_formula(hydrogen_per_carbon, oxygen_per_carbon)
    weight = CARBON + HYDROGEN * y + OXYGEN * z
    return plain((1.0 + NITROGEN_PER_OXYGEN) * AIR * oxygen_demand(y, z) / weight)


def fuel_formula(
    hydrogen_per_carbon: ArrayLike, oxygen_per_carbon: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """H/C and O/C as arrays, once they are known to be a motor fuel's.

    Raises:
        OutOfRange: outside 0 to 4 atoms of hydrogen or 0 to 1 atom of oxygen for each of carbon.
    """
    y = within("hydrogen_per_carbon", hydrogen_per_carbon, 0.0, 4.0, "", "Petrol has about 1.87.")
    z = within("oxygen_per_carbon", oxygen_per_carbon, 0.0, 1.0, "", "Ethanol has 0.5.")
    return y, z
