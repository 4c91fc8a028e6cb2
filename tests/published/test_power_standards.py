"""Power on a standard day against ISO 1585 and SAE J1349."""

import pytest
from achieved import Check, table

from evenpour.physics.air import saturation_vapour_pressure
from evenpour.physics.power import is_allowed, power_correction, power_correction_j1349

TOPIC = "Power correction"
ISO = Check(
    topic=TOPIC,
    source="ISO 1585, also UN Regulation 85 (formula from memory), worked out apart",
    what="factor for seven days' air",
    tolerance=1e-4,
    because="the table takes 0 °C as 273 K and rounds the pressure to 0.1 Pa",
)
SAE = Check(
    topic=TOPIC,
    source="SAE J1349 JUN90 (seen in two secondary copies), worked out apart",
    what="factor for seven days' air",
    tolerance=1e-4,
    because="as above",
)
VALID = Check(
    topic=TOPIC,
    source="ISO 1585: no factor outside 0.93 to 1.07 (from memory)",
    what="whether a day's air may be corrected for (1) or not (0)",
    tolerance=0.5,
    because="it may or may not",
)
VAPOUR = Check(
    topic=TOPIC,
    source="CIPM-2007 saturation pressure times humidity, worked out apart",
    what="pressure of water vapour, kPa",
    tolerance=1e-4,
    unit="kPa",
    because="the table's four decimals",
)


@pytest.mark.parametrize(
    "row", table("power_correction.csv"), ids=lambda row: f"{row['t_C']} C {row['p_total_kPa']} kPa"
)
def test_a_days_factor_is_the_standards(row: dict[str, str]) -> None:
    celsius, dry = float(row["t_C"]), float(row["p_dry_kPa"]) * 1e3
    factor = power_correction(dry, celsius + 273.0)
    ISO.holds(factor, float(row["ISO1585_alpha_a"]))
    SAE.holds(power_correction_j1349(dry, celsius + 273.0), float(row["J1349_CF"]))
    VALID.holds(is_allowed(factor), row["ISO_valid_0.93-1.07"] == "yes")
    vapour = float(row["RH"]) * saturation_vapour_pressure(celsius + 273.15) / 1e3
    VAPOUR.holds(vapour, float(row["p_vapour_kPa"]))
