"""A first look at a job after a reading: near the answer that follows, and none where it would mislead."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from evenpour.causes.not_known import NotKnown
from evenpour.job.causes.answer import case_of
from evenpour.job.causes.case import Case, marginal
from evenpour.job.causes.first_look import HELD, FirstLook, first_look, held, hold
from evenpour.job.causes.groups import LEAST_SAID
from evenpour.job.causes.not_known import beside
from evenpour.job.causes.page import TOLD, ranking
from evenpour.job.causes.prior import shipped_prior
from evenpour.job.demo import demo_entries
from evenpour.job.job import Job, job_from, job_of_text
from evenpour.job.job_file import read_text
from job_examples import head, job_with

NEAR = 0.1  # of probability, that a first look may be off by: the same as the answer it is carried on to
HEAD = head()


def demo(count: int) -> Job:
    return job_from("a job", demo_entries()[:count], number=1)


def before_cold() -> int:
    """How many of the demo's entries stand before the reading that shows what is wrong."""
    return next(place for place, one in enumerate(demo_entries()) if one.id == "cold-1")


@cache
def told(count: int) -> Case:
    return case_of(demo(count))


def looked(before: Case, job: Job) -> FirstLook:
    found = first_look(before, job, shipped_prior())
    assert found is not None
    return found


def test_a_first_look_ranks_the_causes_as_the_answer_behind_it_does() -> None:
    count = before_cold()
    found, whole = looked(told(count), demo(count + 1)), told(count + 1)
    share = marginal(whole)
    lead = max(share, key=lambda h: share[h] if h else 0.0)
    assert found.causes[0].cause == whole.explanation.suspects[lead].id
    moved = np.abs(whole.explanation.probability - told(count).explanation.probability).sum() / 2.0
    assert moved > 2.0 * NEAR  # the reading does decide something
    assert found.causes[0].probability == pytest.approx(share[lead], abs=NEAR)
    assert found.nothing_wrong == pytest.approx(whole.probability[0], abs=NEAR)
    assert found.readings == len({one.entry for one in whole.told})


def test_with_nothing_new_a_first_look_says_what_the_answer_says() -> None:
    count = before_cold()
    found, case = looked(told(count), demo(count)), told(count)
    shares = {(one.cause, one.cylinder): one.probability for one in found.causes if one.with_ is None}
    for h, one in enumerate(case.explanation.suspects):
        if (one.id, one.cylinder) in shares and h:
            assert shares[one.id, one.cylinder] >= case.probability[h] - 0.01
    assert found.nothing_wrong == pytest.approx(case.probability[0], abs=0.01)


def test_the_shares_of_a_first_look_add_up() -> None:
    count = before_cold()
    found = looked(told(count), demo(count + 1))
    shown = ranking(found.causes, found.others)
    assert len(shown.told) <= TOLD
    told_ = [sum(one.probability for one in group) for group in shown.told]
    assert all(p >= LEAST_SAID for p in told_)
    assert sum(told_) + shown.others + found.nothing_wrong == pytest.approx(1.0, abs=1e-9)


def test_what_is_not_known_here_keeps_its_share() -> None:
    count = before_cold()
    strange = beside(told(count), NotKnown(0.3, (), 0.0))
    found, plain = looked(strange, demo(count + 1)), looked(told(count), demo(count + 1))
    assert (found.unexplained, plain.unexplained) == (pytest.approx(0.3), pytest.approx(0.0, abs=1e-9))
    assert found.nothing_wrong == pytest.approx(0.7 * plain.nothing_wrong)
    assert found.causes[0].probability == pytest.approx(0.7 * plain.causes[0].probability)


@pytest.mark.parametrize(("typed", "is_slip"), [("72 bar", True), ("12 bar", False)])
def test_a_reading_that_was_set_aside_or_put_right_stays_so(typed: str, is_slip: bool) -> None:
    psi = f'[[reading]]\nwhat = "system_pressure"\nvalue = "{typed}"\nsure = true\n'
    warm = '[[reading]]\nwhat = "control_pressure_warm"\nvalue = "3.6 bar"\n'
    idle = '[[reading]]\nwhat = "idle_speed"\nvalue = "900 rpm"\n'
    before = case_of(job_with(psi + warm))
    assert bool(before.slips) == is_slip
    assert len(before.told) == len(before.read) - (not is_slip)
    found = looked(before, job_with(psi + warm + idle))
    assert found.causes[0].probability == pytest.approx(max(marginal(before).values()), abs=3.0 * NEAR)


def test_what_cannot_be_carried_on_gets_no_first_look() -> None:
    count = before_cold()
    low = '[[reading]]\nwhat = "system_pressure"\nvalue = "4.2 bar"\n'
    assert first_look(told(count + 1), demo(count), shipped_prior()) is None  # a reading less
    other = job_of_text(read_text(HEAD.replace("flat-six", "inline-six") + low, "job.toml"))
    assert first_look(told(count), other, shipped_prior()) is None
    high = job_with('[conditions]\naltitude = "1800 m"\n' + low)
    assert first_look(case_of(job_with(low)), high, shipped_prior()) is None


def test_before_any_reading_there_is_no_first_look() -> None:
    nothing = case_of(job_of_text(read_text(HEAD, "job.toml")))
    low = '[[reading]]\nwhat = "system_pressure"\nvalue = "4.2 bar"\n'
    job = job_with(low)
    assert first_look(nothing, job, shipped_prior()) is None


def test_the_jobs_asked_lately_are_held() -> None:
    case = told(before_cold())
    for number in range(HELD + 1):
        hold(number, case if number else replace(case))
        assert held(0) is not None or number == HELD  # asked for: it is not let go first
    assert held(1) is None
    assert held(HELD) is case
