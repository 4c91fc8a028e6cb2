"""What a form asks of a sheet's values and limits, and what it says when it comes back.

A thing that was not touched is not written anew. A figure that was changed needs a source of its own: the old
one belongs to the old figure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from evenpour.errors import FieldProblem
from evenpour.job.catalogue import catalogue
from evenpour.job.sheet.edit import Key
from evenpour.job.sheet.found import form as sheet_form
from evenpour.job.typed_words import whole
from evenpour.machine.sheet import NOT_CHECKED
from evenpour.machine.sheet_form import ValueKind
from evenpour.measure.checks import Check
from evenpour.measure.choice_words import choice_words
from evenpour.measure.entry_units import offered_units, unit_labels

Form = Mapping[str, str]
Wrong = tuple[str, FieldProblem]
"""The name of the input, and what is wrong with it."""
SOURCE_OF_ALL = "source-of-all"
_FIGURE = re.compile(r"\s*([-+−]?[\d.,/ ]*\d)\s*(.*)$", re.DOTALL)
_HAS_UNIT = re.compile(r"[A-Za-z%°]")


@dataclass(frozen=True, slots=True)
class Input:
    """One input: a ``figure`` (with units, if it has any), ``text``, one ``word`` or several ``words``; or
    ``when``, the one thing that must be so for a limit to hold.
    """

    name: str
    label: str
    takes: Literal["figure", "text", "word", "words", "when"]
    value: str
    unit: str = ""
    units: tuple[tuple[str, str], ...] = ()
    choices: tuple[tuple[str, str], ...] = ()
    chosen: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One value, limit or device of a sheet as it is asked.

    ``stated`` is what the file holds, ``None`` if nothing; ``source`` is in words; ``may_go`` if it may be
    left out; ``unchecked`` while it stands as it was copied.
    """

    key: Key
    id: str
    title: str
    stated: Any
    inputs: tuple[Input, ...]
    source: str
    note: str
    may_go: bool
    unchecked: bool


def name_of(key: Key) -> str:
    """The name under which a form's inputs stand: ``values.dwell``, ``limit.12``."""
    return ".".join(str(part) for part in key)


def row_of(key: Key, stated: Any, sources: Mapping[str, Any]) -> Row:
    """What is asked of one thing; *stated* is ``None`` for one that the sheet does not hold yet."""
    name = name_of(key)
    if key[0] == "devices":
        kind = sheet_form().devices.get(str(key[1]))
        yes = "yes" if stated is True else "no" if stated is False else ""
        words = Input(name, "", "word", yes, choices=(("yes", "fitted"), ("no", "not fitted")))
        title = kind.title if kind else str(key[1])
        return Row(key, name, _capital(title), stated, (words,), "", "", False, False)
    if len(key) == 1:
        titles = {"title": "The engine, in a few words", "notice": "What every page says of this sheet"}
        text = Input(name, "", "text", str(stated or ""))
        return Row(key, name, titles[str(key[0])], stated, (text,), "", "", False, False)
    table = stated if isinstance(stated, Mapping) else {}
    source = str(table.get("source", ""))
    words_ = str(sources.get(source, source))
    if key[0] == "values":
        value = sheet_form().values.get(str(key[1]))
        title = _capital(value.title if value else str(key[1]))
        inputs: tuple[Input, ...] = (_value_input(name, value, table.get("is")),)
        may_go = value is None or not value.required
    else:
        check = catalogue().checks.get(str(table.get("check", "")))
        title = _capital(check.title if check else str(table.get("check", "")))
        inputs = _limit_inputs(name, check, table)
        if check is not None and set(table) == {"check"}:  # a new one
            inputs = (*inputs, _holds_while(name, check))
        may_go = True
    note = str(table.get("note", ""))
    return Row(key, name, title, stated, inputs, words_, note, may_go, NOT_CHECKED in words_)


