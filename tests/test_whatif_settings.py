"""What may be set in a what-if: signs, units, cylinders, causes; and what is refused, by name."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from evenpour.errors import FieldProblem, OutOfRange, Problems, UnknownName, WrongUnit
from evenpour.job.engine_model import car_parameters, causes_known
from evenpour.job.whatif.answers import OfferedSetting
from evenpour.job.whatif.data import whatif_data
from evenpour.job.whatif.offers import settings_offered
from evenpour.job.whatif.worked_out import whatif
from evenpour.machine.faults import Cause
from whatif_world import SIX, answer, number, readings

WITH_DIAPHRAGM = "inline-five"


def refused(*settings: str, sheet: str = SIX) -> FieldProblem:
    with pytest.raises(FieldProblem) as caught:
        whatif(sheet, settings)
    return caught.value


# ---------------------------------------------------------------------------------------- signs and units


def test_with_a_sign_it_is_a_change_and_without_one_what_it_becomes() -> None:
    usual = number(answer(), "system_pressure", plate="rest")
    more = number(answer("system_setting=+0.3bar"), "system_pressure", plate="rest")
    less = number(answer("system_setting=-0.3bar"), "system_pressure", plate="rest")
    assert more - usual == pytest.approx(0.3, abs=0.01)  # the regulator is a little stiff
    assert usual - less == pytest.approx(0.3, abs=0.01)
    (told,) = answer("system_setting=4.2bar").settings
    assert told.words == "pressure the primary regulator is shimmed to: 4.20 bar, 4.84 bar on a healthy car"


def test_a_share_is_of_the_healthy_car() -> None:
    narrow, usual = answer("slit_width[3]=-6%"), answer()
    for opening in ("part", "full"):
        at = {"through": "lines", "opening": opening}
        ratio = number(narrow, "catch", 3, **at) / number(usual, "catch", 3, **at)
        assert ratio == pytest.approx(0.94, abs=0.004)  # but for a hair of the discharge
        assert number(narrow, "catch", 2, **at) == pytest.approx(number(usual, "catch", 2, **at), rel=1e-6)


def test_what_is_a_share_itself_is_changed_by_adding() -> None:
    duty = {"state": "idle_warm", "sensor": "off"}
    sheet = "flat-six-oxygen"
    more = number(answer("held_duty=+4%", sheet=sheet), "lambda_duty", **duty)
    assert more - number(answer(sheet=sheet), "lambda_duty", **duty) == pytest.approx(4.0)


def test_units_of_both_sides_of_the_ocean_do() -> None:
    metres, feet = answer("altitude=2000m").curve, answer("altitude=6561.6798ft").curve
    assert metres.lambda_[:30] == pytest.approx(feet.lambda_[:30])
    turn, degrees = answer("mixture_screw=+1/4 turn"), answer("mixture_screw=+90deg")
    assert turn.readings == degrees.readings
    assert answer("warm_setting=52.2136 psi").curve.lambda_[0] == pytest.approx(
        answer("warm_setting=3.6bar").curve.lambda_[0], rel=1e-5
    )


def test_a_temperature_below_zero_is_no_change_but_cold() -> None:
    (cold,) = readings(answer("ambient_temperature=-10degC"), "control_pressure_cold")
    assert cold.state.endswith("regulator at −10 °C")


def test_a_part_of_every_cylinder_is_set_on_all_and_then_on_one() -> None:
    found = answer("injector_opening[2]=2.9bar", "injector_opening=3.5bar")
    assert [one.value for one in readings(found, "injector_opening_pressure")] == [
        3.5,
        2.9,
        3.5,
        3.5,
        3.5,
        3.5,
    ]


def test_names_are_written_as_people_write_them() -> None:
    assert answer("Mixture screw = +0.25turn").readings == answer("mixture_screw=+0.25turn").readings


# ------------------------------------------------------------------------------------------------- causes


def test_a_cause_grows_with_its_severity() -> None:
    left = [number(answer(f"pump_weak={one}"), "pump_delivery") for one in ("0", "0.4", "0.8")]
    assert all(after < before for before, after in pairwise([number(answer(), "pump_delivery"), *left]))


def test_a_cause_says_what_it_does() -> None:
    (told,) = answer("injector_restricted[4]=0.5").settings
    assert (told.kind, told.cylinder, told.severity) == ("cause", 4, 0.5)
    assert told.words == "the injector is clogged, cylinder 4: marked (+0.5 of −1 to 1)"
    assert told.does == ["flow through the open injector for the root of the pressure: 15 % of what it was"]


def test_a_cause_that_can_go_either_way_takes_a_sign() -> None:
    high, low = (number(answer(f"gauge_fault={one}"), "system_pressure", plate="rest") for one in ("1", "-1"))
    assert high - low == pytest.approx(1.8)
    up, down = (number(answer(f"plate_rest_wrong={one}"), "plate_rest_height") for one in ("0.5", "-0.5"))
    assert up < number(answer(), "plate_rest_height") < down  # it is read downwards
    least = number(answer("plate_rest_wrong=-0"), "plate_rest_height")
    assert least == pytest.approx(number(answer(), "plate_rest_height") + 0.03)


@pytest.mark.parametrize("cause", [one for one in causes_known().values() if len(one.forms) > 1])
def test_of_a_cause_with_two_forms_a_sign_says_which_and_each_has_its_words(cause: Cause) -> None:
    assert sorted(cause.form_of(sign) for sign in (1.0, -1.0)) == [0, 1]
    raises = [acts[0].gross > (1.0 if acts[0].factor else 0.0) for acts in cause.forms]
    if cause.forms[0][0].parameter == cause.forms[1][0].parameter and len(set(raises)) == 2:
        assert raises[cause.form_of(1.0)]
    assert len(set(cause.ways)) == 2


def test_a_form_that_shows_elsewhere_is_set_with_a_minus() -> None:
    plug, lead = (
        number(answer(f"spark_missing[3]={one}"), "spark_lead_resistance", 3) for one in ("0.8", "-0.8")
    )
    assert plug == number(answer(), "spark_lead_resistance", 3)
    assert lead > 20.0 * plug


def test_a_second_form_is_refused_where_it_would_be_the_first() -> None:
    """Air behind an oxygen sensor, on an engine that has none."""
    assert whatif("flat-six-oxygen", ["exhaust_leak=-0.5"]).settings[0].severity == -0.5
    with pytest.raises(OutOfRange, match="is no severity"):
        whatif("flat-six", ["exhaust_leak=-0.5"])


def test_severity_may_be_said_in_per_cent() -> None:
    assert answer("pump_weak=50%").readings == answer("pump_weak=0.5").readings


# ---------------------------------------------------------------------------------------------- refusals

REFUSED: list[tuple[str, type[FieldProblem], str]] = [
    ("injector_restrictd[4]=0.5", UnknownName, "Did you mean injector_restricted"),
    ("mixture_scrw=+1turn", UnknownName, "Did you mean mixture_screw"),
    ("mixture_screw=+0.25", WrongUnit, "has no unit. Allowed: turn, deg"),
    ("altitude=2000bar", WrongUnit, "is a pressure, not a length"),
    ("altitude=20000m", OutOfRange, "Allowed: −430 to 5500 m"),
    ("altitude=1,500m", OutOfRange, "Was it 1500 m?"),
    ("mixture_screw=+9turn", OutOfRange, "−4 to 4 turn"),
    ("system_setting=42bar", OutOfRange, "Was it 42 psi (2.90 bar)?"),
    ("system_setting=-5bar", OutOfRange, "what it becomes: 0.50 to 10.00 bar"),
    ("system_setting=70psi abs", FieldProblem, "is an absolute pressure"),
    ("mixture_screw=nan turn", OutOfRange, "is no finite number"),
    ("mixture_screw=+nan turn", OutOfRange, "is no finite number"),
    ("mixture_screw=--0.1turn", FieldProblem, "has two signs"),
    ("mixture_screw=+0.2 ± 0.1 turn", FieldProblem, "states a doubt"),
    ("altitude=500 ± 50 m", FieldProblem, "states a doubt"),
    ("injector_restricted[9]=0.5", OutOfRange, "is of no cylinder. Allowed: 1 to 6"),
    ("injector_restricted[0]=0.5", OutOfRange, "is of no cylinder"),
    ("injector_restricted[four]=0.5", FieldProblem, "is no cylinder"),
    ("injector_restricted=0.5", FieldProblem, "does not say of which cylinder. Allowed: 1 to 6"),
    ("pump_weak[2]=0.5", FieldProblem, "is of the whole engine"),
    ("altitude[2]=100m", FieldProblem, "is of the whole engine"),
    ("injector_restricted[4]=1.5", OutOfRange, "is no severity"),
    ("port_rich[4]=-0.5", OutOfRange, "is no severity"),
    ("gauge_fault=-1.5", OutOfRange, "−1 to 1"),
    ("pump_weak=very", FieldProblem, "does not start with a number"),
    ("pump_weak=0.5 bar", WrongUnit, "is a pressure"),
    ("frequency_valve_rich=0.5", FieldProblem, "flat-six has no frequency valve"),
    ("vacuum=0.3bar", FieldProblem, "flat-six has no load diaphragm"),
    ("held_duty=60%", FieldProblem, "flat-six has no control by an oxygen sensor"),
    ("line_restriction[2]=0.5", FieldProblem, "What changes it: line_restricted"),
    ("fuel=petrol", UnknownName, "is no choice of fuel"),
    ("warm_setting=", FieldProblem, "is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("setting", "kind", "words"), REFUSED, ids=[one[0] for one in REFUSED])
def test_what_cannot_be_is_refused_by_name(setting: str, kind: type[FieldProblem], words: str) -> None:
    problem = refused(setting)
    assert isinstance(problem, kind)
    assert words in str(problem)
    assert problem.field == setting.partition("=")[0]


@pytest.mark.parametrize("setting", ["altitude", "=3", "[4]=3", "a=b]"])
def test_what_is_no_setting_at_all_says_how_to_write_one(setting: str) -> None:
    assert "altitude=2000m" in str(refused(setting)) or "is no setting" in str(refused(setting))


def test_the_same_thing_is_set_once() -> None:
    assert "altitude '1000m' is set twice" in str(refused("altitude=200m", "altitude=1000m"))
    answer("injector_opening[1]=3bar", "injector_opening[2]=3bar")  # two cylinders are two things


def test_all_that_is_wrong_is_said_in_one_go() -> None:
    with pytest.raises(Problems) as caught:
        whatif(SIX, ["altitude=2000", "pump_weak=2", "fuel=E10"])
    assert [one.field for one in caught.value.all if isinstance(one, FieldProblem)] == [
        "altitude",
        "pump_weak",
    ]


def test_an_unknown_sheet_is_refused() -> None:
    with pytest.raises(FieldProblem, match="is no sheet"):
        whatif("flat-seven")


# ------------------------------------------------------------------------------------------ what is offered


def test_no_name_means_two_things() -> None:
    settable = set(whatif_data().settable)
    assert settable & set(causes_known()) == set()


def test_every_part_with_a_unit_may_be_set() -> None:
    parts = {one.id for one in whatif_data().settable.values() if one.kind == "parameter"}
    assert parts == {one.id for one in car_parameters() if one.dimension is not None}


def typed(one: OfferedSetting) -> list[str]:
    name = f"{one.name}[{one.cylinders}]" if one.cylinders else one.name
    if one.kind == "cause":
        return [f"{name}={one.high:g}"]
    ends = [f"{one.low:g} {one.unit}", f"{one.high:g} {one.unit}"] if one.unit else []
    return [f"{name}={value}" for value in [*one.choices[-1:], *ends]]


@pytest.mark.parametrize("sheet", ["flat-six", "flat-six-oxygen", WITH_DIAPHRAGM])
def test_everything_that_is_offered_can_be_set_and_nothing_else_is(sheet: str) -> None:
    offered = settings_offered(sheet).settings
    assert len({one.name for one in offered}) == len(offered)
    for one in offered:
        assert one.usual is None or one.low is None or one.high is None or one.low <= one.usual <= one.high
    # one of each name is set at once, as sliders would; two ends cannot both stand
    first = {one.name: typed(one)[-1] for one in offered if one.kind != "cause" and typed(one)}
    assert len(whatif(sheet, list(first.values())).settings) == len(first)
    last = {one.name: typed(one)[0] for one in offered if one.kind != "cause" and typed(one)}
    assert len(whatif(sheet, list(last.values())).settings) == len(last)
    causes = [typed(one)[0] for one in offered if one.kind == "cause"]
    assert len(whatif(sheet, causes).settings) == len(causes)


def test_what_an_offer_starts_at_can_be_typed() -> None:
    """A value below zero reads as a change: only what counts from nought may be offered so."""
    for one in settings_offered(WITH_DIAPHRAGM).settings:
        if one.kind == "parameter" and one.low is not None and one.low < 0.0:
            assert one.usual == 0.0, one.name


def test_offers_are_in_the_units_asked_for() -> None:
    offered = {one.name: one for one in settings_offered(SIX, units="us").settings}
    assert offered["altitude"].unit == "ft"
    assert offered["warm_setting"].unit == "psi"
    assert re.fullmatch(r"−1 to 1 turn", offered["mixture_screw"].words)
