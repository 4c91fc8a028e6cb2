"""The sections on causes: what may be wrong and why, and what the model says of the car so."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.job.causes.answers import CauseLine, ReasonLine
from evenpour.job.causes.considered import Considered
from evenpour.job.causes.groups import alike, group_says, not_told_apart, said, whole
from evenpour.job.wording import likelihood
from evenpour.record.blocks import Block, Cell, Column, Figure, Points, Row, Section, Table, Words, section
from evenpour.record.charts import Chart, Sketch
from evenpour.record.mixture_chart import mixture_sketch
from evenpour.record.words import counted, sentence

MOST = 5  # causes told with their reasons; less likely ones are counted together
REASONS = 3  # of each side
LEAST = 0.03  # below, a cause is not told by name
HOW = (
    "Worked out from the readings that stand when this record was made: each cause is weighed by how well it "
    "explains all of them. It says what to look at, and proves nothing by itself."
)
MODEL = "Figures of a model, none of them measured."
TRIED = f"What this engine would do with the likeliest cause in it. {MODEL}"
HEALTHY = f"What this engine would do with nothing wrong. {MODEL}"


def causes_section(found: Considered | None) -> Section | None:
    """The likeliest causes with what speaks for and against each."""
    if found is None:
        return None
    answer = found.answer
    groups = [group for group in alike(answer.causes) if whole(group) >= LEAST][:MOST]
    columns = (Column("What may be wrong", 3), Column("How likely", 1.4, "mark"), Column("Why", 5))
    rows = [_row(group) for group in groups]
    sound = Row(
        (Cell("Nothing that is known here seems wrong"), Cell(likelihood(answer.nothing_wrong)), Cell())
    )
    if answer.nothing_wrong >= LEAST:
        rows.insert(0 if answer.nothing_wrong >= max(map(whole, groups), default=0.0) else len(rows), sound)
    rest = max(0.0, 1.0 - answer.nothing_wrong - sum(map(whole, groups)))
    others = Words(f"All other causes together: {likelihood(rest)}.", small=True) if rest >= LEAST else None
    table = Table("Causes considered, the likeliest first", columns, tuple(rows)) if rows else None
    how = Words(f"{HOW} {counted(answer.readings, 'reading')} explained.", small=True)
    apart = [Words(f"These readings cannot tell apart: {words}.") for words in not_told_apart(answer)]
    return section("causes", "Causes considered", [how, table, others, *apart, _next(found)])


def _row(group: Sequence[CauseLine]) -> Row:
    one = group[0]
    why = [f"for: {words}" for words in _reasons(one.for_)]
    why += [f"against: {words}" for words in _reasons(one.against)]
    way = f"most likely so: {one.way}" if one.way else ""
    says = Cell(sentence(group_says(group)), tuple(filter(None, (one.severity_words, way, one.remedy))))
    return Row((says, Cell(likelihood(whole(group))), Cell("", tuple(why))))


def _reasons(lines: Sequence[ReasonLine]) -> list[str]:
    return [f"{one.words} ({one.strength})" for one in said(lines)[:REASONS]]


def _next(found: Considered) -> Points | None:
    cells = [Cell(sentence(found.answer.worth_doing))] if found.answer.worth_doing else []
    return Points("Worth doing now", tuple(cells)) if cells else None


def snapshot_sketch(found: Considered | None) -> list[Sketch]:
    """What is drawn of the model: the mixture over air flow, or nothing."""
    if found is None or found.snapshot is None:
        return []
    return [mixture_sketch(found.snapshot.curve, changed=bool(found.tried), name="w")]


def snapshot_section(found: Considered | None, charts: Sequence[Chart]) -> Section | None:
    """The mixture over air flow, and what the model says of the states the engine runs in."""
    if found is None or found.snapshot is None:
        return None
    answer, changed = found.snapshot, bool(found.tried)
    said = f"{TRIED} Set: {found.tried}." if changed else HEALTHY
    blocks: list[Block] = [
        Words(said),
        *(Figure(chart.svg, chart.alt, chart.caption) for chart in charts),
        Points("As it would run", tuple(Cell(sentence(one)) for one in answer.summary)),
    ]
    if changed and answer.telling:
        telling = tuple(Cell(sentence(one)) for one in answer.telling)
        blocks.append(Points("What would read otherwise", telling))
    return section("what-if", "On the model", blocks)
