"""Write docs/demo-causes.md: how the demo job's causes stand after each reading. Takes some minutes."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path

import numpy as np

from evenpour.job.causes.answer import case_of
from evenpour.job.causes.candidates import swap_words
from evenpour.job.causes.case import Case
from evenpour.job.causes.expected import Expectations
from evenpour.job.causes.words import reading_words, reason_words
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Entry
from evenpour.job.history import history
from evenpour.job.job import job_from

TARGET = Path(__file__).parents[1] / "docs" / "demo-causes.md"
HEAD = """# The demo job's causes, reading by reading

What `evenpour causes` puts first after each reading of the demo job, how likely that is, and why. All of
it is invented, and the probabilities rest on how common causes are in common practice, without a source.
`scripts/write_demo_causes.py` writes this page.

| after | first | second | what it did |
| --- | --- | --- | --- |
"""
KINDS = ("reading", "catch", "did", "move")
FIRM = 0.05  # change of the first one's probability below which nothing is said to have changed
SHARP = 0.9  # of a cause, from which the second is not worth naming


def groups() -> Iterator[tuple[int, str]]:
    """How many entries there are after each stretch of the same kind of reading, and that kind."""
    entries = demo_entries()
    wanted = [(place, one) for place, one in enumerate(entries, 1) if one.kind in KINDS]
    for _, some in groupby(wanted, key=lambda item: _key(item[1])):
        last, one = list(some)[-1]
        yield last, one.kind


def _key(one: Entry) -> tuple[object, ...]:
    told = one.content
    names = ("what", "through", "action", "part", "swaps", "opening" if told.get("swaps") else "")
    return one.kind, *(str(told.get(name)) for name in names)


def line(case: Case, before: Case | None, kind: str, entries: Sequence[Entry]) -> str | None:
    """One row of the table; None where a reading tells the model nothing."""
    newest = entries[-1]
    rows = [row for row, one in enumerate(case.told) if one.entry == newest.id]
    if kind in ("reading", "catch") and not rows:
        return None
    what = _said(case, rows) if rows else history(case.job.folded, case.job.known)[-1].words
    ranked = sorted(_all(case), key=lambda one: -one[0])
    first, second = ranked[0], ranked[1]
    follows = "" if first[0] > SHARP else f"{second[1]}, {second[0]:.0%}".replace("%", " %")
    return f"| {what} | {first[1]}, {100 * first[0]:.0f} % | {follows} | {_why(case, before, first, rows)} |"


def _said(case: Case, rows: Sequence[int]) -> str:
    more = f" (and {len(rows) - 1} more ports)" if len(rows) > 1 else ""
    values = [case.told[row].observation.value or 0.0 for row in rows]
    apart = np.abs(np.array(values) - np.median(values))
    odd = rows[int(np.argmax(apart))]  # of a catch, the port that stands out
    caught = case.told[odd].caught
    changed = [f"{kind} {a} with {b}" for kind, a, b in caught.swaps] if caught else []
    swaps = f", {swap_words(changed)}" if changed else ""
    return f"{reading_words(case.job, case.told[odd])}{more}{swaps}"


def _all(case: Case) -> list[tuple[float, str, tuple[int, ...]]]:
    """Everything that may be, likeliest or not: probability, in words, and the hypotheses."""
    listed = case.explanation.suspects

    def says(h: int) -> str:
        one = listed[h]
        if one.cause is None:
            return "nothing is wrong"
        return one.cause.title + (f" (cylinder {one.cylinder})" if one.cylinder else "")

    singles = [(p, says(h), (h,)) for h, p in case.probability.items()]
    joint = [
        (p, "; and ".join(says(h) for h in one.which), one.which)
        for p, one in zip(case.joint_probability, case.joint, strict=True)
    ]
    return [*singles, *joint]


def _why(
    case: Case, before: Case | None, first: tuple[float, str, tuple[int, ...]], rows: Sequence[int]
) -> str:
    was = {words: p for p, words, _ in _all(before)} if before is not None else {}
    led = max(was, key=lambda words: was[words]) if was else ""
    change = first[0] - was.get(first[1], 0.0)
    if led == first[1] and abs(change) < FIRM:
        return "no news"
    moved = (
        f"from {100 * was.get(first[1], 0.0):.0f} %"
        if led == first[1]
        else f"before it: {led}"
        if led
        else ""
    )
    if not rows:
        newest = case.job.entries[-1].kind
        so = "what was read of that part no longer counts"
        if newest == "move":
            so = "what was read before was read with the screw as it then stood"
        return f"{moved}: {so}" if moved else ""
    check = case.explanation.seen.columns.check[rows[0]]
    g = int(np.flatnonzero(case.explanation.checks == check)[0])
    owner = first[2][0]
    words = reason_words(case, Expectations(case, [owner]), owner, g, 1.0).partition(": ")[2]
    if words.endswith("as without"):
        words = ""
    words = words.replace("with it", "if so") if owner else words.replace("with it", "on a sound car")
    words = words.replace("without it", "otherwise")
    return "; ".join(part for part in (moved, words) if part)


def main() -> None:
    entries = demo_entries()
    rows, before = [], None
    for count, kind in groups():
        case = case_of(job_from("the demo", entries[:count], number=1))
        told = line(case, before, kind, entries[:count])
        if told is not None:
            rows.append(told)
            before = case
            print(told, file=sys.stderr, flush=True)
    TARGET.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    print(f"Wrote {TARGET.name}.")


if __name__ == "__main__":
    main()
