"""The section on stages: how far each is, what each proof says, and what was proved again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evenpour.job.answers import ClaimAnswer, RenewedLine, StageAnswer, StepAnswer
from evenpour.job.wording import told_of_each
from evenpour.record.asked import Answers
from evenpour.record.blocks import Cell, Column, Heading, Points, Row, Section, Table, section
from evenpour.record.front_page import MOST
from evenpour.record.words import cylinders, sentence, state, when

LOUD = {"stale", "overridden", "blocked"}


def stages_section(asked: Answers) -> Section | None:
    """Every stage, then every claim that was ever proved or asked for."""
    rows = tuple(_stage(stage) for stage in asked.path.stages)
    columns = (Column("Stage", 3), Column("State", 1.4, "mark"), Column("Why", 5))
    stages = Table("The stages of the job, in order", columns, rows) if rows else None
    proofs = _proofs(asked.path.claims)
    missing = tuple(Cell(sentence(why)) for why in asked.path.may_close)
    before = Points("Missing before handover", missing, loud=True) if len(missing) > MOST else None
    heading = Heading("What was proved") if proofs else None
    return section("stages", "Stages and proofs", [before, stages, heading, proofs])


def _stage(stage: StageAnswer) -> Row:
    passed = [step for step in stage.steps if step.state == "passed_over"]
    to_do = [step for step in stage.steps if step.state in ("open", "stale", "blocked")]
    small = [f"Passed over: {_step(step)}: {step.why}" for step in passed]
    if to_do and stage.state != "proved":
        small.append("Still to do: " + "; ".join(dict.fromkeys(_step(step) for step in to_do)) + ".")
    why = Cell(sentence(stage.short or stage.why), tuple(sentence(words) for words in small))
    return Row((Cell(stage.title), Cell(state(stage.state)), why), "loud" if stage.state in LOUD else "")


def _step(step: StepAnswer) -> str:
    return step.title if step.cylinder is None else f"{step.title}, cylinder {step.cylinder}"


def _proofs(claims: Iterable[ClaimAnswer]) -> Table | None:
    alike: dict[tuple[str, str], list[ClaimAnswer]] = {}
    for claim in claims:
        if claim.state != "open":
            alike.setdefault((claim.says, claim.state), []).append(claim)
    rows = tuple(_claim(group) for group in alike.values())
    columns = (Column("What must be so", 4), Column("State", 1.4, "mark"), Column("By what, since when", 4))
    return (
        Table("Everything that was proved, and whether its proof still stands", columns, rows)
        if rows
        else None
    )


def _claim(group: Sequence[ClaimAnswer]) -> Row:
    first = group[0]
    which = cylinders(claim.cylinder for claim in group)
    since = {claim.since for claim in group if claim.since}
    why = told_of_each(group)
    began = when(since.pop()) if len(since) == 1 else ""
    small = (f"since {began}",) if began and began not in why else ()
    says = Cell(first.says, (which,) if which else ())
    return Row(
        (says, Cell(state(first.state)), Cell(sentence(why.removeprefix("over: ")), small)),
        "loud" if first.state in LOUD else "",
    )


def renewed_section(asked: Answers) -> Section | None:
    """What was disturbed by work on the car, and whether it was proved again."""
    alike: dict[tuple[str, str, str], list[RenewedLine]] = {}
    for line in asked.renewed:
        if line.state != "over":  # true for a time only, and nobody's proof any more
            alike.setdefault((line.says, line.disturbed, line.state), []).append(line)
    rows = tuple(_renewed(group) for group in alike.values())
    columns = (Column("What had been proved", 4), Column("Disturbed by", 4), Column("Now", 1.6, "mark"))
    table = Table("Proofs that work on the car disturbed, and whether they were renewed", columns, rows)
    return section("renewed", "Disturbed, and proved again", [table if rows else None])


def _renewed(group: Sequence[RenewedLine]) -> Row:
    first = group[0]
    which = cylinders(line.cylinder for line in group)
    says = Cell(first.says, (which,) if which else ())
    loud = "loud" if first.state in LOUD else ""
    return Row((says, Cell(sentence(first.disturbed)), Cell(state(first.state))), loud)
