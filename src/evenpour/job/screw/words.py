"""What is said about the mixture screw of a running engine, sentence by sentence."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING

from evenpour.job.screw.running import Idle
from evenpour.job.wording import likelihood
from evenpour.measure.units import range_shown, shown
from evenpour.physics.crank import dwell_angle
from evenpour.tune.screw_advice import HALF_STEP, SURE, Advice, Move, Window, meter_known
from evenpour.tune.screw_aim import Foreseen
from evenpour.tune.screw_ledger import Approach

if TYPE_CHECKING:
    from evenpour.job.job import Job

NAMES = {"exhaust_co": "CO", "exhaust_lambda": "lambda", "lambda_duty": "mean duty"}
# turn from the starting point, from which a right idle is not believed at once; common practice, no source
FAR_OUT = 0.28

BELIEVED = (
    "Key out, stopper in, blip the throttle once, wait 20 s: only then is a reading believed. Every 3 min "
    "clear it out first, 30 s at 2,500 rpm."
)
SPEED = "If the idle speed has changed, bring it back by the idle air screw before you read."
AIR = (
    "Enter the temperature of the air at the plate with each reading (intake_temperature={typed}): air "
    "{warmer} warmer reads about 1.7 % richer in lambda, and that is not the screw."
)
WARMER = {"typed": "30C", "warmer": "10 °C"}
WARMER_US = {"typed": "85F", "warmer": "18 °F"}
LITTLE_CO = (
    "CO below 0.5 % says that it is lean, and not how lean: a wideband sensor's lambda tells that, and saves "
    "a move or two."
)
LOOP = "Oxygen sensor connected and hot: two minutes at 2,500 rpm, then idle; the duty must swing."
WHICH_WAY = (
    "Meters differ in which way they count the duty, so this move is a small one: what it does tells which "
    "way yours counts."
)
INVERTED = "This meter counts the other way: it shows the share of the time that others leave out."
HALF = (
    "That is finer than sixteenths, for on this car a whole one more might go too far: mark the "
    "key's handle, and turn with care."
)
ON_THE_WAY = "It is a step on the way: what it does tells how far a turn goes on this car."
SHOWS_CYLINDERS = ("exhaust_hc", "exhaust_port_temperature", "cylinder_drop")
DEAD_CYLINDER = (
    "CO, lambda or duty alone hide a cylinder that does not work: read HC and O2 once, or the temperatures "
    "of the exhaust ports, before you trust it."
)
LATE = "The last bit came anticlockwise, so the play of the thread lies on the wrong side: it may creep."


def turns_words(turns: float) -> str:
    """A size as a hand turns it: ``3/32 turn``; what is no thirty-second as a decimal."""
    fraction = Fraction(round(abs(turns) * 32.0), 32)
    if fraction.denominator == 32 and abs(abs(turns) - float(fraction)) < 1e-6:
        return f"{fraction} turn"
    return shown(abs(turns), "angle")


def size_words(turns: float, click: float | None) -> str:
    """The same in clicks, where the screw has some and it comes to whole ones."""
    clicks = abs(turns) / click if click is not None else 0.5
    return turns_words(turns) if abs(clicks - round(clicks)) > 1e-6 else shown(round(clicks), "clicks")


def by(turns: float, click: float | None) -> str:
    """How far to turn, with the degrees of the key."""
    return f"{size_words(turns, click)} ({360.0 * abs(turns):.0f}° of the key)"


def figure(check: str, value: float) -> str:
    """``1.5 %``, ``0.96``, ``50 %``: what a display of *check* shows."""
    if check == "exhaust_lambda":
        return f"{value:.2f}"
    return f"{100.0 * value:.{0 if check == 'lambda_duty' else 1}f} %"


def window_words(window: Window, scale: int | None = None) -> str:
    """``CO 1 to 2 %``; a duty also as the dwell meter shows it that was used."""
    if window.check == "exhaust_lambda":
        return range_shown(window.low, window.high, "lambda", unit="lambda")
    span = range_shown(window.low, window.high, "share", unit="%")
    dwell = "" if scale is None else f" ({_dwell(scale, window.low, window.high)})"
    return f"{NAMES[window.check]} {span}{dwell}"


def _dwell(scale: int, *shares: float) -> str:
    """``36 to 54° on the 4-cylinder scale of a dwell meter``"""
    angles = [f"{360.0 * float(dwell_angle(share, scale)):.0f}" for share in shares]
    return f"{' to '.join(angles)}° on the {scale}-cylinder scale of a dwell meter"


def move_words(move: Move, click: float | None) -> str:
    """What the hand does."""
    side = "richer" if move.turns > 0.0 else "leaner"
    if move.past == 0.0:
        return f"Turn clockwise, {side}, by {by(move.turns, click)}."
    if move.turns == 0.0:
        return (
            f"Turn anticlockwise by {by(move.past, click)}, then clockwise by as much: back at the same "
            "place, the play taken up from the lean side."
        )
    return (
        f"Turn anticlockwise by {by(move.past - move.turns, click)}, then clockwise by "
        f"{by(move.past, click)}: in all {by(move.turns, click)} {side}, the play taken up from the lean "
        "side."
    )


def entered(turns: float, click: float | None) -> str:
    """A move as it is typed."""
    if turns == 0.0:
        return "0 turn"
    size = turns_words(turns) if click is None else shown(abs(turns) / click, "clicks")
    return f"{'+' if turns > 0.0 else '-'}{size}"


def running_words(idle: Idle, job: Job, last: Approach) -> Iterator[str]:
    """What to do, in the order in which it is done, where nothing comes before the screw."""
    click, number = job.sheet.click_turns, job.number
    advice, window = idle.advice, idle.window
    if advice is None or window is None:
        return
    if idle.fresh == 0:
        yield (
            "The screw was moved since the idle was last read: read it before you turn on. By what was read "
            f"before, it should be {_expected(idle, advice, window)}."
        )
        yield BELIEVED
    elif advice.move is not None:
        yield from _move(idle, advice, advice.move, window, click, number)
    elif advice.verdict == "read":
        yield (
            f"Read it once more before you turn: it is {_chance(advice.p_now)} that it stands where it "
            "should, and a reading costs less than a move."
        )
        yield BELIEVED
    else:
        yield from _stay(idle, advice, window, last, job)
    if window.check == "lambda_duty":
        yield LOOP
    if idle.little_co:
        yield LITTLE_CO
    if not idle.air_said:
        yield AIR.format_map(WARMER_US if job.system == "us" else WARMER)


def _move(
    idle: Idle, advice: Advice, move: Move, window: Window, click: float | None, number: int | None
) -> Iterator[str]:
    yield f"Engine idling, stopper out, key in. {move_words(move, click)}"
    if click is None and round(abs(move.turns) / HALF_STEP) % 2:
        yield HALF
    if window.check == "lambda_duty" and _unsure(advice):
        yield WHICH_WAY
    yield BELIEVED
    yield SPEED
    yield (
        f"It should then read {_expected(idle, advice, window)}. It is {_chance(advice.p_in_window)} that it "
        f"lands where it should.{'' if advice.p_in_window >= 0.5 else f' {ON_THE_WAY}'}"
    )
    said = f"move {entered(move.turns, click)}{' approach=lean' if move.past else ''}"
    yield (
        f"Enter it: evenpour add {number} {said}. Then the reading, as before."
        if number is not None
        else f"Enter it as one move, {entered(move.turns, click)}{', approach lean' if move.past else ''}; "
        "then the reading."
    )


def much_words(idle: Idle, told: Mapping[str, str]) -> str:
    """What is done before a screw is turned by much; empty where it is not much.

    Args:
        told: The figures, as :func:`figures` gives them.
    """
    if not idle.much or idle.advice is None:
        return ""
    rich = idle.advice.right < 0.0
    words = (
        f"It wants {told['right']} {'leaner' if rich else 'richer'} in all, and that is much for a screw. "
        f"What else makes it {'rich' if rich else 'lean'} was read, and is as it should be, so it may be the "
        "screw. "
    )
    if not idle.start_known:
        words += (
            "Scribe where it stands, and find the first drop (step onset_lines) before you turn: how far it "
            "stands from its starting point shows whether somebody turned it. "
        )
    return f"{words}Then turn in small steps, and read after each."


def every_cylinder_seen(job: Job) -> bool:
    """Whether something was read, and stands, that shows a cylinder which does not work."""
    return any(group.stands and group.check.id in SHOWS_CYLINDERS for group in job.judged)


def _stay(idle: Idle, advice: Advice, window: Window, last: Approach, job: Job) -> Iterator[str]:
    if advice.p_now >= SURE:
        yield (
            f"Leave the screw. The idle stands where it should ({window_words(window, idle.scale)}): "
            f"{likelihood(advice.p_now)} sure, by all readings together."
        )
    else:
        yield (
            f"Leave the screw: it is {_chance(advice.p_now)} that it stands where it should, and no "
            "move that a hand can make betters that. A finer instrument would tell more; a move would not."
        )
    if not every_cylinder_seen(job):
        yield DEAD_CYLINDER
    if last == "rich":
        yield LATE
    if abs(idle.from_start) > FAR_OUT and idle.start_known:
        side = "richer" if idle.from_start > 0.0 else "leaner"
        yield (
            f"It stands {turns_words(idle.from_start)} {side} than its starting point, more than most do: a "
            "screw can hide a leak or a pressure at idle. Smoke the intake and read control pressure warm "
            "before you trust it."
        )
    yield "Key out, stopper in. Then the idle speed, and the mixture once more after it."


def _expected(idle: Idle, advice: Advice, window: Window) -> str:
    """What should be read, the window's own check first; in what span, where that is wide."""
    foreseen = advice.expected[window.check]
    about = f"{NAMES[window.check]} about {figure(window.check, foreseen.middle)}"
    if window.check != "lambda_duty":
        other = "exhaust_lambda" if window.check == "exhaust_co" else "exhaust_co"
        beside = f"{NAMES[other]} about {figure(other, advice.expected[other].middle)}"
        return f"{about}{_span(window, foreseen)}, {beside}"
    span = "" if _unsure(advice) else _span(window, foreseen)
    return f"{about}{span}{'' if idle.scale is None else f', {_dwell(idle.scale, foreseen.middle)}'}"


