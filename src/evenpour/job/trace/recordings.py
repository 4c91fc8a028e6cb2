"""Recordings that readings were made of: kept among the user's own things, each with its chart."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

from pydantic import ValidationError

from evenpour.job.fold import Standing
from evenpour.job.places import home
from evenpour.job.trace.answers import KeptRecording, TraceAnswer
from evenpour.job.writing_files import write_whole


def recordings_folder() -> Path:
    """Where they lie."""
    return home() / "recordings"


def keep(path: Path, answer: TraceAnswer) -> None:
    """A copy of a recording, named by what it holds, and its chart beside it."""
    folder = recordings_folder()
    folder.mkdir(parents=True, exist_ok=True)
    copy = folder / f"{_stem(answer.sha256)}{path.suffix.lower()}"
    if not copy.exists():
        beside = copy.with_suffix(f"{copy.suffix}.part")
        shutil.copyfile(path, beside)
        beside.replace(copy)
    told = KeptRecording(
        file=answer.file, sha256=answer.sha256, rows=answer.rows, kind=answer.kind, plot=answer.plot
    )
    write_whole(_chart(answer.sha256, answer.rows), told.model_dump_json().encode())


def kept(standing: Iterable[Standing]) -> Iterator[KeptRecording]:
    """The recordings behind the readings that stand, each once.

    Those whose chart is not here are left out: it may lie on the machine where they were read.
    """
    seen: set[tuple[str, str]] = set()
    for one in standing:
        sha256, rows = one.content.get("sha256"), one.content.get("rows", "")
        if one.kind != "reading" or sha256 is None or (sha256, rows) in seen:
            continue
        seen.add((sha256, rows))
        chart = _chart(sha256, rows)
        if chart.is_file():
            try:
                yield KeptRecording.model_validate(json.loads(chart.read_text(encoding="utf-8")))
            except (ValidationError, ValueError):
                continue  # of another version of this tool: the readings stand without it


def _stem(sha256: str) -> str:
    return sha256[:16]


def _chart(sha256: str, rows: str) -> Path:
    lines = "-".join(word for word in rows.split() if word.isdigit())
    return recordings_folder() / f"{_stem(sha256)}.{lines or 'all'}.json"
