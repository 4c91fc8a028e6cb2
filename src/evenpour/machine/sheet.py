"""One engine's data sheet: its values and limits, each with where it comes from."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from evenpour.errors import FieldProblem, Place, Problems, unknown
from evenpour.machine.found import Found, PlaceOf
from evenpour.machine.sheet_form import FORMAT, SheetForm, Value, read_value
from evenpour.machine.sheet_rules import contradictions, limits_twice
from evenpour.measure.checks import Check, ConditionKind
from evenpour.measure.limits import Limit, limit_from
from evenpour.measure.plain import only, table_of, text_of

NOT_CHECKED = "not yet checked against the manual"
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_TOP = ("format", "id", "title", "notice", "sources", "devices", "values", "limit")


@dataclass(frozen=True, slots=True)
class SheetValue:
    """One value of a sheet.

    Attributes:
        value: SI for quantities (angles in turns, a density in kg/m³), an int, a word, or a tuple.
        text: As the sheet states it.
        dimension: Its kind; ``None`` for numbers, words and lists.
        source: Where it comes from, in words.
    """

    name: str
    title: str
    value: Value
    text: str
    dimension: str | None
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One engine's sheet. ``devices``: what is fitted; ``sources``: the words for the sheet's short codes.

    Equal to itself alone, so that what is worked out from it can be kept.
    """

    id: str
    title: str
    notice: str
    values: Mapping[str, SheetValue]
    limits: tuple[Limit, ...]
    devices: frozenset[str]
    cylinders: int
    sources: Mapping[str, str]

    def limits_for(self, check: str) -> tuple[Limit, ...]:
        """All limits of *check*, in the order of the sheet; empty where it has none."""
        return tuple(limit for limit in self.limits if limit.check == check)

    def value(self, name: str) -> SheetValue | None:
        """The value *name*; ``None`` where the sheet leaves it out, and the engine's manual decides."""
        return self.values.get(name)

    def number(self, name: str) -> float | None:
        """The value *name* as a number in SI; ``None`` where the sheet leaves it out."""
        found = self.values.get(name)
        return float(found.value) if found is not None and isinstance(found.value, int | float) else None

    def word(self, name: str) -> str | None:
        """The value *name* as its word (``"up"``, ``"no"``); ``None`` where the sheet leaves it out."""
        found = self.values.get(name)
        return found.value if found is not None and isinstance(found.value, str) else None

    def evenness_limits(self) -> dict[str, float]:
        """Largest spread of a catch that is still even, by opening, as a fraction of the mean."""
        found: dict[str, float] = {}
        for limit in self.limits_for("catch_evenness"):
            if limit.high is not None and "opening" in limit.when:
                found |= dict.fromkeys(limit.when["opening"].choices, limit.high)
        return found

    @property
    def click_turns(self) -> float | None:
        """Turns of the mixture screw from one click to the next; ``None`` where the sheet names no clicks."""
        return self.number("click_angle")

    @property
    def unchecked(self) -> tuple[str, ...]:
        """What still stands as it was copied: names of values, and checks of limits."""
        names = [name for name, value in self.values.items() if NOT_CHECKED in value.source]
        checks = [limit.check for limit in self.limits if NOT_CHECKED in limit.source]
        return tuple(dict.fromkeys([*names, *checks]))


def sheet_from(
    plain: Mapping[str, Any],
    form: SheetForm,
    checks: Mapping[str, Check],
    kinds: Mapping[str, ConditionKind],
    place: PlaceOf = lambda path: Place(),
) -> Sheet:
    """A sheet from its file's plain values.

    Args:
        plain: The whole file.
        form: What a sheet may state.
        checks: All checks, by id.
        kinds: All kinds of condition, by id.
        place: Where the value at a path stands, for complaints.
    Raises:
        Problems: everything that is wrong with it, in the order of the file.
    """
    return _Reader(plain, form, checks, kinds, place).sheet()