def _unsure(advice: Advice) -> bool:
    """Whether it is not known yet which way the duty meter counts."""
    return not meter_known(advice.inverted)


def _span(window: Window, foreseen: Foreseen) -> str:
    if foreseen.high - foreseen.low < 0.5 * (window.high - window.low):
        return ""
    low, high = (figure(window.check, side) for side in (foreseen.low, foreseen.high))
    return f" ({low.removesuffix(' %')} to {high})"


def _chance(p: float) -> str:
    return f"{likelihood(p)} likely"


def knowledge(idle: Idle) -> list[str]:
    """What the readings tell of this screw."""
    advice, window = idle.advice, idle.window
    if advice is None or window is None:
        return []
    one = idle.read == 1
    wide = math.exp(2.0 * advice.u_gain)
    low, high = f"{advice.gain / wide:.1f}", f"{advice.gain * wide:.1f}"
    told = [
        f"{idle.read} reading{'' if one else 's'} of the warm idle count{'s' if one else ''}. It should read "
        f"{window_words(window, idle.scale)}.",
        f"A turn of this screw does {advice.gain:.1f} times what is usual on such an engine"
        f"{f' ({low} to {high})' if low != high else ', about'}.",
    ]
    if window.check == "lambda_duty" and advice.inverted > 0.99:
        told.append(INVERTED)
    return told


def figures(idle: Idle, click: float | None) -> Mapping[str, str]:
    """The figures that a stop is told with."""
    if idle.advice is None:
        return {}
    off, right = idle.from_start, idle.advice.right
    start = "its starting point" if idle.start_known else "where it stood at the first reading"
    side = "richer" if off > 0.0 else "leaner"
    return {
        "from_start": f"at {start}"
        if abs(off) < 1.0 / 64.0
        else f"{size_words(off, click)} {side} than {start}",
        "right": f"about {turns_words(max(1.0, round(abs(right) * 16.0)) / 16.0)}",
        "moved": size_words(idle.span, click),
        "turned": str(idle.turned),
    }
