"""The JSON Schema of a job file, made from the forms."""

from __future__ import annotations

from typing import Any, Final

from evenpour.job.forms import FORMS, OWN_ID, SINGLE
from evenpour.job.writing import FORMAT

_TIME: Final = {"type": "string", "format": "date-time"}


def job_file_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a job file in JSON; a TOML file has the same form, with bare times."""
    properties: dict[str, Any] = {
        "format": {"const": FORMAT},
        "chain": {"type": "string", "description": "Hash of the last entry of an export."},
    }
    definitions: dict[str, Any] = {}
    for kind in FORMS:
        definitions[kind] = _form(kind)
        one = {"$ref": f"#/$defs/{kind}"}
        properties[kind] = one if kind in SINGLE else {"type": "array", "items": one}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A job file",
        "description": "Everything read, done and concluded on one car's visit.",
        "type": "object",
        "required": ["format", "engine"],
        "additionalProperties": False,
        "properties": properties,
        "$defs": definitions,
    }


def _form(kind: str) -> dict[str, Any]:
    form = FORMS[kind].model_json_schema(by_alias=True)
    form["properties"] = form.get("properties", {}) | {
        "entry" if kind in OWN_ID else "id": {"type": "string", "minLength": 1, "maxLength": 200},
        "at": _TIME,
        "entered": _TIME,
    }
    if kind == "correction":  # the new content may also stand beside `of` and `reason`
        form["additionalProperties"] = True
    return form
