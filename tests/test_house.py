"""The rules of the house that a program can check: who may import whom, what stays pure, what starts fast."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import evenpour

ROOT = Path(__file__).resolve().parent.parent
SRC = ROOT / "src" / "evenpour"

# What each folder may import, besides itself and evenpour.errors.
BELOW_JOB = {"physics", "measure", "machine", "tune", "causes", "path", "data"}
MAY_USE: dict[str, set[str]] = {
    "physics": set(),
    "measure": {"physics"},
    "machine": {"physics", "measure"},
    "tune": {"physics", "measure", "machine"},
    "causes": {"physics", "measure", "machine"},
    "path": {"measure", "machine"},
    "data": set(),
    "job": BELOW_JOB,
    "record": {"job"},
    "web": {"job", "record"},
    "cli": {"job", "record", "web"},
}
FACES = ("record", "web", "cli")
# How a number and its unit are written; no face does it in its own way.
PRINTING = {"shown", "label", "with_minus"}
NEVER_IN_A_FACE = {"numpy", "scipy", "sqlalchemy", "sqlite3"}

PURE = ("physics", "measure", "machine", "tune", "causes", "path")
DOES_IO = {
    "csv", "glob", "http", "io", "json", "logging", "os", "pathlib", "pickle", "shutil", "socket",
    "sqlalchemy", "sqlite3", "subprocess", "sys", "tempfile", "tomli_w", "tomllib", "urllib",
}  # fmt: skip
IO_CALLS = {
    "open", "print", "input", "read_text", "read_bytes", "write_text", "write_bytes", "load", "loadtxt",
    "genfromtxt", "fromfile", "tofile", "save", "savetxt", "savez",
}  # fmt: skip

HEAVY = {"numpy", "scipy", "sqlalchemy", "pydantic", "rich", "typst", "vl_convert", "jinja2", "tomli_w",
         "starlette", "uvicorn"}  # fmt: skip
LONGEST_MODULE = 400

# Addresses that are names of formats, or examples; nothing here is fetched.
VENDORED = "tests/vendor/"  # others' work, unmodified, for tests alone: it names its own home
NAMES_NOT_PLACES = {"www.w3.org", "json-schema.org", "example.org", "localhost", "127.0.0.1"}


def modules_of(*folders: str) -> list[Path]:
    """Every module of these folders."""
    return [path for folder in folders for path in sorted((SRC / folder).rglob("*.py"))]


def named(path: Path) -> str:
    """A module as it shows in a test's name."""
    return str(path.relative_to(SRC))


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def imports_of(path: Path) -> Iterator[tuple[str, str]]:
    """Every import as (module in full, name taken from it or ""), also within functions and type checks."""
    package = ("evenpour", *path.relative_to(SRC).parent.parts)
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            module = ".".join(part for part in (base, node.module or "") if part)
            yield from ((module, alias.name) for alias in node.names)


def ours(path: Path) -> Iterator[tuple[str, str, str]]:
    """Imports from evenpour as (folder or top module, module in full, name)."""
    for module, name in imports_of(path):
        if module == "evenpour":
            yield name, module, ""
        elif module.startswith("evenpour."):
            yield module.split(".")[1], module, name


def files_under_version_control() -> list[Path]:
    """The tracked files; from an unpacked archive, everything that is no product of a run."""
    listing = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listing.returncode == 0 and listing.stdout:
        found = [ROOT / name for name in listing.stdout.split("\0") if name]
    else:
        found = [path for path in ROOT.rglob("*") if not _made(path.relative_to(ROOT))]
    return [path for path in found if path.is_file()]


def _made(path: Path) -> bool:
    return any((part.startswith(".") and part != ".ci") or part == "__pycache__" for part in path.parts)


def texts() -> Iterator[tuple[str, str]]:
    """Every tracked file that is text, as (name, text)."""
    for path in files_under_version_control():
        data = path.read_bytes()
        if b"\0" not in data:
            yield str(path.relative_to(ROOT)), data.decode("utf-8", errors="replace")


def test_every_folder_has_a_line_in_the_table() -> None:
    folders = {path.name for path in SRC.iterdir() if (path / "__init__.py").is_file()}
    assert folders <= set(MAY_USE)


