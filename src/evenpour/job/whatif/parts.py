"""The parts of the what-if bench in words, its sliders, and what is worth trying, as the shipped data say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem
from evenpour.job.catalogue import catalogue
from evenpour.job.engine_model import causes_known
from evenpour.job.whatif.data import whatif_data
from evenpour.measure.plain import number_of, only, table_of, text_of, texts_of


@dataclass(frozen=True, slots=True)
class Part:
    """A part as it is drawn and explained.

    Attributes:
        reads: What is written beside it: label, and key of the figure.
        says: Paragraphs.
        parts: The parts of the catalogue that it stands for.
        only: The device it belongs to; may be empty.
    """

    id: str
    figure: str
    title: str
    reads: tuple[tuple[str, str], ...]
    says: tuple[str, ...]
    parts: tuple[str, ...]
    only: str


@dataclass(frozen=True, slots=True)
class SliderData:
    """A setting with a slider. ``step``: by the label of the unit it is shown in."""

    name: str
    title: str
    hint: str
    step: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Worth:
    """Something worth trying: what is set, in which state one looks, and at what."""

    title: str
    settings: tuple[str, ...]
    state: str
    look: str


@dataclass(frozen=True, slots=True)
class BenchData:
    """All of it. ``figures``: title by id; ``choices``: title by setting."""

    figures: Mapping[str, str]
    parts: tuple[Part, ...]
    sliders: tuple[SliderData, ...]
    choices: Mapping[str, str]
    worth: tuple[Worth, ...]


@cache
def bench_data() -> BenchData:
    """The shipped data, read once.

    Raises:
        FieldProblem: a name in it is wrong.
    """
    values = data.shipped("whatif_parts.toml").values
    figures = {text_of(table, "id"): text_of(table, "title") for table in values["figure"]}
    return BenchData(
        figures,
        tuple(_part(table, figures) for table in values["part"]),
        tuple(_slider(table) for table in values["slider"]),
        {_settable(text_of(table, "set")): text_of(table, "title") for table in values["choice"]},
        tuple(_worth(table) for table in values["try"]),
    )


def _part(table: Mapping[str, Any], figures: Mapping[str, str]) -> Part:
    only(table, ("id", "figure", "title", "reads", "says", "parts", "only"), "a drawn part")
    figure = text_of(table, "figure")
    if figure not in figures:
        raise FieldProblem("figure", figure, "is no figure")
    known = catalogue()
    return Part(
        text_of(table, "id"),
        figure,
        text_of(table, "title"),
        tuple((label, str(key)) for label, key in table_of(table, "reads").items()),
        texts_of(table, "says"),
        tuple(known.part(name, field="parts").id for name in texts_of(table, "parts")),
        text_of(table, "only", ""),
    )


def _slider(table: Mapping[str, Any]) -> SliderData:
    only(table, ("set", "title", "hint", "step"), "a slider")
    name = _settable(text_of(table, "set"))
    steps = table_of(table, "step")
    return SliderData(
        name,
        text_of(table, "title"),
        text_of(table, "hint", ""),
        {unit: number_of(steps, unit, 0.0) for unit in steps},
    )


def _settable(name: str) -> str:
    if name not in whatif_data().settable and name not in causes_known():
        raise FieldProblem("set", name, "cannot be set")
    return name


def _worth(table: Mapping[str, Any]) -> Worth:
    only(table, ("title", "set", "state", "look"), "something to try")
    return Worth(
        text_of(table, "title"), texts_of(table, "set"), text_of(table, "state"), text_of(table, "look")
    )
