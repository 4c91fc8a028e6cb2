"""Air through holes, choked and not, against printed tables and other programs."""

import math

import numpy as np
import pytest
from achieved import PRINTED, Check, table
from fluids.compressible import P_critical_flow
from fluids.safety_valve import API520_A_g

from evenpour.physics.orifice import CHOKED, CRITICAL_RATIO, choked_flow, gas_flow, rated_air_flow

TOPIC = "Air through holes"
NOZZLE = "isentropic nozzle, k = 1.4, R = 287.058 J/(kg K), worked out apart from this tool"
HANDBOOK = "handbook table 'Discharge of air through an orifice', C = 1, widely reprinted"
CONSTANTS = Check(
    topic=TOPIC,
    source=NOZZLE,
    what="critical pressure ratio and constant of choked flow",
    tolerance=PRINTED,
    because="six digits are usual",
)
ONSET = Check(
    topic=TOPIC,
    source=NOZZLE,
    what="where choking begins at sea level, bar gauge",
    tolerance=PRINTED,
    because="worked out to three decimals",
)
HOLES = Check(
    topic=TOPIC,
    source=NOZZLE,
    what="holes of 0.5 to 3 mm, 0.05 to 6 bar, for Cd 1 and 0.61, g/s",
    tolerance=PRINTED,
    because="the table's six decimals",
)
HOLES_FREE = Check(
    topic=TOPIC,
    source=NOZZLE,
    what="the same as litres of free air a minute",
    tolerance=5e-5,
    relative=True,
    because="the table refers to 1.2041 kg/m³, rounded by 2e-5, and to five decimals",
)
PRINTED_HOLES = Check(
    topic=TOPIC,
    source=HANDBOOK,
    what="holes of 1/32 to 1/4 inch, 1 to 125 psi, cubic feet a minute",
    tolerance=0.0065,
    relative=True,
    because="above 15 psi it takes Moss's constant, 0.27 % lower, and prints two or three digits",
)
SMALLEST_HOLE = Check(
    topic=TOPIC,
    source=HANDBOOK,
    what="a hole of 1/64 inch, 1 to 125 psi, cubic feet a minute",
    tolerance=0.0125,
    relative=True,
    because="half the last of two digits, 0.0005 of 0.040",
)
MOSS = Check(
    topic=TOPIC,
    source="Moss: 0.5303 times area, in², times pressure, psi, over the root of degrees Rankine, lb/s",
    what="choked flow",
    tolerance=0.005,
    relative=True,
    because="his constant was measured; the ideal one is 0.5317",
)
VALVE = Check(
    topic=TOPIC,
    source="fluids, API 520 sizing of a gas valve turned round",
    what="area that passes our flow, choked and not",
    tolerance=1e-3,
    relative=True,
    because="API 520 rounds its constants to four digits",
)
CRITICAL = Check(
    topic=TOPIC,
    source="fluids, P_critical_flow",
    what="critical pressure, Pa",
    tolerance=1e-12,
    relative=True,
    because="the same formula",
)
RATED = Check(
    topic=TOPIC,
    source="ISO 6358 (form seen), C = 1 dm³/(s bar), b = 0.3, 7 bar, worked out apart",
    what="flow of a rated valve, g/s",
    tolerance=2e-5,
    relative=True,
    because="printed to five digits",
)
IDEAL_RATING = Check(
    topic=TOPIC,
    source="ISO 6358, reference air",
    what="sonic conductance of an ideal hole of 1 mm², dm³/(s bar)",
    tolerance=PRINTED,
    because="worked out to five decimals",
)
ELLIPSE = Check(
    topic=TOPIC,
    source="ISO 6358, its ellipse with the critical ratio of an ideal gas",
    what="flow between choked and none, over the choked one",
    tolerance=0.002,
    because="the ellipse is an approximation to the nozzle, known to lie within some thousandths",
)
SEA_LEVEL, PSI, INCH, POUND = 101325.0, 6894.757, 0.0254, 0.45359237
FREE_AIR = 0.07494 * POUND / (12.0 * INCH) ** 3  # kg/m³, at 70 °F and 14.7 psi
SEVENTY = 530.0 / 1.8  # K, 70 °F as such tables have it


