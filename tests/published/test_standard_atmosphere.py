"""The standard atmosphere against ISO 2533:1975 and another program."""

import numpy as np
import pytest
from achieved import PRINTED, Check, table
from fluids.atmosphere import ATMOSPHERE_1976

from evenpour.physics.air import standard_density, standard_pressure, standard_temperature

TOPIC = "Air"
ISO = "ISO 2533:1975 (ICAO Doc 7488, US 1976), worked out from its formula and checked with ambiance"
PRESSURE = Check(
    topic=TOPIC,
    source=ISO,
    what="pressure, 0 to 4000 m",
    tolerance=0.5,
    unit="Pa",
    because="the table is rounded to 0.1 Pa, the exponent of other copies to five decimals",
)
DENSITY = Check(
    topic=TOPIC,
    source=ISO,
    what="density, 0 to 4000 m",
    tolerance=2e-5,
    unit="kg/m³",
    because="the table is rounded to 1e-5, the exponent of other copies to five decimals",
)
TEMPERATURE = Check(
    topic=TOPIC,
    source=ISO,
    what="temperature, 0 to 4000 m",
    tolerance=1e-9,
    unit="K",
    because="the table is exact",
)
GEOMETRIC = Check(
    topic=TOPIC,
    source=ISO,
    what="pressure where the altitude is geometric, 0 to 4000 m",
    tolerance=0.5,
    unit="Pa",
    because="as for the pressure; read as geopotential, 4000 m would be 20 Pa off",
)
HANDBOOK = Check(
    topic=TOPIC,
    source="US Standard Atmosphere 1976, printed table (from memory)",
    what="density, 0 to 2000 m geometric",
    tolerance=PRINTED,
    because="the table's digits",
)
FLUIDS = Check(
    topic=TOPIC,
    source="fluids, ATMOSPHERE_1976",
    what="pressure, -500 to 11000 m",
    tolerance=1.1e-6,
    relative=True,
    because="its 8314.32/28.9644 J/(kg K) is 7e-7 above ISO's 287.05287, which counts 1.5 times at 11000 m",
)
EARTH = 6356766.0  # m, the radius that the standard turns geometric into geopotential altitude with


def geopotential(geometric: float) -> float:
    return EARTH * geometric / (EARTH + geometric)


@pytest.mark.parametrize("row", table("standard_atmosphere.csv"), ids=lambda row: row["alt_m"])
def test_the_air_matches_the_standard(row: dict[str, str]) -> None:
    altitude = float(row["alt_m"])
    TEMPERATURE.holds(standard_temperature(altitude), float(row["T_K_geopot"]))
    PRESSURE.holds(standard_pressure(altitude), float(row["p_Pa_geopot"]))
    DENSITY.holds(standard_density(altitude), float(row["rho_geopot"]))
    GEOMETRIC.holds(standard_pressure(geopotential(altitude)), float(row["p_Pa_geomet"]))


@pytest.mark.parametrize(
    ("altitude", "printed"),
    [(0, "1.2250"), (500, "1.1673"), (1000, "1.1117"), (1500, "1.0581"), (2000, "1.0066")],
)
def test_the_density_is_the_one_that_handbooks_print(altitude: float, printed: str) -> None:
    HANDBOOK.holds(standard_density(geopotential(altitude)), printed)


def test_the_pressure_agrees_with_another_program() -> None:
    altitudes = np.arange(-500.0, 11000.0, 250.0)
    theirs = [ATMOSPHERE_1976(EARTH * h / (EARTH - h)).P for h in altitudes]
    FLUIDS.holds(standard_pressure(altitudes), theirs)
