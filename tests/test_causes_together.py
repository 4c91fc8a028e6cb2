"""One cause, two at once, and a reading that does not belong, weighed on one scale and told together."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from evenpour.causes.reasons import CERTAIN, Evidence
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.at_cylinder import at_one_cylinder
from evenpour.job.causes.case import marginal
from evenpour.job.causes.facts import agreeing
from evenpour.job.causes.repair_costs import shipped_costs
from evenpour.job.causes.repairs import repairs_in_order, worth_doing
from evenpour.job.demo import demo_entries
from evenpour.job.engine_model import causes_known, checks_predicted, kind_for
from evenpour.job.job import job_from
from evenpour.machine.checks import NumberCheck
from job_examples import job_with, next_check


def reading(what: str, value: str, stated: str = "") -> str:
    said = f"conditions = {{ {stated} }}\n" if stated else ""
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\nsure = true\n{said}'


WARM = 'voltage = "12.4 V", heater = "plugged", after = "5 min"'
SOUND = (
    reading("system_pressure", "4.95 bar")
    + reading("control_pressure_cold", "1.45 bar", 'regulator_temperature = "19 degC"')
    + reading("exhaust_co", "1.5 %", 'state = "idle_warm"')
    + reading("idle_speed", "900 rpm", 'state = "idle_warm"')
)


def answer(text: str) -> CausesAnswer:
    return causes_answer(job_with(text))


def test_a_reading_that_cannot_be_makes_no_two_causes_at_once_likely() -> None:
    told = answer(SOUND + reading("control_pressure_warm", "5.2 bar", WARM))
    assert sum(line.probability for line in told.causes if line.with_ is not None) < 0.01
    assert [one.what for one in told.clashes] == ["control_pressure_warm"]
    whole = (
        sum(line.probability for line in told.causes) + told.nothing_wrong + told.unexplained + told.others
    )
    assert whole == pytest.approx(1.0, abs=1e-6)


def test_two_readings_of_one_thing_that_contradict_each_other_are_named() -> None:
    twice = reading("control_pressure_warm", "3.6 bar", WARM) + reading(
        "control_pressure_warm", "2.6 bar", WARM
    )
    told = answer(SOUND + twice)
    assert "2.60 bar and as 3.60 bar: these contradict each other" in told.clashes[0].words
    agreed = twice.replace("2.6 bar", "3.65 bar")
    assert not any("contradict" in one.words for one in answer(SOUND + agreed).clashes)


def test_a_slip_read_again_twice_is_outvoted() -> None:
    wrong, right = (reading("control_pressure_warm", f"{bar} bar", WARM) for bar in ("36", "3.6"))
    told = answer(SOUND + wrong + right + right.replace("3.6 bar", "3.65 bar"))
    assert told.clashes[0].words.endswith("these contradict each other; those that agree are counted")
    without = answer(SOUND + right)
    assert told.nothing_wrong == pytest.approx(without.nothing_wrong, abs=0.05)
    # two against each other: nobody knows which
    check = checks_predicted()["control_pressure_warm"]
    assert isinstance(check, NumberCheck)
    assert agreeing(check, (36e5, 3.6e5), 5e3) == (36e5, 3.6e5)
    assert agreeing(check, (3.62e5, 3.6e5), 5e3) == [3.6e5, 3.62e5]


def case(
    probability: dict[int, float],
    pairs: list[tuple[int, int, float]],
    idle: tuple[tuple[int, int], ...] = (),
) -> Any:
    known = causes_known()
    names = [("pump_weak", None), ("injector_restricted", 4), ("injector_opens_high", 4)]
    suspects = [SimpleNamespace(cause=None, cylinder=None, id="nothing_wrong")]
    suspects += [SimpleNamespace(cause=known[name], cylinder=k, id=name) for name, k in names]
    return SimpleNamespace(
        job=job_with(SOUND),
        kind=kind_for("flat-six"),
        weighed=SimpleNamespace(is_idle=lambda which: which in idle, likelier=lambda which: which[0]),
        probability=probability,
        joint=[SimpleNamespace(which=(a, b)) for a, b, _ in pairs],
        joint_probability=[p for _, _, p in pairs],
        explanation=SimpleNamespace(suspects=suspects, probability=np.array(list(probability.values()))),
    )


def test_a_repair_counts_what_it_mends_alone_and_beside_another() -> None:
    found = case({0: 0.1, 1: 0.1, 2: 0.2, 3: 0.1}, [(1, 2, 0.4), (2, 3, 0.1)])
    lines = {line.remedy: line for line in repairs_in_order(found, shipped_costs())}
    injector = lines["clean or renew the injector"]
    assert injector.probability == pytest.approx(
        0.2 + 0.1 + 0.4 + 0.1
    )  # both of its causes at once count once
    assert lines["fit another pump"].probability == pytest.approx(0.1 + 0.4)
    assert {one.cause for one in injector.causes} == {"injector_restricted", "injector_opens_high"}
    assert marginal(found) == pytest.approx({0: 0.1, 1: 0.5, 2: 0.7, 3: 0.2})


def test_of_two_causes_that_explain_no_more_than_one_only_that_one_calls_for_a_repair() -> None:
    found = case({0: 0.1, 1: 0.4, 2: 0.1, 3: 0.0}, [(1, 2, 0.4)], idle=((1, 2),))
    lines = {line.remedy: line.probability for line in repairs_in_order(found, shipped_costs())}
    assert lines["fit another pump"] == pytest.approx(0.8)
    assert lines["clean or renew the injector"] == pytest.approx(0.1)


def test_the_first_repair_is_worth_doing_once_a_check_costs_more_than_it_may_be_in_vain() -> None:
    lines = repairs_in_order(case({0: 0.05, 1: 0.0, 2: 0.9, 3: 0.05}, []), shipped_costs())
    in_vain = (1.0 - lines[0].probability) * lines[0].effort
    assert worth_doing(lines, [next_check(in_vain + 0.1)], {}) == "Clean or renew the injector, cylinder 4"
    assert worth_doing(lines, [next_check(in_vain - 0.1)], {}) is None
    assert worth_doing(lines, [], {}) is not None
    assert worth_doing([], [next_check(5.0)], {}) is None


def test_what_is_cheap_and_hardly_helps_keeps_no_sure_repair_from_being_worth_doing() -> None:
    """An injector's cleaning, less likely by far, may stand before another pump in the order."""
    lines = repairs_in_order(case({0: 0.0, 1: 0.8, 2: 0.2, 3: 0.0}, []), shipped_costs())
    sure = max(lines, key=lambda one: one.probability)
    order = [one for one in lines if one is not sure]
    in_vain = (1.0 - sure.probability) * sure.effort
    assert order
    assert worth_doing([*order, sure], [next_check(in_vain + 0.1)], {}) == "Fit another pump"


