"""The screw's ledger: totals, play on reversal, marks and what spoils them, and the starting point."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.tune.screw_ledger import (
    ONSET_INJECTORS,
    ONSET_LINES,
    PLAY,
    Found,
    Spoiler,
    Turn,
    last_from,
    ledger,
    onsets_apart,
    overshoot,
    start,
)

MOVES = st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=12)


def turns(*moved: float) -> list[Turn]:
    """Moves at ranks 10, 20, 30 ..."""
    return [Turn(rank, move) for rank, move in zip(range(10, 1000, 10), moved, strict=False)]


@given(moved=MOVES)
def test_the_total_is_the_sum_of_all_moves(moved: list[float]) -> None:
    book = ledger(turns(*moved))
    assert book.total == pytest.approx(math.fsum(moved), abs=1e-12)
    assert [line.total for line in book.lines][-1] == book.total


@given(moved=MOVES, first=st.floats(0.0, PLAY))
def test_the_lever_lags_within_the_bounds_whatever_the_play_was_at_first(
    moved: list[float], first: float
) -> None:
    # A thread with play pushes its nut at either flank: the nut stands still while the play is crossed.
    screw, lever = 0.0, first
    for move in moved:
        screw += move
        lever = min(max(lever, screw), screw + PLAY)
    low, high = ledger(turns(*moved)).lag
    assert low - 1e-12 <= lever - screw <= high + 1e-12


def test_enough_in_one_direction_takes_up_the_play() -> None:
    assert ledger(turns()).lag == (0.0, PLAY)
    assert ledger(turns(0.25)).lag == (0.0, 0.0)
    assert ledger(turns(-0.25)).lag == (PLAY, PLAY)
    assert last_from(ledger(turns(-0.25))) == "rich"
    assert last_from(ledger(turns(-0.25, 0.125))) == "lean"
    assert last_from(ledger(turns(0.25, -0.01))) == "rich"
    assert last_from(ledger(turns(0.02))) == ""  # the play may not be taken up yet


def test_who_says_from_which_side_the_last_bit_came_is_believed() -> None:
    back = ledger([Turn(10, -0.5, approach="lean")])
    assert (back.total, back.lag, last_from(back)) == (-0.5, (0.0, 0.0), "lean")
    assert last_from(ledger([Turn(10, 0.5, approach="rich")])) == "rich"


def test_a_change_of_direction_is_marked() -> None:
    reversed_ = [line.reversed for line in ledger(turns(0.5, 0.25, -0.25, 0.0, -0.125, 0.0625)).lines]
    assert reversed_ == [False, False, True, False, False, True]


def test_an_onset_is_counted_from_where_the_screw_stood() -> None:
    book = ledger(turns(0.25, 0.5), [Found(15, ONSET_LINES, 0.125, 0.03)])
    mark = book.mark(ONSET_LINES)
    assert mark is not None
    assert mark.position == pytest.approx(0.375)
    aim = start(book, 0.5)
    assert aim is not None
    assert (aim.position, aim.turns) == (pytest.approx(-0.125), pytest.approx(-0.875))


def test_the_ledger_carries_the_onset_along() -> None:
    found = [Found(5, ONSET_LINES, 0.5, 0.03)]
    for moved in ((), (0.25,), (0.25, -1.0, 0.125)):
        aim = start(ledger(turns(*moved), found), 0.5)
        assert aim is not None
        assert aim.turns == pytest.approx(-math.fsum(moved))


def test_the_newest_onset_counts_and_bare_lines_before_injectors() -> None:
    found = [
        Found(5, ONSET_LINES, 0.5, 0.03),
        Found(6, ONSET_LINES, 0.6, 0.03),
        Found(7, ONSET_INJECTORS, 0.7, 0.03),
    ]
    book = ledger([], found)
    aim = start(book, 0.5)
    assert aim is not None
    assert aim.position == pytest.approx(0.1)
    assert onsets_apart(book) == pytest.approx(0.1)
    assert [mark.name for mark in book.standing()] == [ONSET_LINES, ONSET_INJECTORS]
    only = start(ledger([], found[2:]), 0.5)
    assert only is not None
    assert only.mark.name == ONSET_INJECTORS
    assert onsets_apart(ledger([], found[2:])) is None


def test_a_new_fuel_distributor_takes_the_onset_but_not_the_count() -> None:
    book = ledger(
        [Turn(10, 0.25, mark="seated"), Turn(30, -0.125)],
        [Found(15, ONSET_LINES, 0.5, 0.03)],
        [Spoiler(20, "fuel distributor replaced")],
    )
    assert start(book, 0.5) is None
    assert book.total == pytest.approx(0.125)
    assert book.mark("seated") is not None
    assert [mark.void for mark in book.marks] == ["", "fuel distributor replaced"]
    again = ledger(
        [Turn(30, -0.125)],
        [Found(15, ONSET_LINES, 0.5, 0.03), Found(25, ONSET_LINES, 0.25, 0.03)],
        [Spoiler(20, "fuel distributor replaced")],
    )
    aim = start(again, 0.5)
    assert aim is not None
    assert aim.position == pytest.approx(-0.25)


def test_another_screw_starts_the_count_anew_and_has_no_marks() -> None:
    book = ledger(
        [Turn(10, 0.75, mark="seated"), Turn(30, 0.125)],
        [Found(15, ONSET_LINES, 0.5, 0.03)],
        [Spoiler(20, "mixture screw replaced", screw=True)],
    )
    assert book.total == pytest.approx(0.125)
    assert book.standing() == ()
    assert book.restarts == ("mixture screw replaced",)
    assert [line.total for line in book.lines] == [0.75, 0.125]


def test_a_move_against_the_clock_goes_past_its_aim() -> None:
    assert overshoot(0.25) == 0.0
    assert overshoot(-0.25) >= 2.0 * PLAY
    # Past it and back up takes the play up, from wherever it was.
    past = overshoot(-0.25)
    assert last_from(ledger(turns(-0.25 - past, past))) == "lean"
