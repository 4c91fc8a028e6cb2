"""docs/checked-against.md lists every check against the outside, and every published test is one."""

import ast
import importlib
import importlib.util
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PUBLISHED = ROOT / "tests" / "published"
MODULES = sorted(PUBLISHED.glob("test_*.py"))
MANY = 40  # that we promise


def script():
    spec = importlib.util.spec_from_file_location("write_checked", ROOT / "scripts" / "write_checked.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def checks():
    if str(PUBLISHED) not in sys.path:
        sys.path.insert(0, str(PUBLISHED))
    for path in MODULES:
        importlib.import_module(path.stem)
    return sys.modules["achieved"].CHECKS


def test_the_page_lists_every_check_and_no_other():
    known = script()
    on_the_page = sorted(known.listed(known.PAGE.read_text(encoding="utf-8")))
    assert on_the_page == sorted(known.entry(check) for check in checks()), "run scripts/write_checked.py"


def test_there_are_as_many_checks_as_promised():
    assert len(checks()) >= MANY


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_every_published_test_holds_something_against_a_source(path):
    tests = [
        node
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]
    assert [test.name for test in tests if not _holds(test)] == []


def _holds(test):
    return any(
        isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "holds" for node in ast.walk(test)
    )


def test_a_check_that_nothing_is_held_against_is_not_written():
    known = script()
    unused = type("Unused", (), {"key": ("Topic", "source", "what"), "values": 0})
    with pytest.raises(SystemExit, match="source"):
        known.page([unused])
