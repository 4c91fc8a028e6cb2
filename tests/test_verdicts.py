"""Within, outside, cannot tell: the rules with their figures, and what would settle it."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.measure.instruments import instrument_from
from evenpour.measure.limits import Limit
from evenpour.measure.uncertainty import combine, effective_dof
from evenpour.measure.verdicts import Verdict, foresee, judge, p_conform, word_for
from measure_world import COLD, DELIVERY, GAUGE_6, GAUGE_10, HOLDING, limit, reading, stated

SYSTEM = {"check": "system_pressure", "low": "4.7 bar", "high": "5.2 bar", "source": "cp"}
DRY = {"check": "injector_drip", "allowed": ["dry"], "source": "cp"}


def cold(value: object, temperature: str | None = "18 degC", gauge: object = GAUGE_6) -> Verdict:
    conditions = {} if temperature is None else {"regulator_temperature": temperature}
    return judge(reading("control_pressure_cold", value, gauge, **conditions), [limit(COLD)])


def test_the_cold_control_pressure_comes_out_as_reckoned_by_hand() -> None:
    found = cold("1.45 bar")
    assert (found.low, found.high) == pytest.approx((1.25e5, 1.55e5))
    # Class 0.0346 bar, division 0.0144 bar, one degree of doubt 0.0289 bar.
    assert found.u == pytest.approx(1e5 * math.hypot(0.0346, 0.0144, 0.0289), rel=2e-3)
    assert found.p_within == pytest.approx(0.98, abs=0.005)
    assert found.verdict == "within"
    assert found.settle is None
    assert sum(part**2 for part in found.budget.values()) == pytest.approx((found.u or 0.0) ** 2)


def test_a_ten_bar_gauge_can_hardly_judge_what_a_six_bar_gauge_can() -> None:
    assert cold("1.45 bar", gauge=GAUGE_10).verdict == "cannot_tell"
    assert cold("1.45 bar", gauge=GAUGE_10).settle == "a 0 to 6 bar gauge of class 1.0 would settle it"
    assert cold("1.40 bar", gauge=GAUGE_10).verdict == "cannot_tell"  # not even in the middle
    assert cold("1.40 bar").verdict == "within"


def test_before_the_reading_it_is_said_that_a_ten_bar_gauge_will_not_do() -> None:
    said = foresee(limit(COLD), GAUGE_10.u)
    assert said is not None
    assert said.startswith("The limit is 0.30 bar wide and the reading good to ± 0.18 bar")
    assert said.endswith("A 0 to 6 bar gauge of class 1.0 would do.")
    assert foresee(limit(COLD), GAUGE_6.u) is None


def test_before_the_reading_psi_users_hear_of_a_psi_gauge() -> None:
    said = foresee(limit(COLD), GAUGE_10.u, None, "us")
    assert said is not None
    assert said.endswith("A 0 to 100 psi gauge of class 1.0 would do.")


def test_before_the_reading_the_conditions_doubt_counts_too() -> None:
    conditions = stated("control_pressure_cold", regulator_temperature="18 ± 4 degC")
    said = foresee(limit(COLD), GAUGE_6.u, conditions)
    assert said is not None
    assert "regulator's temperature: measure that better" in said


@given(u=st.floats(0.01e5, 0.2e5))
def test_a_band_narrower_than_3_92_u_is_exactly_one_that_can_never_be_called_within(u: float) -> None:
    best = p_conform(1.4e5, u, 1.25e5, 1.55e5)
    if abs(0.3e5 / u - 3.92) > 1e-3:
        assert (foresee(limit(COLD), u) is not None) == (word_for(best) != "within")


def test_one_sided_limits_can_always_be_called_within() -> None:
    assert foresee(limit(HOLDING), 1e5) is None
    assert foresee(limit(DRY), 0.0) is None


def test_the_edges_of_the_verdict_belong_to_it() -> None:
    assert [word_for(p) for p in (1.0, 0.95, 0.9499, 0.0501, 0.05, 0.0)] == [
        "within",
        "within",
        "cannot_tell",
        "cannot_tell",
        "outside",
        "outside",
    ]


def test_an_open_side_counts_as_one_or_nought() -> None:
    assert p_conform(5.0, 1.0, 5.0, None) == 0.5
    assert p_conform(5.0, 1.0, None, 5.0) == 0.5
    assert p_conform(5.0, 1.0, None, None) == 1.0


def test_without_doubt_the_limit_itself_is_within() -> None:
    assert p_conform(5.0, 0.0, 5.0, 6.0) == 1.0
    assert p_conform(math.nextafter(5.0, 0.0), 0.0, 5.0, 6.0) == 0.0


def test_small_tails_keep_their_digits() -> None:
    assert p_conform(0.0, 1.0, 10.0, None) == pytest.approx(7.62e-24, rel=1e-3)
    assert p_conform(0.0, 1.0, None, -10.0) == pytest.approx(7.62e-24, rel=1e-3)


@pytest.mark.parametrize(("y", "u"), [(math.nan, 1.0), (1.0, -1.0), (1.0, math.nan), (1.0, math.inf)])
def test_nonsense_is_out_of_range(y: float, u: float) -> None:
    with pytest.raises(OutOfRange):
        p_conform(y, u, 0.0, 1.0)


@given(
    y=st.floats(-10, 10),
    u=st.floats(0.01, 10),
    low=st.floats(-10, 0),
    high=st.floats(0, 10),
    dof=st.none() | st.integers(1, 50),
)
def test_a_probability_is_one_and_a_wider_band_never_lowers_it(
    y: float, u: float, low: float, high: float, dof: int | None
) -> None:
    p = p_conform(y, u, low, high, dof)
    assert 0.0 <= p <= 1.0
    assert p_conform(y, u, low - 1.0, high, dof) >= p - 1e-12
    assert p_conform(y, u, low, None, dof) >= p - 1e-12


def test_few_repeats_make_it_students() -> None:
    found = cold(["1.35 bar", "1.45 bar"])
    assert found.dof is not None
    scatter = 0.05e5  # s = 0.0707 bar, over √2
    assert found.u == pytest.approx(math.hypot(scatter, GAUGE_6.u, 0.05e5 / math.sqrt(3.0)))
    assert found.dof == math.floor(found.u**4 / scatter**4)


def test_repeats_do_not_shrink_the_gauges_part() -> None:
    once = combine([1.0], 0.1)
    often = combine([1.0] * 100, 0.1)
    assert once.u == often.u == 0.1
    assert often.dof is None


def test_repeats_do_shrink_the_scatter() -> None:
    two, eight = combine([0.9, 1.1], 0.0), combine([0.9, 1.1] * 4, 0.0)
    assert two.u == pytest.approx(0.1)
    assert eight.u < 0.5 * two.u
    assert (two.dof, eight.dof) == (1, 7)


def test_freedoms_are_cut_off_not_rounded() -> None:
    assert effective_dof(1.0, {"a": (0.5, 1.0)}) == 16
    assert effective_dof(1.0, {"a": (0.51, 1.0)}) == 14  # 14.78
    assert effective_dof(1.0, {"a": (1.0, 0.5)}) == 1
    assert effective_dof(1.0, {"a": (0.0, 3.0)}) is None


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_a_doubt_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(OutOfRange, match="is no standard uncertainty"):
        combine([1.0], bad)


def test_no_reading_is_refused() -> None:
    with pytest.raises(OutOfRange, match="holds no reading"):
        combine([], 0.1)


def test_a_choice_has_probability_one_or_nought() -> None:
    dry, drips = (judge(reading("injector_drip", text), [limit(DRY)]) for text in ("dry", "drips"))
    assert (dry.verdict, dry.p_within, dry.allowed) == ("within", 1.0, ("dry",))
    assert (drips.verdict, drips.p_within, drips.settle) == ("outside", 0.0, None)


def test_without_a_limit_the_manual_decides() -> None:
    found = judge(reading("system_pressure", "4.9 bar", GAUGE_6), [limit(COLD)])
    assert (found.verdict, found.p_within) == ("cannot_tell", None)
    assert found.settle == "the sheet has no limit for this: the engine's manual decides"
    assert found.u == GAUGE_6.u


def test_a_missing_condition_is_asked_for() -> None:
    found = cold("1.45 bar", temperature=None)
    assert (found.verdict, found.p_within, found.low) == ("cannot_tell", None, None)
    assert found.settle == "state the regulator's temperature"


def test_outside_the_limits_range_it_says_where_the_limit_holds() -> None:
    found = judge(reading("holding_pressure", "1.9 bar", GAUGE_6, after="5 min"), [limit(HOLDING)])
    assert (found.verdict, found.p_within) == ("cannot_tell", None)
    assert found.settle == "the sheet's limit holds for the time after the stop from 10 to 20 min"


def test_a_poor_thermometer_is_named_where_its_doubt_is_the_largest() -> None:
    found = cold("1.45 bar", "18 ± 3 degC")
    assert found.verdict == "cannot_tell"
    assert found.settle == "a thermometer good to ± 1.6 °C for the regulator's temperature would settle it"
    better = cold("1.45 bar", "18 ± 1.6 degC")
    assert better.verdict == "within"


def test_more_repeats_are_named_where_scatter_is_the_largest_and_then_they_do() -> None:
    fine = instrument_from({"id": "f", "kind": "gauge", "range": "6 bar", "class": 0.25})
    found = judge(reading("system_pressure", ["4.78 bar", "4.90 bar", "5.02 bar"], fine), [limit(SYSTEM)])
    assert found.verdict == "cannot_tell"
    assert found.settle is not None
    assert found.settle.endswith("readings instead of 3 would settle it")
    n = int(found.settle.split()[0])
    # The same mean and scatter with n readings.
    again = combine([4.9e5 - 0.12e5, 4.9e5, 4.9e5 + 0.12e5], fine.u)
    part = again.budget["repeats"] * math.sqrt(3.0 / n)
    u = math.hypot(part, fine.u)
    dof = effective_dof(u, {"repeats": (part, n - 1)})
    assert word_for(p_conform(4.9e5, u, 4.7e5, 5.2e5, dof)) == "within"


@pytest.mark.parametrize("value", ["4.7 bar", "4.702 bar", "5.2 bar"])
def test_on_the_limit_itself_nothing_settles_it_and_that_is_said(value: str) -> None:
    found = judge(reading("system_pressure", value, GAUGE_6), [limit(SYSTEM)])
    assert found.verdict == "cannot_tell"
    assert found.settle is not None
    assert found.settle.startswith("nothing ordinary would: the reading sits on the limit")


def test_an_instrument_of_another_kind_is_named_by_the_error_it_may_have() -> None:
    heater = limit({"check": "heater_resistance", "low": "18 ohm", "high": "26 ohm", "source": "mem"})
    found = judge(reading("heater_resistance", "18.4 ohm"), [heater])
    assert found.verdict == "cannot_tell"
    assert found.settle == "an instrument good to ± 0.4 Ω would settle it"
    assert found.notes == ("no instrument stated; ± 0.50 Ω assumed",)


def test_an_open_circuit_is_outside_an_upper_limit_and_within_a_lower_one() -> None:
    heater = limit({"check": "heater_resistance", "low": "18 ohm", "high": "26 ohm", "source": "mem"})
    to_body = limit({"check": "heater_resistance", "low": "1 Mohm", "source": "mem"})
    opened = reading("heater_resistance", "open")
    assert judge(opened, [heater]).verdict == "outside"
    assert judge(opened, [to_body]).verdict == "within"


def test_an_assumed_voltage_is_said_and_stating_it_settles_it() -> None:
    jar = instrument_from({"id": "jar", "kind": "measuring jar", "range": "2 l", "error": "10 ml"})
    found = judge(reading("pump_delivery", "880 ml", jar, duration="30 s"), [limit(DELIVERY)])
    assert found.verdict == "cannot_tell"
    assert any("12 V ± 0.5 V is assumed" in note for note in found.notes)
    assert found.settle is not None
    assert found.settle.startswith("stating the voltage at the pump to ± 0.")
    settled = judge(
        reading("pump_delivery", "880 ml", jar, duration="30 s", voltage="12.0 V"), [limit(DELIVERY)]
    )
    assert settled.verdict == "within"


def test_the_limit_that_holds_at_the_condition_is_the_one_that_counts() -> None:
    shut = {"check": "thermo_time_switch", "source": "cp"}
    both = [
        limit({**shut, "allowed": ["closed"], "when": {"temperature": {"below": "30 degC"}}}),
        limit({**shut, "allowed": ["open"], "when": {"temperature": {"above": "40 degC"}}}),
    ]

    def at(choice: str, **temperature: object) -> Verdict:
        return judge(reading("thermo_time_switch", choice, None, **temperature), both)

    assert at("closed", temperature="20 degC").verdict == "within"
    assert at("closed", temperature="60 degC").verdict == "outside"
    between = at("closed", temperature="35 degC")
    assert between.verdict == "cannot_tell"
    assert between.settle == (
        "the sheet's limit holds for the temperature of the part below 30 °C; or"
        " for the temperature of the part above 40 °C"
    )
    assert at("open").settle == "state the temperature of the part"


def test_limits_for_several_states_make_one_question() -> None:
    idle: dict[str, object] = {"check": "idle_speed", "source": "cp"}
    limits: list[Limit] = [
        limit({**idle, "low": "850 rpm", "high": "950 rpm", "when": {"state": "idle_warm"}}),
        limit({**idle, "low": "2300 rpm", "high": "2700 rpm", "when": {"state": "fast_idle"}}),
    ]
    found = judge(reading("idle_speed", "900 rpm"), limits)
    assert found.settle == "state how the engine ran (idle_warm or fast_idle)"
    assert judge(reading("idle_speed", "900 rpm", None, state="idle_warm"), limits).verdict == "within"


def test_two_limits_that_hold_at_once_count_together() -> None:
    wide = limit({"check": "system_pressure", "low": "4 bar", "source": "cp"})
    found = judge(reading("system_pressure", "5.0 bar", GAUGE_6), [wide, limit({**SYSTEM, "source": "mem"})])
    assert (found.low, found.high) == pytest.approx((4.7e5, 5.2e5))
    assert found.source == "typical value, common practice, no source; typical value, from memory"


def test_limits_that_contradict_each_other_blame_the_sheet() -> None:
    high = limit({"check": "system_pressure", "low": "6 bar", "source": "cp"})
    found = judge(reading("system_pressure", "5.0 bar", GAUGE_6), [high, limit(SYSTEM)])
    assert (found.verdict, found.p_within) == ("cannot_tell", None)
    assert found.settle is not None
    assert "mend the sheet" in found.settle


SHELF = {  # what a gauge named in an advice is taken to be: a hundred divisions
    ("bar", 6): 0.06, ("bar", 10): 0.1, ("bar", 16): 0.16,
}  # fmt: skip


@given(
    value=st.floats(4.3, 5.6),
    grade=st.sampled_from([1.0, 1.6, 2.5]),
    full_scale=st.sampled_from([6, 10, 16]),
)
def test_a_gauge_that_is_named_does_settle_it(value: float, grade: float, full_scale: int) -> None:
    poor = instrument_from({"id": "p", "kind": "gauge", "range": f"{full_scale} bar", "class": grade})
    found = judge(reading("system_pressure", f"{value:.3f} bar", poor), [limit(SYSTEM)])
    if found.verdict != "cannot_tell":
        return
    assert found.settle is not None
    named = re.fullmatch(r"a 0 to (\d+) bar gauge of class ([\d.]+) would settle it", found.settle)
    if named is None:
        assert found.settle.startswith("nothing ordinary would")
        return
    better = instrument_from(
        {
            "id": "b",
            "kind": "gauge",
            "range": f"{named[1]} bar",
            "class": float(named[2]),
            "resolution": f"{SHELF['bar', int(named[1])]} bar",
        }
    )
    assert better.u < poor.u
    again = judge(reading("system_pressure", f"{value:.3f} bar", better), [limit(SYSTEM)])
    assert again.verdict != "cannot_tell"


@given(celsius=st.floats(1.2, 6.0), bar=st.floats(1.3, 1.5))
def test_a_thermometer_that_is_named_does_settle_it(celsius: float, bar: float) -> None:
    found = cold(f"{bar:.3f} bar", f"18 ± {celsius:.2f} degC")
    named = re.fullmatch(r"a thermometer good to ± ([\d.]+) °C for .* would settle it", found.settle or "")
    if named is not None:
        assert cold(f"{bar:.3f} bar", f"18 ± {named[1]} degC").verdict != "cannot_tell"


def test_before_the_reading_a_limit_that_does_not_hold_says_nothing() -> None:
    narrow = limit({**SYSTEM, "low": "5.1 bar", "when": {"heater": "plugged"}})
    assert foresee(narrow, GAUGE_10.u, stated("system_pressure", heater="unplugged")) is None
    assert foresee(narrow, GAUGE_10.u, stated("system_pressure", heater="plugged")) is not None