class _Reader:
    def __init__(
        self,
        plain: Mapping[str, Any],
        form: SheetForm,
        checks: Mapping[str, Check],
        kinds: Mapping[str, ConditionKind],
        place: PlaceOf,
    ) -> None:
        self.plain, self.form, self.checks, self.kinds, self.place = plain, form, checks, kinds, place
        self.problems = Found(place)

    def sheet(self) -> Sheet:
        self._refuse_other_formats()
        self.problems.refuse_unknown(self.plain, _TOP, "field of a sheet", ())
        id_ = self._id()
        title, notice = self._text("title"), self._text("notice")
        sources = self._sources()
        devices = self._devices()
        values = self._values(sources, devices)
        limits = self._limits(sources, devices)
        self._cross(values, limits)
        self.problems.stop_if_any()
        cylinders = values["cylinders"].value
        assert isinstance(cylinders, int)
        kept = tuple(limit for _, limit in limits)
        return Sheet(id_, title, notice, values, kept, devices, cylinders, sources)

    def _refuse_other_formats(self) -> None:
        """Another form would only give a long list of complaints that miss the point."""
        stated = self.plain.get("format")
        if stated != FORMAT:
            raise Problems(
                [
                    FieldProblem(
                        "format",
                        stated,
                        "is missing" if stated is None else "is not the form of a sheet",
                        remedy=f'A sheet starts with format = "{FORMAT}"',
                        place=self.place(("format",)),
                    )
                ]
            )

    def _id(self) -> str:
        text = self._text("id")
        if text and not _ID.fullmatch(text):
            self.problems.add(
                FieldProblem("id", text, "is no short name", allowed="small letters, digits, single hyphens"),
                ("id",),
            )
        return text

    def _text(self, name: str) -> str:
        return self.problems.attempt(lambda: text_of(self.plain, name), (name,)) or ""

    def _sources(self) -> dict[str, str]:
        table = self.problems.attempt(lambda: table_of(self.plain, "sources"), ("sources",)) or {}
        found = {}
        for code in table:
            words = self.problems.attempt(partial(text_of, table, code), ("sources", code))
            if words is not None:
                found[code] = words
        return found

    def _devices(self) -> frozenset[str]:
        table = self.problems.attempt(lambda: table_of(self.plain, "devices"), ("devices",)) or {}
        self.problems.refuse_unknown(table, self.form.devices, "device", ("devices",))
        for name, kind in self.form.devices.items():
            if name not in table:
                self.problems.add(
                    FieldProblem(
                        name, None, "is missing", remedy=f"Say true or false: is there a {kind.title}?"
                    ),
                    ("devices",),
                )
            elif not isinstance(table[name], bool):
                self.problems.add(
                    FieldProblem(name, table[name], "is neither true nor false"), ("devices", name)
                )
        return frozenset(name for name in self.form.devices if table.get(name) is True)

    def _values(self, sources: Mapping[str, str], devices: frozenset[str]) -> dict[str, SheetValue]:
        table = self.problems.attempt(lambda: table_of(self.plain, "values"), ("values",)) or {}
        found = {}
        for name, stated in table.items():
            read = self.problems.attempt(
                partial(self._value, name, stated, sources, devices), ("values", name)
            )
            if read is not None:
                found[name] = read
        for kind in self.form.values.values():
            if kind.required and kind.id not in table:
                self.problems.add(
                    FieldProblem(kind.id, None, "is missing", remedy=f"State {kind.title}"), ("values",)
                )
        return found

    def _value(
        self, name: str, stated: object, sources: Mapping[str, str], devices: frozenset[str]
    ) -> SheetValue:
        if name not in self.form.values:
            raise unknown(name, name, self.form.values, kind="value of a sheet")
        kind = self.form.values[name]
        if not isinstance(stated, Mapping):
            raise FieldProblem(
                name, stated, "does not say where it comes from",
                remedy=f'Write {name} = {{ is = ..., source = "manual, page 12" }}',
            )  # fmt: skip
        only(stated, ("is", "source", "note"), "a sheet's value")
        if "is" not in stated:
            raise FieldProblem(
                name, None, "has no value", remedy=f"Write {name} = {{ is = ..., source = ... }}"
            )
        if kind.only is not None and kind.only not in devices:
            raise FieldProblem(
                name, _typed(stated["is"]), f"is stated, but {kind.only} is not fitted",
                remedy=f"Take it out, or say {kind.only} = true under devices",
            )  # fmt: skip
        return SheetValue(
            name=name,
            title=kind.title,
            value=read_value(kind, stated["is"]),
            text=_typed(stated["is"]),
            dimension=kind.dimension,
            source=_source(name, stated, sources),
            note=text_of(stated, "note", ""),
        )

    def _limits(self, sources: Mapping[str, str], devices: frozenset[str]) -> list[tuple[int, Limit]]:
        tables = self.plain.get("limit", [])
        if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
            self.problems.add(
                FieldProblem("limit", None, "is no list of tables", remedy="Write [[limit]]"), ("limit",)
            )
            return []
        found = []
        for index, table in enumerate(tables):
            read = self.problems.attempt(
                partial(self._limit, table, sources, devices), ("limit", index), own_line=True
            )
            if read is not None:
                found.append((index, read))
        return found

    def _limit(self, table: Mapping[str, Any], sources: Mapping[str, str], devices: frozenset[str]) -> Limit:
        name = text_of(table, "check")
        if name not in self.checks:
            raise unknown("check", name, self.checks, kind="check")
        device = self.form.device_of(name)
        if device is not None and device.id not in devices:
            raise FieldProblem(
                "check", name, f"has a limit, but {device.id} is not fitted",
                remedy=f"Take the limit out, or say {device.id} = true under devices",
            )  # fmt: skip
        return limit_from(table, self.checks[name], self.kinds, sources)

    def _cross(self, values: Mapping[str, SheetValue], limits: Sequence[tuple[int, Limit]]) -> None:
        for name, problem in contradictions({name: value.value for name, value in values.items()}):
            self.problems.add(problem, ("values", name))
        for index, problem in limits_twice(limits):
            self.problems.add(problem, ("limit", index))


def _typed(stated: object) -> str:
    """A value as a person would write it: ``1-3-4-2``, ``feed, return``."""
    if isinstance(stated, list):
        return ("-" if all(isinstance(one, int) for one in stated) else ", ").join(str(one) for one in stated)
    return str(stated)


def _source(name: str, stated: Mapping[str, Any], sources: Mapping[str, str]) -> str:
    text = text_of(stated, "source")
    if text in sources:
        return sources[text]
    if " " in text:
        return text
    raise unknown(f"{name}, source", text, sources, kind="source of this sheet")
