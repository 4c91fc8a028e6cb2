"""The reader of TOML and JSON: values, places, and one clear complaint for each kind of bad file."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from evenpour.data import read_file, read_json, read_toml, shipped, shipped_names
from evenpour.data.located import MAX_BYTES
from evenpour.data.toml_lines import toml_lines
from evenpour.errors import FieldProblem, UnknownName


def located(text: str):
    return read_toml(textwrap.dedent(text).lstrip("\n"), "job.toml")


def line(text: str, *path: str | int) -> int | None:
    return located(text).place(path).line


JOB = """
    # a comment = "not a key"
    format = "evenpour-job/1"

    [engine]
    sheet = "flat-six"

    [[reading]]
    what = "system_pressure"
    value = "4.9 bar"

    [[reading]]
    what = "idle_speed"
    conditions = { state = "idle_warm",
    oil = "80 degC" }
    note = \"\"\"
    [engine]
    value = "not this one"
    \"\"\"
    value = "900 rpm"

    [[catch]]
    amounts = [
        "8.0 ml",   # ] not the end
        "8.2 ml",
        "",
    ]
    at = 2026-05-03 11:02:00
    through = "lines"

    [[catch.sub]]
    a.b."c d".'e' = [ [1, 2], { x = [3, { y = 4 }] } ]

    [[catch.sub]]
    z = '''
    x = 1'''

    [[catch]]
    [catch.more]
    q = 1
"""


# An inline table over two lines is no TOML 1.0, so the fixture is used with that line joined.
JOB = JOB.replace('"idle_warm",\n    oil', '"idle_warm", oil')


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        (("format",), 2),
        (("engine",), 4),
        (("engine", "sheet"), 5),
        (("reading",), 7),
        (("reading", 0), 7),
        (("reading", 0, "value"), 9),
        (("reading", 1), 11),
        (("reading", 1, "conditions"), 13),
        (("reading", 1, "conditions", "oil"), 13),
        (("reading", 1, "note"), 14),
        (("reading", 1, "value"), 18),
        (("catch", 0, "amounts", 0), 22),
        (("catch", 0, "amounts", 2), 24),
        (("catch", 0, "through"), 27),
        (("catch", 0, "sub", 0, "a", "b", "c d", "e", 1, "x", 1, "y"), 30),
        (("catch", 0, "sub", 1, "z"), 33),
        (("catch", 1, "more", "q"), 38),
    ],
)
def test_every_value_knows_its_line(path: tuple[str | int, ...], expected: int) -> None:
    assert line(JOB, *path) == expected


def test_a_missing_value_is_placed_where_its_parent_stands() -> None:
    place = located(JOB).place(("reading", 1, "cylinder"))
    assert (place.line, place.path) == (11, "reading 2")
    assert str(place) == "job.toml, line 11 (reading 2)"
    assert located(JOB).place(("nothing", 3)).line is None
    assert located(JOB).place(("reading", 7, "value")).path == "reading"


def test_windows_line_ends_and_a_byte_order_mark_change_nothing() -> None:
    text = "\ufeff" + textwrap.dedent(JOB).lstrip("\n").replace("\n", "\r\n")
    read = read_toml(text, "job.toml")
    assert read.values == located(JOB).values
    assert read.place(("catch", 1, "more", "q")).line == 38


def paths(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path] if path else []
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, inner in items:
        found += paths(inner, (*path, step))
    return found


LETTERS = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
KEYS = st.text(LETTERS, max_size=6)
LOOKALIKES = st.sampled_from(["[a]", "a = 1", "'''", '"""', "\n[[x]]\n", "# no", '\\"', "]", "}"])
TEXTS = st.text(LETTERS, max_size=12) | LOOKALIKES
SCALARS = st.integers(-(2**40), 2**40) | st.floats(allow_nan=False) | st.booleans() | TEXTS | st.datetimes()
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


@given(values=st.dictionaries(KEYS, VALUES, max_size=5), multiline=st.booleans())
def test_whatever_was_written_has_a_line_and_lines_follow_the_order_of_the_file(
    values: dict[str, Any], multiline: bool
) -> None:
    text = tomli_w.dumps(values, multiline_strings=multiline)
    read = read_toml(text, "any.toml")
    lines = toml_lines(text)
    count = text.replace("\r\n", "\n").count("\n")
    for path in paths(read.values):
        assert 1 <= lines[path] <= count
        if len(path) > 1:
            assert lines[path] >= lines[path[:-1]]
    assert set(lines) == set(paths(read.values))


