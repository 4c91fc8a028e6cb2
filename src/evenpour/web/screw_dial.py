"""The mixture screw seen from above: the key as it stands, marks around it, the move advised as an arc.

Places only; where the screw stands and what is advised has been worked out long before. Angles run as the key
does: clockwise, nought at the top, where the screw was found (or its new one fitted).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from evenpour.job.screw.answers import ScrewAnswer

MIDDLE: Final = (180.0, 158.0)
RIM: Final = 92.0  # of the drawn scale
ARC: Final = 102.0  # of the move's arc, between the scale and the marks' numbers
BALLS: Final = 124.0  # of the marks' numbers
STEP_OUT: Final = 21.0  # by which a mark is set further out that would lie on another
APART: Final = 0.045  # turn, nearer than which two numbers would touch
WORD_CLEAR: Final = 0.045  # turn from a key, nearer than which it would cover a quarter's word
WORD_ASIDE: Final = 0.06  # turn, by which such a word moves along the scale
SIXTEENTHS: Final = 16


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of the scale, and its word at the quarters."""

    path: str
    word: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Ball:
    """A mark's number, and the line from it to the scale."""

    number: int
    line: str
    x: float
    y: float
    void: bool


@dataclass(frozen=True, slots=True)
class Dial:
    """Everything the drawing is made of; ``arc`` is empty where no move is advised."""

    ticks: tuple[Tick, ...]
    balls: tuple[Ball, ...]
    key: str
    arc: str
    ghost: str
    alt: str


def dial(answer: ScrewAnswer, marks: Sequence[tuple[float, bool]], headline: str, stands: str) -> Dial:
    """The drawing.

    Args:
        marks: Position of each, and whether it no longer counts; numbered from 1 on.
    """
    here, by = answer.total_turns, answer.turns or 0.0
    moves = answer.advice in ("start", "move") and by != 0.0
    return Dial(
        ticks=tuple(_ticks((here, here + by) if moves else (here,))),
        balls=tuple(_balls(marks)),
        key=_turned(here),
        arc=_arc(here, by) if moves else "",
        ghost=_turned(here + by) if moves else "",
        alt=f"The screw from above. It stands {stands or 'where it was found'}. {headline}.",
    )


def _turned(turns: float) -> str:
    x, y = MIDDLE
    return f"rotate({round(360.0 * (turns % 1.0), 2):g} {x:g} {y:g})"


def _at(turns: float, radius: float) -> tuple[float, float]:
    angle = 2.0 * math.pi * turns
    return (round(MIDDLE[0] + radius * math.sin(angle), 1), round(MIDDLE[1] - radius * math.cos(angle), 1))


def _ticks(keys: Sequence[float]) -> Iterator[Tick]:
    """The scale; a word that a key would lie on stands beside it, away from every key."""
    words = {0: "0", 4: "1/4", 8: "1/2", 12: "3/4"}
    for number in range(SIXTEENTHS):
        turns = number / SIXTEENTHS
        long = 13.0 if number % 4 == 0 else 9.0 if number % 2 == 0 else 6.0
        (x0, y0), (x1, y1) = _at(turns, RIM), _at(turns, RIM - long)
        x, y = _at(_beside(turns, keys), RIM - 28.0)
        yield Tick(f"M{x0} {y0}L{x1} {y1}", words.get(number, ""), x, y)


def _beside(turns: float, keys: Sequence[float]) -> float:
    """Where the word of a quarter at *turns* goes."""
    places = (turns, turns - WORD_ASIDE, turns + WORD_ASIDE)
    clear = (at for at in places if all(_between(at, key) >= WORD_CLEAR for key in keys))
    return next(clear, turns - WORD_ASIDE)


def _balls(marks: Sequence[tuple[float, bool]]) -> Iterator[Ball]:
    placed: list[tuple[float, float]] = []
    for number, (position, void) in enumerate(marks, start=1):
        turns, radius = position % 1.0, BALLS
        while any(_between(turns, other) < APART and radius == taken for other, taken in placed):
            radius += STEP_OUT
        placed.append((turns, radius))
        (x0, y0), (x1, y1) = _at(turns, RIM), _at(turns, radius - 11.0)
        x, y = _at(turns, radius)
        yield Ball(number, f"M{x0} {y0}L{x1} {y1}", x, y, void)


def _between(one: float, other: float) -> float:
    apart = abs(one - other) % 1.0
    return min(apart, 1.0 - apart)


def _arc(here: float, turns: float) -> str:
    """From where the key stands to where it is to stand; a move of a turn or more goes round but a little."""
    drawn = math.copysign(min(abs(turns), 0.97), turns)
    (x0, y0), (x1, y1) = _at(here, ARC), _at(here + drawn, ARC)
    large, sweep = int(abs(drawn) > 0.5), int(drawn > 0.0)
    return f"M{x0} {y0}A{ARC:g} {ARC:g} 0 {large} {sweep} {x1} {y1}"
