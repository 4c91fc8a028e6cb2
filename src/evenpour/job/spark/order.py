"""Firing order and dwell: from the sheet and what was typed to the answers."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.errors import FieldProblem, OutOfRange
from evenpour.job.answers import ShownLimit
from evenpour.job.job import Job
from evenpour.job.spark.answers import DwellAnswer, OrderAnswer, PostAnswer
from evenpour.job.spark.bench import Bench, bench
from evenpour.job.typed_words import split_pairs
from evenpour.measure.checks import Check
from evenpour.measure.quantities import Quantity, parse
from evenpour.measure.readings import Reading, ReadValue, read_value
from evenpour.measure.units import range_shown, shown
from evenpour.measure.verdicts import Verdict
from evenpour.physics.crank import dwell_angle, dwell_share, firing_interval, pulley_arc
from evenpour.tune.spark import gap_words, posts, timing_shift

FORM = "38 deg, or 63 %"
EVEN_FIRING = (
    "Sparks are taken as evenly spaced. A few narrow-angle and odd-fire engines are not; then the angles in "
    "their manual count."
)
ROTOR_FIRST = (
    "Cylinder 1's post is the one the rotor points to with cylinder 1 at its top on compression, found by "
    "the breath at its plug hole and the mark. Rotor at the other end of the cap: turn the crank once more."
)
GAP_FIRST = "Set the gap, then read the dwell, then set the timing: each moves what comes behind it."


def order(
    *,
    diameter: str | None = None,
    sheet: str | None = None,
    job: str | Job | None = None,
    units: str | None = None,
) -> OrderAnswer:
    """Which lead sits next to which, and where each cylinder's top dead centre lies.

    Args:
        diameter: Of the pulley's rim, to say the marks as arcs too.
    Raises:
        FieldProblem: no sheet, or one that does not say which way the rotor turns.
    """
    at = bench(sheet, job, units=units)
    known = at.needed()
    firing = known.values["firing_order"].value
    assert isinstance(firing, tuple)
    numbers = [int(one) for one in firing]
    direction = known.word("rotor_direction")
    if direction is None:
        raise FieldProblem(
            "rotor_direction", None, "is not on the sheet",
            remedy="Turn the engine by hand, see which way the rotor goes, and add it to the sheet",
        )  # fmt: skip
    rim = None if diameter is None else at.length(diameter, "diameter")
    return OrderAnswer(
        **at.common("spark_parts"),
        notes=[ROTOR_FIRST, EVEN_FIRING],
        firing_order=numbers,
        rotor_direction=direction,
        interval_degrees=round(360.0 * float(firing_interval(len(numbers))), 6),
        posts=[
            PostAnswer(
                cylinder=post.cylinder,
                clockwise=post.clockwise,
                anticlockwise=post.anticlockwise,
                rotor_degrees=round(360.0 * post.rotor, 6),
                crank_degrees=round(360.0 * post.crank, 6),
                mark_degrees=round(360.0 * post.mark, 6),
                shares_mark_with=post.shares,
                mark_arc=None
                if rim is None
                else at.figure(float(pulley_arc(rim, post.mark)), "length", unit="mm"),
            )
            for post in posts(numbers, direction == "clockwise")
        ],
    )


def dwell(
    words: Sequence[str] = (),
    *,
    cylinders: int | None = None,
    sheet: str | None = None,
    job: str | Job | None = None,
    units: str | None = None,
) -> DwellAnswer:
    """A dwell in degrees and per cent, held against the sheet, and which way the gap must go.

    Args:
        words: ``38 deg`` or ``63 %``, and conditions such as ``engine=cranking``. May be empty.
        cylinders: Where no sheet says how many there are.
    Raises:
        FieldProblem: what was typed is no dwell, or the number of cylinders is not known.
    """
    at = bench(sheet, job, units=units)
    count = at.sheet.cylinders if at.sheet else cylinders
    if count is None:
        raise FieldProblem("cylinders", None, "is missing", remedy="Add --sheet NAME, or --cylinders 6")
    if at.sheet and cylinders not in (None, count):
        raise FieldProblem("cylinders", cylinders, f"is not what the sheet says: {count}")
    plain, pairs = split_pairs(words)
    check = at.known.checks["dwell"]
    answer = DwellAnswer(
        **at.common("points_and_dwell"),
        notes=[GAP_FIRST],
        cylinders=count,
        angle=None,
        share=None,
        reading=None,
        limit_share=None,
        gap="",
        later=None,
    )
    if at.sheet and "points_ignition" not in at.sheet.devices:
        answer.notes.append("This engine has no points: its dwell is made by the ignition's electronics.")
    if not plain:
        if pairs:
            raise FieldProblem("dwell", None, "is missing", remedy=f"Write it like: {FORM}")
        return answer.model_copy(update={"limit_share": _limit_of_sheet(at, check, count)})
    quantity = parse(" ".join(plain), ("angle", "share"), field="dwell")
    read = _read(quantity, check, count, at)
    value = float(read.value)
    conditions = at.conditions(check, pairs)
    reading = Reading(check.id, None, (value,), None, read.u_b, read.basis, conditions, "deg")
    verdict = at.judged(reading, check)
    per_cent = at.figure(
        float(dwell_share(value, count)), "share", u=float(dwell_share(read.u_b, count)), unit="%"
    )
    return answer.model_copy(
        update={
            "angle": at.degrees(value, read.u_b),
            "share": per_cent,
            "reading": at.verdict(check, reading, verdict),
            "limit_share": _limit_share(verdict, count),
            **_trend(at, verdict, [*(note for note in verdict.notes if note != read.basis), *answer.notes]),
        }
    )


def _trend(at: Bench, verdict: Verdict, notes: list[str]) -> dict[str, object]:
    """Which way the gap goes, and what that does to the timing."""
    assert isinstance(verdict.value, float)
    gap = gap_words(verdict.value, verdict.low, verdict.high)
    if not gap or verdict.low is None or verdict.high is None:
        return {"gap": gap, "notes": notes}
    later = timing_shift(0.5 * (verdict.low + verdict.high) - verdict.value)
    amount, side = shown(abs(later), "angle", unit="deg"), "later" if later > 0.0 else "earlier"
    says = (
        f"More gap gives less dwell: {gap}. Brought to the middle of the limit, the spark comes {amount} of "
        f"crank {side}, so the timing is read again."
    )
    return {"gap": gap, "later": at.degrees(later), "notes": [says, *notes]}


def _read(quantity: Quantity, check: Check, cylinders: int, at: Bench) -> ReadValue:
    """Degrees as any reading; per cent with their own error, or the usual one of degrees."""
    if quantity.dimension == "angle":
        room = 1.0 / cylinders
        if not 0.0 <= quantity.value <= room:
            raise OutOfRange(
                "dwell", quantity.text, "has no room between two sparks",
                allowed=f"0 to {360.0 * room:g}° at the distributor for {cylinders} cylinders",
                remedy="Is it an angle of the crank? Halve it.",
            )  # fmt: skip
        return read_value(check, quantity.text, None, system=at.units)
    if not 0.0 <= quantity.value <= 1.0:
        raise OutOfRange("dwell", quantity.text, "is no share of the time", allowed="0 to 100 %")
    angle = float(dwell_angle(quantity.value, cylinders))
    usual = read_value(check, f"{angle * 360.0:.6f} deg", None, system=at.units)
    if quantity.half_width is None:
        return usual._replace(value=angle)
    u = float(dwell_angle(quantity.half_width, cylinders)) / 3.0**0.5
    return ReadValue(angle, u, "stated with the reading", "deg")


def _limit_of_sheet(at: Bench, check: Check, cylinders: int) -> ShownLimit | None:
    limits = at.sheet.limits_for(check.id) if at.sheet else ()
    if not limits:
        return None
    return _shares(limits[0].low, limits[0].high, limits[0].source, cylinders)


def _limit_share(verdict: Verdict, cylinders: int) -> ShownLimit | None:
    if verdict.source is None:
        return None
    return _shares(verdict.low, verdict.high, verdict.source, cylinders)


def _shares(low: float | None, high: float | None, source: str, cylinders: int) -> ShownLimit:
    below, above = (None if side is None else float(dwell_share(side, cylinders)) for side in (low, high))
    least, most = (None if side is None else round(side, 3) for side in (below, above))
    return ShownLimit(
        low=None if below is None else round(100.0 * below, 6),
        high=None if above is None else round(100.0 * above, 6),
        source=source,
        words=range_shown(least, most, "share", unit="%"),
    )