def changes_in(
    form: Form, rows: tuple[Row, ...], sources: Mapping[str, Any]
) -> tuple[dict[Key, Any], list[Wrong]]:
    """What a form changes of *rows*, and what it leaves open.

    Returns:
        The changes by key, as :func:`evenpour.job.sheet.edit.changed` takes them, and the problems.
    """
    changes: dict[Key, Any] = {}
    wrong: list[Wrong] = []
    for row in rows:
        if not any(name == row.id or name.startswith((f"{row.id}.", f"{row.id}-")) for name in form):
            continue  # the form does not ask for it
        try:
            new = _said(form, row, sources)
        except FieldProblem as problem:
            wrong.append((problem.field, _named(problem, row.title)))
            continue
        if new != row.stated:
            changes[row.key] = new
    return changes, wrong


def _said(form: Form, row: Row, sources: Mapping[str, Any]) -> Any:
    """What the form says of one row; its old content where nothing was touched."""
    if row.key[0] == "devices":
        return form.get(row.id) == "yes" if form.get(row.id) in ("yes", "no") else row.stated
    if len(row.key) == 1:
        text = form.get(row.id, "").strip()
        if not text:
            raise FieldProblem(row.id, None, "is missing")
        return text
    if form.get(f"{row.id}-out") == "yes":
        return None
    touched = [one for one in row.inputs if _touched(form, one)]
    source, note = form.get(f"{row.id}-source", "").strip(), form.get(f"{row.id}-note", "").strip()
    same = form.get(f"{row.id}-same") == "yes"
    if not touched and source == row.source and note == row.note and not same:
        return row.stated
    if row.key[0] == "values" and _empty(form, row.inputs[0]):
        if not row.may_go:
            raise FieldProblem(row.inputs[0].name, None, "is missing", remedy="Every sheet states it.")
        return None
    table = dict(row.stated) if isinstance(row.stated, Mapping) else {}
    for one in touched:
        field = one.name.rpartition(".")[2] if row.key[0] == "limit" else "is"
        new = _value(form, one, row)
        if new is None:
            table.pop(field, None)
        else:
            table[field] = new
    table["source"] = _source(form, row, source, sources, asked=bool(touched) or same)
    if note:
        table["note"] = note
    else:
        table.pop("note", None)
    return table


def _source(form: Form, row: Row, typed: str, sources: Mapping[str, Any], *, asked: bool) -> str:
    for_all = form.get(SOURCE_OF_ALL, "").strip()
    if typed == row.source and asked:
        typed = for_all
    if not typed:
        raise FieldProblem(
            f"{row.id}-source", None, "needs its source",
            allowed="in words, like: manual, page 12; measured on this car; typical",
            remedy="What stood there belongs to the figure that stood there." if row.source else "",
        )  # fmt: skip
    known = next((code for code, words in sources.items() if words == typed), None)
    if known is not None:
        return str(known)
    return typed if " " in typed or typed in sources else f"{typed} (no page stated)"


def _touched(form: Form, one: Input) -> bool:
    if one.takes == "words":
        return _ticked(form, one) != one.chosen
    same_unit = not one.units or form.get(f"{one.name}-unit", one.unit) == one.unit
    said = form.get(one.name, "").strip()
    return said != one.value or (not same_unit and bool(said))


def _empty(form: Form, one: Input) -> bool:
    return not _ticked(form, one) if one.takes == "words" else not form.get(one.name, "").strip()


def _ticked(form: Form, one: Input) -> tuple[str, ...]:
    return tuple(word for word, _ in one.choices if form.get(f"{one.name}.{word}") == "yes")


def _value(form: Form, one: Input, row: Row) -> Any:
    """What an input says, as a sheet writes it; ``None`` where it is empty."""
    if one.takes == "words":
        return list(_ticked(form, one)) or None
    text = form.get(one.name, "").strip()
    if text and one.takes == "when":
        name, _, word = text.partition("=")
        return {name: word}
    if not text or one.takes != "figure":
        return text or None
    if one.units:
        unit = form.get(f"{one.name}-unit", "").strip()
        return text if _HAS_UNIT.search(text) else f"{text} {unit}".strip()
    kind = sheet_form().values[str(row.key[1])]
    return [_whole(one.name, part) for part in re.split(r"[\s,;-]+", text)] if kind.takes == "order" else (
        _whole(one.name, text) if kind.takes == "whole" else _number(one.name, text)
    )  # fmt: skip


