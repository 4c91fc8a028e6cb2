"""How the pages word states, times and verdicts. What the record words already is taken from there."""

from __future__ import annotations

from datetime import datetime

from evenpour.record.words import day, moment_of, sentence, when

__all__ = ["clock", "day", "lower_first", "minutes", "sentence", "state", "when"]

STATES = {
    "proved": "proved",
    "stale": "prove again",
    "open": "open",
    "blocked": "waits",
    "overridden": "gone on without",
    "over": "no longer so",
    "done": "done",
    "passed_over": "passed over",
}


def state(word: str) -> str:
    """How far something is, as a person says it."""
    return STATES[word]


def clock(at: str | None) -> str:
    """``10:12``."""
    moment = moment_of(at)
    return f"{moment:%H:%M}" if isinstance(moment, datetime) else ""


def lower_first(text: str) -> str:
    """A title inside a sentence; CO keeps its capitals."""
    return text if text[:2].isupper() else f"{text[:1].lower()}{text[1:]}"


def minutes(count: float) -> str:
    """``8 min``, ``1 h 20 min``."""
    whole = round(count)
    if whole < 90:
        return f"{whole} min"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"
