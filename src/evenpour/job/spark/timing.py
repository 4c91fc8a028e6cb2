"""Timing on the pulley: where the sheet's degrees lie along the rim, and a reading held against them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from evenpour.errors import FieldProblem
from evenpour.job.job import Job
from evenpour.job.spark.answers import Figure, TimingAnswer, TimingMark
from evenpour.job.spark.bench import Bench, bench
from evenpour.job.typed_words import split_pairs
from evenpour.measure.checks import Check
from evenpour.measure.limit_types import Limit, Match
from evenpour.measure.limit_words import limit_words
from evenpour.measure.quantities import parse
from evenpour.measure.readings import Reading, ReadValue, read_value
from evenpour.measure.units import shown
from evenpour.measure.verdicts import Verdict
from evenpour.physics.crank import arc_angle, pulley_arc
from evenpour.tune.spark import MARK_ERROR, ROOT_3, distributor_turn

RUNNING = ("speed", "state", "vacuum")  # a condition of these says that it was read by lamp
FORM = "5 deg speed=900rpm hose=off"
NO_RIM = "An arc needs the rim's: --diameter 130mm"
PULLEY = (
    "A mark for degrees before top dead centre lies ahead of the pulley's own mark, the way the pulley "
    "turns. On a scale fixed to the engine it lies on the side from which the pulley's mark comes."
)
NO_POINTS = (
    "This engine has no points, so there is no static setting: it is set by lamp, cranking and at idle. "
    f"State the speed: {FORM}"
)


def timing(
    words: Sequence[str] = (),
    *,
    diameter: str | None = None,
    sure: bool = False,
    sheet: str | None = None,
    job: str | Job | None = None,
    units: str | None = None,
) -> TimingAnswer:
    """Where the sheet's timing lies on the rim, and a reading held against it.

    Args:
        words: ``5 deg``, or an arc such as ``6 mm`` from the mark of top dead centre (before it positive),
            and conditions such as ``speed=900rpm hose=off`` for one read by lamp. May be empty.
        diameter: Of the rim on which the marks are, as typed.
        sure: The reading is so, odd as it looks.
    Raises:
        FieldProblem: what was typed is no such reading, or an arc without a diameter.
    """
    at = bench(sheet, job, units=units)
    plain, pairs = split_pairs(words)
    by_lamp = any(name in pairs for name in RUNNING)
    points = at.sheet is None or "points_ignition" in at.sheet.devices
    step = "timing_by_light_running" if by_lamp else "static_timing" if points else "timing_by_lamp"
    rim = None if diameter is None else at.length(diameter, "diameter")
    answer = TimingAnswer(
        **at.common(step),
        notes=[] if rim is None else [PULLEY],
        marks=list(_marks(at, rim)),
        per_degree=None if rim is None else _arc(at, rim, 1.0 / 360.0),
        reading=None,
        arc=None,
        off_by=None,
        turn_distributor=None,
    )
    if not plain:
        if pairs:
            raise FieldProblem("timing", None, "is missing", remedy=f"Write it like: {FORM}")
        return answer
    if not points and not by_lamp:
        answer.notes.append(NO_POINTS)
    check = at.known.checks["timing_running" if by_lamp else "timing_static"]
    read = _read(" ".join(plain), check, rim, at, sure)
    value = float(read.value)
    conditions = at.conditions(check, pairs)
    reading = Reading(check.id, None, (value,), None, read.u_b, read.basis, conditions, "deg")
    verdict = at.judged(reading, check)
    off, turn, says = _mended(at, verdict)
    return answer.model_copy(
        update={
            "reading": at.verdict(check, reading, verdict),
            "arc": None if rim is None else _arc(at, rim, value, read.u_b),
            "off_by": off,
            "turn_distributor": turn,
            "notes": [*answer.notes, *(note for note in verdict.notes if note != read.basis), *says],
        }
    )


def _mended(at: Bench, verdict: Verdict) -> tuple[Figure | None, Figure | None, list[str]]:
    """How far off the middle, how far the distributor's body is turned for it, and both in words."""
    if verdict.low is None or verdict.high is None or not isinstance(verdict.value, float):
        return None, None, []
    off = verdict.value - 0.5 * (verdict.low + verdict.high)
    off_by = at.degrees(off, verdict.u)
    direction = at.sheet.word("rotor_direction") if at.sheet else None
    if verdict.verdict == "within" or direction is None:
        return off_by, None, []
    # The body is turned with the rotor for a later spark, against it for an earlier one.
    turn = distributor_turn(off) * (1.0 if direction == "clockwise" else -1.0)
    side, way = ("early", "with") if off > 0.0 else ("late", "against")
    seen = "clockwise" if turn > 0.0 else "anticlockwise"
    says = (
        f"{shown(abs(off), 'angle', unit='deg')} too {side}, seen from the middle of the limit. Engine off, "
        f"turn the distributor's body {shown(abs(turn), 'angle', unit='deg')} {way} the rotor, {seen} seen "
        "from above its cap (it turns half as fast as the crank); clamp it, and read again."
    )
    return off_by, at.degrees(turn), [says]


def _read(text: str, check: Check, rim: float | None, at: Bench, sure: bool) -> ReadValue:
    """Degrees as any reading; an arc by the rim, with the error of a mark."""
    quantity = parse(text, ("angle", "length"), field="timing")
    if quantity.dimension == "angle":
        return read_value(check, text, None, sure=sure, system=at.units)
    if rim is None:
        raise FieldProblem("diameter", None, "is missing", remedy=NO_RIM)
    angle = float(arc_angle(rim, quantity.value))
    read_value(check, f"{angle * 360.0:.4g} deg", None, sure=sure)  # asks about an odd one
    half_width = quantity.half_width
    basis = "stated with the reading"
    if half_width is None:
        half_width = MARK_ERROR
        basis = f"no error stated; ± {shown(half_width, 'length', unit=quantity.unit)} along the rim assumed"
    return ReadValue(angle, float(arc_angle(rim, half_width)) / ROOT_3, basis, "deg")


def _marks(at: Bench, rim: float | None) -> Iterator[TimingMark]:
    """Every limit of the timing as a stretch of the rim."""
    for name in ("timing_static", "timing_running"):
        for limit in at.sheet.limits_for(name) if at.sheet else ():
            sides = (limit.low, limit.high)
            low, high = (None if rim is None or side is None else _arc(at, rim, side) for side in sides)
            yield TimingMark(
                what=name,
                title=at.known.checks[name].title.partition(",")[0],
                words=limit_words(replace(limit, when={}), at.system),
                when=_when(limit, at.system),
                low=low,
                high=high,
                source=limit.source,
            )


def _when(limit: Limit, system: str) -> str:
    """``engine speed from 800 to 1000 rpm, hose off``"""
    asked = {match.name: match for match in (*limit.when.values(), *limit.asks.values())}
    return ", ".join(f"{_short(match)} {match.words(system)}" for match in asked.values())


def _short(match: Match) -> str:
    return "vacuum hose" if match.name == "hose" else match.title


def _arc(at: Bench, rim: float, angle: float, u: float | None = None) -> Figure:
    doubt = None if u is None else float(pulley_arc(rim, u))
    return at.figure(float(pulley_arc(rim, angle)), "length", u=doubt, unit="mm")
