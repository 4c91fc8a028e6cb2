"""Density of dry and humid air against CIPM-2007 and other programs."""

import numpy as np
import pytest
from achieved import PRINTED, Check, table
from CoolProp.CoolProp import HAPropsSI, PropsSI

from evenpour.physics.air import dry_air_density, humid_air_density, saturation_vapour_pressure

TOPIC = "Air"
CIPM = "CIPM-2007 (Metrologia 45 (2008) 149), coefficients as in public implementations, worked out apart"
COOLPROP = "CoolProp 8, humid air and water"
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
COMFORT = Check(
    topic=TOPIC,
    source=COOLPROP,
    what="density of humid air, 15 to 27 °C, 600 to 1100 hPa, 0 to 100 %",
    tolerance=1e-4,
    relative=True,
    because="models of real air differ by 1e-4",
)
BEYOND = Check(
    topic=TOPIC,
    source=COOLPROP,
    what="density of humid air, -20 to 60 °C, where the formula is extrapolated",
    tolerance=1e-3,
    relative=True,
    because="what the docstring promises; a tenth of what half a kelvin of doubt would cost",
)
STEAM = Check(
    topic=TOPIC,
    source=COOLPROP,
    what="saturation pressure of water, 0 to 60 °C",
    tolerance=1e-3,
    relative=True,
    because="what the docstring promises for temperatures outside 15 to 27 °C",
)
REAL = Check(
    topic=TOPIC,
    source="CoolProp 8, dry air as a real gas",
    what="ideal density of dry air, -20 to 60 °C, 600 to 1100 hPa",
    tolerance=1.1e-3,
    relative=True,
    because="second virial coefficient of -18 cm³/mol at -20 °C: 0.95e-3 at 1.1 bar; 1e-4 for carbon dioxide",
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


@pytest.mark.parametrize(
    ("check", "celsius"), [(COMFORT, (15.0, 20.0, 27.0)), (BEYOND, (-20.0, 0.0, 40.0, 60.0))]
)
def test_humid_air_agrees_with_another_program(check: Check, celsius: tuple[float, ...]) -> None:
    for kelvin in (t + ICE for t in celsius):
        for pressure in (60e3, 85e3, 101325.0, 110e3):
            for humidity in (0.0, 0.4, 1.0):
                state = ("T", kelvin, "P", pressure, "R", humidity)
                theirs = (1.0 + HAPropsSI("W", *state)) / HAPropsSI("Vda", *state)
                check.holds(humid_air_density(pressure, kelvin, humidity), theirs)


def test_saturation_agrees_with_another_program() -> None:
    kelvins = np.arange(0.0, 61.0, 5.0) + ICE + 0.01  # from the triple point
    STEAM.holds(saturation_vapour_pressure(kelvins), [PropsSI("P", "T", t, "Q", 0, "Water") for t in kelvins])


def test_the_models_dry_air_is_near_real_air() -> None:
    for kelvin in np.arange(-20.0, 61.0, 20.0) + ICE:
        for pressure in (60e3, 101325.0, 110e3):
            REAL.holds(dry_air_density(pressure, kelvin), PropsSI("D", "T", kelvin, "P", pressure, "Air"))
