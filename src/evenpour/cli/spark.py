"""``evenpour spark``: timing, top dead centre, firing order, dwell, and how alike the cylinders are."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import click

from evenpour.cli import show
from evenpour.cli.groups import Group
from evenpour.job.answers import ShownLimit
from evenpour.job.spark.answers import (
    CylinderLine,
    CylindersAnswer,
    DeadCentreAnswer,
    DwellAnswer,
    OrderAnswer,
    SparkAnswer,
    SparkVerdict,
    TimingAnswer,
)
from evenpour.job.wording import likelihood

SURE = "It is so, odd as it looks."
DIAMETER = "Of the rim on which the marks are, like 130mm."


@click.group("spark", cls=Group)
def command() -> None:
    """Timing, top dead centre, firing order, dwell, compression: worked out and held against a sheet.

    Nothing is kept: enter a reading with evenpour add.
    """


def engine_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--sheet``, ``--job``, ``--json`` and ``--units``."""

    @click.option("--sheet", help="The engine's sheet.")
    @click.option("--job", help="A job file, or a stored job's number: its sheet.")
    @show.answer_options
    @functools.wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        return command(*args, **kwargs)

    return wrapped


@command.command("timing", context_settings={"ignore_unknown_options": True})
@click.argument("words", nargs=-1, metavar="[ANGLE|ARC] [CONDITION=...]")
@click.option("--diameter", help=DIAMETER)
@click.option("--sure", is_flag=True, help=SURE)
@engine_options
def timing(
    words: tuple[str, ...],
    diameter: str | None,
    sure: bool,
    sheet: str | None,
    job: str | None,
    as_json: bool,
    units: str | None,
) -> int:
    """Where the timing lies along the pulley's rim; a reading held against the sheet.

    ANGLE is before top dead centre, like 5deg; ARC lies along the rim from the mark of top dead centre, like
    6mm. Read by lamp, say so: speed=900rpm hose=off.
    """
    from evenpour.job.spark.timing import timing as work_out

    answer = work_out(words, diameter=diameter, sure=sure, sheet=sheet, job=job, units=units)
    return _told(answer, as_json, job, _timing, answer.reading.verdict if answer.reading else "")


@command.command("dead_centre", context_settings={"ignore_unknown_options": True})
@click.option("--forward", help="From the maker's mark to the one made turning forward: 52mm or 46deg.")
@click.option("--backward", help="From the maker's mark to the one made turning backward.")
@click.option("--between", help="Between the stop's two marks, where there is no maker's mark.")
@click.option(
    "--wheel",
    nargs=2,
    help="Readings at the stop, forward then backward, of a degree wheel that rises as the engine turns.",
)
@click.option("--diameter", help=DIAMETER)
@click.option("--stroke", help="With --rod: how far down the stop held the piston.")
@click.option("--rod", help="Length of the connecting rod between centres.")
@engine_options
def dead_centre(as_json: bool, **said: Any) -> int:
    """Top dead centre from the two places at which the piston meets a stop."""
    from evenpour.job.spark.centre import dead_centre as work_out

    answer = work_out(**said)
    return _told(answer, as_json, said["job"], _dead_centre, answer.verdict)


@command.command("order")
@click.option("--diameter", help=DIAMETER)
@engine_options
def order(diameter: str | None, sheet: str | None, job: str | None, as_json: bool, units: str | None) -> int:
    """Which lead sits next to which, and where each cylinder's top dead centre lies."""
    from evenpour.job.spark.order import order as work_out

    answer = work_out(diameter=diameter, sheet=sheet, job=job, units=units)
    return _told(answer, as_json, job, _order)


