"""What an exchange of parts between two catches settled, as one would tell it at the car."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from evenpour.job.causes.facts import Told
from evenpour.job.exchanges import KINDS, stands_at, swap_words
from evenpour.job.port_words import AT_PORT, caught_words, exchange_words
from evenpour.machine.line_map import line_map_of

if TYPE_CHECKING:
    from evenpour.job.catch.facts import CatchFact
    from evenpour.job.causes.case import Case
    from evenpour.job.job import Job

    Read = Callable[[Job, Told], str]

PLAIN = 0.03  # of the middle amount, from which a port stands out to the eye; our choice, no source
LEAST = 3  # amounts of which one can be said to stand out


@dataclass(frozen=True, slots=True)
class _Run:
    """One catch: how much each port gave, and by how much of the middle amount it stands out."""

    fact: CatchFact
    rows: Mapping[int, Told]  # by port
    off: Mapping[int, float]


def exchange_told(case: Case, owner: int, g: int, read: Read) -> str:
    """``fuel caught through injectors, full: after exchanging injector 4 with 1 the short amount moved from
    port 4 (66.0 ml) to port 1 (66.5 ml), with the injector``.

    Empty unless an exchange is among the readings of check *g* and bears a cause out: what stood out went
    along with the part that the cause is of, or stayed where another part was exchanged.

    Args:
        read: Says what one reading read.
    """
    cause, cylinder = case.explanation.suspects[owner].cause, case.explanation.suspects[owner].cylinder
    if cause is None or cylinder is None or cause.part not in {*AT_PORT, *KINDS}:
        return ""
    port = line_map_of(case.job.sheet).port(cylinder)
    runs = _runs(case, g)
    for after in reversed(runs):
        before = next((one for one in reversed(runs) if _straight(one, after, port)), None)
        if before is not None:
            words = _told(case, read, cause.part, port, before, after)
            if words:
                return words
    return ""


def _runs(case: Case, g: int) -> list[_Run]:
    rows = np.flatnonzero(case.explanation.seen.columns.check == case.explanation.checks[g])
    by_entry: dict[str, dict[int, Told]] = {}
    for told in (case.told[int(row)] for row in rows):
        if told.caught is not None and told.observation.value and told.observation.query.cylinder:
            by_entry.setdefault(told.entry, {})[told.observation.query.cylinder] = told
    found = []
    for ports in by_entry.values():
        amounts = {port: _amount(told) for port, told in ports.items()}
        if len(amounts) >= LEAST:
            middle = statistics.median(amounts.values())
            fact = next(iter(ports.values())).caught
            assert fact is not None
            found.append(_Run(fact, ports, {port: one / middle - 1.0 for port, one in amounts.items()}))
    return found


def _amount(told: Told) -> float:
    assert told.observation.value is not None
    return told.observation.value


def _straight(before: _Run, after: _Run, port: int) -> bool:
    """Whether one catch shows how a port stood out before the parts were exchanged for another."""
    return bool(
        after.fact.swaps
        and not before.fact.swaps
        and before.fact.key == after.fact.key
        and abs(before.off.get(port, 0.0)) >= PLAIN
    )


def _told(case: Case, read: Read, part: str, port: int, before: _Run, after: _Run) -> str:
    for kind in KINDS:
        now = stands_at(kind, port, after.fact.swaps)
        if now == port or not {port, now} <= set(after.off):
            continue
        to = now if kind == part else port
        other = port if kind == part else now
        stood, stands, left = before.off[port], after.off[to], after.off[other]
        if abs(stands - stood) > abs(stood) / 2.0 or abs(left) > abs(stood) / 2.0:
            continue
        what = f"the {'short' if stood < 0.0 else 'large'} amount"
        there = _at(case, read, after, to)
        if kind == part:
            what = f"{what} moved from {_at(case, read, before, port)} to {there}, with the {kind}"
        else:
            what = f"{what} stayed at {there}: it is not the {kind}"
        return f"{_begun(case, after)} {what}"
    return ""


def _begun(case: Case, after: _Run) -> str:
    through = "bare lines" if after.fact.through == "lines" else "injectors"
    exchanged = exchange_words(case.job.sheet, [swap_words(one) for one in after.fact.swaps])
    return f"fuel caught through {through}, {after.fact.opening}: after exchanging {exchanged}"


def _at(case: Case, read: Read, run: _Run, port: int) -> str:
    where = caught_words(line_map_of(case.job.sheet), port)
    return f"{where} ({read(case.job, run.rows[port])})"
