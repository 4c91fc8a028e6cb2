"""Causes and readings that are told together: one cause at several cylinders, readings left out alike."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache

from evenpour import data
from evenpour.job.causes.answers import (
    BETTER,
    SAME,
    WORSE,
    CauseLine,
    CauseName,
    CausesAnswer,
    NextCheckLine,
    ReasonLine,
    RepairLine,
)
from evenpour.job.port_words import Place, at_each, where_words
from evenpour.path.words import cylinder_list

CLOSE = 3.0  # to 1: odds up to which two are said not to be told apart
SETS = 3  # of cylinders, named of one cause
ALIKE = 1.5  # how much likelier a cause may be at one cylinder than at another to be weighed and told with it

BESIDES = 0.05  # probability of a further cause, from which it is said
# of a line, from which it is said: more than the quarter of faulty cars that have two whatever was read
OFTENER = 1.0 / 3.0
MOSTLY = 0.5  # of a line, from which it is rather two things than one

FAINT = "a little"  # how strongly the faintest reason speaks
LEAST_SAID = 0.02  # probability under which a cause takes no line of its own
LEAST_SILENT = 0.1  # the same of a cause that no reading speaks for

SURE_ENOUGH = 0.5  # of a repair's probability, above which its cost is set against one more check
LEAST_REPAIR = 0.05  # probability under which a repair is not told
REPAIRS = 4  # told, besides those that are left for now
LONG = 2  # steps before a check, from which they are told once of several checks that want the same


@cache
def cause_titles() -> Mapping[str, str]:
    """What is wrong, by a cause's id."""
    return {str(one["id"]): str(one["title"]) for one in data.shipped("causes.toml").values["cause"]}


@cache
def several_titles() -> Mapping[str, str]:
    """The same of several cylinders at once, where the title speaks of one."""
    causes = data.shipped("causes.toml").values["cause"]
    return {str(one["id"]): str(one["several"]) for one in causes if "several" in one}


@cache
def _parts() -> Mapping[str, str]:
    """The part that is wrong, by a cause's id."""
    return {str(one["id"]): str(one["part"]) for one in data.shipped("causes.toml").values["cause"]}


def alike(lines: Sequence[CauseLine]) -> list[list[CauseLine]]:
    """The same cause at cylinders that are as likely goes together: nothing read so far says which it is. So
    do two causes of which one is the same throughout, and the other is as likely at several cylinders; and
    one cause at several sets of cylinders, however likely each.
    """
    groups: list[list[CauseLine]] = []
    for line in lines:
        for group in groups:
            first = group[0]
            differ = {_differing(one, line) for one in group}
            as_likely = first.probability < ALIKE * line.probability
            if at_sets([first, line]) or (len(differ) == 1 and None not in differ and as_likely):
                group.append(line)
                break
        else:
            groups.append([line])
    return sorted(groups, key=lambda group: -whole(group))


def at_sets(group: Sequence[CauseLine]) -> bool:
    """Whether lines tell of one cause at three cylinders or more, each of its own set of them."""
    return (
        all(line.also for line in group) and len({one.cause for line in group for one in named_by(line)}) == 1
    )


def one_stands_out(group: Sequence[CauseLine]) -> bool:
    """Whether the first line of a group tells what it is: of several as likely cylinders, none does."""
    return len(group) == 1 or (at_sets(group) and group[0].probability > MOSTLY * whole(group))


def _differing(one: CauseLine, other: CauseLine) -> str | None:
    """Which of its causes is at another cylinder, where two lines tell of the same but for that."""
    if (one.cause, one.with_ and one.with_.cause) != (other.cause, other.with_ and other.with_.cause):
        return None
    if one.also or other.also:
        return None
    first = one.cylinder != other.cylinder
    second = (one.with_ and one.with_.cylinder) != (other.with_ and other.with_.cylinder)
    return None if first == second else "first" if first else "second"


def said(reasons: Sequence[ReasonLine]) -> list[ReasonLine]:
    """What speaks for a cause, or against it, as it is told: without what only fits in with the rest; and
    those together that no figure shows by itself, where the strongest of them stands.
    """
    telling = [one for one in reasons if not one.words.endswith(SAME)]
    for ending in (BETTER, WORSE):
        some = [one for one in telling if one.words.endswith(f": {ending}")]
        if len(some) > 1:
            names = "; ".join(one.words.removesuffix(f": {ending}") for one in some)
            words = f"{ending}, though no figure alone shows it: {names}"
            telling[telling.index(some[0])] = some[0].model_copy(update={"words": words})
            telling = [one for one in telling if one not in some[1:]]
    return telling