@command.command("dwell", context_settings={"ignore_unknown_options": True})
@click.argument("words", nargs=-1, metavar="[DWELL] [CONDITION=...]")
@click.option("--cylinders", type=int, help="Where no sheet says it.")
@engine_options
def dwell(
    words: tuple[str, ...],
    cylinders: int | None,
    sheet: str | None,
    job: str | None,
    as_json: bool,
    units: str | None,
) -> int:
    """Dwell in degrees and per cent, and which way the gap must go.

    DWELL is what the meter shows, at the distributor: 38deg or 63%.
    """
    from evenpour.job.spark.order import dwell as work_out

    answer = work_out(words, cylinders=cylinders, sheet=sheet, job=job, units=units)
    return _told(answer, as_json, job, _dwell, answer.reading.verdict if answer.reading else "")


def _cylinders_command(name: str, text: str) -> None:
    @command.command(name, help=text, context_settings={"ignore_unknown_options": True})
    @click.argument("words", nargs=-1, metavar="[VALUE ... UNIT] [CONDITION=...]")
    @click.option("--error", help="Of the gauge, either way, like 0.1bar; else what is usual.")
    @click.option("--sure", is_flag=True, help=SURE)
    @engine_options
    def compare(
        words: tuple[str, ...],
        error: str | None,
        sure: bool,
        sheet: str | None,
        job: str | None,
        as_json: bool,
        units: str | None,
    ) -> int:
        from evenpour.job.spark.cylinders import cylinders

        answer = cylinders(name, words, error=error, sure=sure, sheet=sheet, job=job, units=units)
        return _told(answer, as_json, job, _cylinders, answer.verdict)


_cylinders_command(
    "compression",
    "Compression of every cylinder: each judged, and how far it lies from the others.\n\n"
    "A value for each from cylinder 1 on, the unit once: 10.2 10.4 9.9 10.1 10.3 10.2 bar throttle=wide. "
    "Without values those of the job are taken.",
)
_cylinders_command(
    "leak_down",
    "Leak-down of every cylinder: each judged, and how far it lies from the others.\n\n"
    "A value for each from cylinder 1 on, the unit once: 8 9 25 7 10 8 %; - for one not read.",
)
_cylinders_command(
    "speed_drop",
    "How far the idle falls with each cylinder's spark earthed; never by pulling a live lead.\n\n"
    "A value for each from cylinder 1 on, the unit once: 60 55 65 10 60 58 rpm state=idle_warm.",
)


def _told(
    answer: Any, as_json: bool, job: str | None, printed: Callable[[Any], None], verdict: str = ""
) -> int:
    """Print the answer, cautions first; the status is 1 for what is outside."""
    if as_json:
        show.print_json(answer)
    else:
        show.cautions(answer.cautions, job)
        show.line()
        printed(answer)
        show.notice(answer.notice)
    return int(verdict == "outside")


def _notes(answer: SparkAnswer) -> None:
    for words in answer.notes:
        show.wrapped(words)


def _limit(limit: ShownLimit | None, sources: show.Sources) -> str:
    return f", limit {limit.words} {sources.mark(limit.source)}" if limit else ""


def _judged(reading: SparkVerdict, sources: show.Sources, shown: str = "", title: str = "") -> None:
    """The figure, its limit, the verdict and how sure it is."""
    title = title or reading.title.partition(",")[0]
    limit = _limit(reading.limit, sources)
    verdict = _verdict(reading.verdict, reading.p_within)
    show.wrapped(f"{title}: {shown or reading.value.shown}{limit}: {verdict}", hang="  ")
    if reading.settle:
        show.wrapped(f"To settle it: {reading.settle}", "  ")


def _verdict(word: str, p: float | None) -> str:
    mark = show.MARKS[word]
    if p is None:
        return mark
    return (
        f"{mark}, {likelihood(p)} within"
        if word == "cannot_tell"
        else f"{mark}, {likelihood(max(p, 1.0 - p))} sure"
    )


