"""The mixture screw's ledger: every move, where the screw stands from which mark, and the play in between.

Turns are clockwise positive, which is richer (common practice). Counted turns are the key's; what the lever
does lags behind by the play of the thread whenever the direction changes. Positions compare only if they were
approached from the same side, so marks and settings are approached from the lean side, clockwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

PLAY = 0.05  # turn; of a mixture screw's thread and key; common practice, no source
ONSET_LINES, ONSET_INJECTORS = "onset_lines", "onset_injectors"
ONSETS_ALIKE = 0.25  # turn; the two onsets lie no further apart on a sound car; common practice, no source

Approach = Literal["", "lean", "rich"]


@dataclass(frozen=True, slots=True)
class Turn:
    """A move as it was entered.

    Attributes:
        rank: Its place in the order of the job.
        turns: Net turns, clockwise positive.
        typed: As typed: ``-60 deg``, ``2 clicks``.
        approach: From which side the last bit came, where somebody said so; "" takes the net direction.
        mark: The mark at which the screw stands after it: "seated", or a word of one's own.
        at, who, note, entry: Of the journal's entry.
    """

    rank: int
    turns: float
    typed: str = ""
    approach: Approach = ""
    mark: str = ""
    at: str = ""
    who: str = ""
    note: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """A mark found without leaving the screw there: ``turns`` away from where it stands (an onset)."""

    rank: int
    name: str
    turns: float
    u: float
    at: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Spoiler:
    """Something that was done to a part.

    ``screw`` says that the screw itself is another one: the count starts anew and every mark is gone. Else
    the fuel's way changed (a fuel distributor, the plate's rest): onsets found before tell nothing any more,
    while the screw still stands where it stood.
    """

    rank: int
    words: str
    screw: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A move in the ledger.

    Attributes:
        total: Where the screw stands after it, from where it was found, or from where a new one was fitted.
        reversed: Whether it went the other way than the one before: the play comes first.
        lag: Between which bounds the lever stands richer than the total says, by the play, [turn].
    """

    turn: Turn
    total: float
    reversed: bool
    lag: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Mark:
    """A place the screw can be brought back to; ``void`` says why it no longer counts."""

    name: str
    position: float
    u: float
    at: str
    entry: str
    void: str = ""


@dataclass(frozen=True, slots=True)
class Ledger:
    """The whole ledger.

    Attributes:
        lines: Every move, in order.
        total: Where the screw stands now, [turn].
        lag: As of the last line; before any move the play may lie anywhere.
        marks: Every mark, oldest first; of one name the newest counts.
        restarts: What was done where the count started anew.
    """

    lines: tuple[Line, ...]
    total: float
    lag: tuple[float, float]
    marks: tuple[Mark, ...]
    restarts: tuple[str, ...]

    def mark(self, name: str) -> Mark | None:
        """The mark of that name that counts."""
        return next((mark for mark in reversed(self.marks) if mark.name == name and not mark.void), None)

    def standing(self) -> tuple[Mark, ...]:
        """The marks that count, each name once, in the order in which they were made."""
        return tuple(mark for mark in self.marks if self.mark(mark.name) is mark)


@dataclass(frozen=True, slots=True)
class Start:
    """The screw's starting point.

    Attributes:
        mark: The onset it is counted from.
        position: Where it lies in the ledger's count, [turn].
        turns: How far the screw has to go, [turn].
        u: Standard uncertainty of both, from the onset's.
    """

    mark: Mark
    position: float
    turns: float
    u: float


def ledger(
    turns: Iterable[Turn], found: Iterable[Found] = (), spoilers: Iterable[Spoiler] = (), play: float = PLAY
) -> Ledger:
    """The ledger of one screw.

    Args:
        turns: Its moves, as they stand after all corrections.
        found: Marks found on the way.
        spoilers: What was done to the screw, and to what its onset rests on.
        play: Of the thread, [turn].
    """
    lines: list[Line] = []
    marks: list[Mark] = []
    restarts: list[str] = []
    total, lag, way = 0.0, (0.0, play), 0
    events: list[Turn | Found | Spoiler] = [*turns, *found, *spoilers]
    for event in sorted(events, key=lambda one: one.rank):
        if isinstance(event, Turn):
            going = _way(event)
            total += event.turns
            lag = _lag(lag, event, play)
            lines.append(Line(event, total, bool(way and going and going != way), lag))
            way = going or way
            if event.mark:
                marks.append(Mark(event.mark, total, (lag[1] - lag[0]) / 12.0**0.5, event.at, event.entry))
        elif isinstance(event, Found):
            marks.append(Mark(event.name, total + event.turns, event.u, event.at, event.entry))
        else:
            marks = [_spoilt(mark, event) for mark in marks]
            if event.screw:
                restarts.append(event.words)
                total, lag, way = 0.0, (0.0, play), 0
    return Ledger(tuple(lines), total, lag, tuple(marks), tuple(restarts))


def start(book: Ledger, back: float) -> Start | None:
    """The starting point: *back* turns leaner than the onset with bare lines, else through the injectors.

    Returns:
        ``None`` while neither onset is known, or after what they rest on was changed.
    """
    onset = book.mark(ONSET_LINES) or book.mark(ONSET_INJECTORS)
    if onset is None:
        return None
    position = onset.position - back
    return Start(onset, position, position - book.total, onset.u)


def onsets_apart(book: Ledger) -> float | None:
    """How much further in the onset through the injectors lies than the one with bare lines, [turn]."""
    lines, injectors = book.mark(ONSET_LINES), book.mark(ONSET_INJECTORS)
    return None if lines is None or injectors is None else injectors.position - lines.position


def overshoot(turns: float, play: float = PLAY) -> float:
    """How far past its aim a move is taken before it comes back clockwise: none if it goes clockwise anyway.

    An eighth of a turn takes up any play that is met.
    """
    return 0.0 if turns >= 0.0 else max(0.125, 2.0 * play)


def last_from(book: Ledger) -> Approach:
    """From which side the screw was brought where it stands, as far as the play tells; "" if it does not."""
    low, high = book.lag
    if high <= 0.0:
        return "lean"
    return "rich" if low > 0.0 and low == high else ""


def _way(turn: Turn) -> int:
    """The direction of the last bit: 1 clockwise, -1 anticlockwise, 0 where nothing was turned."""
    if turn.approach:
        return 1 if turn.approach == "lean" else -1
    return (turn.turns > 0.0) - (turn.turns < 0.0)


def _lag(lag: tuple[float, float], turn: Turn, play: float) -> tuple[float, float]:
    """Where the lever lags after a move: not at all after enough clockwise, by the play after enough back."""
    if turn.approach:
        return (0.0, 0.0) if turn.approach == "lean" else (play, play)
    low, high = (min(play, max(0.0, one - turn.turns)) for one in lag)
    return low, high


def _spoilt(mark: Mark, spoiler: Spoiler) -> Mark:
    if mark.void or (not spoiler.screw and mark.name not in (ONSET_LINES, ONSET_INJECTORS)):
        return mark
    return replace(mark, void=spoiler.words)
