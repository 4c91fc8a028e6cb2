"""What the start-up script decides before it installs anything."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).resolve().parent.parent / "scripts" / "bootstrap.py"


@pytest.fixture
def bootstrap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The script as a module, at work in an empty house with two locks and a .venv."""
    spec = importlib.util.spec_from_file_location("bootstrap", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("requirements.lock", "requirements-dev.lock", "pyproject.toml"):
        (tmp_path / name).write_text(name)
    python = tmp_path / ".venv" / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.touch()
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV_PYTHON", python)
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "evenpour-stamp")
    return module


def test_without_a_stamp_nothing_is_installed(bootstrap: ModuleType) -> None:
    assert not bootstrap.is_installed("demo")


def test_what_the_stamp_names_is_installed(bootstrap: ModuleType) -> None:
    bootstrap.STAMP.write_text(bootstrap.stamp("demo"))
    assert bootstrap.is_installed("demo")


def test_what_the_tests_need_covers_the_demo_and_not_the_other_way_round(bootstrap: ModuleType) -> None:
    bootstrap.STAMP.write_text(bootstrap.stamp("test"))
    assert bootstrap.is_installed("demo")
    bootstrap.STAMP.write_text(bootstrap.stamp("demo"))
    assert not bootstrap.is_installed("test")


@pytest.mark.parametrize("name", ["requirements.lock", "pyproject.toml"])
def test_a_changed_file_asks_for_a_new_installation(bootstrap: ModuleType, name: str) -> None:
    bootstrap.STAMP.write_text(bootstrap.stamp("demo"))
    (bootstrap.ROOT / name).write_text("changed")
    assert not bootstrap.is_installed("demo")


def test_a_house_that_was_moved_is_installed_anew(bootstrap: ModuleType, tmp_path: Path) -> None:
    bootstrap.STAMP.write_text(bootstrap.stamp("demo").replace(str(tmp_path), "elsewhere"))
    assert not bootstrap.is_installed("demo")


def test_a_python_that_is_gone_is_installed_anew(bootstrap: ModuleType) -> None:
    bootstrap.STAMP.write_text(bootstrap.stamp("demo"))
    bootstrap.VENV_PYTHON.unlink()
    assert not bootstrap.is_installed("demo")


class Machine:
    """What is installed on it, who one is on it, and what was run."""

    def __init__(self, *there: str, root: bool, apt_helps: bool = True) -> None:
        self.there, self.root, self.apt_helps = set(there), root, apt_helps
        self.ran: list[list[str]] = []

    def run(self, command: list[str], **_: object) -> None:
        self.ran.append(command)
        if command[1] == "install" and self.apt_helps:
            self.there.add("chromium")


@pytest.mark.parametrize(
    ("machine", "fetch", "commands", "said"),
    [
        (Machine("chromium", "apt-get", root=True), True, 0, ""),
        (Machine("apt-get", root=True), True, 2, "installing Chromium"),
        (Machine("apt-get", root=True, apt_helps=False), True, 2, "are skipped"),
        (Machine("apt-get", root=True), False, 0, "are skipped"),
        (Machine("apt-get", root=False), True, 0, "are skipped"),
        (Machine(root=True), True, 0, "are skipped"),
    ],
)
def test_a_browser_for_the_tests_is_fetched_by_root_alone_and_never_missed_silently(
    bootstrap: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    machine: Machine,
    fetch: bool,
    commands: int,
    said: str,
) -> None:
    monkeypatch.setattr(bootstrap, "runs", lambda program: program in machine.there)
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: name if name in machine.there else None)
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: 0 if machine.root else 1000)
    monkeypatch.setattr(bootstrap.subprocess, "run", machine.run)
    bootstrap.see_to_a_browser(fetch=fetch)
    lines = capsys.readouterr().out.splitlines()
    assert len(machine.ran) == commands
    assert (said in lines[-1]) if said else lines == []
    assert len(lines) <= 2


def test_an_old_python_is_refused_in_one_line(bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap, "OLDEST", (99, 0))
    monkeypatch.setattr(bootstrap, "runs", lambda program: program == "python3.13")
    with pytest.raises(SystemExit, match=r"^evenpour: Python .* needed.* PYTHON=python3\.13\.$"):
        bootstrap.refuse_an_old_python()


def test_an_unknown_purpose_is_refused(bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["bootstrap.py", "dance"])
    with pytest.raises(SystemExit, match="demo or test"):
        bootstrap.main()


def test_a_failing_program_stops_with_what_did_not_work(bootstrap: ModuleType) -> None:
    with pytest.raises(SystemExit, match="no clock could be made; its own words stand above"):
        bootstrap.run([sys.executable, "-c", "raise SystemExit(1)"], "no clock could be made")
