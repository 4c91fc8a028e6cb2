"""What a limit of a sheet is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from evenpour.measure.checks import in_sentence
from evenpour.measure.readings import Condition
from evenpour.measure.showing import span_words

EDGE = 1e-9  # relative: 32 degF is 0 degC although the last binary digit differs


@dataclass(frozen=True, slots=True)
class Match:
    """What a condition must be: one of *choices*, or a value in the span. SI; ``None`` is an open side."""

    name: str
    title: str
    dimension: str | None
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    low_open: bool = False  # above, not from
    high_open: bool = False  # below, not to

    def holds(self, condition: Condition) -> bool:
        """Whether *condition* is as asked."""
        if condition.value is None:
            return condition.choice in self.choices
        value, slack = condition.value, EDGE * max(1.0, abs(condition.value))
        if self.low is None and self.high is None:
            return False
        above = self.low is None or (value > self.low + slack if self.low_open else value >= self.low - slack)
        below = self.high is None or (
            value < self.high - slack if self.high_open else value <= self.high + slack
        )
        return above and below

    def words(self, system: str = "metric") -> str:
        """``below 30 °C``, ``from 10 to 20 min``, ``idle_warm``."""
        if self.choices:
            return " or ".join(self.choices)
        assert self.dimension is not None
        return span_words(self.low, self.high, self.dimension, system, self.low_open, self.high_open)


@dataclass(frozen=True, slots=True)
class Depends:
    """How a limit moves with one condition. SI."""

    on: str
    title: str
    dimension: str
    at: float
    kind: Literal["slope", "proportional", "per"]
    rate: float  # slope: check's unit per condition's; per: share per condition's; proportional: not used
    low: float | None  # the range the sheet knows the limit in
    high: float | None
    required: bool
    assume: Condition | None

    def moved(self, side: float, at: float) -> float:
        """One side of the limit at the condition *at*."""
        if self.kind == "slope":
            return side + self.rate * (at - self.at)
        if self.kind == "proportional":
            return side * at / self.at
        return side * (1.0 + self.rate * (at - self.at))


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a sheet, in SI at the conditions' ``at``; a ``None`` side is open."""

    check: str
    low: float | None
    high: float | None
    allowed: tuple[str, ...]
    when: Mapping[str, Match]
    depends: tuple[Depends, ...]
    asks: Mapping[str, Match]
    source: str
    note: str
    dimension: str | None
    unit: str | None = None  # in which metric screens write it


def asked_for(match: Match) -> str:
    """What to state: ``how the engine ran (idle_warm)``."""
    if set(match.choices) & {"yes", "no"}:
        return f"{match.title} (yes or no)"
    return f"{in_sentence(match.title)} ({match.words()})" if match.choices else in_sentence(match.title)


def holds_words(match: Match, system: str) -> str:
    """Where the limit holds: ``the sheet's limit holds for the time after the stop from 10 to 20 min``."""
    start = f"the sheet's limit holds for {in_sentence(match.title)}"
    if match.choices:
        return f"{start}: {match.words(system).replace('_', ' ')}"
    return f"{start} {match.words(system)}"
