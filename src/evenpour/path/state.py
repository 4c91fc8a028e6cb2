"""What the path remembers of a job: the newest of everything that decides, and no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TypeVar

from evenpour.path.events import Aged, CautionRead, Done, Evidence, Happened, Override
from evenpour.path.plan import Item, Plan, Source

K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Touched:
    """One touch of one item, and what was done, in words."""

    rank: int
    at: str
    entry: str
    words: str


@dataclass(frozen=True, slots=True)
class OnList:
    """Why an item is on the put-back list: since when, by which entry, and what was done.

    ``by_step``: a step took it off for its own sake, and another puts it back.
    """

    rank: int
    at: str
    entry: str
    words: str
    by_step: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """Something entered that does not fit what went before; kept, and shown until it is mended."""

    rank: int
    at: str
    entry: str
    words: str


def _empty() -> Mapping[K, V]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class PathState:
    """The fold of a job's events. Never changed, only followed by another.

    ``evidence`` and ``done`` are kept for each cylinder, 1 to n, also where they speak for the whole engine:
    "newest counts" then needs no further rule.
    """

    plan: Plan
    rank: int | None = None
    evidence: Mapping[tuple[Source, int], tuple[Evidence, ...]] = field(default_factory=_empty)
    done: Mapping[tuple[str, int], Done] = field(default_factory=_empty)
    touched: Mapping[Item, tuple[Touched, ...]] = field(default_factory=_empty)
    happened: Mapping[str, tuple[Happened, ...]] = field(default_factory=_empty)
    aged: tuple[Aged, ...] = ()
    on_list: Mapping[Item, OnList] = field(default_factory=_empty)
    last_off: Mapping[Item, Touched] = field(default_factory=_empty)
    cautions_read: Mapping[str, CautionRead] = field(default_factory=_empty)
    overrides: Mapping[str, Override] = field(default_factory=_empty)
    questions: tuple[Question, ...] = ()


def changed(
    before: Mapping[K, V], changes: Mapping[K, V], *, without: frozenset[K] = frozenset()
) -> Mapping[K, V]:
    """*before* with *changes* laid over it and the keys of *without* left out; *before* stays as it is."""
    kept = {key: value for key, value in before.items() if key not in without} if without else dict(before)
    kept.update(changes)
    return MappingProxyType(kept)
