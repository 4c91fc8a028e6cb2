"""The cautions of steps, and who of the job has read them."""

from __future__ import annotations

from collections.abc import Iterable

from evenpour.job.answers import CautionLine
from evenpour.job.catalogue import Catalogue
from evenpour.job.facts import Facts


def cautions_told(step: str, known: Catalogue, facts: Facts | None) -> list[CautionLine]:
    """The cautions of *step*, in its order.

    Args:
        facts: The job's; ``None`` without one, and then nobody has read any.
    """
    return cautions_of([step], known, facts)


def cautions_of(steps: Iterable[str], known: Catalogue, facts: Facts | None) -> list[CautionLine]:
    """The cautions of several steps, each once, in the order in which the steps name them.

    Args:
        facts: The job's; ``None`` without one, and then nobody has read any.
    """
    read = {fact.content["id"]: fact.told for fact in (facts.of_kind("caution") if facts else ())}
    by_step = {table["id"]: table["cautions"] for table in known.steps}
    names = dict.fromkeys(name for step in steps for name in by_step[step])
    return [
        CautionLine(
            id=name,
            title=known.cautions[name].title,
            text=known.cautions[name].text,
            sign=known.cautions[name].sign,
            read_by=read[name].who if name in read else None,
            read_at=read[name].at or None if name in read else None,
        )
        for name in names
    ]


def was_read(one: CautionLine) -> bool:
    """Whether somebody has read it on this job; who, or when, may not be known."""
    return one.read_by is not None or one.read_at is not None
