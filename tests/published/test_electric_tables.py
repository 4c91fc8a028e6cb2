"""Copper, wires under load and temperature sensors, against tables."""

import math

import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.electric import (
    copper_resistance,
    ntc_beta,
    steinhart_hart,
    voltage_drop,
    wire_resistance,
)

ICE = 273.15

COPPER = Check(
    topic="Electrical",
    source="IEC 60028, annealed copper, 0.00393/K at 20 degC (from memory)",
    what="resistance over that at 20 degC",
    tolerance=PRINTED,
    because="the table is rounded to five decimals",
)
MACHINES = Check(
    topic="Electrical",
    source="the rule (234.5 + t) / 254.5 of makers of electrical machines (from memory)",
    what="resistance of copper over that at 20 degC",
    tolerance=1e-4,
    because="1/254.5 is 0.0039293, not 0.00393: 6e-5 apart at 100 degC",
)
RESISTIVITY = Check(
    topic="Electrical",
    source="IEC 60028, 1/58 ohm mm2/m at 20 degC (from memory)",
    what="resistance of one metre of 1 mm2 copper, ohm",
    unit="ohm",
    tolerance=PRINTED,
    because="the table is rounded to six decimals",
)
GAUGE = Check(
    topic="Electrical",
    source="NBS Handbook 100, copper wire tables (from memory)",
    what="ohm in 1000 ft of wire, AWG 14 and 12",
    unit="ohm",
    tolerance=PRINTED,
    because="printed to three decimals",
)
DROP = Check(
    topic="Electrical",
    source="Ohm's law with IEC 60028 copper, there and back, worked out apart from this tool",
    what="voltage lost in a wire, V",
    unit="V",
    tolerance=PRINTED,
    because="the table is rounded to four decimals",
)
BETA = Check(
    topic="Electrical",
    source="R = R25 exp(B (1/T - 1/298.15)), worked out apart from this tool",
    what="resistance of a temperature sensor, ohm",
    unit="ohm",
    tolerance=PRINTED,
    because="the table is rounded to three decimals",
)
STEINHART = Check(
    topic="Electrical",
    source="Steinhart and Hart's equation with the coefficients printed most often for a 10 kohm part",
    what="temperature of a sensor, degC",
    unit="degC",
    tolerance=PRINTED,
    because="the table is rounded to four decimals",
)


@pytest.mark.parametrize("row", table("copper_resistance.csv"), ids=lambda row: row["t_C"])
def test_copper_over_temperature_matches_the_table(row: dict[str, str]) -> None:
    temperature = float(row["t_C"]) + ICE
    ratio = copper_resistance(1.0, temperature)
    COPPER.holds(ratio, f"{float(row['ratio_alpha20']):.5f}")
    MACHINES.holds(ratio, float(row["ratio_234.5"]))
    RESISTIVITY.holds(wire_resistance(1.0, 1e-6, temperature), row["rho_ohm_mm2_per_m"].ljust(8, "0"))


@pytest.mark.parametrize(("gauge", "ohms"), [(14, "2.525"), (12, "1.588")])
def test_a_thousand_feet_of_wire_match_the_handbook(gauge: int, ohms: str) -> None:
    diameter = 0.127e-3 * 92.0 ** ((36 - gauge) / 39.0)  # the gauge's own rule
    GAUGE.holds(wire_resistance(304.8, math.pi / 4.0 * diameter**2), ohms)


@pytest.mark.parametrize("row", table("voltage_drop.csv"), ids=lambda row: row["area_mm2"])
def test_the_voltage_lost_in_a_wire_matches_the_table(row: dict[str, str]) -> None:
    length, area, current = (
        2.0 * float(row["one_way_length_m"]),
        float(row["area_mm2"]) * 1e-6,
        float(row["current_A"]),
    )
    DROP.holds(voltage_drop(current, length, area), row["drop_V"])
    with_clips = current * (wire_resistance(length, area) + 5e-3)
    DROP.holds(with_clips, row["drop_V_plus_5mohm"])


@pytest.mark.parametrize(
    "row", table("ntc_beta.csv"), ids=lambda row: f"{row['R25_ohm']} {row['B_K']} {row['t_C']}"
)
def test_a_sensor_by_its_b_constant_matches_the_table(row: dict[str, str]) -> None:
    resistance = ntc_beta(float(row["R25_ohm"]), float(row["B_K"]), float(row["t_C"]) + ICE)
    BETA.holds(resistance, f"{float(row['R_ohm']):.3f}")


@pytest.mark.parametrize("row", table("ntc_steinhart.csv"), ids=lambda row: row["R_ohm"])
def test_a_sensor_by_three_coefficients_matches_the_table(row: dict[str, str]) -> None:
    temperature = steinhart_hart(float(row["R_ohm"]), 1.009249522e-3, 2.378405444e-4, 2.019202697e-7)
    STEINHART.holds(temperature - ICE, row["t_C"])
