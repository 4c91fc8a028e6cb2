"""The next move of a mixture screw on a running engine, and when to stop turning it.

Only moves that a hand can make are offered, none above a quarter of a turn. Of those that hardly ever go past
the window by its own width, the one that lands in it most likely is advised. The last bit always comes
clockwise: a move to the lean side goes past its aim and comes back, and all of it stays within the quarter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.special import chdtrc

from evenpour.tune.screw_aim import Aim, Foreseen
from evenpour.tune.screw_posterior import Posterior
from evenpour.tune.screw_response import Response

Verdict = Literal["stay", "read", "move", "stop"]
Reason = Literal["does_nothing", "wrong_way", "scatter", "too_rich", "too_lean", "too_many", "which_way"]

# Common practice, no source.
MOST = 0.25  # turn, of any move on a running engine, the way past its aim counted in
STEP, HALF_STEP = 1.0 / 16.0, 1.0 / 32.0  # turn: what a hand does with a key, and what it does with care
TAKES_UP = 0.0625  # turn clockwise that take up any play
REACH = 0.5  # turn from the starting point, beyond which it is not the screw
LOOK_FIRST = 0.3125  # turn from it: a start may be a quarter wrong; beyond, others are looked at first
MOST_MOVES, MOST_READINGS = 6, 3  # since the first reading; without a move between
FIRST_BY_DUTY = 0.125  # turn, until it is known which way the meter counts
# Chosen: how sure is sure enough.
SURE, SURE_OF_STOP = 0.95, 0.90
OVERSHOOT = 0.02  # chance of ending past the window by its width that a move may have
WORTH, HALF_WORTH = 0.02, 0.05  # of probability: what a move must gain, and a half step over whole ones
RISKED = 0.2  # of probability: what a move must gain that may go past the window
DOUBTFUL = 0.10  # chance of the window from which on a second reading comes before a further move
ODD = 1e-3  # chance below which readings are said to fit no screw
FAR = 1.3  # standard deviations that the right place must lie out of reach to stop before anything is turned
NEARER = 0.5  # of probability, what a turn of a usual screw nearer is worth while the window is out of reach


@dataclass(frozen=True, slots=True)
class Window:
    """What the sheet wants to read. SI."""

    check: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Move:
    """``turns`` in all, clockwise positive; ``past``: how much further back first, to come clockwise."""

    turns: float
    past: float


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the work stands.

    Attributes:
        from_start: Turns from the starting point to where the screw stands; where that is not known, from
            where it stood at the first reading.
        turned: Moves since the first reading.
        read: Readings since the last move.
        looked: Whether control pressure and tightness are proved.
        at_its_end: Whether the duty last read stands where its meter or its control can go no further.
    """

    from_start: float
    turned: int
    read: int
    looked: bool
    at_its_end: bool = False


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do with the screw.

    Attributes:
        move: None unless the verdict is to move.
        reason: Why to stop; None unless that is the verdict.
        p_in_window: Probability of the window after the move; where nothing is moved, as it stands.
        p_now: As it stands.
        p_beyond: Probability that the move ends past the window by more than half its width.
        expected: What will be read then, by check.
        gain, u_gain: Of this car's screw over a usual one's, and the standard deviation of its logarithm.
        right, u_right: How far from here the middle of the window lies, [turn], and its standard deviation.
        inverted: Chance of a duty meter that counts the other way.
    """

    verdict: Verdict
    move: Move | None
    reason: Reason | None
    p_in_window: float
    p_now: float
    p_beyond: float
    expected: Mapping[str, Foreseen]
    gain: float
    u_gain: float
    right: float
    u_right: float
    inverted: float


def meter_known(inverted: float) -> bool:
    """Whether it is known which way a duty meter counts."""
    return not 0.01 < inverted < 0.99


def moves(step: float, loose: bool) -> tuple[Move, ...]:
    """Every move in whole *step* that may be made on a running engine, from the leanest to the richest.

    Args:
        loose: Whether the play may lie on the wrong side. Then a small move clockwise might only cross it,
            and going back and coming up to the same place is a move as well.
    """
    back = step * math.ceil(TAKES_UP / step - 1e-9)
    most = math.floor(MOST / step + 1e-9)
    offered = (number * step for number in range(-most, most + 1) if number or loose)
    least = TAKES_UP - 1e-9 if loose else 0.0
    found = (Move(turns, 0.0 if turns > least else back) for turns in offered)
    return tuple(move for move in found if move.past - move.turns <= MOST + 1e-9)


def advise(
    known: Posterior, window: Window, here: Response, click: float | None, standing: Standing
) -> Advice:
    """The next move, or why there is none.

    Args:
        here: The kind's curve in the circumstances of now.
        click: Turns from one click of the screw to the next; None where it has none.
    """
    aim = Aim(known, window.check, window.low, window.high, here)
    reason = _why_stop(known, aim, standing)
    if reason is not None:
        return _answer(aim, "stop", reason=reason)
    p_now, best = aim.p_now(), _best(known, window, aim, click)
    p_best = 0.0 if best is None else aim.p_after(best.turns)
    if p_now >= SURE:
        return _answer(aim, "stay")
    if best is None or (p_now > 0.5 and p_best < p_now + WORTH):
        return _answer(aim, "stay" if standing.read >= MOST_READINGS else "read")
    if p_now > DOUBTFUL and p_best < SURE and standing.read < 2:
        return _answer(aim, "read")
    return _answer(aim, "move", best)


def _answer(aim: Aim, verdict: Verdict, move: Move | None = None, reason: Reason | None = None) -> Advice:
    p_now = aim.p_now()
    return Advice(
        verdict,
        move,
        reason,
        aim.p_after(move.turns) if move else p_now,
        p_now,
        aim.p_beyond(move.turns) if move else 0.0,
        aim.expected(move.turns if move else None),
        *aim.gain(),
        *aim.right(),
        aim.known.inverted,
    )


def _why_stop(known: Posterior, aim: Aim, standing: Standing) -> Reason | None:
    if known.does_nothing > SURE_OF_STOP:
        return "does_nothing"
    if known.wrong_way > SURE_OF_STOP:
        return "wrong_way"
    if standing.at_its_end and not meter_known(known.inverted):
        return "which_way"  # there a move changes nothing that is read, and teaches nothing
    squares, readings = known.misfit
    if readings >= 3 and chdtrc(readings - 1, squares) < ODD:
        return "scatter"
    if aim.p_now() >= 0.5:
        return None
    right, u_right = aim.right()
    reach = REACH if standing.looked else LOOK_FIRST
    moved = standing.from_start
    gone = abs(moved) >= reach - HALF_STEP and moved * right > 0.0
    if gone or abs(moved + right) > reach + FAR * u_right:
        return "too_lean" if right > 0.0 else "too_rich"
    return "too_many" if standing.turned >= MOST_MOVES else None


def _best(known: Posterior, window: Window, aim: Aim, click: float | None) -> Move | None:
    """The best move in whole steps, or in half ones where these gain enough; in clicks where it has some."""
    most = MOST
    if window.check == "lambda_duty" and not meter_known(known.inverted):
        most = FIRST_BY_DUTY
    loose = any(lag > 0.0 and chance > 0.01 for lag, chance in known.lags.items())
    offered = [moves(step, loose) for step in ((STEP, HALF_STEP) if click is None else (click,))]
    whole, half = (_best_of(aim, some, most) for some in (offered[0], offered[-1]))
    if whole is None or half is None:
        return half or _risked(aim, offered[-1])
    p_half = aim.p_after(half.turns)
    finer = p_half >= 0.5 and p_half > aim.p_after(whole.turns) + HALF_WORTH  # no care for a step on the way
    return half if finer else whole


def _best_of(aim: Aim, offered: Sequence[Move], most: float) -> Move | None:
    """Of the moves towards the window that hardly ever go past it, the one that lands in it most likely."""

    def worth(move: Move) -> float:
        return aim.p_after(move.turns) - NEARER * aim.away(move.turns)

    fits = (move for move in _towards(aim, offered) if abs(move.turns) <= most + 1e-9)
    return max((move for move in fits if aim.p_beyond(move.turns) <= OVERSHOOT), key=worth, default=None)


def _risked(aim: Aim, offered: Sequence[Move]) -> Move | None:
    """The smallest move towards the window although it might go past: out of it anyway, or better odds."""
    least = min(_towards(aim, offered), key=lambda move: abs(move.turns), default=None)
    p_now = aim.p_now()
    return least if least and (p_now < DOUBTFUL or aim.p_after(least.turns) > p_now + RISKED) else None


def _towards(aim: Aim, offered: Sequence[Move]) -> list[Move]:
    lean = aim.p_lean() > 0.5
    return [move for move in offered if (move.turns > 0.0) == lean]
