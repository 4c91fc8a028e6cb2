"""``evenpour causes``: what may be wrong, why, and which check to make next."""

from __future__ import annotations

import math
from collections.abc import Sequence

import click

from evenpour.cli import show
from evenpour.cli.waiting import progress
from evenpour.job.causes.answers import CauseLine, CausesAnswer, NextCheckLine, RepairLine
from evenpour.job.causes.groups import (
    alike,
    besides_words,
    cautions_once,
    group_says,
    left_out_because,
    not_told_apart,
    one_stands_out,
    rather_two,
    repair_place,
    said,
    same_first,
    told_repairs,
    whole,
    worth_a_line,
)

REASONS = 3
MENDED = 2  # readings told that would be others with the leading cause mended
LEFT_OUT = 4  # readings told of those that do not count for one reason


@click.command("causes")
@show.job_argument
@show.answer_options
def command(job: str, as_json: bool, units: str | None) -> int:
    """Explain all readings of JOB together: what may be wrong, why, and the check that tells most."""
    from evenpour.job import open_job
    from evenpour.job.causes.kept import kept_answer

    opened = open_job(job, units=units)
    with progress() as tell:
        answer = kept_answer(opened, tell=tell)
    if as_json:
        show.print_json(answer)
    else:
        print_causes(answer)
        show.notice(answer.notice)
    return 0


def print_causes(answer: CausesAnswer) -> None:
    """Clashes first, then the causes with their reasons, what cannot be told apart, and what to do next."""
    for clash in answer.clashes:
        slips = f" A slip? {' '.join(one[0].upper() + one[1:] for one in clash.slips)}" if clash.slips else ""
        sure = f"{show.per_cent(clash.probability, 0)} that it does not belong"
        said = f"{clash.words[0].upper()}{clash.words[1:]}"
        show.wrapped(f"? {said}{f' ({sure})' if clash.probability < 1.0 else ''}.{slips}", hang="  ")
    show.heading("What may be wrong")
    sound = f"{_share(answer.nothing_wrong)}  nothing that is known here is wrong"
    groups = [one for one in alike(answer.causes) if worth_a_line(one, read=answer.readings > 0)]
    above = [one for one in groups if whole(one) > answer.nothing_wrong]
    for number, group in enumerate(above):
        _cause(group, leading=number == 0)
    show.wrapped(sound)
    for number, group in enumerate(groups[len(above) :], start=len(above)):
        _cause(group, leading=number == 0)
    told = math.fsum(whole(one) for one in groups)
    rest = answer.others + math.fsum(one.probability for one in answer.causes) - told
    if rest >= 0.005:
        show.wrapped(f"{_share(rest)}  any of the other causes")
    if answer.unexplained >= 0.005:
        show.wrapped(f"{_share(answer.unexplained)}  something that is not known here: the readings clash")
    if answer.all_well:
        show.wrapped(answer.all_well)
    for words in answer.notes:
        show.wrapped(words)
    for words in not_told_apart(answer):
        show.wrapped(f"These readings cannot tell apart: {words}.", hang="  ")
    repairs = told_repairs(answer.repairs)
    _cautions(answer.next_checks, repairs)
    if answer.worth_doing:
        show.heading("Worth doing now, before more checks")
        show.wrapped(answer.worth_doing + ".", "  ")
    if answer.next_checks:
        show.heading("Checks that tell most for their time")
        _next(answer.next_checks)
    if repairs:
        _repairs(repairs, answer.hour_of_work)
    _foot(answer)


def _cautions(checks: Sequence[NextCheckLine], repairs: Sequence[RepairLine]) -> None:
    """Cautions before anything that is to be done, each once, those together that go before the same."""
    from evenpour.job.catalogue import catalogue

    known = catalogue().cautions
    told: dict[str, list[str]] = {}
    for name, where in cautions_once(checks, repairs):
        told.setdefault(where, []).append(known[name].title)
    if told:
        show.heading("CAUTION, read first:")
        for where, titles in told.items():
            before = f"{where[0].upper()}{where[1:]}" if where else "Before all that follows"
            show.wrapped(f"{before}: {'; '.join(titles)}.", "  ", hang="    ")
        show.wrapped("In full: with the step of each.", "  ")