def disc(bore: float) -> float:
    return 0.25 * math.pi * bore**2


def cubic_feet(mass_flow: float) -> float:
    return mass_flow / FREE_AIR / (12.0 * INCH) ** 3 * 60.0


def test_the_constants_are_the_known_ones() -> None:
    CONSTANTS.holds([CRITICAL_RATIO, CHOKED], ["0.528282", "0.0404143"])
    ONSET.holds((SEA_LEVEL / CRITICAL_RATIO - SEA_LEVEL) / 1e5, "0.905")
    CRITICAL.holds(CRITICAL_RATIO * 3e5, P_critical_flow(3e5, 1.4))


@pytest.mark.parametrize(
    "row", table("air_hole_flow.csv"), ids=lambda row: f"{row['hole_mm']} {row['upstream_bar_gauge']}"
)
def test_air_flow_matches_the_nozzle_formula(row: dict[str, str]) -> None:
    upstream = SEA_LEVEL + float(row["upstream_bar_gauge"]) * 1e5
    area = disc(float(row["hole_mm"]) * 1e-3)
    flows = gas_flow(area * np.array([1.0, 0.61]), upstream, SEA_LEVEL, 293.15) * 1e3
    HOLES.holds(flows, [f"{float(row[name]):.6f}" for name in ("g_per_s_Cd1", "g_per_s_Cd0.61")])
    free = [float(row[name]) for name in ("L_per_min_Cd1", "L_per_min_Cd0.61")]
    HOLES_FREE.holds(flows / 1.2041 * 60.0, free)
    if row["regime"] == "choked":
        HOLES.holds(choked_flow(area, upstream, 293.15) * 1e3, f"{float(row['g_per_s_Cd1']):.6f}")


@pytest.mark.parametrize(
    "row",
    table("compressed_air_orifice_table.csv"),
    ids=lambda row: f"{row['upstream_psig']} psi {row['hole_inch']} in",
)
def test_air_flow_matches_the_printed_leakage_table(row: dict[str, str]) -> None:
    upstream = (float(row["upstream_psig"]) + 14.7) * PSI
    hole = float(row["hole_inch"]) * INCH
    ours = cubic_feet(float(gas_flow(disc(hole), upstream, 14.7 * PSI, SEVENTY)))
    check = SMALLEST_HOLE if float(row["hole_inch"]) < 1.0 / 32.0 else PRINTED_HOLES
    check.holds(ours, float(row["scfm_published"]))


def test_choked_flow_is_near_what_moss_measured() -> None:
    MOSS.holds(float(choked_flow(INCH**2, PSI, 1.0 / 1.8)) / POUND, 0.5303)


@pytest.mark.parametrize("downstream", [1e5, 3e5, 5e5, 6e5, 6.9e5])
def test_air_flow_agrees_with_the_sizing_of_valves(downstream: float) -> None:
    flow = float(gas_flow(1e-6, 7e5, downstream, 293.15))
    area = API520_A_g(m=flow, T=293.15, Z=1.0, MW=28.9645, k=1.4, P1=7e5, P2=downstream, Kd=1.0)
    VALVE.holds(1e-6, area)


def test_a_rated_valve_passes_what_its_rating_says() -> None:
    RATED.holds(
        rated_air_flow(1e-8, 0.3, 7e5, np.array([1e5, 5e5, 6e5]), 293.15) * 1e3, [8.2950, 6.6863, 5.0218]
    )


def test_an_ideal_hole_has_the_known_rating() -> None:
    IDEAL_RATING.holds(choked_flow(1e-6, 1e5, 293.15) / (1e5 * 1.185) * 1e8, "0.19919")


def test_between_choked_and_none_the_flow_follows_the_ellipse() -> None:
    downstream = np.linspace(CRITICAL_RATIO, 1.0, 101) * 2e5
    choked = choked_flow(1e-6, 2e5, 293.15)
    rating = choked / (2e5 * 1.185)
    ellipse = rated_air_flow(rating, CRITICAL_RATIO, 2e5, downstream, 293.15)
    ELLIPSE.holds(gas_flow(1e-6, 2e5, downstream, 293.15) / choked, ellipse / choked)
