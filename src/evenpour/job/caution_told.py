"""The cautions of one step, and who of the job has read them."""

from __future__ import annotations

from evenpour.job.answers import CautionLine
from evenpour.job.catalogue import Catalogue
from evenpour.job.facts import Facts


def cautions_told(step: str, known: Catalogue, facts: Facts | None) -> list[CautionLine]:
    """The cautions of *step*, in its order.

    Args:
        facts: The job's; ``None`` without one, and then nobody has read any.
    """
    read = {fact.content["id"]: fact.told for fact in (facts.of_kind("caution") if facts else ())}
    names = next(table["cautions"] for table in known.steps if table["id"] == step)
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
