"""A likely cause always says which readings speak for it, also where none of them decides alone."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from evenpour.causes.explanation import explain
from evenpour.causes.reasons import better_than_sound, evidence, weighs_at_once
from evenpour.cli.causes import print_causes
from evenpour.job import job_of_text
from evenpour.job.causes import reasons_told
from evenpour.job.causes.answer import case_of, causes_answer
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import not_told_apart, rivals
from evenpour.job.causes.naming import all_shortly
from evenpour.job.job_file import read_text
from test_causes_words import FALLING, HEAD
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

    nobody: Any = SimpleNamespace(sets=(), severe=SimpleNamespace(grid=None), modes=(), odd=None)
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

    monkeypatch.setattr(reasons_told, "_meant", of_holding)
    valve = causes_answer(job_of_text(read_text(HEAD + FALLING, "job.toml"))).causes[0]
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
