"""A sheet's text changed in place: only what was meant, whatever stands around it."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour import data
from evenpour.errors import FieldProblem
from evenpour.job.sheet.edit import changed, statement_end
from evenpour.job.sheet.sections import sections

TEXT = """\
format = "evenpour-sheet/1"
id = "mine"  # short
title = "Mine"

[values]
# the engine
cylinders = { is = 4, source = "a b" }  # counted # twice
firing_order = { is = [1, 3, 4, 2], source = "says '#' on the block" } # with a mark

# Pressures

[[limit]]
check = "dwell"
low = "36 deg" # as read
depends = [
  { on = "altitude", at = "0 m" },  # over two lines
]
source = "a b"

# Spark

[[limit]]
check = "points_gap"
allowed = ["x"]
source = "a b"
"""


def test_comments_stay_and_lines_that_do_not_change_are_not_touched() -> None:
    new = changed(
        TEXT,
        {
            ("values", "cylinders"): {"is": 6, "source": "manual, page 1"},
            ("limit", 0): {**tomllib.loads(TEXT)["limit"][0], "low": "38 deg", "high": "40 deg"},
        },
    )
    before, after = TEXT.splitlines(), new.splitlines()
    assert [line for line in after if line not in before] == [
        'cylinders = { is = 6, source = "manual, page 1" }  # counted # twice',
        'low = "38 deg" # as read',
        'high = "40 deg"',
    ]
    assert [line for line in before if line not in after] == [before[6], before[13]]


def test_what_is_taken_out_is_gone_with_its_lines_and_nothing_else() -> None:
    new = changed(TEXT, {("values", "firing_order"): None, ("limit", 0): None})
    assert "firing_order" not in new
    assert "altitude" not in new
    assert [one["check"] for one in tomllib.loads(new)["limit"]] == ["points_gap"]
    assert "# Pressures" in new
    assert "# Spark" in new


def test_line_ends_and_a_byte_order_mark_of_another_system_do_no_harm() -> None:
    new = changed("\ufeff" + TEXT.replace("\n", "\r\n"), {("title",): "Ours"})
    assert new == TEXT.replace("Mine", "Ours").replace("\n", "\r\n")


@pytest.mark.parametrize(
    "odd",
    [
        'id = "mine"\nvalues.cylinders = { is = 4, source = "a b" }\n',
        'id = "mine"\n[values.cylinders]\nis = 4\nsource = "a b"\n',
        'id = "mine"\nvalues = { cylinders = { is = 4, source = "a b" } }\n',
    ],
)
def test_a_text_too_odd_to_be_changed_safely_is_refused(odd: str) -> None:
    with pytest.raises(FieldProblem, match="cannot be changed safely"):
        changed(odd, {("values", "cylinders"): {"is": 6, "source": "c d"}})


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1, max_size=30)


@given(words=WORDS, name=st.sampled_from(["cylinders", "firing_order", "dwell"]))
def test_any_text_comes_back_as_it_went(words: str, name: str) -> None:
    new = changed(TEXT, {("values", name): {"is": words, "source": words, "note": words}})
    assert tomllib.loads(new)["values"][name] == {"is": words, "source": words, "note": words}


def test_a_statement_over_several_lines_ends_where_it_ends() -> None:
    lines = TEXT.split("\n")
    start = next(place for place, line in enumerate(lines) if line.startswith("depends"))
    assert statement_end(lines, start) == (start + 3, "")


@pytest.mark.parametrize("name", data.sheet_names())
def test_every_value_and_limit_of_a_shipped_sheet_stands_in_one_section(name: str) -> None:
    text = data.shipped_text(f"sheets/{name}.toml")
    plain = tomllib.loads(text)
    parts = sections(text, plain)
    keys = [key for part in parts for key in part.keys]
    assert len(keys) == len(set(keys)) == sum(len(plain[table]) for table in ("devices", "values", "limit"))
    assert len({part.title for part in parts}) == len(parts) > 10


def test_sections_are_headed_by_the_files_own_comments() -> None:
    assert [part.title for part in sections(TEXT, tomllib.loads(TEXT))] == [
        "The engine",
        "Pressures",
        "Spark",
    ]