def _repairs(repairs: Sequence[RepairLine], hour: float) -> None:
    from evenpour.job.catalogue import catalogue

    titles = {str(one["id"]): str(one["title"]) for one in catalogue().steps}
    show.heading("Repairs, the likeliest to help for what it takes first")
    sources = show.Sources()
    for number, (one, like) in enumerate(
        zip(repairs, same_first([one.before for one in repairs]), strict=True), start=1
    ):
        where = repair_place(one)
        parts = f" and {one.cost:g} for parts" if one.cost else ""
        takes = f"about {one.minutes:g} min{parts}"
        likely = f"{show.per_cent(one.probability, 0)} likely to be needed"
        steps = ", ".join(titles[name] for name in one.before)
        first = f"; first: {steps if like is None else f'the same steps as before repair {like + 1}'}"
        whole = f" (evenpour path JOB --step {one.step})" if one.step else ""
        takes = f"{takes} {sources.mark(one.source)}{first if steps else ''}{whole}"
        left = f". {one.left or one.care}" if one.left or one.care else ""
        show.wrapped(f"{number}. {one.remedy}{where}: {likely}, {takes}{left}", hang="   ")
    sources.show()
    show.wrapped("Each with the step in which it is done, or which proves it afterwards.")
    show.wrapped(f"An hour of work counts as {hour:g} in the money of the parts; yours: evenpour repairs")


def _foot(answer: CausesAnswer) -> None:
    if answer.left_out or answer.experience:
        show.line()
    for why, whats in left_out_because(answer.left_out).items():
        more = f"; and {len(whats) - LEFT_OUT} more" if len(whats) > LEFT_OUT else ""
        show.wrapped(f"Not counted, because {why}: {'; '.join(whats[:LEFT_OUT])}{more}.", hang="  ")
    if answer.experience:
        show.wrapped(f"{answer.experience}.")


def _share(p: float) -> str:
    return f"{100.0 * p:3.0f} %"


def _cause(group: Sequence[CauseLine], *, leading: bool) -> None:
    line = group[0]
    bad = "" if line.severity_words == "cannot tell" else f"; if so, {line.severity_words}"
    besides = besides_words(group)
    second = f" ({besides})" if besides else ""
    show.wrapped(f"{_share(whole(group))}  {group_says(group)}{bad}{second}", hang="       ")
    if line.way:
        show.wrapped(f"most likely so: {line.way}", "       ", hang="         ")
    telling, against = said(line.for_), said(line.against)
    for reason in telling[:REASONS]:
        show.wrapped(f"speaks {reason.strength} for it: {reason.words}", "       + ", hang="         ")
    for reason in against[:REASONS]:
        show.wrapped(f"speaks {reason.strength} against it: {reason.words}", "       - ", hang="         ")
    if line.remedy:
        show.wrapped(f"remedy: {line.remedy}", "       ")
    if leading and line.if_mended and one_stands_out(group):
        words = "; ".join(line.if_mended[:MENDED])
        alone = ", with nothing else wrong" if rather_two(group) else ""
        show.wrapped(f"mended{alone}, it would read: {words}", "       ", hang="         ")


def _next(checks: Sequence[NextCheckLine]) -> None:
    """The checks; steps that several of them want first are told once."""
    told = [one.before if "; first: " in one.why else [] for one in checks]
    for number, (one, like) in enumerate(zip(checks, same_first(told), strict=True), start=1):
        why, first, _ = one.why.partition("; first: ")
        steps = f"; first: the same steps as before check {like + 1}" if first and like is not None else None
        said = one.why if steps is None else f"{why}{steps}"
        whole = f" (evenpour path JOB --step {one.step})" if one.step else ""
        show.wrapped(f"{number}. {said}; about {one.minutes:.0f} min{whole}", hang="   ")