@pytest.mark.parametrize("layer", MAY_USE)
def test_a_layer_imports_only_what_lies_beneath_it(layer: str) -> None:
    allowed = MAY_USE[layer] | {layer, "errors", "__version__"}
    for path in modules_of(layer):
        for folder, module, name in ours(path):
            value_type = layer in FACES and folder in BELOW_JOB and (_is_value_type(name) or name in PRINTING)
            assert folder in allowed or value_type, f"{named(path)} imports {module}.{name}"


def _is_value_type(name: str) -> bool:
    return re.fullmatch(r"[A-Z][A-Za-z0-9]*|[A-Z][A-Z0-9_]*", name) is not None


@pytest.mark.parametrize("path", modules_of(*FACES), ids=named)
def test_a_face_neither_computes_nor_queries(path: Path) -> None:
    tops = {module.split(".")[0] for module, _ in imports_of(path)}
    assert not tops & NEVER_IN_A_FACE


@pytest.mark.parametrize("path", modules_of(*PURE), ids=named)
def test_a_pure_layer_reads_and_writes_nothing(path: Path) -> None:
    assert not {module.split(".")[0] for module, _ in imports_of(path)} & DOES_IO
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            called = node.func
            name = called.id if isinstance(called, ast.Name) else getattr(called, "attr", "")
            assert name not in IO_CALLS, f"{named(path)}, line {node.lineno}: {name}"


@pytest.mark.parametrize("path", modules_of("."), ids=named)
def test_a_module_can_be_read_in_a_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


@pytest.mark.parametrize("path", modules_of("."), ids=named)
def test_a_module_says_what_it_knows(path: Path) -> None:
    assert ast.get_docstring(tree_of(path))


@pytest.mark.parametrize("path", modules_of("physics", "measure"), ids=named)
def test_every_public_function_and_class_of_physics_and_measure_is_described(path: Path) -> None:
    described = ast.FunctionDef | ast.ClassDef
    public = [n for n in tree_of(path).body if isinstance(n, described) and not n.name.startswith("_")]
    assert [node.name for node in public if not ast.get_docstring(node)] == []


@pytest.mark.parametrize("option", ["--version", "--help"])
def test_the_command_starts_without_anything_heavy(option: str) -> None:
    command = [sys.executable, "-X", "importtime", "-m", "evenpour", option]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    imported = {line.rpartition("|")[2].strip().partition(".")[0] for line in run.stderr.splitlines()}
    assert "evenpour" in imported  # else the listing was not understood
    assert not imported & HEAVY


def test_no_tracked_file_names_a_place_on_this_machine() -> None:
    homes = [r"/home/\w", r"/Users/\w", r"/root\b", r"[A-Z]:\\Users"]
    here = [re.escape(str(path)) + r"(?![\w.])" for path in (ROOT, Path.home()) if len(path.parts) > 2]
    pattern = re.compile(r"(?<![\w.<])(?:" + "|".join([*homes, *here]) + ")")
    own = str(Path(__file__).relative_to(ROOT))
    found = [(name, match[0]) for name, text in texts() if name != own for match in pattern.finditer(text)]
    assert found == []


def test_no_tracked_file_names_a_place_on_the_network() -> None:
    hosts = re.compile(r"\b[a-z]{3,5}://([^\s/\"'<>)`:]+)")
    found = [(name, match[0]) for name, text in texts() for match in hosts.finditer(text)
             if match[1] not in NAMES_NOT_PLACES and not name.startswith(VENDORED)]  # fmt: skip
    assert found == []


def pins(lock: str) -> set[str]:
    """Every pinned package of a lock, with its marker."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    return {pin.strip() for pin in re.findall(r"^[a-z0-9][^ \n]*==[^\\\n]+", text, re.M)}


def test_the_tests_run_the_versions_that_the_tool_runs() -> None:
    assert pins("requirements.lock")
    assert pins("requirements.lock") - pins("requirements-dev.lock") == set()


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_a_lock_holds_a_hash_for_every_package_and_no_address(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    packages = re.split(r"^(?=[a-z0-9])", text, flags=re.M)[1:]
    assert [package.split()[0] for package in packages if "--hash=sha256:" not in package] == []
    assert not re.search(r"://|--(?:extra-)?index-url|--find-links| @ ", text)


def test_the_changelog_begins_with_this_version() -> None:
    changelog = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\d[\w.]*)", changelog, re.M)
    assert newest is not None
    assert newest[1] == evenpour.__version__


@pytest.mark.parametrize("command", ["make demo", "make test"])
def test_the_readme_shows_how_to_begin(command: str) -> None:
    assert command in (ROOT / "README.md").read_text(encoding="utf-8")
