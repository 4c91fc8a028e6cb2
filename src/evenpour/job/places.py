"""Where a user's own things lie."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def home() -> Path:
    """The user's folder for jobs and sheets: ``EVENPOUR_HOME``, or the system's place for such data."""
    named = os.environ.get("EVENPOUR_HOME")
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "evenpour"


def default_address() -> str | Path:
    """The store of whoever names none: ``EVENPOUR_STORE`` (a path or a URL), or :func:`default_path`."""
    return os.environ.get("EVENPOUR_STORE") or default_path()


def default_path() -> Path:
    """Where the store lies unless told otherwise: among the user's own things."""
    return home() / "jobs.db"
