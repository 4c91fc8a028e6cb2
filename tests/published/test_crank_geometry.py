"""Slider and crank, arcs on a pulley and dwell, against tables."""

import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.crank import (
    angle_at_depth,
    arc_angle,
    dwell_angle,
    dwell_share,
    piston_position,
    pulley_arc,
)

SLIDER = Check(
    topic="Crank and spark",
    source="J. B. Heywood, Internal Combustion Engine Fundamentals (1988), eq. 2.5 and 2.6 (from memory)",
    what="piston below top dead centre over crank angle, mm",
    unit="mm",
    tolerance=PRINTED,
    because="the table is rounded to five decimals",
)
MILLIMETRE = Check(
    topic="Crank and spark",
    source="the same equations, turned round",
    what="crank angle one millimetre below top dead centre, degrees",
    unit="deg",
    tolerance=PRINTED,
    because="printed to three decimals",
)
ARC = Check(
    topic="Crank and spark",
    source="arc = pi D angle / 360, worked out apart from this tool",
    what="arc on a pulley's rim, mm",
    unit="mm",
    tolerance=PRINTED,
    because="the table is rounded to four decimals",
)
DWELL = Check(
    topic="Crank and spark",
    source="dwell angle = per cent / 100 x 360 / cylinders (common practice), worked out apart",
    what="dwell angle at the distributor, degrees",
    unit="deg",
    tolerance=1e-9,
    because="the table is exact",
)
DWELL_PERCENT = Check(
    topic="Crank and spark",
    source="the pairs workshops know (common practice): 4 cylinders 50 deg, 6 38 deg, 8 30 deg",
    what="dwell in per cent",
    unit="%",
    tolerance=PRINTED,
    because="one decimal is usual",
)


def decimals(text: str, count: int) -> str:
    """The table leaves zeros at the end away."""
    return f"{float(text):.{count}f}"


@pytest.mark.parametrize(
    "row", table("slider_crank.csv"), ids=lambda row: f"{row['stroke_mm']} {row['crank_deg']}"
)
def test_the_piston_stands_where_the_table_has_it(row: dict[str, str]) -> None:
    angle, stroke, rod = (
        float(row["crank_deg"]) / 360.0,
        float(row["stroke_mm"]) / 1e3,
        float(row["rod_mm"]) / 1e3,
    )
    below = piston_position(angle, stroke, rod)
    SLIDER.holds(below * 1e3, decimals(row["piston_mm_below_TDC"], 5))
    # At either end the angle goes with the root of the depth: half the digits.
    assert angle_at_depth(below, stroke, rod) == pytest.approx(angle, abs=1e-7)


def test_a_millimetre_below_the_top_is_some_eleven_degrees_of_crank() -> None:
    MILLIMETRE.holds(angle_at_depth(1e-3, 0.080, 0.150) * 360.0, "11.413")


@pytest.mark.parametrize("row", table("pulley_arc.csv"), ids=lambda row: f"{row['diameter_mm']} {row['deg']}")
def test_an_arc_on_the_pulley_matches_the_table(row: dict[str, str]) -> None:
    diameter, angle = float(row["diameter_mm"]) / 1e3, float(row["deg"]) / 360.0
    arc = pulley_arc(diameter, angle)
    ARC.holds(arc * 1e3, decimals(row["arc_mm"], 4))
    assert arc_angle(diameter, arc) == pytest.approx(angle, rel=1e-12)


@pytest.mark.parametrize(
    "row", table("dwell.csv"), ids=lambda row: f"{row['cylinders']} {row['dwell_percent']}"
)
def test_dwell_matches_the_table(row: dict[str, str]) -> None:
    cylinders, share = int(row["cylinders"]), float(row["dwell_percent"]) / 100.0
    angle = dwell_angle(share, cylinders)
    DWELL.holds(angle * 360.0, float(row["dwell_deg_distributor"]))
    assert dwell_share(angle, cylinders) == pytest.approx(share, rel=1e-12)


@pytest.mark.parametrize(
    ("cylinders", "degrees", "percent"), [(4, 50, "55.6"), (6, 38, "63.3"), (8, 30, "66.7")]
)
def test_the_usual_dwell_angles_are_the_usual_per_cent(cylinders: int, degrees: int, percent: str) -> None:
    DWELL_PERCENT.holds(100.0 * dwell_share(degrees / 360.0, cylinders), percent)
