"""Blends of petrol and ethanol: composition, stoichiometric air, density, viscosity and heat.

Petrol is a hundred substances and changes from station to station; here it is CH1.87 of 745 kg/m³, a middle
one. Ethanol is a substance and is known well. What a car's air meter sees of a blend is the volume it takes
and the air it needs, and both follow from composition alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from evenpour.errors import FieldProblem
from evenpour.physics.combustion import CARBON, HYDROGEN, OXYGEN, stoichiometric_afr
from evenpour.physics.fuel import BASE_TEMPERATURE, COLDEST, WARMEST, volume_correction
from evenpour.physics.within import plain, within

PETROL_HYDROGEN = 1.87  # H per C (Heywood 1988, table D.4, from memory)
PETROL_MOLAR = CARBON + HYDROGEN * PETROL_HYDROGEN  # g per mol of carbon
PETROL_DENSITY = 745.0  # kg/m³ at 15 °C; EN 228 allows 720 to 775 (from memory)
PETROL_HEAT = 44.0e6  # J/kg, lower heating value (Heywood 1988, table D.4, from memory)
ETHANOL_HYDROGEN, ETHANOL_OXYGEN = 3.0, 0.5  # per C: C2H6O
ETHANOL_MOLAR = CARBON + HYDROGEN * ETHANOL_HYDROGEN + OXYGEN * ETHANOL_OXYGEN  # g per mol of carbon
ETHANOL_DENSITY = 793.5  # kg/m³ at 15 °C
ETHANOL_EXPANSION = 1.09e-3  # 1/K at 15 °C (from memory; within 0.1 % in density of CoolProp, -20 to 60 °C)
ETHANOL_HEAT = 26.9e6  # J/kg, lower heating value (Heywood 1988, table D.4, from memory)

# Kinematic viscosity at 20 °C, [m²/s], and how it falls: exp(B (1/T - 1/293.15)), B in [K]. Petrol has no
# citable table: 0.5 to 0.75 mm²/s at 20 °C (from memory). n-Heptane lies in the middle of that and stands
# for it; both laws are fitted to CoolProp from -20 to 80 °C, heptane within 1 %, ethanol within 2.5 %.
PETROL_VISCOSITY, PETROL_THINNING = 0.6044e-6, 860.0
ETHANOL_VISCOSITY, ETHANOL_THINNING = 1.5145e-6, 1620.0
VISCOSITY_TEMPERATURE = 293.15  # K


@dataclass(frozen=True, slots=True)
class Blend:
    """One fuel, by its share of ethanol."""

    ethanol_share: float  # by volume at 15 °C, 0 to 1
    hydrogen_per_carbon: float  # atoms
    oxygen_per_carbon: float  # atoms
    stoichiometric_afr: float  # kg of dry air per kg of fuel
    reference_density: float  # kg/m³ at 15 °C
    heating_value: float  # J/kg, lower
    petrol_density: float  # kg/m³ at 15 °C, of the petrol in it


def ethanol_share(name: str) -> float:
    """Share of ethanol by volume that a blend's name says.

    Args:
        name: "E0" to "E100"; capitals and blanks do not matter.
    Raises:
        FieldProblem: the name is none of a blend.
    Example:
        >>> ethanol_share("E5")
        0.05
    """
    match = re.fullmatch(r"e(\d{1,3}(?:\.\d+)?)", name.replace(" ", "").lower())
    if match is None or float(match[1]) > 100.0:
        raise FieldProblem(
            "fuel", name, "is no blend", allowed="E0 to E100", remedy="E10 holds 10 % ethanol."
        )
    return float(match[1]) / 100.0


def blend(ethanol_share: float, petrol_density: float = PETROL_DENSITY) -> Blend:
    """The fuel that holds *ethanol_share* of ethanol by volume.

    Args:
        ethanol_share: 0 to 1, by volume at 15 °C.
        petrol_density: Of the petrol in it, [kg/m³] at 15 °C, 653 to 787.5.
    Raises:
        OutOfRange: an argument lies outside; nan counts.
    Holds for:
        Volumes that add up; they grow by up to 0.2 % on mixing (from memory).
    Source:
        Arithmetic by mass and by atoms. Weighting the air by volume instead is wrong by 0.45 % at E85.
    Example:
        >>> round(blend(0.10).stoichiometric_afr, 3)
        14.006
    """
    share = plain(within("ethanol_share", ethanol_share, 0.0, 1.0, "", "E10 is 0.1."))
    petrol = plain(within("petrol_density", petrol_density, 653.0, 787.5, "kg/m³ at 15 °C"))
    density = (1.0 - share) * petrol + share * ETHANOL_DENSITY
    by_mass = share * ETHANOL_DENSITY / density
    # mol of carbon in a gram of the blend, from either
    of_petrol = (1.0 - by_mass) / PETROL_MOLAR
    of_ethanol = by_mass / ETHANOL_MOLAR
    carbon = of_petrol + of_ethanol
    hydrogen = (of_petrol * PETROL_HYDROGEN + of_ethanol * ETHANOL_HYDROGEN) / carbon
    oxygen = of_ethanol * ETHANOL_OXYGEN / carbon
    return Blend(
        ethanol_share=share,
        hydrogen_per_carbon=hydrogen,
        oxygen_per_carbon=oxygen,
        stoichiometric_afr=stoichiometric_afr(hydrogen, oxygen),
        reference_density=density,
        heating_value=(1.0 - by_mass) * PETROL_HEAT + by_mass * ETHANOL_HEAT,
        petrol_density=petrol,
    )


def blend_density(fuel: Blend, temperature: ArrayLike) -> Any:
    """Density of a blend at *temperature*, [kg/m³]: petrol and ethanol expand each for itself.

    Args:
        fuel: From :func:`blend`.
        temperature: [K], 233.15 to 368.15.
    Raises:
        OutOfRange: colder or warmer; nan counts.
    Source:
        Petrol as ASTM D1250, table 54B; ethanol by the same law with its own expansion.
    Example:
        >>> round(blend_density(blend(0.10), 293.15), 2)
        745.34
    """
    kelvin = within("temperature", temperature, COLDEST, WARMEST, "K", "0 °C is 273.15 K.")
    warmer = ETHANOL_EXPANSION * (kelvin - BASE_TEMPERATURE)
    ethanol = np.exp(warmer * (1.0 + 0.8 * warmer))  # volume over volume at 15 °C
    petrol = 1.0 / volume_correction(fuel.petrol_density, kelvin)
    volume = (1.0 - fuel.ethanol_share) * petrol + fuel.ethanol_share * ethanol
    return plain(fuel.reference_density / volume)


def blend_viscosity(fuel: Blend, temperature: Any) -> Any:
    """Kinematic viscosity of a blend at *temperature*, [m²/s]. Hot.

    Args:
        fuel: From :func:`blend`.
        temperature: [K], above zero.
    Holds for:
        -20 to 80 °C. Petrols differ by a fifth either way; a slit's flow hardly feels it
        (:func:`evenpour.physics.orifice.slit_discharge`).
    Source:
        Fitted to CoolProp's n-heptane and ethanol; logarithms weighted by volume (Arrhenius' rule for
        mixtures, from memory).
    Example:
        >>> round(float(blend_viscosity(blend(0.0), 293.15)) * 1e6, 3)
        0.604
    """
    inverse = 1.0 / temperature - 1.0 / VISCOSITY_TEMPERATURE
    share = fuel.ethanol_share
    at_20 = PETROL_VISCOSITY ** (1.0 - share) * ETHANOL_VISCOSITY**share
    return at_20 * np.exp(((1.0 - share) * PETROL_THINNING + share * ETHANOL_THINNING) * inverse)
