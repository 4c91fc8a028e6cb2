"""Where holding pressure is short: the branches shut in turn, as a check that may be done next."""

from __future__ import annotations

import pytest

from evenpour.cli.causes import print_causes
from evenpour.job import job_of_text
from evenpour.job.causes.answer import case_of, causes_answer
from evenpour.job.causes.answers import CauseName, CausesAnswer
from evenpour.job.causes.candidates import asked_of
from evenpour.job.causes.dividing import what_divides
from evenpour.job.causes.groups import not_told_apart
from evenpour.job.causes.possible_checks import possible_checks
from evenpour.job.job_file import read_text
from test_causes_holding import HEAD, SOUND, gauged

SHORT = "".join(gauged(*one) for one in SOUND) + gauged("holding_pressure", "0.9 bar", 'after = "10 min"')
BRANCHES = ("feed blocked", "return blocked", "control line blocked", "accumulator blocked")


def answered(text: str) -> CausesAnswer:
    return causes_answer(job_of_text(read_text(HEAD + text, "job.toml")))


def branches_of(answer: CausesAnswer) -> list[str]:
    return [one.state for one in answer.next_checks if one.step == "holding_which_branch"]


def test_where_holding_is_short_the_branches_are_shut_in_turn() -> None:
    answer = answered(SHORT)
    assert branches_of(answer) == [", then ".join(BRANCHES)]
    one = next(one for one in answer.next_checks if one.step == "holding_which_branch")
    assert one.information > 0.6
    assert one.minutes > 30
    assert "with feed blocked about" in one.why


def test_what_cannot_be_told_apart_says_which_check_would(capsys: pytest.CaptureFixture[str]) -> None:
    case = case_of(job_of_text(read_text(HEAD + SHORT, "job.toml")))
    asked = asked_of(case)

    def divides(*causes: str) -> str:
        return what_divides(case, asked, [CauseName(cause=one, cylinder=None) for one in causes])

    branches = f"the holding pressure after the stop ({', then '.join(BRANCHES)})"
    assert divides("non_return_valve_leaks", "primary_regulator_leaks", "accumulator_failed") == branches
    assert (
        divides("non_return_valve_leaks", "accumulator_failed") == "the vent or leak hose of the accumulator"
    )
    assert divides("control_cold_low", "control_cold_high") == ""
    answer = answered(SHORT)
    (named,) = not_told_apart(answer)
    assert named.endswith(f". What tells them apart: {answer.divided_by[0]}")
    print_causes(answer)
    said = " ".join(capsys.readouterr().out.split())
    assert f"These readings cannot tell apart: {named}." in said


@pytest.mark.parametrize("condition", ["blocked", "pinched"])
def test_a_branch_that_was_shut_is_not_asked_for_again(condition: str) -> None:
    answer = answered(
        SHORT + gauged("holding_pressure", "0.95 bar", f'after = "10 min", {condition} = "return"')
    )
    asked = branches_of(answer)
    assert asked
    assert "return blocked" not in asked[0]
    assert "feed blocked" in asked[0]


def test_no_branch_is_shut_where_the_pressure_holds() -> None:
    good = "".join(gauged(*one) for one in SOUND) + gauged("holding_pressure", "2.3 bar", 'after = "10 min"')
    job = job_of_text(read_text(HEAD + good, "job.toml"))
    assert not [one for one in possible_checks(job) if one.in_turn]
    (short,) = (
        one for one in possible_checks(job_of_text(read_text(HEAD + SHORT, "job.toml"))) if one.in_turn
    )
    assert short.step == "holding_which_branch"
