"""The limits of a sheet of one's own as they stand, with what no form changes: to be seen beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evenpour.errors import Problem
from evenpour.job.catalogue import catalogue
from evenpour.job.sheet.editor import OwnSheet
from evenpour.job.sheet.fields import name_of
from evenpour.measure.limit_data import limit_from
from evenpour.measure.limit_words import limit_words
from evenpour.measure.limits import Limit


@dataclass(frozen=True, slots=True)
class LimitTold:
    """``words`` say the limit, when it holds and what moves it; ``holds`` when alone, empty where always;
    ``asks`` what its readings are asked for.

    ``bound`` if any of that stands on it: in its file the lines ``when``, ``depends`` and ``asks``.
    """

    words: str
    holds: str
    asks: str
    bound: bool


def limits_told(sheet: OwnSheet, system: str) -> Mapping[str, LimitTold]:
    """Each limit that can be read, by the name of its row; one with a mistake is named by the form itself."""
    known, stated = catalogue(), sheet.plain.get("limit", [])
    found = {}
    for place, table in enumerate(stated):
        check = known.checks.get(str(table.get("check", "")))
        if check is None:
            continue
        try:
            limit = limit_from(table, check, known.kinds, sheet.sources)
        except Problem:
            continue
        found[name_of(("limit", place))] = _told(limit, system)
    return found


def _told(limit: Limit, system: str) -> LimitTold:
    asks = [f"{one.title}: {one.words(system).replace('_', ' ')}" for one in limit.asks.values()]
    bound = bool(limit.when or limit.depends or limit.asks)
    holds = [one.words(system).replace("_", " ") for one in limit.when.values()]
    return LimitTold(limit_words(limit, system), ", ".join(holds), "; ".join(asks), bound)
