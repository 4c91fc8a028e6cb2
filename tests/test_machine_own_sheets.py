"""A sheet of one's own: whatever figures it states, the middle car of its kind is a healthy one."""

from __future__ import annotations

import pytest

from evenpour import data
from evenpour.machine.kind import kind_of
from machine_world import PARAMETERS, drawn_cars, limits_held, seen
from sheet_tools import sheet

FLAT_SIX = data.shipped_text("sheets/flat-six.toml")

#: What another manual may state in place of the shipped sheet's figures.
OTHERS = {
    "a higher system pressure": [('low = "4.7 bar"\nhigh = "5.2 bar"', 'low = "5.4 bar"\nhigh = "5.9 bar"')],
    "a lower warm pressure": [('low = "3.4 bar"\nhigh = "3.8 bar"', 'low = "2.9 bar"\nhigh = "3.3 bar"')],
    "a steeper cold line": [
        (
            'slope = "0.05 bar/degC", from = "0 degC", to = "50 degC"',
            'slope = "0.07 bar/degC", from = "5 degC", to = "35 degC"',
        )
    ],
    "a switch for cold weather only": [
        ('below = "30 degC"', 'below = "10 degC"'),
        ('above = "40 degC"', 'above = "20 degC"'),
    ],
    "a plate that rests deep": [('low = "0 mm"\nhigh = "1 mm"', 'low = "1.5 mm"\nhigh = "2.5 mm"')],
    "more play": [('low = "1 mm"\nhigh = "2 mm"', 'low = "2 mm"\nhigh = "3 mm"')],
    "an early engine's mixture, by its carbon monoxide alone": [
        ('low = "1.0 %"\nhigh = "2.0 %"', 'low = "2.5 %"\nhigh = "3.5 %"'),
        (
            '[[limit]]\ncheck = "exhaust_lambda"\nwhen = { state = "idle_warm" }\n'
            'low = "0.95"\nhigh = "0.97"\nsource = "cp"\n',
            "",
        ),
    ],
    "an ounce of fuel less at full load": [
        ('low = "0.86"\nhigh = "0.92"', 'low = "0.89"\nhigh = "0.93"'),
        ('low = "3.0 %"\nhigh = "5.0 %"', 'low = "2.4 %"\nhigh = "4.2 %"'),
    ],
    "a slow idle": [
        ('low = "850 rpm"\nhigh = "950 rpm"', 'low = "650 rpm"\nhigh = "750 rpm"'),
        ('is = "900 rpm"', 'is = "700 rpm"'),
    ],
    "other resistances": [
        ('low = "18 ohm"\nhigh = "26 ohm"', 'low = "40 ohm"\nhigh = "60 ohm"'),
        ('low = "3 ohm"\nhigh = "5 ohm"', 'low = "8 ohm"\nhigh = "12 ohm"'),
    ],
    "a small pump": [
        ('low = "850 ml"', 'low = "600 ml"'),
        ('low = "5 A"\nhigh = "10 A"', 'low = "3 A"\nhigh = "6 A"'),
        ('pump_current = { is = "7 A", source = "cp" }\n', ""),
    ],
    "injectors that open low": [
        ('low = "3.0 bar"\nhigh = "3.6 bar"', 'low = "2.4 bar"\nhigh = "3.0 bar"'),
        ('high = "2.7 bar"', 'high = "2.1 bar"'),
        ('low = "1.8 bar"', 'low = "1.4 bar"'),
    ],
    "high compression": [('low = "9 bar"\nhigh = "12 bar"', 'low = "12 bar"\nhigh = "15 bar"')],
    "no geometry at all": [
        (f"{name} = {{ is = ", f"# {name} = {{ is = ")
        for name in (
            "plate_diameter",
            "plunger_diameter",
            "lever_ratio",
            "funnel_angle",
            "slit_width",
            "slit_pressure_drop",
            "screw_lift_per_turn",
            "accumulator_volume",
            "plate_lift_max",
        )
    ],
}


def other(what: str) -> str:
    text = FLAT_SIX
    for old, new in OTHERS[what]:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@pytest.mark.parametrize("what", OTHERS)
def test_the_middle_car_of_a_sheet_of_ones_own_meets_it(what: str) -> None:
    own = sheet(other(what))
    of = kind_of(own, PARAMETERS)
    outside = [one.label for one in limits_held(seen(of), own) if not one.met.all()]
    assert outside == []


@pytest.mark.parametrize("what", OTHERS)
def test_most_healthy_cars_of_a_sheet_of_ones_own_meet_it(what: str) -> None:
    """Spreads are those of the shipped kinds, so a tighter limit is met by fewer."""
    own = sheet(other(what))
    of = kind_of(own, PARAMETERS)
    for one in limits_held(seen(of, drawn_cars(of, 200)), own):
        assert one.met.mean() > 0.93, one.label


@pytest.mark.parametrize(
    ("as_shipped", "otherwise"),
    [
        (
            'low = "850 ml"\ndepends = [\n    { on = "duration", at = "30 s"',
            'low = "1700 ml"\ndepends = [\n    { on = "duration", at = "60 s"',
        ),
        (
            'low = "1.8 bar"\ndepends = [{ on = "after", at = "10 min"',
            'low = "1.6 bar"\ndepends = [{ on = "after", at = "20 min"',
        ),
    ],
    ids=["delivery in a minute", "holding pressure after twenty minutes"],
)
def test_the_same_limit_stated_for_another_time_is_the_same_engine(as_shipped: str, otherwise: str) -> None:
    assert as_shipped in FLAT_SIX
    other_way = kind_of(sheet(FLAT_SIX.replace(as_shipped, otherwise)), PARAMETERS)
    assert other_way.centre == pytest.approx(kind_of(sheet(FLAT_SIX), PARAMETERS).centre, rel=1e-9)
