"""``evenpour whatif``: what everything would read with some things set otherwise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from evenpour.cli import show

if TYPE_CHECKING:
    from evenpour.job.whatif.answers import OfferedSettings, PredictedReading, WhatIfAnswer

EXAMPLES = """
\b
  evenpour whatif --sheet flat-six --set mixture_screw=+0.25turn
  evenpour whatif --sheet flat-six --set altitude=2000m --set fuel=E10 --units us
  evenpour whatif --sheet flat-six --set 'injector_restricted[4]=0.5' --chart lambda.svg
  evenpour whatif --sheet flat-six --set 'slit_width[3]=-6%' --set plate_rest_wrong=-0.4
  evenpour whatif --sheet flat-six --list
"""
KEY = (
    "* changed by more than a careful person's repeats would blur; ! and outside what 90 of 100 healthy cars "
    "show, so that it is seen without a reading from before."
)


@click.command("whatif", epilog=EXAMPLES)
@click.option("--sheet", required=True, help="The engine's sheet.")
@click.option(
    "--set", "settings", multiple=True, metavar="NAME=VALUE", help="Set this; as often as you like."
)
@click.option("--list", "only_list", is_flag=True, help="List what can be set on this engine.")
@click.option(
    "--chart",
    metavar="FILE.svg",
    type=click.Path(path_type=Path),
    help="Write lambda over air flow as a drawing.",
)
@show.answer_options
def command(
    sheet: str,
    settings: tuple[str, ...],
    only_list: bool,
    chart: Path | None,
    as_json: bool,
    units: str | None,
) -> None:
    """Predict every check's reading, and the mixture over air flow, with some things set otherwise.

    Surroundings are stated as they are: altitude=2000m. A part of the car takes a change with + or -, or
    what it becomes without: mixture_screw=+0.25turn, system_setting=4.2bar. A cause takes its severity from
    0, barely noticeable, to 1, gross: injector_restricted[4]=0.5. The screws stay where they were at home,
    but with a cause whose words say that they were set again since: air_leak_common=-0.5.
    """
    if only_list:
        from evenpour.job.whatif.offers import settings_offered

        offered = settings_offered(sheet, units=units)
        show.print_json(offered) if as_json else _print_offered(offered)
        return
    from evenpour.job.whatif.worked_out import whatif

    answer = whatif(sheet, settings, units=units)
    if chart is not None:
        _draw(answer, chart)
    if as_json:
        show.print_json(answer)
        return
    _print(answer)
    if chart is not None:
        show.line(f"{chart}: lambda over air flow.")
    show.notice(answer.notice)


def _draw(answer: WhatIfAnswer, file: Path) -> None:
    from evenpour.record.mixture_chart import mixture_chart, write_chart

    write_chart(mixture_chart(answer.curve, changed=bool(answer.settings)), file)


def _print(answer: WhatIfAnswer) -> None:
    show.wrapped(f"{answer.title}. {answer.home}")
    for one in answer.settings:
        show.wrapped(f"Set: {one.words}", hang="     ")
        for words in one.does:
            show.wrapped(words, "     ", hang="       ")
    if not answer.settings:
        show.wrapped("Nothing is set: this is the healthy car.")
    show.line()
    for words in answer.summary:
        show.wrapped(words, hang="  ")
    if answer.telling:
        show.heading("What tells most")
        for words in answer.telling:
            show.wrapped(f"- {words}", hang="  ")
    for group in answer.groups:
        show.heading(group.title)
        rows = [one for one in answer.readings if one.group == group.group]
        show.table(_rows(rows), ["", "check", "reads", "healthy", "change", "healthy cars", "limit"])
    show.line()
    show.wrapped(KEY, hang="  ")
    for words in (answer.curve.words, *answer.notes):
        show.wrapped(words)


def _rows(readings: Sequence[PredictedReading]) -> Iterator[list[str]]:
    """One row for the cylinders that read alike, what changed first."""
    from evenpour.job.port_words import Place, read_at

    alike: dict[tuple[str, ...], list[Place]] = {}
    for one in sorted(readings, key=lambda one: not one.changed):
        named = f"{one.title}, {one.state}" if one.state else one.title
        places = alike.setdefault((_mark(one), named, *_cells(one)), [])
        places += [] if one.cylinder is None else [(one.cylinder, one.port)]
    count = max((one.cylinder or 0 for one in readings), default=0)
    for (mark, named, *rest), places in alike.items():
        if 0 < len(places) < count:
            named += f" [{read_at(places).removeprefix('cylinders ').removeprefix('cylinder ')}]"
        yield [mark, named, *rest]


def _mark(one: PredictedReading) -> str:
    return "!" if one.changed and one.stands_out else "*" if one.changed else ""


def _cells(one: PredictedReading) -> tuple[str, ...]:
    outside = ", OUTSIDE" if one.within is False else ""
    limit = f"{one.limit.words}{outside}" if one.limit is not None else ""
    reads = one.shown if one.why is None else f"none: {one.why}"
    return reads, one.healthy_shown, one.change_shown, one.healthy_cars.words, limit


def _print_offered(offered: OfferedSettings) -> None:
    kinds = {
        "condition": "Surroundings, stated as they are",
        "parameter": "Parts of the car: what it becomes, or a change with + or -",
        "cause": "Causes, by severity",
    }
    for kind, title in kinds.items():
        show.heading(title)
        rows = [one for one in offered.settings if one.kind == kind]
        show.table([f"{one.name}{'[k]' if one.cylinders else ''}", one.title, one.words] for one in rows)
    show.line()
    show.wrapped(
        "[k]: a cylinder's number, like injector_restricted[4]=0.5; of a port or a line, the cylinder "
        "that it feeds."
    )
    show.notice(offered.notice)
