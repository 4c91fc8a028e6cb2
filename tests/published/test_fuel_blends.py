"""Blends of petrol and ethanol against arithmetic done apart, and the fuels of the law."""

import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.blend import (
    ETHANOL_HYDROGEN,
    ETHANOL_OXYGEN,
    PETROL_HYDROGEN,
    blend,
    blend_density,
    ethanol_share,
)
from evenpour.physics.combustion import stoichiometric_afr

TOPIC = "Fuel"
APART = "volume blend of CH1.87, 745 kg/m³, with ethanol, 793.5 kg/m³, worked out apart from this tool"
AIR_FUEL = Check(
    topic=TOPIC,
    source=APART,
    what="stoichiometric air-fuel ratio, E0 to E100",
    tolerance=PRINTED,
    because="the table's four decimals",
)
COMPOSITION = Check(
    topic=TOPIC,
    source=APART,
    what="hydrogen and oxygen per carbon, E0 to E100",
    tolerance=PRINTED,
    because="the table's four decimals",
)
MASSES = Check(
    topic=TOPIC,
    source=APART,
    what="density at 15 °C, kg/m³, E0 to E100",
    tolerance=0.0051,
    unit="kg/m³",
    because="the table's two decimals; E85 lies halfway between two of them",
)
SHARE_BY_MASS = Check(
    topic=TOPIC,
    source=APART,
    what="share of ethanol by mass, from the two air-fuel ratios",
    tolerance=1e-5,
    because="the table's five decimals",
)
HEYWOOD = Check(
    topic=TOPIC,
    source="Heywood 1988, eq. 3.6: AFR = 34.56 (4 + y) / (12.011 + 1.008 y) (from memory)",
    what="stoichiometric air-fuel ratio of CH_y, y from 1 to 4",
    tolerance=2e-4,
    relative=True,
    because="34.56 has four digits",
)
OF_THE_LAW = Check(
    topic=TOPIC,
    source="Regulation 692/2008 and UN Regulation 83, reference fuels E5, E10, E85 (from memory)",
    what="hydrogen per carbon",
    tolerance=0.01,
    relative=True,
    because="the law's petrol is CH1.85 to CH1.87, and its figures have three digits",
)
OXYGEN_OF_THE_LAW = Check(
    topic=TOPIC,
    source="Regulation 692/2008 and UN Regulation 83, reference fuels E5, E10, E85 (from memory)",
    what="oxygen per carbon",
    tolerance=0.0025,
    because="two or three digits, and fuels that hold their ethanol to half a per cent",
)
BY_VOLUME = Check(
    topic=TOPIC,
    source="weighting by volume instead of mass, worked out apart from this tool: 9.841, wrong by 0.45 %",
    what="how much E85's ratio lies below that, per cent",
    tolerance=PRINTED,
    because="worked out to two digits",
)
TEN_PER_CENT = Check(
    topic=TOPIC,
    source="E10 expands as petrol of its own density does, within 0.1 % at 40 °C (estimate)",
    what="density of E10 over table 54B, 40 °C",
    tolerance=1e-3,
    relative=True,
    because="the estimate itself",
)


@pytest.mark.parametrize("row", table("ethanol_blends.csv"), ids=lambda row: row["blend"])
def test_a_blend_has_the_composition_it_should(row: dict[str, str]) -> None:
    fuel = blend(ethanol_share(row["blend"]))
    AIR_FUEL.holds(fuel.stoichiometric_afr, f"{float(row['AFR_stoich']):.4f}")
    COMPOSITION.holds(
        [fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon],
        [f"{float(row[name]):.4f}" for name in ("H_per_C", "O_per_C")],
    )
    MASSES.holds(fuel.reference_density, float(row["density15_kg_m3"]))
    # Air goes by mass, so the ratio of a blend tells its share by mass.
    petrol = stoichiometric_afr(PETROL_HYDROGEN, 0.0)
    ethanol = stoichiometric_afr(ETHANOL_HYDROGEN, ETHANOL_OXYGEN)
    by_mass = (petrol - fuel.stoichiometric_afr) / (petrol - ethanol)
    SHARE_BY_MASS.holds(by_mass, float(row["mass_frac_ethanol"]))


@pytest.mark.parametrize("hydrogen", [1.0, 1.5, 1.87, 2.25, 4.0])
def test_the_ratio_of_a_hydrocarbon_follows_the_textbook(hydrogen: float) -> None:
    HEYWOOD.holds(stoichiometric_afr(hydrogen, 0.0), 34.56 * (4.0 + hydrogen) / (12.011 + 1.008 * hydrogen))


@pytest.mark.parametrize(
    ("name", "hydrogen", "oxygen"), [("E5", 1.89, 0.016), ("E10", 1.93, 0.033), ("E85", 2.74, 0.39)]
)
def test_blends_are_near_the_reference_fuels_of_the_law(name: str, hydrogen: float, oxygen: float) -> None:
    fuel = blend(ethanol_share(name))
    OF_THE_LAW.holds(fuel.hydrogen_per_carbon, hydrogen)
    OXYGEN_OF_THE_LAW.holds(fuel.oxygen_per_carbon, oxygen)


def test_air_is_weighted_by_mass_and_not_by_volume() -> None:
    by_volume = 0.15 * blend(0.0).stoichiometric_afr + 0.85 * blend(1.0).stoichiometric_afr
    BY_VOLUME.holds(100.0 * (by_volume / blend(0.85).stoichiometric_afr - 1.0), "0.45")


def test_ten_per_cent_of_ethanol_hardly_change_how_petrol_expands() -> None:
    warm, fuel = 313.15, blend(0.10)
    as_petrol = blend(0.0, fuel.reference_density)
    TEN_PER_CENT.holds(blend_density(fuel, warm), blend_density(as_petrol, warm))
