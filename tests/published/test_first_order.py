"""What goes towards an end value at a rate in proportion to what is left, against known values."""

import math

import pytest
from achieved import PRINTED, Check, table

from evenpour.physics.heat import first_order, time_to_warm

RESPONSE = Check(
    topic="Heat",
    source="first-order response, y = y_inf + (y0 - y_inf) exp(-t/tau), worked out apart from this tool",
    what="cooling and warming over time",
    tolerance=PRINTED,
    because="the table is rounded to six decimals",
)
LANDMARKS = Check(
    topic="Heat",
    source="any text on first-order systems: 36.788 % left after a time constant, half after 0.693147 of it",
    what="landmarks of a decay",
    tolerance=PRINTED,
    because="five and six digits are the ones usually printed",
)


def printed(text: str) -> str:
    """The table leaves zeros at the end away; every value was rounded to six decimals."""
    return f"{float(text):.6f}"


@pytest.mark.parametrize(
    "row", table("first_order_response.csv"), ids=lambda row: f"{row['y0']} {row['t_s']}"
)
def test_the_response_matches_the_table(row: dict[str, str]) -> None:
    start, end, time_constant = float(row["y0"]), float(row["y_inf"]), float(row["tau_s"])
    RESPONSE.holds(first_order(float(row["t_s"]), start, end, time_constant), printed(row["y"]))


def test_a_decay_passes_its_landmarks() -> None:
    LANDMARKS.holds(first_order(240.0, 100.0, 0.0, 240.0), "36.788")
    LANDMARKS.holds(time_to_warm(50.0, 0.0, 100.0, 1.0), "0.693147")
    assert first_order(math.inf, 90.0, 20.0, 600.0) == 20.0
