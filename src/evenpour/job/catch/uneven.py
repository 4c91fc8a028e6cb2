"""The catches that are uneven as things stand now: what is outside beside the readings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from evenpour.job.catch.catching import Weighed, leaking
from evenpour.job.facts import Facts
from evenpour.job.wording import even_words, key_words
from evenpour.machine.line_map import line_map_of
from evenpour.machine.sheet import Sheet
from evenpour.measure.verdicts import word_for


@dataclass(frozen=True, slots=True)
class UnevenCatch:
    """A kind of catch whose spread is surely over its limit, or fuel that leaves a port at rest.

    ``spread`` and ``limit`` are empty for the latter.
    """

    title: str
    spread: str
    limit: str
    sure: str

    @property
    def words(self) -> str:
        """In one line: ``Catch, bare lines, full opening: spread 19.0 ± 1.3 %, limit at most 8 %``."""
        if not self.spread:
            return self.title
        return f"{self.title}: spread {self.spread}, limit {self.limit}"


def uneven_catches(facts: Facts, weighed: Weighed | None, sheet: Sheet) -> tuple[UnevenCatch, ...]:
    """Every kind that is uneven now; one caught before a part in it was changed no longer counts."""
    return () if weighed is None else tuple(_found(facts, weighed, sheet))


def _found(facts: Facts, weighed: Weighed, sheet: Sheet) -> Iterator[UnevenCatch]:
    for port in leaking(facts, line_map_of(sheet)):
        yield UnevenCatch(f"Port {port} lets fuel through with the plate at rest", "", "", "")
    limits = sheet.evenness_limits()
    for key, spread in weighed.evenness.spread_by_run.items():
        even, limit = weighed.evenness.even_by_run.get(key), limits.get(key.split(":")[1])
        if even is None or limit is None or key in weighed.outdated or word_for(even) != "outside":
            continue
        kind = key_words(key)
        yield UnevenCatch(
            title=f"Catch, {kind[:1].lower()}{kind[1:]}",
            spread=f"{100.0 * spread.value:.1f} ± {200.0 * spread.u:.1f} %",
            limit=f"at most {100.0 * limit:g} %",
            sure=even_words(even)[1],
        )
