"""Top dead centre from a piston stop: from the marks as typed to the answer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from evenpour.errors import FieldProblem, OutOfRange
from evenpour.job.job import Job
from evenpour.job.spark.answers import DeadCentreAnswer, Figure
from evenpour.job.spark.bench import Bench, bench
from evenpour.measure.quantities import Quantity, parse
from evenpour.measure.verdicts import word_for
from evenpour.physics.crank import arc_angle
from evenpour.tune.spark import (
    DEEPEST_STOP,
    FLATTEST_STOP,
    MARK_ERROR,
    WHEEL_ERROR,
    Centre,
    centre_between,
    centre_on_wheel,
    p_mark_true,
    stop_depth,
)

BARE = re.compile(r"[\s0-9.,+\-−±]+")  # a degree wheel shows degrees, and nobody types them
WAYS = "--forward and --backward, both from the maker's mark; or --between; or --wheel"
BOTH = "State both: --stroke 80mm --rod 150mm"
NO_RIM = "An arc needs the rim's: --diameter 130mm"
MAKERS, NOUGHT = "maker's mark", "wheel's nought"
TOO_FLAT = (
    "Near its top a piston moves by a hundredth of a millimetre for a degree: set the stop deeper, so that "
    "its marks lie 30° or more to either side."
)
TOO_DEEP = (
    "The two marks lie more than half a turn apart: be sure that you took the stretch out of which the stop "
    "kept the crank. The middle of the other one is bottom dead centre."
)
OWN_MARK = "Paint your own mark half way between the stop's two, and use that one from here on."
AGAIN = "Whether it is off by more than a degree cannot be told: measure again, on tape laid along the rim."


@dataclass(frozen=True, slots=True)
class Marks:
    """What was typed: the centre as measured, its kind and unit, and whose mark is compared with it."""

    centre: Centre
    kind: str
    unit: str
    mark: str = ""
    wheel: float | None = None


def dead_centre(
    *,
    forward: str | None = None,
    backward: str | None = None,
    between: str | None = None,
    wheel: tuple[str, str] | None = None,
    diameter: str | None = None,
    stroke: str | None = None,
    rod: str | None = None,
    sheet: str | None = None,
    job: str | Job | None = None,
    units: str | None = None,
) -> DeadCentreAnswer:
    """Top dead centre from where a piston met a stop, turning forward and backward.

    Args:
        forward: Along the rim (or in degrees) from the maker's mark to the one made turning forward.
        backward: The same to the one made turning backward.
        between: Between the stop's two marks, where the maker made none.
        wheel: What a degree wheel read at the two stops, forward first.
        diameter: Of the rim, to turn arcs into degrees.
        stroke, rod: To say how far below its top the stop held the piston.
    Raises:
        FieldProblem: none or several of the ways to say it, or a half is missing.
    """
    at = bench(sheet, job, units=units)
    one_way = [forward is not None or backward is not None, between is not None, wheel is not None]
    if sum(one_way) != 1:
        raise FieldProblem("dead_centre", None, "wants the stop's two marks, said in one way", allowed=WAYS)
    if wheel is not None:
        marks = _on_wheel(*wheel)
    elif between is not None:
        marks = _between(between)
    else:
        marks = _beside_mark(forward, backward)
    turns = _in_turns(marks, None if diameter is None else at.length(diameter, "diameter"))
    late, p = None, None
    if marks.mark:
        known = marks.centre if turns is None else turns
        late = _figure(at, known.late, known.u, marks if turns is None else replace(marks, kind="angle"))
        p = None if turns is None else p_mark_true(turns)
    half = _figure(at, marks.centre.half, marks.centre.u, marks)
    reads = None if marks.wheel is None else at.degrees(marks.wheel, marks.centre.u)
    return DeadCentreAnswer(
        **at.common("dead_centre"),
        notes=[
            *_where(half, reads),
            *(_beside(late, marks.mark, p) if late is not None else ()),
            *_about_the_stop(turns),
        ],
        half=half,
        half_angle=None if turns is None else at.degrees(turns.half, turns.u),
        wheel=reads,
        mark_late=late,
        p_true=p,
        verdict="cannot_tell" if p is None else word_for(p),
        stop_depth=_depth(at, turns, stroke, rod),
    )


def _on_wheel(first: str, second: str) -> Marks:
    said = (f"{text} deg" if BARE.fullmatch(text) else text for text in (first, second))
    forward, backward = (parse(text, "angle", field="wheel") for text in said)
    for read in (forward, backward):
        if not -1.0 <= read.value <= 1.0:
            raise OutOfRange("wheel", read.text, "is no reading of a degree wheel", allowed="0 to 360 deg")
    place, centre = centre_on_wheel(forward.value, backward.value, _error(forward, backward))
    return Marks(centre, "angle", "deg", NOUGHT, place)


def _between(text: str) -> Marks:
    whole = parse(text, ("length", "angle"), field="between")
    half = 0.5 * whole.value
    return Marks(centre_between(half, half, _error(whole)), whole.dimension, whole.unit)


def _beside_mark(forward: str | None, backward: str | None) -> Marks:
    for name, text in (("forward", forward), ("backward", backward)):
        if text is None:
            raise FieldProblem(name, None, "is missing", remedy="State both, from the maker's mark")
    first = parse(forward, ("length", "angle"), field="forward")
    second = parse(backward, first.dimension, field="backward")
    centre = centre_between(first.value, second.value, _error(first, second))
    return Marks(centre, first.dimension, first.unit, MAKERS)


def _error(*read: Quantity) -> float:
    """The largest half-width stated, or what such a mark usually errs by."""
    stated = [one.half_width for one in read if one.half_width is not None]
    return max(stated) if stated else MARK_ERROR if read[0].dimension == "length" else WHEEL_ERROR


def _in_turns(marks: Marks, rim: float | None) -> Centre | None:
    if marks.kind == "angle":
        return marks.centre
    if rim is None:
        return None
    half, late, u = (
        float(arc_angle(rim, one)) for one in (marks.centre.half, marks.centre.late, marks.centre.u)
    )
    return Centre(half, late, u)


def _figure(at: Bench, value: float, u: float, marks: Marks) -> Figure:
    return at.degrees(value, u) if marks.kind == "angle" else at.figure(value, "length", u=u, unit=marks.unit)


def _where(half: Figure, reads: Figure | None) -> Iterator[str]:
    if reads is None:
        yield f"Top dead centre lies {half.shown} from either of the stop's two marks, half way between them."
    else:
        yield f"Top dead centre is where the wheel reads {reads.shown}: set the wheel to 0° there."


def _beside(late: Figure, mark: str, p: float | None) -> Iterator[str]:
    assert late.u is not None
    if abs(late.value) <= 2.0 * late.u:
        yield f"The {mark} cannot be told apart from it: {late.shown} beside it."
    else:
        side, looks = ("after", "earlier") if late.value > 0.0 else ("before", "later")
        yield (
            f"The {mark} comes to the pointer {late.shown.removeprefix('-')} {side} the true top dead "
            f"centre: timing read from it looks {looks} than it is by as much."
        )
    if mark == MAKERS and p is not None:
        word = word_for(p)
        yield "It will do for setting." if word == "within" else OWN_MARK if word == "outside" else AGAIN


def _about_the_stop(turns: Centre | None) -> Iterator[str]:
    if turns is None:
        yield "To have it in degrees add the rim's diameter, like --diameter 130mm."
    elif turns.half < FLATTEST_STOP:
        yield TOO_FLAT
    elif turns.half > DEEPEST_STOP:
        yield TOO_DEEP
    yield "Take the stop out before anything else is turned."


def _depth(at: Bench, turns: Centre | None, stroke: str | None, rod: str | None) -> Figure | None:
    if stroke is None and rod is None:
        return None
    if stroke is None or rod is None:
        raise FieldProblem("stroke" if stroke is None else "rod", None, "is missing", remedy=BOTH)
    if turns is None:
        raise FieldProblem("diameter", None, "is missing", remedy=NO_RIM)
    depth = stop_depth(turns.half, at.length(stroke, "stroke"), at.length(rod, "rod"))
    return at.figure(depth, "length", unit="mm")