def test_what_a_check_weighs_for_the_same_at_any_cylinder_is_the_change_of_their_joint_odds() -> None:
    before, after = np.array([0.1, 0.15, 0.05, 0.7]), np.array([0.3, 0.35, 0.25, 0.1])

    def odds(p: Any) -> Any:
        return np.log(p) - np.log1p(-p)

    found = Evidence(np.log(after), np.log(before)[:, None])
    right = float(odds(after[:3].sum()) - odds(before[:3].sum()))
    assert found.weighs([0, 1, 2])[0] == pytest.approx(right)
    assert found.weighs([1])[0] == pytest.approx(float(odds(after[1]) - odds(before[1])))
    sure = Evidence(np.array([0.0, -10.0]), np.array([[0.0], [-3.0]]))
    assert sure.weighs([0])[0] == pytest.approx(7.0)
    surer = Evidence(np.array([0.0, -80.0]), np.array([[0.0, 0.0], [-3.0, -60.0]]))
    assert surer.weighs([0]) == pytest.approx([CERTAIN - 3.0, 0.0])  # what is certain is no surer with more


def test_a_pressure_in_psi_kept_as_bar_is_named_with_what_was_meant() -> None:
    absurd = SOUND.replace("4.95 bar", "72 bar") + reading("control_pressure_warm", "3.6 bar", WARM)
    told = answer(absurd)
    assert [one.what for one in told.clashes] == ["system_pressure"]
    assert "meant 4.96 bar (psi written as bar)?" in told.clashes[0].slips
    assert all(line.probability < 0.5 for line in told.causes)


SOUND_ELSEWHERE = (
    reading("pump_voltage", "12.1 V", 'where = "pump_terminals"')
    + reading(
        "pump_delivery", "1050 ml", 'duration = "30 s", voltage = "12.1 V", where = "distributor_return"'
    )
    + reading("control_pressure_cold", "1.40 bar", 'regulator_temperature = "18 degC", heater = "unplugged"')
    + reading("holding_pressure", "2.35 bar", 'after = "10 min"')
    + reading("idle_speed", "900 rpm", 'state = "idle_warm"')
    + reading("exhaust_lambda", "0.96", 'state = "idle_warm"')
)


