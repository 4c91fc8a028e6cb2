"""The JSON Schemas that are published: of files, and of what commands answer."""

from __future__ import annotations

from typing import Any

from evenpour.errors import unknown
from evenpour.job import answers, shop_answers
from evenpour.job.causes import answers as cause_answers
from evenpour.job.causes import experience_answers
from evenpour.job.causes.experience_file import CountsFile
from evenpour.job.gas import answers as gas_answers
from evenpour.job.schema import job_file_schema
from evenpour.job.screw import answers as screw_answers
from evenpour.job.sheet import answers as sheet_answers
from evenpour.job.sheet.found import form, known_checks
from evenpour.job.spark import answers as spark_answers
from evenpour.job.trace import answers as trace_answers
from evenpour.job.whatif import answers as whatif_answers
from evenpour.machine.sheet_schema import sheet_schema

DIALECT = "https://json-schema.org/draft/2020-12/schema"

ANSWERS: dict[str, tuple[type[answers.Answer], str]] = {
    "judge": (answers.JudgeAnswer, "judge JOB"),
    "path": (answers.PathAnswer, "path JOB"),
    "step": (answers.StepTold, "path JOB --step STEP"),
    "catch": (answers.CatchAnswer, "catch JOB"),
    "causes": (cause_answers.CausesAnswer, "causes JOB"),
    "experience": (experience_answers.ExperienceAnswer, "experience"),
    "experience-done": (
        experience_answers.TakenAnswer,
        "experience export and of evenpour experience import, forget and remember",
    ),
    "repairs": (experience_answers.RepairsAnswer, "repairs"),
    "screw": (screw_answers.ScrewAnswer, "screw JOB"),
    "spark-timing": (spark_answers.TimingAnswer, "spark timing"),
    "spark-dead-centre": (spark_answers.DeadCentreAnswer, "spark dead_centre"),
    "spark-order": (spark_answers.OrderAnswer, "spark order"),
    "spark-dwell": (spark_answers.DwellAnswer, "spark dwell"),
    "spark-cylinders": (
        spark_answers.CylindersAnswer,
        "spark compression and of evenpour spark leak_down and speed_drop",
    ),
    "add": (answers.AddAnswer, "add JOB ... and of evenpour job close JOB"),
    "gas": (gas_answers.GasAnswer, "gas ..."),
    "trace": (trace_answers.TraceAnswer, "trace FILE"),
    "whatif": (whatif_answers.WhatIfAnswer, "whatif"),
    "whatif-settings": (whatif_answers.OfferedSettings, "whatif --list"),
    "job": (shop_answers.JobNumber, "job new and of evenpour job import"),
    "jobs": (shop_answers.JobsAnswer, "job list"),
    "journal": (shop_answers.JournalAnswer, "job show JOB"),
    "sheet": (sheet_answers.SheetAnswer, "sheet show NAME"),
    "sheets": (shop_answers.SheetsAnswer, "sheet list"),
    "sheet-check": (shop_answers.SheetChecked, "sheet check NAME"),
    "written": (shop_answers.WrittenAnswer, "job export -o FILE and of evenpour sheet copy"),
}
"""Every published answer: its form, and the commands that give it with ``--json``."""


def schema_names() -> dict[str, str]:
    """Every published schema and what it describes."""
    told = {name: f"the answer of evenpour {command}, with --json" for name, (_, command) in ANSWERS.items()}
    counts = "counts of confirmed causes, as evenpour experience export writes them"
    return {"job-file": "a job file", "sheet-file": "an engine's sheet", "counts-file": counts, **told}


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema of that name."""
    if name == "job-file":
        return job_file_schema()
    if name == "sheet-file":
        return sheet_schema(form(), *known_checks())
    if name == "counts-file":
        return {"$schema": DIALECT, **CountsFile.model_json_schema()}
    if name not in ANSWERS:
        raise unknown("schema", name, schema_names(), kind="schema")
    return {"$schema": DIALECT, **ANSWERS[name][0].model_json_schema(mode="serialization")}
