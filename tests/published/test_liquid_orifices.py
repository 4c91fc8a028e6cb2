"""Liquid through holes and metering slits, and the fuel's own viscosity, against known values."""

import math

import numpy as np
import pytest
from achieved import PRINTED, Check, table
from fluids.flow_meter import flow_meter_discharge

from evenpour.physics.blend import blend, blend_viscosity
from evenpour.physics.orifice import SLIT_CONTRACTION, liquid_flow, slit_discharge

TOPIC = "Flow of liquids"
APART = "Q = Cd A sqrt(2 dp / rho), worked out apart from this tool"
HOLES = Check(
    topic=TOPIC,
    source=APART,
    what="a hole of 1 mm at 1 bar and one of 0.5 mm at 3.5 bar, ml/min",
    tolerance=PRINTED,
    because="worked out to two decimals",
)
SLITS = Check(
    topic=TOPIC,
    source=APART,
    what="slits of 0.1 to 0.25 mm at 0.1 to 0.2 bar, ml/min and g/min",
    tolerance=PRINTED,
    because="the table's four decimals",
)
JETS = Check(
    topic=TOPIC,
    source=APART,
    what="speed of the ideal jet, m/s",
    tolerance=PRINTED,
    because="the table's four decimals",
)
REYNOLDS = Check(
    topic=TOPIC,
    source="Re = velocity times twice the width over 0.6 mm²/s, worked out apart from this tool",
    what="Reynolds number of tall slits",
    tolerance=1.0,
    because="rounded to a whole number from a rounded velocity; slits are 1000 times taller here than wide",
)
FLUIDS = Check(
    topic=TOPIC,
    source="fluids, flow_meter_discharge, at a bore of a thousandth of the pipe",
    what="volume flow of petrol through holes, 0.1 to 5 bar",
    tolerance=1e-11,
    relative=True,
    because="the pipe's share is (1/1000)⁴ / 2, and doubles round",
)
KIRCHHOFF = Check(
    topic=TOPIC,
    source="Kirchhoff's free jet from a plane slit, pi/(pi + 2) = 0.6110 (Lamb, Hydrodynamics, from memory)",
    what="discharge coefficient of a slit in fast flow",
    tolerance=PRINTED,
    because="four decimals are usual",
)
CREEP = Check(
    topic=TOPIC,
    source="Stokes flow through a slit in a thin wall, dp = 32 mu q / (pi w²) (Hasimoto 1958, from memory)",
    what="flow of a slit at a Reynolds number of a hundredth",
    tolerance=1e-3,
    relative=True,
    because="inertia still costs Re pi/128 / Cinf² there, 7e-4",
)
PLATEAU = Check(
    topic=TOPIC,
    source="sharp edges: coefficient nearly constant above some thousands (general hydraulics, from memory)",
    what="coefficient at Re 3000 to 100,000 over that of the fastest flow",
    tolerance=0.005,
    because="'nearly constant' is read as half a per cent",
)
HEPTANE = Check(
    topic="Fuel",
    source="CoolProp 8, n-heptane at 4 bar, which stands for petrol",
    what="kinematic viscosity, 0 to 60 °C",
    tolerance=0.01,
    relative=True,
    because="what the module promises; petrols themselves differ by a fifth",
)
ETHANOL = Check(
    topic="Fuel",
    source="CoolProp 8, ethanol at 4 bar",
    what="kinematic viscosity, 0 to 60 °C",
    tolerance=0.025,
    relative=True,
    because="what the module promises of a law with one exponent",
)
PETROL = Check(
    topic="Fuel",
    source="0.5 to 0.75 mm²/s at 20 °C (from memory); CoolProp has n-hexane 0.476 and toluene 0.679",
    what="kinematic viscosity of petrol, mm²/s",
    tolerance=0.125,
    because="the range's half",
)


@pytest.mark.parametrize(("bore", "drop", "printed"), [(1.0e-3, 1.0e5, "470.99"), (0.5e-3, 3.5e5, "220.28")])
def test_a_round_hole_passes_what_it_should(bore: float, drop: float, printed: str) -> None:
    HOLES.holds(liquid_flow(0.25 * math.pi * bore**2, drop, 745.0, 0.61) * 60e6, printed)


@pytest.mark.parametrize(
    "row", table("slit_flow.csv"), ids=lambda row: f"{row['slit_width_mm']} {row['slit_height_mm']}"
)
def test_a_slit_passes_what_it_should(row: dict[str, str]) -> None:
    width, height = float(row["slit_width_mm"]) * 1e-3, float(row["slit_height_mm"]) * 1e-3
    density, drop = float(row["rho_kg_m3"]), float(row["dp_bar"]) * 1e5
    flow = liquid_flow(width * height, drop, density, float(row["Cd"]))
    jet = liquid_flow(1e-6, drop, density, 1.0) * 1e6
    printed = [f"{float(row[name]):.4f}" for name in ("mL_per_min", "g_per_min")]
    SLITS.holds([flow * 60e6, flow * density * 60e3], printed)
    JETS.holds(jet, row["ideal_velocity_m_s"])
    REYNOLDS.holds(jet * 2.0 * width / 0.6e-6, float(row["Re_2w"]))


def test_liquid_flow_agrees_with_another_program() -> None:
    bore, pipe = 0.3e-3, 0.3
    for drop in (0.1e5, 1e5, 5e5):
        theirs = flow_meter_discharge(
            D=pipe, Do=bore, P1=9e5, P2=9e5 - drop, rho=745.0, C=0.65, expansibility=1.0
        )
        FLUIDS.holds(liquid_flow(0.25 * math.pi * bore**2, drop, 745.0, 0.65), theirs / 745.0)


def test_a_fast_jet_contracts_as_it_must() -> None:
    KIRCHHOFF.holds([SLIT_CONTRACTION, slit_discharge(1e7)], ["0.6110", "0.6110"])


def test_a_creeping_flow_goes_with_the_pressure() -> None:
    width, density, viscosity = 0.2e-3, 745.0, 0.45e-3
    # Re is 0.01 by the ideal velocity sqrt(2 dp / density) and twice the width.
    velocity = 0.01 * viscosity / (density * 2.0 * width)
    drop = 0.5 * density * velocity**2
    CREEP.holds(slit_discharge(0.01) * width * velocity, math.pi * width**2 * drop / (32.0 * viscosity))


def test_above_some_thousands_the_coefficient_hardly_moves() -> None:
    fast = np.array([3e3, 1e4, 1e5])
    PLATEAU.holds(slit_discharge(fast) / SLIT_CONTRACTION, np.ones(3))


@pytest.mark.parametrize("row", table("liquid_viscosity.csv"), ids=lambda row: f"{row['fluid']} {row['t_C']}")
def test_viscosity_lies_where_its_models_lie(row: dict[str, str]) -> None:
    kelvin, theirs = float(row["t_C"]) + 273.15, float(row["nu_mm2_s"])
    petrol, ethanol = (float(blend_viscosity(blend(share), kelvin)) * 1e6 for share in (0.0, 1.0))
    if row["fluid"] == "n-Heptane":
        HEPTANE.holds(petrol, theirs)
    elif row["fluid"] == "Ethanol":
        ETHANOL.holds(ethanol, theirs)
    else:  # thinner and thicker parts of any petrol
        assert (petrol > theirs) == (row["fluid"] == "n-Hexane")


def test_petrol_is_as_thin_as_petrol_is_said_to_be() -> None:
    PETROL.holds(float(blend_viscosity(blend(0.0), 293.15)) * 1e6, 0.625)
