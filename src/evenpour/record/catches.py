"""The section on catches: what was caught, how even it was, and what that says of every part."""

from __future__ import annotations

from collections.abc import Sequence

from evenpour.job.answers import CatchAnswer, PartAnswer, RunAnswer
from evenpour.job.wording import catch_verdict, likelihood, part_name, shares, size_if_off
from evenpour.measure.units import with_minus
from evenpour.measure.verdicts import SURE
from evenpour.record.asked import Answers
from evenpour.record.blocks import (
    Block,
    Cell,
    Column,
    Figure,
    Heading,
    Points,
    Row,
    Section,
    Table,
    Words,
    section,
)
from evenpour.record.charts import Chart
from evenpour.record.words import (
    THROUGH,
    opening,
    run_kind,
    sentence,
    spread_words,
    when,
)


def catches_section(asked: Answers, charts: Sequence[Chart]) -> Section | None:
    """The charts, the amounts, the evenness of each kind of run, and each part; nothing without a catch."""
    catch = asked.catch
    if catch is None or not catch.runs:
        return None
    figures = [Figure(chart.svg, chart.alt, chart.caption) for chart in charts]
    blocks: list[Block | None] = [*figures, *_caught(catch)]
    blocks += [Heading("How even"), _evenness(catch)] if catch.spread_by_run else []
    blocks += [Heading("What it says of each part"), _parts(catch)] if catch.parts else []
    return section("catches", "Catches", [*blocks, *_remarks(catch, closed=asked.closed)])


def _caught(catch: CatchAnswer) -> list[Block]:
    bases = {run.basis for run in catch.runs}
    common = bases.pop() if len(bases) == 1 else ""
    ports = max(len(run.amounts) for run in catch.runs)
    columns = (
        Column("Catch", 4.2, struck=True),
        *(Column(f"Port {port}", 1.5, "number", struck=True) for port in range(1, ports + 1)),
    )
    rows = tuple(_run(run, ports, common) for run in catch.runs)
    table = Table("What was caught, as typed, by port", columns, rows)
    return [table, Words(sentence(f"measured with: {common}"), small=True)] if common else [table]


def _run(run: RunAnswer, ports: int, common: str) -> Row:
    kind = f"Catch {run.catch + 1}: {THROUGH.get(run.through, run.through)}, {opening(run.opening)}"
    small = [when(run.at)] if run.at else []
    seconds = list(dict.fromkeys(f"{duration:g} s" for duration in run.durations))
    small += [f"caught for {', '.join(seconds)}"] if seconds else []
    small += [f"exchanged: {', '.join(run.swaps)}"] if run.swaps else []
    small += [run.basis] if run.basis != common else []
    small += ["discarded: not counted"] if run.discarded else []
    small += run.notes
    typed = [text if text.strip() else "lost" for text in run.typed]
    typed += ["–"] * (ports - len(typed))
    return Row(
        (Cell(kind, tuple(small)), *(Cell(text) for text in typed)), "replaced" if run.discarded else ""
    )


def _evenness(catch: CatchAnswer) -> Table:
    rows = []
    for key, spread in catch.spread_by_run.items():
        limit, u = catch.limit_by_run.get(key), catch.u_by_run.get(key)
        verdict, sure = catch_verdict(catch, key)
        rows.append(
            Row(
                (
                    Cell(run_kind(key)),
                    Cell(spread_words(spread, u)),
                    Cell(verdict, (sure,) if sure else ()),
                    Cell("no limit on the sheet" if limit is None else f"at most {100.0 * limit:g} %"),
                ),
                "loud" if verdict == "uneven" else "",
            )
        )
    columns = (
        Column("Kind of catch", 3),
        Column("Spread", 2, "value"),
        Column("Verdict", 3, "verdict"),
        Column("Limit", 2),
    )
    return Table("Spread: largest less smallest, as a share of the mean", columns, tuple(rows))


def _parts(catch: CatchAnswer) -> Table:
    told = shares(catch)
    columns = (
        Column("Part", 2),
        Column("Pours, against the mean", 3, "value"),
        Column("What that says", 4, "verdict"),
    )
    rows = tuple(
        Row(
            (
                Cell(part_name(part).capitalize(), (part.hangs,) if part.hangs else ()),
                Cell(_deviation(part)),
                _verdict(part, told[part.part, part.cylinder]),
            ),
            "loud" if part.p_off >= SURE else "",
        )
        for part in catch.parts
    )
    return Table("Each port, line and injector, where its effect shows most", columns, rows)


def _deviation(part: PartAnswer) -> str:
    if 1.0 - SURE < part.p_off < SURE:
        return f"if off, {size_if_off(part)}"
    share = with_minus(f"{100.0 * part.deviation:+.1f}")
    return f"{'0.0' if share in ('+0.0', '0.0') else share} ± {200.0 * part.u:.1f} %"


def _verdict(part: PartAnswer, share: float) -> Cell:
    if part.p_off >= SURE:
        return Cell(
            "off", (f"{likelihood(part.p_off)} sure: pours too {'much' if part.deviation > 0 else 'little'}",)
        )
    if part.p_off <= 1.0 - SURE:
        return Cell("in order", (f"{likelihood(1.0 - part.p_off)} sure",))
    return Cell("cannot tell", (f"{likelihood(share)} that it is off",))


def _remarks(catch: CatchAnswer, *, closed: bool) -> list[Block]:
    found: list[Block] = []
    if catch.undivided:
        together = [
            Cell(sentence(" or ".join(part_name(part) for part in group))) for group in catch.undivided
        ]
        found.append(Points("One of these, and the catches cannot say which", tuple(together)))
    if catch.suspect_amounts:
        odd = [
            Cell(
                sentence(f"catch {one.catch + 1}, port {one.position}: {one.why}"),
                (one.offer,) if one.offer else (),
            )
            for one in catch.suspect_amounts
        ]
        found.append(Points("Amounts that do not belong", tuple(odd)))
    following = catch.next_catch
    if following is not None and not closed:
        swaps = f", {' and '.join(following.swaps)} exchanged" if following.swaps else ""
        words = f"{THROUGH.get(following.through, following.through)}, {opening(following.opening)}{swaps}"
        found.append(
            Points("The catch that would tell most", (Cell(sentence(words), (sentence(following.why),)),))
        )
    if catch.notes:
        found.append(Points("Remarks", tuple(Cell(sentence(note)) for note in catch.notes)))
    return found
