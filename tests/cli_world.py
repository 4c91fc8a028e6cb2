"""A workshop with a store of its own, and the commands typed in it as in a terminal."""

from __future__ import annotations

import json
import shlex
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from jsonschema import Draft202012Validator

from evenpour import cli, data
from evenpour.job.schemas import schema

DEMO = Path(str(data.__file__)).parent / "demo.toml"
AT = "2026-05-03T10:{:02d}"


class Said(NamedTuple):
    """How a command ended and what it said."""

    status: int
    out: str
    err: str


@cache
def validator(name: str) -> Draft202012Validator:
    """What ``evenpour schema NAME`` prints, ready to judge an answer."""
    published = schema(name)
    Draft202012Validator.check_schema(published)
    return Draft202012Validator(published)


@dataclass
class Shop:
    """One person's workshop: a folder for the store, and a terminal."""

    home: Path
    capsys: pytest.CaptureFixture[str]

    def __call__(self, line: str, *more: str) -> Said:
        """Run ``evenpour LINE``; *more* are words that need no quoting."""
        self.capsys.readouterr()
        status = cli.main([*shlex.split(line), *more])
        said = self.capsys.readouterr()
        return Said(status, said.out, said.err)

    def answer(self, name: str, line: str, *more: str, status: int | None = None) -> dict[str, Any]:
        """What a command answers with ``--json``, held to its published schema."""
        said = self(line, *more, "--json")
        assert said.err == ""
        if status is not None:
            assert said.status == status
        found: dict[str, Any] = json.loads(said.out)
        validator(name).validate(found)
        return found

    def bad(self, line: str, *more: str) -> str:
        """The complaint about bad input."""
        said = self(line, *more)
        assert (said.status, said.out) == (2, "")
        return said.err

    def refused(self, line: str, *more: str) -> str:
        """Why something may not be done now."""
        said = self(line, *more)
        assert (said.status, said.out) == (1, "")
        return said.err

    def begin(self, sheet: str = "flat-six") -> int:
        """The number of a new job."""
        number = self.answer("job", f"job new {sheet}", status=0)["job"]
        assert isinstance(number, int)
        return number

    def entries(self, job: int) -> list[dict[str, Any]]:
        """The journal without its first line, oldest first."""
        told = self.answer("journal", f"job show {job}")
        return [one for one in told["entries"] if one["kind"] != "engine"]


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    """A workshop without any job."""
    home = tmp_path / "home"
    monkeypatch.setenv("EVENPOUR_HOME", str(home))
    monkeypatch.delenv("EVENPOUR_STORE", raising=False)
    monkeypatch.delenv("EVENPOUR_UNITS", raising=False)
    monkeypatch.delenv("COLUMNS", raising=False)
    return Shop(home, capsys)
