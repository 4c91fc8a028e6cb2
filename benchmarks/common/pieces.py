"""Where a long benchmark keeps what it has finished, so that it may be stopped and started as one likes."""

from __future__ import annotations

from pathlib import Path

from evenpour.job.kept_files import model_stamp

ROOT = Path(__file__).parents[2]


def folder_for(name: str, given: Path | None) -> Path:
    """The folder *given*, or one of this engine's own: pieces of another engine are never mixed in."""
    folder = given or ROOT / "build" / "bench" / f"{name}-{model_stamp()[:12]}"
    folder.mkdir(parents=True, exist_ok=True)
    return folder