def _timing(answer: TimingAnswer) -> None:
    sources = show.Sources()
    if answer.marks:
        rows = [
            [
                mark.title,
                f"{mark.words} {sources.mark(mark.source)}",
                f"{mark.low.shown} to {mark.high.shown}" if mark.low and mark.high else "-",
                mark.when or "-",
            ]
            for mark in answer.marks
        ]
        show.table(rows, ["timing", "before top dead centre", "along the rim", "when"])
    if answer.per_degree:
        show.line(f"One degree is {answer.per_degree.shown} along the rim.")
    elif answer.marks:
        show.line("For arcs along the rim add its diameter, like --diameter 130mm.")
    if answer.reading:
        show.line()
        arc = f" ({answer.arc.shown} along the rim)" if answer.arc else ""
        _judged(answer.reading, sources, f"{answer.reading.value.shown} before top dead centre{arc}")
        show.wrapped(f"± is from: {answer.reading.basis}.")
    show.line()
    _notes(answer)
    sources.show()


def _dead_centre(answer: DeadCentreAnswer) -> None:
    _notes(answer)
    if answer.half_angle and answer.half_angle.shown != answer.half.shown:
        show.wrapped(f"That is {answer.half_angle.shown} of the crank from either mark.")
    if answer.stop_depth:
        show.wrapped(f"The stop held the piston {answer.stop_depth.shown} below its top.")
    if "±" in answer.half.shown:
        show.wrapped(show.DOUBT)


def _order(answer: OrderAnswer) -> None:
    firing = "-".join(map(str, answer.firing_order))
    show.wrapped(
        f"Firing order {firing}, rotor {answer.rotor_direction}, a spark every {answer.interval_degrees:g}° "
        "of the crank. The posts, clockwise from cylinder 1's, seen from above the cap:"
    )
    arcs = any(post.mark_arc for post in answer.posts)
    rows = [
        [
            str(post.cylinder),
            str(post.clockwise),
            str(post.anticlockwise),
            f"{post.rotor_degrees:g}°",
            f"{post.crank_degrees:g}°",
            f"{post.mark_degrees:g}°" + (f", {post.mark_arc.shown}" if post.mark_arc else ""),
            str(post.shares_mark_with or "-"),
        ]
        for post in answer.posts
    ]
    heads = [
        "lead of", "clockwise of it", "the other way", "rotor at", "crank at",
        "its top after mark 1" + (" (along the rim)" if arcs else ""), "same mark as",
    ]  # fmt: skip
    show.table(rows, heads)
    show.wrapped(
        "Rotor at: from cylinder 1's post, the way the rotor turns. Crank at: after cylinder 1 has fired."
    )
    show.line()
    _notes(answer)


def _dwell(answer: DwellAnswer) -> None:
    sources = show.Sources()
    limit_share = answer.limit_share.words if answer.limit_share else ""
    if answer.reading and answer.share:
        _judged(answer.reading, sources, f"{answer.reading.value.shown}, which is {answer.share.shown}")
        if limit_share:
            show.wrapped(f"The limit in per cent, for {answer.cylinders} cylinders: {limit_share}.")
        show.wrapped(f"± is from: {answer.reading.basis}.")
    elif answer.limit_share:
        source = sources.mark(answer.limit_share.source)
        show.wrapped(f"Wanted, in per cent, for {answer.cylinders} cylinders: {limit_share} {source}.")
    _notes(answer)
    sources.show()


def _cylinders(answer: CylindersAnswer) -> None:
    sources = show.Sources()
    show.wrapped(f"{answer.title}{_limit(answer.limit, sources)}")
    show.table(
        (_cylinder(line) for line in answer.cylinders),
        ["cylinder", "value", "verdict", "worse than the middle one of the others"],
    )
    if answer.missing:
        show.wrapped(f"Not read: cylinder {', '.join(map(str, answer.missing))}.")
    show.line()
    if answer.spread:
        _judged(answer.spread, sources, title="Largest less smallest")
    if answer.settle and not (answer.spread and answer.spread.settle == answer.settle):
        show.wrapped(f"To settle it: {answer.settle}")
    _notes(answer)
    show.wrapped(f"± is from: {answer.basis}.")
    sources.show()
    show.wrapped(show.DOUBT)


def _cylinder(line: CylinderLine) -> list[str]:
    worse = line.worse.shown if line.worse else "-"
    return [str(line.cylinder), line.value.shown, _verdict(line.verdict, line.p_within), worse]