def worth_a_line(group: Sequence[CauseLine], *, read: bool) -> bool:
    """Whether a cause takes a line of its own: a faint one that stands there for how common it is would look
    like a finding.

    Args:
        read: Whether anything was read that could speak for one.
    """
    spoken_for = any(_shows(reason) for line in group for reason in line.for_)
    return whole(group) >= (LEAST_SAID if spoken_for or not read else LEAST_SILENT)


def _shows(reason: ReasonLine) -> bool:
    """Whether a reason is one that can be told: a figure shows it, or it weighs more than a little."""
    faint = reason.words.endswith(BETTER) and reason.strength == FAINT
    return not (faint or reason.words.endswith(SAME))


def whole(group: Sequence[CauseLine]) -> float:
    """How likely it is that one of them it is."""
    return math.fsum(one.probability for one in group)


def besides_words(group: Sequence[CauseLine]) -> str:
    """``in 15 of these 32 % a second thing is wrong besides, mostly that the mixture screw stands too rich``;
    empty where that is hardly so, or no oftener than of any car.
    """
    whole_of, second = whole(group), _besides(group)
    if second < max(BESIDES, OFTENER * whole_of):
        return ""
    some, all_ = (round(100.0 * one) for one in (second, whole_of))
    share = f"in all of these {all_} %" if some >= all_ else f"in {some} of these {all_} %"
    line = group[0]
    mostly = f"mostly that {cause_titles()[line.another]}" if line.another else "no one more than others"
    if line.another == line.cause:
        mostly = "mostly the same at another cylinder"
    return f"{share} a second thing is wrong besides, {mostly}"


def rather_two(group: Sequence[CauseLine]) -> bool:
    """Whether in most of a line something else is wrong besides: mending what it names alone is then rather
    not enough.
    """
    return _besides(group) > MOSTLY * whole(group)


def _besides(group: Sequence[CauseLine]) -> float:
    return math.fsum(one.with_another for one in group)


def group_says(group: Sequence[CauseLine]) -> str:
    """``the injector is clogged (cylinder 2, 3 or 5)``."""
    line = group[0]
    if len(group) == 1:
        return line.says
    if at_sets(group):
        sets = [one.says.rpartition("(")[2].removesuffix(")") for one in group]
        some, all_ = (round(100.0 * one) for one in (line.probability, whole(group)))
        first = f"{sets[0]} in {some} of these {all_} %" if some < all_ else sets[0]
        said = [first, *sets[1:SETS], *["others"] * (len(sets) > SETS)]
        return f"{line.says.rpartition('(')[0]}({'; or '.join(said)})"
    if line.with_ is not None and len({one.cylinder for one in group}) == 1:
        part = _parts()[line.with_.cause]
        seconds = [(one.with_.cylinder or 0, one.with_.port) for one in group if one.with_ is not None]
        head, _, tail = line.says.rpartition(f"({where_words(part, seconds[:1])})")
        return f"{head}({where_words(part, seconds)}){tail}"
    part, places = _parts()[line.cause], [(one.cylinder or 0, one.port) for one in group]
    return line.says.replace(f"({where_words(part, places[:1])})", f"({where_words(part, places)})")


def apart_words(names: Sequence[CauseName]) -> list[str]:
    """Causes by what is wrong, the cylinders of one together."""
    found: dict[str, list[Place]] = {}
    for one in names:
        found.setdefault(one.cause, []).extend([(one.cylinder, one.port)] if one.cylinder else [])
    titles = cause_titles()
    return [
        f"{titles[cause]} ({where_words(_parts()[cause], places)})" if places else titles[cause]
        for cause, places in found.items()
    ]


def not_told_apart(answer: CausesAnswer) -> list[str]:
    """What the readings leave undivided and nearly as likely: ``the line is restricted ...; or the ...``, and
    the check that tells them apart, if any does.
    """
    groups = [apart_words(close_calls(names, answer.causes)) for names in answer.undivided]
    checks = [*answer.divided_by, *[""] * len(groups)]
    return [
        f"{'; or '.join(words)}{f'. What tells them apart: {check}' if check else ''}"
        for words, check in zip(groups, checks, strict=False)
        if len(words) > 1
    ]


def close_calls(names: Sequence[CauseName], lines: Sequence[CauseLine]) -> list[CauseName]:
    """Those of *names* that are nearly as likely as the likeliest of them, each with all its cylinders.

    Readings may leave causes undivided that are not equally common; at 93 to 7 nobody would say so. Nor are
    two causes rivals that are rather both at work: only where one is told without the others it counts.
    """
    rather = rivals(names, lines)
    chance, _ = _apart_and_together(rather, lines)
    most = max(chance.values(), default=0.0)
    return [one for one in rather if most > 0.0 and CLOSE * chance[one.cause] >= most]


def rivals(names: Sequence[CauseName], lines: Sequence[CauseLine]) -> list[CauseName]:
    """Those of *names* that are told rather without another of them than together with one."""
    apart, together = _apart_and_together(names, lines)
    return [one for one in names if apart[one.cause] >= together[one.cause]]


