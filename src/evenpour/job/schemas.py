"""The JSON Schemas that are published: of files, and of what commands answer."""

from __future__ import annotations

from typing import Any

from evenpour.errors import unknown
from evenpour.job.answers import ANSWERS
from evenpour.job.schema import job_file_schema
from evenpour.job.sheets import form, known_checks
from evenpour.machine.sheet_schema import sheet_schema

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_names() -> dict[str, str]:
    """Every published schema and what it describes."""
    answers = {name: f"the answer of evenpour {name} --json" for name in ANSWERS}
    return {"job-file": "a job file", "sheet-file": "an engine's sheet", **answers}


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema of that name."""
    if name == "job-file":
        return job_file_schema()
    if name == "sheet-file":
        return sheet_schema(form(), *known_checks())
    if name not in ANSWERS:
        raise unknown("schema", name, schema_names(), kind="schema")
    return {"$schema": DIALECT, **ANSWERS[name].model_json_schema(mode="serialization")}
