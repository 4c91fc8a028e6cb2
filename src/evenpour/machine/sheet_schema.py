"""The JSON Schema of a sheet, derived from the same tables that read one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from evenpour.machine.sheet_form import FORMAT, SheetForm, ValueKind
from evenpour.measure.checks import Check, ConditionKind

Schema = dict[str, Any]

_WORDS: Schema = {"type": "string", "minLength": 1}


def sheet_schema(form: SheetForm, checks: Mapping[str, Check], kinds: Mapping[str, ConditionKind]) -> Schema:
    """What a sheet may look like, as JSON Schema (2020-12).

    Whether a text holds the right unit, and whether values fit together, is told only by reading the sheet.
    """
    top: Schema = {
        "format": {"const": FORMAT},
        "id": {"type": "string", "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$"},
        "title": _WORDS,
        "notice": {**_WORDS, "description": "the warning shown on every page and printout"},
        "sources": {"type": "object", "additionalProperties": _WORDS},
        "devices": _closed(
            {name: {"type": "boolean", "title": kind.title} for name, kind in form.devices.items()},
            required=list(form.devices),
        ),
        "values": _closed(
            {name: _value(kind) for name, kind in form.values.items()},
            required=[name for name, kind in form.values.items() if kind.required],
        ),
        "limit": {"type": "array", "items": _limit(checks, kinds)},
    }
    required = [name for name in top if name != "limit"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "An engine's data sheet",
        **_closed(top, required),
    }


def _value(kind: ValueKind) -> Schema:
    ways: dict[str, Schema] = {
        "number": {"type": "number"},
        "whole": {"type": "integer"},
        "order": {"type": "array", "items": {"type": "integer", "minimum": 1}, "uniqueItems": True},
        "choice": {"enum": list(kind.choices)},
        "choices": {"anyOf": [_several(kind.choices), {"enum": list(kind.choices)}]},
        "text": _WORDS,
    }
    stated = ways.get(
        kind.takes, {**_WORDS, "description": f"a {kind.takes.replace('_', ' ')}, with its unit"}
    )
    if kind.range_text:
        stated = {**stated, "description": f"{stated.get('description', kind.takes)}; {kind.range_text}"}
    names = {"is": stated, "source": _WORDS, "note": {"type": "string"}}
    return {"title": kind.title, **_closed(names, ["is", "source"])}


def _limit(checks: Mapping[str, Check], kinds: Mapping[str, ConditionKind]) -> Schema:
    quantity: Schema = {"type": ["string", "number"], "description": "with its unit: 4.7 bar"}
    numbers = [name for name, kind in kinds.items() if kind.dimension is not None]
    match = _closed({name: _match(kind) for name, kind in kinds.items()}, [])
    depends = _closed(
        {
            "on": {"enum": numbers},
            "at": quantity,
            "slope": {**_WORDS, "description": "0.05 bar/degC"},
            "proportional": {"const": True},
            "per": {**_WORDS, "description": "10 %/V"},
            "from": quantity,
            "to": quantity,
            "required": {"type": "boolean"},
            "assume": quantity,
            "assumed_error": quantity,
        },
        ["on", "at"],
    )
    words = sorted({choice for check in checks.values() for choice in check.choices})
    fields = {
        "check": {"enum": list(checks)},
        "low": quantity,
        "high": quantity,
        "allowed": _several(words),
        "when": match,
        "depends": {"type": "array", "items": depends},
        "asks": match,
        "source": _WORDS,
        "note": {"type": "string"},
    }
    return {
        **_closed(fields, ["check", "source"]),
        "anyOf": [{"required": [name]} for name in ("low", "high", "allowed")],
    }


def _match(kind: ConditionKind) -> Schema:
    ways: list[Schema] = []
    if kind.choices:
        ways += [{"enum": list(kind.choices)}, _several(kind.choices)]
    if kind.dimension is not None:
        ends = {end: {"type": ["string", "number"]} for end in ("from", "to", "above", "below")}
        ways.append({**_closed(ends, []), "minProperties": 1})
    return {"title": kind.title, "anyOf": ways}


def _several(words: tuple[str, ...] | list[str]) -> Schema:
    return {"type": "array", "items": {"enum": list(words)}, "minItems": 1}


def _closed(properties: Schema, required: list[str]) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }
