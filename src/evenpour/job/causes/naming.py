"""What a hypothesis is called, and where it sits: by its cylinder, and the port that feeds it."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.causes.suspects import Suspect
from evenpour.causes.tried import PAIR
from evenpour.job.causes.answers import CauseName
from evenpour.job.causes.case import Case
from evenpour.job.causes.groups import several_titles
from evenpour.job.port_words import at_each, port_of, where_words
from evenpour.path.words import listed

_COUNTS = {2: "two", 3: "three"}


def name_of(case: Case, h: int) -> CauseName:
    """A hypothesis by its cause and where it sits."""
    one = case.explanation.suspects[h]
    return CauseName(cause=one.id, cylinder=one.cylinder, port=port_at(case, one))


def port_at(case: Case, one: Suspect) -> int | None:
    """The port that feeds a suspect's cylinder, where it has to do with it and has another number."""
    return None if one.cause is None else port_of(case.kind.design.line_map, one.cause.part, one.cylinder)


def titled(case: Case, one: Suspect) -> str:
    """What is wrong, and where: ``the injector is clogged (cylinder 4)``."""
    assert one.cause is not None
    return f"{one.cause.title}{_where(case, one)}"


def at_all(case: Case, some: Sequence[Suspect]) -> str:
    """One cause at several cylinders: ``the injector is clogged (cylinders 2, 4 and 6)``."""
    return f"{_several_title(some[0])} ({_places(case, some)})"


def _several_title(main: Suspect) -> str:
    assert main.cause is not None
    return several_titles().get(main.cause.id, main.cause.title)


def _places(case: Case, some: Sequence[Suspect]) -> str:
    cause = some[0].cause
    assert cause is not None
    return at_each(
        cause.part, [(one.cylinder, port_at(case, one)) for one in some if one.cylinder is not None]
    )


def things(some: Sequence[Suspect]) -> list[list[Suspect]]:
    """Several causes as they are told: one cause at several cylinders is one thing, two of a kind alone are
    two.
    """
    found: dict[str, list[Suspect]] = {}
    for one in some:
        found.setdefault(one.id, []).append(one)
    return [[one] for one in some] if len(some) == PAIR else list(found.values())


def at_once(case: Case, some: Sequence[Suspect]) -> str:
    """Several causes at once: ``two things are wrong at once: the screw stands too rich, and ...``.

    The ways that a title may list stand behind a comma: one colon in a sentence is enough.
    """
    every = [_thing(case, one) for one in things(some)]
    if len(every) == 1:
        return every[0]
    told = ", and ".join(one.replace(": ", ", ") for one in every)
    return f"{_COUNTS.get(len(every), 'several')} things are wrong at once: {told}"


def _thing(case: Case, some: Sequence[Suspect]) -> str:
    return at_all(case, some) if some[1:] else titled(case, some[0])


def shortly(case: Case, one: Suspect) -> str:
    """The same without the ways that a title may list."""
    if one.cause is None:
        return "nothing is wrong"
    return f"{one.cause.title.partition(':')[0]}{_where(case, one)}"


def all_shortly(case: Case, some: Sequence[Suspect]) -> str:
    """One cause, several, or one at several cylinders, without the ways that a title may list."""
    return listed(
        [
            f"{_several_title(one[0]).partition(':')[0]} ({_places(case, one)})"
            if one[1:]
            else shortly(case, one[0])
            for one in things(some)
        ]
    )


def _where(case: Case, one: Suspect) -> str:
    if one.cause is None or one.cylinder is None:
        return ""
    return f" ({where_words(one.cause.part, [(one.cylinder, port_at(case, one))])})"