def _apart_and_together(
    names: Sequence[CauseName], lines: Sequence[CauseLine]
) -> tuple[dict[str, float], dict[str, float]]:
    """How likely each cause of *names* is without another of them, and together with one."""
    apart, together = (dict.fromkeys((one.cause for one in names), 0.0) for _ in range(2))
    for line in lines:
        causes = {one.cause for one in named_by(line) if one in names}
        side = apart if len(causes) == 1 else together
        for cause in causes:
            side[cause] += line.probability
    return apart, together


def named_by(line: CauseLine) -> list[CauseName]:
    """All that a line says is wrong."""
    second = [] if line.with_ is None else [line.with_]
    return [CauseName(cause=line.cause, cylinder=line.cylinder, port=line.port), *second, *line.also]


def cautions_once(
    checks: Sequence[NextCheckLine], repairs: Sequence[RepairLine] = ()
) -> list[tuple[str, str]]:
    """Cautions of several checks and repairs, each once, with those that it goes before by their numbers:
    ``checks 2 to 4; repair 1``; empty of all. The ones that go before most first.
    """
    of: dict[str, dict[str, list[int]]] = {}
    nouns: Mapping[str, Sequence[NextCheckLine | RepairLine]] = {"check": checks, "repair": repairs}
    for noun, lines in nouns.items():
        for number, one in enumerate(lines, start=1):
            for name in one.cautions:
                of.setdefault(name, {}).setdefault(noun, []).append(number)
    counts = {name: sum(map(len, its.values())) for name, its in of.items()}
    return [
        (name, "" if counts[name] == len(checks) + len(repairs) else _numbered(of[name]))
        for name in sorted(of, key=lambda one: -counts[one])
    ]


def _numbered(some: Mapping[str, Sequence[int]]) -> str:
    return "; ".join(f"{noun}{'s' * (len(its) > 1)} {cylinder_list(its)}" for noun, its in some.items())


def told_repairs(repairs: Sequence[RepairLine]) -> list[RepairLine]:
    """Those that are told: the best, the first of any other that is likelier than not, and what is
    likely to be needed but left for now.
    """
    likely = [one for one in repairs if one.probability >= LEAST_REPAIR]
    open_ = [one for one in likely if not one.left]
    first = {one.remedy: one for one in reversed(open_[REPAIRS:]) if one.probability >= SURE_ENOUGH}
    more = {id(one) for remedy, one in first.items() if all(one.remedy != remedy for one in open_[:REPAIRS])}
    told = [one for n, one in enumerate(open_) if n < REPAIRS or id(one) in more]
    return [*told, *[one for one in likely if one.left]]


def same_first(befores: Sequence[Sequence[object]]) -> list[int | None]:
    """Of each check the number, from 0, of the one told earlier that wants the same steps first; None where
    none does, or where they are so few that they are told again.
    """
    return [
        next((n for n, other in enumerate(befores[:at]) if list(other) == list(one)), None)
        if len(one) >= LONG
        else None
        for at, one in enumerate(befores)
    ]


def left_out_because(left_out: Sequence[str]) -> dict[str, list[str]]:
    """Readings that do not count, by the reason."""
    since: dict[str, list[str]] = {}
    for words in left_out:
        what, _, why = words.rpartition(": ")
        since.setdefault(why, []).append(what)
    return since


def worth_words(one: RepairLine, repairs: Sequence[RepairLine]) -> str:
    """A repair worth doing, in words, with all cylinders that want the same as surely: ``clean or renew the
    injector, cylinders 4 and 5``.
    """
    same = worth_with(one, repairs)
    if len(same) < 2:
        return f"{one.remedy}{repair_place(one)}"
    return f"{one.remedy}, {at_each(one.part, [(each.cylinder or 0, each.port) for each in same])}"


def worth_with(one: RepairLine, repairs: Sequence[RepairLine]) -> list[RepairLine]:
    """The repair with the same ones at other cylinders that are likelier than not as well, by cylinder."""
    same = [
        other
        for other in repairs
        if (other.remedy, other.part) == (one.remedy, one.part)
        and other.cylinder is not None
        and not other.hangs
        and not other.left
        and other.probability >= SURE_ENOUGH
    ]
    return sorted(same, key=lambda other: other.cylinder or 0) if one in same else [one]


def repair_place(one: RepairLine) -> str:
    """Where a repair is done, to follow it: ``, cylinder 4``; empty where that needs no telling.

    Of a part that was exchanged, and is not back, also where it hangs: ``; now at port 1, ...``.
    """
    if one.cylinder is None:
        return ""
    hangs = f"; {one.hangs}" if one.hangs else ""
    return f", {where_words(one.part, [(one.cylinder, one.port)])}{hangs}"