def _whole(name: str, text: str) -> int:
    number = whole(text)
    if number is None:
        raise FieldProblem(name, text, "is no whole number")
    return number


def _number(name: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise FieldProblem(name, text, "is no number") from None


def _value_input(name: str, kind: ValueKind | None, stated: Any) -> Input:
    if kind is None:
        return Input(name, "", "text", str(stated))
    if kind.takes in ("choice", "choices"):
        choices = tuple((word, word.replace("_", " ")) for word in kind.choices)
        if kind.takes == "choice":
            return Input(name, "", "word", str(stated or ""), choices=choices)
        several = stated if isinstance(stated, list) else [stated]
        return Input(
            name, "", "words", "", choices=choices, chosen=tuple(w for w in kind.choices if w in several)
        )
    if kind.takes == "order":
        text = "-".join(str(one) for one in stated) if isinstance(stated, list) else str(stated or "")
        return Input(name, "", "figure", text)
    if kind.takes in ("number", "whole"):
        return Input(name, "", "figure", "" if stated is None else str(stated))
    if kind.takes == "text":
        return Input(name, "", "text", str(stated or ""))
    kinds = [kind.dimension] if kind.dimension else []
    return _figure(name, "", stated, kinds, ("g/l", "kg/l") if kind.takes == "density" else ())


def _limit_inputs(name: str, check: Check | None, table: Mapping[str, Any]) -> tuple[Input, ...]:
    if check is None:
        return ()
    if check.choices:
        stated = table.get("allowed", [])
        chosen = [stated] if isinstance(stated, str) else stated
        choices = tuple((word, choice_words(word)) for word in check.choices)
        ticked = tuple(word for word in check.choices if word in chosen)
        return (Input(f"{name}.allowed", "What is right", "words", "", choices=choices, chosen=ticked),)
    first = (check.prefer,) if check.prefer else ()
    other = next((table[side] for side in ("low", "high") if side in table), None)
    like = _FIGURE.match(str(other))
    return tuple(
        _figure(
            f"{name}.{side}",
            label,
            table.get(side),
            check.dimensions,
            (like[2],) if like and like[2] else first,
        )
        for side, label in (("low", "At least"), ("high", "At most"))
    )


def _holds_while(name: str, check: Check) -> Input:
    """Of all that its readings may state, every word that a limit may hold for."""
    kinds = [catalogue().kinds[one] for one in check.conditions if one in catalogue().kinds]
    choices = tuple(
        (f"{kind.id}={word}", f"{_capital(kind.title)}: {word.replace('_', ' ')}")
        for kind in kinds
        for word in kind.choices
    )
    return Input(f"{name}.when", "Holds only while", "when", "", choices=choices)


def _figure(name: str, label: str, stated: Any, kinds: Any, first: tuple[str, ...]) -> Input:
    found = _FIGURE.match(str(stated)) if stated is not None else None
    value, unit = (found[1].strip(), found[2].strip()) if found else (str(stated or ""), "")
    units = dict(unit_labels(offered_units([kind for kind in kinds if kind], "metric")))
    if "ppm" not in (*first, unit):  # for what is that small alone: no evenness is told so
        units.pop("ppm", None)
    known = {unit: units.get(unit, unit)} if unit else {one: units.get(one, one) for one in first}
    offered = tuple({**known, **units}.items())
    return Input(name, label, "figure", value, unit or (offered[0][0] if offered else ""), offered)


def _named(problem: FieldProblem, title: str) -> FieldProblem:
    return type(problem)(
        title, problem.value, problem.trouble, allowed=problem.allowed, remedy=problem.remedy
    )


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
