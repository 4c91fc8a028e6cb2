"""Two causes at once count for what they explain beyond either alone."""

from __future__ import annotations

import numpy as np
import pytest

from evenpour.causes.beyond_one import LEAST, beyond_one
from evenpour.causes.normal import log_sum
from evenpour.causes.tried import Tried

PRIOR = np.log([0.3, 0.2, 0.1, 0.1])  # nothing wrong, and three causes
SHOWN = np.array([-9.0, -1.0, -8.0, -8.0])  # log likelihood: the second is what is read
ALONE = PRIOR + SHOWN
PAIR = np.log(0.02)  # prior of two


def pair(one: int, other: int) -> Tried:
    return Tried((one, other), PAIR, (), fewer=((one,), (other,)))


def test_two_that_explain_no_more_than_one_hardly_count() -> None:
    idle = np.array([PAIR + SHOWN[1]])  # the third shows nothing beside the second
    found = beyond_one(ALONE, PRIOR, [pair(1, 2)], idle)
    assert np.exp(found[0] - idle[0]) == pytest.approx(LEAST)


def test_two_that_are_read_together_count_in_full() -> None:
    both = np.array([PAIR + SHOWN[1] + 12.0])
    found = beyond_one(ALONE, PRIOR, [pair(1, 2)], both)
    assert found[0] == pytest.approx(both[0], abs=1e-4)


def test_how_likely_a_cause_is_does_not_hang_on_which_idle_partners_were_tried() -> None:
    tried = [pair(1, 2), pair(1, 3)]
    several = beyond_one(ALONE, PRIOR, tried, np.full(2, PAIR + SHOWN[1]))

    def likely(sets: np.ndarray) -> float:
        return float(np.exp(ALONE[1] - log_sum(np.concatenate([ALONE, sets]))))

    share = 2 * np.exp(PAIR - PRIOR[1])  # of the cause's own weight, what the two would be
    assert 0.0 < likely(several[:0]) - likely(several) < LEAST * share


def test_a_set_without_fewer_is_left_as_it_is() -> None:
    weight = np.array([-3.0])
    assert beyond_one(ALONE, PRIOR, [Tried((1, 2, 3), PAIR, ())], weight) == pytest.approx(weight)


def test_each_column_is_weighed_by_itself() -> None:
    alone, weight = np.stack([ALONE, ALONE - 2.0], axis=1), np.array([[PAIR + SHOWN[1], PAIR + 2.0]])
    found = beyond_one(alone, PRIOR, [pair(1, 2)], weight)
    for column in (0, 1):
        assert found[:, column] == pytest.approx(
            beyond_one(alone[:, column], PRIOR, [pair(1, 2)], weight[:, column])
        )


def test_two_that_the_readings_speak_against_count_for_no_more_than_they_are_worth() -> None:
    against = np.array([PAIR + SHOWN[1] - 20.0])
    assert beyond_one(ALONE, PRIOR, [pair(1, 2)], against) == pytest.approx(against)
