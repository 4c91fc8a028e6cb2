"""Repairs as they are told: one part is one repair, each with its step and its cautions, the screw last."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from markupsafe import escape

from evenpour import data
from evenpour.cli.causes import print_causes
from evenpour.job import job_of_text
from evenpour.job.advice import put_right_first
from evenpour.job.catalogue import catalogue
from evenpour.job.causes.answer import _remedies
from evenpour.job.causes.answers import CausesAnswer, RepairLine
from evenpour.job.causes.facts import observations
from evenpour.job.causes.groups import cautions_once, told_repairs
from evenpour.job.causes.naming import at_all
from evenpour.job.causes.repair_costs import shipped_costs
from evenpour.job.causes.repair_steps import way_of
from evenpour.job.causes.repairs import repairs_in_order, worth_doing
from evenpour.job.engine_model import causes_known, kind_for
from evenpour.job.job import Job
from evenpour.job.job_file import read_text
from evenpour.job.screw.answer import screw_answer
from evenpour.job.screw.before import Before, before_screw
from evenpour.web.causes_told import found_of
from evenpour.web.rendering import rendered
from job_examples import job_with

RICH, LEAN, LEAK, PORT = "mixture_screw_rich", "mixture_screw_lean", "air_leak_common", "port_restricted"
# What opens the fuel lines; from memory.
FUEL = ("injector_restricted", "non_return_valve_leaks", "control_cold_high", "cold_start_valve_leaks",
        "air_leak_runner", "filter_restricted", "plunger_sticks")  # fmt: skip


def job(*readings: str, sheet: str = "flat-six") -> Job:
    """A job with readings, each told as ``what = value; condition = word``."""
    text: list[str] = []
    for reading in readings:
        told, _, stated = reading.partition(";")
        what, _, value = told.partition("=")
        text.append(f'[[reading]]\nwhat = "{what.strip()}"\nvalue = "{value.strip()}"\n')
        name, _, word = stated.partition("=")
        text.append(f'conditions = {{ {name.strip()} = "{word.strip()}" }}\n' if stated else "")
    return job_with(*text, sheet=sheet)


def case(
    of: Job, *single: tuple[str, int | None, float], joint: tuple[tuple[int, int, float], ...] = ()
) -> Any:
    """Causes that were weighed, as id, cylinder and probability; *joint* pairs of them by place, from 1."""
    known = causes_known()
    suspects = [SimpleNamespace(cause=None, cylinder=None, id="nothing_wrong")]
    suspects += [SimpleNamespace(cause=known[name], cylinder=k, id=name) for name, k, _ in single]
    return SimpleNamespace(
        read=(),
        job=of,
        kind=kind_for("flat-six"),
        weighed=SimpleNamespace(is_idle=lambda which: False, likelier=lambda which: which[0]),
        probability={0: 0.0, **{h: p for h, (_, _, p) in enumerate(single, start=1)}},
        joint=[SimpleNamespace(which=(a, b)) for a, b, _ in joint],
        joint_probability=[p for _, _, p in joint],
        explanation=SimpleNamespace(suspects=suspects),
    )


def repairs(found: Any) -> list[RepairLine]:
    return repairs_in_order(found, shipped_costs())


CO = "exhaust_co = 5.2 %; state = idle_warm"
LOOKED = ("control_pressure_warm = 3.6 bar", "oil_smell = clean")
SCREW_TURNED = """format = "evenpour-job/1"
[engine]
sheet = "flat-six"
[[reading]]
what = "exhaust_co"
value = "5.2 %"
conditions = { state = "idle_warm" }
at = 2026-05-03T09:08:00
[[move]]
part = "mixture_screw"
turns = "1/8 turn"
at = 2026-05-03T09:12:00
"""


def test_a_screw_that_its_own_advice_leaves_is_not_worth_doing_and_says_why() -> None:
    here = job(CO, "control_pressure_warm = 3.6 bar", "oil_smell = fuel")
    (line,) = repairs(case(here, (RICH, None, 0.9)))
    stop = screw_answer(here).stop
    assert stop is not None
    assert line.left == stop.says
    assert "smell of the oil was read fuel" in line.left
    assert line.checks == ["oil_smell"]
    assert worth_doing([line], [], {}) is None


def test_before_a_screw_is_turned_it_is_said_what_nobody_has_looked_at() -> None:
    (line,) = repairs(case(job(CO, *LOOKED), (RICH, None, 0.9)))
    assert line.checks == ["cold_start_valve_drip"]
    assert "look at: the cold-start valve's tip under pressure." in line.left
    assert worth_doing([line], [], {}) is None
    (lean,) = repairs(case(job(*LOOKED), (LEAN, None, 0.9)))
    assert lean.checks == ["intake_smoke", "exhaust_port_temperature"]


def test_a_screw_before_which_all_was_looked_at_is_worth_doing() -> None:
    (line,) = repairs(case(job(CO, *LOOKED, "cold_start_valve_drip = dry"), (RICH, None, 0.9)))
    assert (line.left, line.checks) == ("", [])
    assert worth_doing([line], [], {}) == "Turn the mixture screw back, by the gas"


@pytest.mark.parametrize(
    ("reason", "since", "way"),
    [("too_rich", 0.125, "clockwise"), ("too_lean", -0.125, "anticlockwise")],
)
def test_a_screw_that_was_turned_wrong_since_the_engine_ran_is_turned_back_before_all_else(
    reason: str, since: float, way: str
) -> None:
    here = job(CO, *LOOKED)  # nobody has looked at the cold-start valve
    told = before_screw(here, reason, since=since, hides="find the leak")
    assert told == Before(care=f"It was turned 1/8 turn {way} since the engine ran: turn it back first.")
    for other in (-since, 0.2 * since):
        told = before_screw(here, reason, since=other, hides="find the leak")
        assert told.says.startswith("The screw comes last: find the leak first")
        assert before_screw(here, reason, since=other) == before_screw(here, reason)


def test_a_repair_of_the_screw_says_so_and_waits_for_nothing_else() -> None:
    here = job_of_text(read_text(SCREW_TURNED, "job.toml"))
    told = case(here, (RICH, None, 0.4), (LEAK, None, 0.0), joint=((1, 2, 0.5),))
    told.read = observations(here, told.kind)
    line = next(one for one in repairs(told) if one.part == "mixture_screw")
    assert (line.left, line.checks) == ("", [])
    assert line.care == "It was turned 1/8 turn clockwise since the engine ran: turn it back first."


RICH_EIGHT = ("exhaust_co = 6.0 %; state = idle_warm", "exhaust_lambda = 0.84; state = idle_warm")
GOOD = (
    "control_pressure_warm = 3.65 bar; vacuum = 0.5 bar",
    "oil_smell = clean",
    "cold_start_valve_drip = dry",
)


def test_a_screw_far_out_with_all_else_good_is_found_first_and_then_turned_in_small_steps() -> None:
    here = job(*RICH_EIGHT, *GOOD, sheet="vee-eight")
    (line,) = repairs(case(here, (RICH, None, 0.97)))
    assert (line.left, line.checks) == ("", [])
    assert "omething else" not in line.care
    assert "find the first drop (step onset_lines) before you turn" in line.care
    assert "turn in small steps, and read after each" in line.care
    told = screw_answer(here)
    assert (told.advice, told.care) == ("move", line.care)
    assert told.turns is not None
    assert -0.25 <= told.turns < 0.0
    assert line.care in told.instructions
    assert worth_doing([line], [], {}) == "Turn the mixture screw back, by the gas"


@pytest.mark.parametrize("lacking", range(len(GOOD)))
def test_a_screw_far_out_waits_for_what_nobody_has_read_and_its_own_page_names_it(lacking: int) -> None:
    here = job(*RICH_EIGHT, *(one for n, one in enumerate(GOOD) if n != lacking), sheet="vee-eight")
    name = GOOD[lacking].partition(" ")[0]
    told = screw_answer(here)
    assert told.stop is not None
    assert told.care == ""
    assert f"look at: {here.known.checks[name].named}. The screw would only hide" in told.stop.look
    (line,) = repairs(case(here, (RICH, None, 0.97)))
    assert line.left.startswith(told.stop.says)
    assert (line.checks, here.known.checks[name].named in line.left) == ([name], True)


def test_a_screw_that_wants_little_names_what_is_read_before_it_too() -> None:
    near = job("exhaust_co = 3.2 %; state = idle_warm", *GOOD[:2], sheet="vee-eight")
    told = screw_answer(near)
    assert (told.advice, told.care) == ("move", "")
    assert any("look at: the cold-start valve's tip under pressure." in one for one in told.instructions)


def test_a_screw_farther_out_than_any_is_found_first_with_all_else_good() -> None:
    told = screw_answer(job("exhaust_co = 12 %; state = idle_warm", *GOOD, sheet="vee-eight"))
    assert told.stop is not None
    assert "somebody turned the screw" in told.stop.says
    assert "omething else" not in told.stop.says
    assert "onset_lines" in told.stop.look


def test_a_screw_beside_a_leak_is_told_after_the_leak() -> None:
    here = job(CO, *LOOKED, "cold_start_valve_drip = dry")
    leak, screw = repairs(case(here, (RICH, None, 0.1), (LEAK, None, 0.1), joint=((1, 2, 0.6),)))
    assert (leak.left, leak.probability) == ("", pytest.approx(0.7))
    assert screw.probability == pytest.approx(0.7)
    assert "find the leak with smoke and seal it first" in screw.left
    assert told_repairs([leak, screw]) == [leak, screw]
    alone, _ = repairs(case(here, (RICH, None, 0.6), (LEAK, None, 0.1), joint=((1, 2, 0.1),)))
    assert (alone.part, alone.left) == ("mixture_screw", "")
    some: Any = [SimpleNamespace(cause=causes_known()[name], id=name) for name in (RICH, LEAK)]
    assert (
        _remedies(some)
        == "find the leak with smoke and seal it; then turn the mixture screw back, by the gas"
    )


def test_one_distributor_with_several_ports_in_doubt_is_one_repair() -> None:
    found = case(job(), *((PORT, k, 0.06) for k in (1, 2, 3)), ("injector_restricted", 4, 0.2),
                 ("injector_restricted", 5, 0.2))  # fmt: skip
    lines = repairs(found)
    (sent,) = [one for one in lines if one.part == "fuel_distributor"]
    assert (sent.probability, sent.cylinder, len(sent.causes)) == (pytest.approx(0.18), None, 3)
    assert sorted(one.cylinder or 0 for one in lines if one.part == "injector") == [4, 5]


CATCH = (
    '[[catch]]\nthrough = "lines"\nopening = "full"\nduration = "35 s"\n'
    'amounts = ["80 ml", "80 ml", "80 ml", "64 ml", "80 ml", "80 ml"]\n'
)


@pytest.mark.parametrize("caught", [False, True])
def test_no_distributor_is_sent_away_for_what_its_ports_pour_before_that_was_caught(caught: bool) -> None:
    here = job_with(CATCH if caught else "")
    (line,) = repairs(case(here, ("port_rich", 4, 0.98)))
    assert line.left.startswith("Catch first, through bare lines") == (not caught)
    assert (worth_doing([line], [], {}) is not None) == caught
    (dripping,) = repairs(case(job(), ("pressure_valve_leaks", 4, 0.98)))
    assert dripping.left == ""


def test_what_is_worth_doing_at_several_cylinders_names_them_all() -> None:
    some = [("injector_restricted", k, 0.84) for k in (5, 4, 6)]
    lines = repairs(case(job(), *some, ("injector_restricted", 1, 0.1)))
    words = worth_doing(lines, [], {})
    assert words == "Clean or renew the injector, cylinders 4, 5 and 6"
    told = CausesAnswer(
        sheet="flat-six", notice="", causes=[], nothing_wrong=0.0, unexplained=0.0, others=0.0, clashes=[],
        undivided=[], next_checks=[], repairs=lines, worth_doing=words, readings=1, left_out=[], notes=[],
        hour_of_work=60.0,
    )  # fmt: skip
    found = found_of(job(), told)
    assert found.doing is not None
    assert found.each
    (one, *_) = lines
    assert worth_doing([one], [], {}) == f"Clean or renew the injector, cylinder {one.cylinder}"


def test_one_pump_in_doubt_for_two_reasons_is_one_repair() -> None:
    weighed = case(job(), ("pump_weak", None, 0.31), ("pump_relief_weak", None, 0.28), joint=((1, 2, 0.24),))
    (line,) = repairs(weighed)
    assert line.remedy == "fit another pump"
    assert line.probability == pytest.approx(0.83)
    some: Any = [
        SimpleNamespace(cause=causes_known()[name], id=name) for name in ("pump_weak", "pump_relief_weak")
    ]
    assert _remedies(some) == "fit another pump"


def test_a_port_that_the_catches_want_put_right_is_the_repair_of_its_distributor() -> None:
    wants = SimpleNamespace(mended=(("port", 2), ("injector", 3)))
    here: Any = SimpleNamespace(
        sheet=job().sheet, weighed=SimpleNamespace(evenness=SimpleNamespace(next_catch=wants))
    )
    assert put_right_first(here) == [("fuel_distributor", None), ("injector", 3)]
    (sent,) = repairs(case(job(), (PORT, 2, 0.9)))
    assert (sent.part, sent.cylinder) in put_right_first(here)


@pytest.mark.parametrize("sheet", ["flat-six", "inline-five"])
def test_every_repair_has_a_step_of_the_car_and_a_caution(sheet: str) -> None:
    here = job(sheet=sheet)
    for table in data.shipped("causes.toml").values["cause"]:
        if any(name in here.plan.step for name in table["steps"]):
            way = way_of(here, table["id"])
            assert way.step in here.plan.step
            assert way.cautions, table["id"]
        else:
            assert table["only"] not in kind_for(sheet).devices
    for cause in FUEL:
        assert {"fire", "pressure_jet"} <= {*way_of(here, cause).cautions}
        assert "release_pressure" in way_of(here, cause).before


def test_steps_and_cautions_of_causes_are_known() -> None:
    steps = {one["id"] for one in catalogue().steps}
    for table in data.shipped("causes.toml").values["cause"]:
        assert {*table["steps"]} <= steps
        assert {*table.get("cautions", ())} <= {*catalogue().cautions}


ANSWER = CausesAnswer(
    sheet="flat-six", notice="", causes=[], nothing_wrong=0.0, unexplained=0.0, others=0.0, clashes=[],
    undivided=[], next_checks=[], repairs=[], worth_doing=None, readings=9, left_out=[], notes=[],
    hour_of_work=60.0,
)  # fmt: skip


def answered() -> CausesAnswer:
    here = job(CO, "oil_smell = fuel")
    lines = repairs(
        case(here, ("injector_restricted", 4, 0.6), ("filter_restricted", None, 0.1), (RICH, None, 0.3))
    )
    return ANSWER.model_copy(update={"repairs": lines, "worth_doing": worth_doing(lines, [], {})})


def test_cautions_of_repairs_are_printed_once_and_before_the_one_worth_doing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    print_causes(answered())
    printed = " ".join(capsys.readouterr().out.split())
    ahead, _, rest = printed.partition("Worth doing now")
    known = catalogue().cautions
    for name in {name for one in answered().repairs for name in one.cautions}:
        assert (ahead.count(known[name].title), rest.count(known[name].title)) == (1, 0)
    assert "(evenpour path JOB --step catch_injectors_part)" in rest
    assert "first: Make the place fit for open fuel, Let the fuel pressure off" in rest
    assert "Leave the screw: the smell of the oil was read fuel" in rest


def test_cautions_of_checks_and_repairs_are_numbered_apart() -> None:
    some: Any = [SimpleNamespace(cautions=names) for names in (["a"], ["a", "b"])]
    assert cautions_once(some, some[1:]) == [("a", ""), ("b", "check 2; repair 1")]


def test_the_page_tells_steps_and_cautions_of_repairs() -> None:
    here = job()
    told = found_of(here, answered())
    assert told.doing is not None
    assert told.doing.cautions > 2
    assert told.doing.before[:2] == ("Make the place fit for open fuel", "Let the fuel pressure off")
    assert told.doing.step.endswith("Catch through the injectors at the part opening, and watch the sprays")
    assert catalogue().cautions["pressure_jet"].title in told.cautions
    assert len(set(told.cautions)) == len(told.cautions)
    assert [bool(one.left) for one in told.repairs] == [False, False, True]
    parts = dict.fromkeys(("first", "meanwhile")) | {"wrong": (), "working": False, "closed": False}
    page = SimpleNamespace(found=told, job="/jobs/1", at_machine=True, beside="", up_to="", **parts)
    text = rendered("causes_found.html", page=page)
    for title in told.cautions:
        assert text.count(str(escape(title))) == 1
    assert text.count(f"in step {told.doing.step}") == 1
    assert "Leave the screw: the smell of the oil was read fuel" in text


@pytest.mark.parametrize("cause", [one.id for one in causes_known().values() if one.per_cylinder])
def test_what_is_told_of_several_cylinders_speaks_of_no_one(cause: str) -> None:
    some: Any = [SimpleNamespace(cause=causes_known()[cause], cylinder=k, id=cause) for k in (1, 2, 3)]
    assert " one " not in f" {at_all(case(job()), some)} "
