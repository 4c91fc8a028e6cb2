"""A likely cause always says which readings speak for it, also where none of them decides alone."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from evenpour.causes.explanation import explain
from evenpour.causes.reasons import better_than_sound, evidence, weighs_at_once
from evenpour.causes.together import fitted_together
from evenpour.cli.causes import print_causes
from evenpour.job import job_of_text
from evenpour.job.catalogue import catalogue
from evenpour.job.causes import reasons_told
from evenpour.job.causes.answer import case_of, causes_answer
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer, NextCheckLine
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import cautions_once, not_told_apart, rivals, same_first, told_repairs
from evenpour.job.causes.naming import all_shortly
from evenpour.job.demo import demo_entries
from evenpour.job.job import job_from
from evenpour.job.job_file import read_text
from evenpour.web.causes_told import found_of
from evenpour.web.pages.causes import Causes
from evenpour.web.rendering import rendered
from job_examples import job_with
from test_causes_words import FALLING
from test_record_causes import CLOGGED, LINE, answer

LEAK = "air_leak_common"
LEAKS = (
    'format = "evenpour-job/1"\n[engine]\nsheet = "inline-four"\n'
    '[[reading]]\nwhat = "system_pressure"\nvalue = "4.85 bar"\nconditions = { valve = "shut" }\n'
    '[[reading]]\nwhat = "intake_smoke"\nvalue = "leaks"\n'
) + "".join(
    f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\nconditions = {{ state = "idle_warm" }}\n'
    for what, value in (("exhaust_co", "0.25 %"), ("exhaust_o2", "1.6 %"), ("idle_speed", "960 rpm"))
)
SAY_IT = {"intake_smoke", "exhaust_co", "exhaust_o2"}


@cache
def leaks() -> Case:
    """Smoke that leaks, and an idle too lean by the gas: each of them would do alone."""
    return case_of(job_of_text(read_text(LEAKS, "job.toml")))


@cache
def told() -> CausesAnswer:
    return causes_answer(job_of_text(read_text(LEAKS, "job.toml")))


def leak() -> CauseLine:
    return next(one for one in told().causes if one.cause == LEAK)


def test_readings_that_say_the_same_are_told_together() -> None:
    together = next(one for one in leak().for_ if one.together)
    assert set(together.together) >= {"intake_smoke", "exhaust_co"}
    assert set(together.together) <= {*SAY_IT, "idle_speed"}
    assert together.words.startswith("several readings together, none of which decides alone: ")
    assert "the intake under smoke, leaks (tight without it)" in together.words
    assert together.together_weight is not None
    assert together.together_weight > 1.0  # much more than any of them alone
    assert abs(together.weight) < 1.0
    assert together.strength in ("clearly", "strongly")


def test_they_are_printed_for_every_likely_cause(capsys: pytest.CaptureFixture[str]) -> None:
    assert all(one.for_ for one in told().causes if one.probability > 0.1)
    print_causes(told())
    printed = " ".join(capsys.readouterr().out.split())
    assert "for it: several readings together, none of which decides alone: " in printed


def test_what_readings_weigh_together_is_what_leaving_them_out_at_once_changes() -> None:
    """As of one check: within 0.3 nat, below which nothing is said of a reading."""
    case = leaks()
    main = case.weighed.parts[case.weighed.main]
    whole = main.told
    h = next(h for h, one in enumerate(whole.suspects) if one.id == LEAK)
    of_row = [one.check.check for one in whole.seen.observations]
    kept = [one for one in whole.seen.observations if one.check.check not in SAY_IT]
    checks = [
        g for g, c in enumerate(whole.checks) if of_row[list(whole.seen.columns.check).index(c)] in SAY_IT
    ]
    rest = explain(whole.kind, whole.suspects, whole.hypotheses, kept, whole.home)

    def odds(p: float) -> float:
        return float(np.log(p / (1.0 - p)))

    nobody = fitted_together(whole, [])
    weighs = weighs_at_once(whole, nobody, [h], checks)
    assert weighs == pytest.approx(odds(whole.probability[h]) - odds(rest.probability[h]), abs=0.3)


def test_one_check_at_once_weighs_what_it_weighs_by_itself() -> None:
    case = leaks()
    part = case.weighed.parts[case.weighed.main]
    h = next(h for h, one in enumerate(part.told.suspects) if one.id == LEAK)
    each = evidence(part.told, part.joint).weighs([h])
    for g in range(len(each)):
        assert weighs_at_once(part.told, part.joint, [h], [g]) == pytest.approx(each[g], abs=0.3)


def test_what_the_best_sound_car_gives_is_no_better_than_itself() -> None:
    whole = leaks().explanation
    sound = np.asarray(whole.fitted.modes.f[0])
    assert better_than_sound(whole, sound) == pytest.approx(np.zeros(len(whole.checks)), abs=1e-9)


def test_a_cause_that_only_a_slip_put_right_speaks_for_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def of_holding(case: Case) -> set[int]:
        row = next(n for n, one in enumerate(case.read) if one.observation.check.check == "holding_pressure")
        return {int(case.weighed.parts[0].told.seen.columns.check[row])}

    monkeypatch.setattr(reasons_told, "meant_otherwise", of_holding)
    valve = causes_answer(job_with(FALLING)).causes[0]
    (only,) = valve.for_
    assert only.together == ["holding_pressure"]
    assert only.together_weight == only.weight
    assert only.words.startswith("the holding pressure after the stop, after 10 min, 0.70 bar")
    assert only.words.endswith("; read as it was meant")


BOTH = CLOGGED.model_copy(
    update={"says": "both", "with_": CauseName(cause=LINE.cause, cylinder=4), "probability": 0.5}
)
NAMES = [CauseName(cause=one.cause, cylinder=4) for one in (CLOGGED, LINE)]


@pytest.mark.parametrize(("alone", "apart"), [(0.2, False), (0.6, True)])
def test_causes_that_are_rather_both_at_work_are_not_said_to_be_undivided(alone: float, apart: bool) -> None:
    lines = [BOTH, *(one.model_copy(update={"probability": alone}) for one in (CLOGGED, LINE))]
    found = answer(*lines).model_copy(update={"undivided": [NAMES]})
    assert bool(not_told_apart(found)) == apart
    assert rivals(NAMES, lines) == (NAMES if apart else [])


def test_three_causes_at_once_are_named_one_by_one() -> None:
    def suspect(name: str, cylinder: int | None) -> Any:
        return SimpleNamespace(
            id=name, cylinder=cylinder, cause=SimpleNamespace(title=f"{name}: or so", part="spark_plug")
        )

    case: Any = SimpleNamespace(kind=SimpleNamespace(design=SimpleNamespace(line_map=None)))
    some = [suspect("one", None), suspect("two", None), suspect("three", None)]
    assert all_shortly(case, some) == "one, two and three"


def test_cautions_are_printed_once_before_the_checks_and_shared_steps_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    checks = told().next_checks
    print_causes(told())
    printed = " ".join(capsys.readouterr().out.split()).partition("CAUTION, read first: ")[2]
    known = catalogue().cautions
    ahead, _, listed = printed.partition("Checks that tell most")
    for title in {known[name].title for one in checks for name in one.cautions}:
        assert ahead.count(title) == 1
    assert "CAUTION" not in listed
    places = [where for _, where in cautions_once(checks, told_repairs(told().repairs)) if where]
    assert len(places) > len(set(places))
    for where in set(places):
        assert ahead.count(f"{where[0].upper()}{where[1:]}: ") == 1  # those that go before the same, together
    for one in checks:
        assert f"(evenpour path JOB --step {one.step})" in listed
    long = [tuple(one.before) for one in checks if len(one.before) > 1]
    assert listed.count("; first: the same steps as before check") == len(long) - len(set(long)) > 0


def test_each_caution_says_which_checks_it_goes_before() -> None:
    some: Any = [SimpleNamespace(cautions=names) for names in (["b", "a"], ["a", "c"], ["a", "b"])]
    assert cautions_once(some) == [("a", ""), ("b", "checks 1 and 3"), ("c", "check 2")]


def test_only_the_same_steps_in_the_same_order_and_more_than_one_are_told_once() -> None:
    some = [["x", "y"], ["y", "x"], ["z"], ["z"], ["x", "y"], []]
    assert same_first(some) == [None, None, None, None, 0, None]


def test_on_the_page_a_check_whose_steps_are_told_already_names_the_one_they_are_told_with() -> None:
    job = job_from("a job", demo_entries(), number=1)
    steps = list(job.plan.step)[:2]

    def check(what: str, before: list[str]) -> NextCheckLine:
        return NextCheckLine(
            what=what, cylinder=None, state="", conditions={}, information=0.3, minutes=10.0, why="a: b",
            step="read_system_pressure", before=before, cautions=[], swaps=[],
        )  # fmt: skip

    lines = [check("system_pressure", steps), check("pump_voltage", []), check("pump_delivery", steps)]
    found = found_of(job, answer(CLOGGED).model_copy(update={"next_checks": lines}))
    assert found.first is not None
    assert found.first.like == ""
    assert [one.like for one in found.checks] == ["", found.first.check.title]
    page = Causes(
        job="/jobs/1", here="/jobs/1/causes", number=1, found=found, first=None, working=False, added=False,
        meanwhile=None, wrong=(), lost=False, up_to="", closed=False, at_machine=True, beside="", said=None,
    )  # fmt: skip
    told = " ".join(rendered("causes_found.html", page=page).split())
    assert f"First: the same steps as for: {found.first.check.title.lower()}" in told
    assert told.count("First: ") == 2  # once with all steps, once with the name only
