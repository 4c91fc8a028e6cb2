"""Density of dry and humid air against CIPM-2007 and another model."""

import numpy as np
import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.air import dry_air_density, humid_air_density, saturation_vapour_pressure

TOPIC = "Air"
CIPM = "CIPM-2007 (Metrologia 45 (2008) 149), coefficients as in public implementations, worked out apart"
DENSITY = Check(
    topic=TOPIC,
    source=CIPM,
    what="density of humid air",
    tolerance=PRINTED,
    because="the table's six decimals",
)
SATURATION = Check(
    topic=TOPIC,
    source=CIPM,
    what="saturation pressure of water, Pa",
    tolerance=PRINTED,
    because="the table's two decimals",
)
IDEAL = Check(
    topic=TOPIC,
    source="ideal gas of the standard atmosphere, worked out apart from this tool",
    what="density of dry air",
    tolerance=1e-5,
    relative=True,
    because="molar masses of the dry air that is meant differ by 1e-5",
)
RP_1485 = Check(
    topic=TOPIC,
    source="ASHRAE RP-1485 model, as printed in the documentation of Psychro.jl",
    what="density of dry air and of air of 70 % humidity at 20 °C",
    tolerance=1e-4,
    relative=True,
    because="models of real air differ by 1e-4, not least in their carbon dioxide",
)
ICE = 273.15


@pytest.mark.parametrize("row", table("humid_air_density.csv"), ids=lambda row: f"{row['t_C']} {row['RH']}")
def test_humid_air_matches_the_formulas_table(row: dict[str, str]) -> None:
    kelvin, pressure = float(row["t_C"]) + ICE, float(row["p_Pa"])
    DENSITY.holds(humid_air_density(pressure, kelvin, float(row["RH"])), row["rho_CIPM_kg_m3"])
    SATURATION.holds(saturation_vapour_pressure(kelvin), f"{float(row['psat_Pa']):.2f}")
    if float(row["RH"]) == 0.0:
        IDEAL.holds(dry_air_density(pressure, kelvin), float(row["rho_ideal_kg_m3"]))


def test_humid_air_agrees_with_another_model() -> None:
    RP_1485.holds(humid_air_density(101325.0, 293.15, np.array([0.0, 0.7])), [1.20448, 1.19714])