@given(names=st.lists(KEYS, min_size=1, max_size=8, unique=True))
def test_a_flat_table_has_one_line_for_each_name(names: list[str]) -> None:
    text = tomli_w.dumps({"t": dict.fromkeys(names, 1)})
    assert [read_toml(text, "").place(("t", name)).line for name in names] == list(range(2, len(names) + 2))


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ("a = 1\nb = \n", 2, "no valid TOML"),
        ("a = 1\na = 2\n", 2, "no valid TOML"),
        ("[a]\nx = 1\n\n[a]\ny = 2\n", 4, "twice"),
        ("a = 1\nb = 'open\n", 2, "no valid TOML"),
        ("a = 1\nb = '''open\nc = 1\n", 2, "no valid TOML"),
        ('a = 1\nb = """open\nc = 2\n', 2, "no valid TOML"),
        ("a = [1,\n", 2, "no valid TOML"),
        ("a = {b = 1}\n[a.c]\n", 2, "no valid TOML"),
        ("a = 2026-13-45\n", 1, "no valid TOML"),
    ],
)
def test_a_slip_in_the_writing_is_told_with_its_line(text: str, at: int, words: str) -> None:
    with pytest.raises(FieldProblem, match=words) as caught:
        read_toml(text, "job.toml")
    assert caught.value.place is not None
    assert caught.value.place.line == at
    assert str(caught.value).startswith(f"job.toml, line {at}")


def test_nul_characters_are_refused_with_their_line() -> None:
    for read in (read_toml, read_json):
        with pytest.raises(FieldProblem, match=r"line 2.*NUL"):
            read("a = 1\nb = '\0'\n", "job")


def test_a_file_that_nests_without_end_or_holds_an_endless_number_is_refused() -> None:
    for text in ("a = " + "[" * 5000 + "]" * 5000, "a = " + "[" * 60 + "]" * 60):
        with pytest.raises(FieldProblem, match="too deeply"):
            read_toml(text, "job.toml")
    with pytest.raises(FieldProblem, match="too deeply"):
        read_json('{"a": ' + "[" * 100_000 + "]" * 100_000 + "}", "job.json")
    with pytest.raises(FieldProblem, match="cannot be read"):
        read_toml("a = " + "9" * 5000, "job.toml")


def test_json_gives_values_and_the_path_in_words() -> None:
    read = read_json(json.dumps({"reading": [{"what": "x"}, {"what": "y"}]}), "job.json")
    assert str(read.place(("reading", 1, "what"))) == "job.json (reading 2, what)"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{\n"a": }', r"line 2.*no valid JSON"),
        ("[1]", "holds no names at its top"),
        ('{"a": 1, "a": 2}', "stands twice"),
        ('{"a": NaN}', "no number in JSON"),
        ("", "no valid JSON"),
    ],
)
def test_bad_json_is_told(text: str, words: str) -> None:
    with pytest.raises(FieldProblem, match=words):
        read_json(text, "job.json")


def test_files_of_either_kind_are_read(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    (tmp_path / "a.JSON").write_bytes(b'\xef\xbb\xbf{"a": 1}')
    assert read_file(tmp_path / "a.toml").values == read_file(tmp_path / "a.JSON").values == {"a": 1}


def test_a_file_that_cannot_be_read_gives_one_clear_complaint(tmp_path: Path) -> None:
    (tmp_path / "latin.toml").write_bytes(b"a = 1\nb = '\xb0C'\n")
    with (tmp_path / "huge.toml").open("wb") as huge:
        huge.truncate(MAX_BYTES + 1)
    (tmp_path / "nul.toml").write_bytes(b"a = 1\0")
    for name, words in [
        ("latin.toml", r"line 2.*not written in UTF-8"),
        ("huge.toml", "too large"),
        ("nul.toml", "NUL"),
        ("missing.toml", "does not exist"),
        ("", "is a folder"),
        ("a\0b", "cannot be read"),
    ]:
        with pytest.raises(FieldProblem, match=words):
            read_file(tmp_path / name if name else tmp_path)


def test_only_shipped_files_can_be_asked_for_by_name() -> None:
    for name in shipped_names():
        assert shipped(name).values
    for name in ("../errors.py", "check.toml", "sheets/../checks.toml", ""):
        with pytest.raises(UnknownName):
            shipped(name)