@pytest.mark.parametrize(
    ("slipped", "meant"),
    [
        (
            reading("system_pressure", "72 bar", 'valve = "shut"')
            + reading("control_pressure_warm", "3.60 bar", WARM),
            "meant 4.96 bar (psi written as bar)?",
        ),
        (
            reading("system_pressure", "4.95 bar", 'valve = "shut"')
            + reading("control_pressure_warm", "3.6 psi", WARM),
            "meant 3.60 bar (bar written as psi)?",
        ),
    ],
)
def test_a_slip_blames_no_cause_and_bends_no_reason(slipped: str, meant: str) -> None:
    told = answer(SOUND_ELSEWHERE + slipped)
    assert [meant in one.slips for one in told.clashes] == [True]
    assert max(line.probability for line in told.causes) < 0.08
    assert told.nothing_wrong > 0.5
    assert told.unexplained < 0.05
    what = told.clashes[0].what
    for line in [one for one in told.causes if one.probability > 0.02]:
        reasons = [*line.for_, *line.against]
        assert what not in {one.what for one in reasons}
        assert all(abs(one.weight) < 1.5 for one in reasons)  # all that is left is as it should be
    first = told.next_checks[0]
    assert first.what == what
    assert "read it again" in first.why


def test_where_one_repair_is_as_good_as_sure_no_check_is_told_that_divides_nothing() -> None:
    told = answer(
        SOUND_ELSEWHERE.replace("3.60 bar", "1.65 bar")
        + reading("regulator_heater_resistance", "open", 'temperature = "20 degC"')
        + reading("control_pressure_warm", "1.65 bar", WARM)
    )
    assert told.causes[0].cause == "control_heater_dead"
    assert told.repairs[0].probability > 0.9
    assert all(" if " in one.why or "read it again" in one.why for one in told.next_checks)


def test_one_amount_misread_in_a_catch_leaves_the_answer_as_it_was() -> None:
    """8 ml for the 66 that port 4 gives: it does not belong, and no cause is blamed for it."""
    entries = list(demo_entries())
    last = next(
        place
        for place, one in enumerate(entries)
        if (one.kind, one.content.get("through"), one.content.get("opening"))
        == ("catch", "injectors", "full")
    )
    amounts = list(entries[last].content["amounts"])
    amounts[3] = "8 ml"
    slip = replace(entries[last], id="slip", content={**entries[last].content, "amounts": amounts})
    before, after = (
        causes_answer(job_from("demo", told)) for told in (entries[: last + 1], [*entries[: last + 1], slip])
    )
    assert after.causes[0].cause == before.causes[0].cause == "injector_restricted"
    assert after.causes[0].probability == pytest.approx(before.causes[0].probability, abs=0.05)
    assert [(one.what, one.cylinder, one.entry) for one in after.clashes] == [("catch", 4, "slip")]


def test_one_odd_value_of_six_leaves_a_plain_fault_plain() -> None:
    """A heater with an open winding, and one compression of 14.4 bar among five of 10.4."""
    told = answer(
        reading("control_pressure_cold", "1.4 bar", 'regulator_temperature = "18 degC", heater = "unplugged"')
        + reading(
            "control_pressure_warm", "1.5 bar", 'voltage = "12.6 V", heater = "plugged", after = "5 min"'
        )
        + reading("regulator_heater_resistance", "open circuit")
        + "".join(
            f'[[reading]]\nwhat = "compression"\nvalue = "{bar}"\ncylinder = {cylinder}\n'
            for cylinder, bar in enumerate(["10.4 bar"] * 3 + ["14.4 bar"] + ["10.4 bar"] * 2, start=1)
        )
    )
    assert (told.causes[0].cause, told.causes[0].probability > 0.9) == ("control_heater_dead", True)
    assert told.unexplained < 0.05
    assert [clash.cylinder for clash in told.clashes] == [4]


def test_an_open_circuit_among_readings_of_four_ohm_is_contradicted() -> None:
    told = answer(
        "".join(reading("cold_start_valve_resistance", ohms) for ohms in ("open", "4 ohm", "4.1 ohm"))
    )
    assert "contradict each other" in told.clashes[0].words
    assert told.causes[0].cause != "cold_start_valve_dead"


def test_a_likely_cause_has_a_reason_though_two_readings_say_the_same() -> None:
    """Port 4 is short in two catches, each of which would do alone."""
    lines = "".join(
        f'[[catch]]\nthrough = "lines"\nopening = "{opening}"\nduration = "{time} s"\namounts = [{amounts}]\n'
        for opening, time, amounts in (
            ("full", 35, '"80 ml", "80.5 ml", "79.5 ml", "56 ml", "80 ml", "79.5 ml"'),
            ("part", 60, '"40 ml", "40 ml", "39.5 ml", "28 ml", "40 ml", "40 ml"'),
        )
    )
    likely = [one for one in answer(lines).causes if one.probability > 0.3]
    assert likely
    assert all(one.for_ for one in likely)


def test_a_cylinder_whose_cause_is_told_is_not_told_as_one_whose_cause_is_not() -> None:
    plain = case({0: 0.05, 1: 0.05, 2: 0.1, 3: 0.1}, [(1, 2, 0.7)])  # beside another it is the same cause
    assert not list(at_one_cylinder(plain))
