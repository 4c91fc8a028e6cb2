"""Job files: what a mechanic may write, and what is said about what he may not."""

from __future__ import annotations

import json
import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpour.errors import Problems, Questioned
from evenpour.job.fold import fold
from evenpour.job.forms import KINDS
from evenpour.job.job_file import collect, read_bytes, read_file, read_text
from evenpour.job.schema import job_file_schema
from job_examples import EVERY_KIND, SHORT

BAD = Path(__file__).parent / "bad_jobs"
EXPECTED = tomllib.loads((BAD / "expected.toml").read_text(encoding="utf-8"))["bad"]
NOW = datetime(2026, 6, 1, tzinfo=UTC)


def refused(text: str, name: str = "job.toml") -> Problems:
    with pytest.raises(Problems) as caught:
        read_text(text, name, now=NOW)
    return caught.value


@pytest.mark.parametrize("bad", EXPECTED, ids=lambda bad: bad["file"])
def test_a_bad_file_is_told_what_is_wrong_where_and_what_to_do(bad):
    path = BAD / bad["file"]
    with pytest.raises(Problems) as caught:
        read_file(path)
    told = str(caught.value)
    for fragment in bad["says"]:
        assert fragment in told
    assert all(line.startswith(bad["file"]) for line in told.splitlines())
    if "line" in bad:
        assert caught.value.all[0].place.line == bad["line"]
    if "count" in bad:
        assert len(caught.value.all) == bad["count"]


def test_every_bad_file_has_its_expected_message():
    files = {path.name for path in BAD.iterdir()} - {"expected.toml"}
    assert files == {bad["file"] for bad in EXPECTED}


def test_a_file_with_nothing_but_a_sheet_and_readings_is_complete():
    read = read_text(SHORT, "job.toml")
    assert read.engine == {"sheet": "flat-six"}
    assert [entry.kind for entry in read.entries] == ["engine", "reading", "reading"]
    assert [entry.id for entry in read.entries] == ["engine", "reading-1", "reading-2"]
    assert all(entry.entered is None for entry in read.entries)


def test_every_kind_of_entry_is_read_in_the_order_of_the_file():
    read = read_text(EVERY_KIND, "job.toml", now=NOW)
    assert {entry.kind for entry in read.entries} == set(KINDS)
    lines = [read.place(entry.id).line for entry in read.entries]
    assert lines == sorted(lines)


def test_json_says_the_same_as_toml():
    whole = tomllib.loads(EVERY_KIND)
    read = read_text(json.dumps(whole, default=lambda time: time.isoformat()), "job.json", now=NOW)
    toml = read_text(EVERY_KIND, "job.toml", now=NOW)
    assert {(e.id, e.at, e.kind, json.dumps(e.content)) for e in read.entries} == {
        (e.id, e.at, e.kind, json.dumps(e.content)) for e in toml.entries
    }


def test_text_that_opens_with_a_brace_is_json_whatever_its_name():
    text = '\n {"format": "evenpour-job/1", "engine": {"sheet": "flat-six"}}'
    assert read_text(text, "upload").engine == {"sheet": "flat-six"}


def test_a_place_names_the_field_of_an_entry():
    place = read_text(EVERY_KIND, "job.toml", now=NOW).place(
        "reading-1", "conditions", "regulator_temperature"
    )
    assert str(place).startswith("job.toml, line ")
    assert place.path == "reading 1, conditions, regulator_temperature"


def test_a_place_in_a_flat_correction_is_the_correction_s_own_field():
    text = (
        SHORT + '\n[[correction]]\nof = "reading-1"\nreason = "x"\nwhat = "plate_travel"\nvalue = "binds"\n'
    )
    assert read_text(text, "job.toml").place("correction-1", "new", "value").path == "correction 1, value"


def test_the_same_entry_twice_counts_once():
    entry = '\n[[reading]]\nid = "a"\nwhat = "system_pressure"\nvalue = "4.9 bar"\n'
    assert len(read_text(SHORT + entry + entry, "job.toml").entries) == 4


def test_the_same_instrument_twice_counts_once():
    gauge = '\n[[instrument]]\nid = "gauge"\nkind = "pressure gauge"\nrange = "6 bar"\nclass = 1.0\n'
    assert len(read_text(SHORT + gauge + gauge, "job.toml").entries) == 4


def test_an_id_made_here_steps_aside_for_a_typed_one():
    ids = [entry.id for entry in read_text(SHORT + 'id = "reading-1"\n', "job.toml").entries]
    assert ids == ["engine", "reading-1-", "reading-1"]


def test_lambda_and_counts_may_stand_without_quotes():
    text = SHORT + '\n[[reading]]\nwhat = "exhaust_lambda"\nvalue = 0.96\n'
    assert read_text(text, "job.toml").entries[-1].content["value"] == "0.96"


def test_a_time_without_an_offset_is_this_computer_s():
    text = SHORT + "at = 2026-05-03T10:12:00\n"
    at = read_text(text, "job.toml").entries[-1].at
    assert at == datetime(2026, 5, 3, 10, 12).astimezone().isoformat()


def test_a_time_keeps_its_offset():
    text = SHORT + "at = 2026-05-03T10:12:00-07:00\n"
    assert read_text(text, "job.toml").entries[-1].at == "2026-05-03T10:12:00-07:00"


def test_a_time_far_ahead_is_questioned():
    problem = refused(SHORT + "at = 2026-06-03T10:12:00Z\n").all[0]
    assert isinstance(problem, Questioned)


def test_times_may_be_missing_from_instruments_notes_and_corrections_beside_a_move():
    text = """format = "evenpour-job/1"
[engine]
sheet = "flat-six"
[[instrument]]
id = "gauge"
kind = "pressure gauge"
[[note]]
text = "cold morning"
[[move]]
part = "mixture_screw"
turns = "+1/8 turn"
at = 2026-05-03T12:31:00Z
[[correction]]
of = "move-1"
reason = "the other way"
part = "mixture_screw"
turns = "-1/8 turn"
"""
    assert fold(read_text(text, "job.toml", now=NOW).entries).standing[-1].content["turns"] == "-1/8 turn"


def test_flat_and_nested_corrections_say_the_same():
    head = SHORT + '\n[[correction]]\nof = "reading-1"\nreason = "misread"\n'
    flat = read_text(head + 'what = "plate_travel"\nvalue = "binds"\nnote = "left side"\n', "a.toml").entries
    nested = read_text(
        head + 'new = { what = "plate_travel", value = "binds", note = "left side" }\n', "b.toml"
    ).entries
    assert flat == nested


def test_a_correction_may_name_an_instrument_or_a_step_by_its_own_id():
    text = (
        SHORT
        + '\n[[step]]\nid = "spark_disabled"\ndone = true\n'
        + '\n[[correction]]\nof = "spark_disabled"\nreason = "plug was still on"\ndone = false\n'
    )
    last = read_text(text, "job.toml").entries[-1]
    assert last.content["of"] == "step-1"
    assert last.content["new"] == {"id": "spark_disabled", "done": False, "reason": "plug was still on"}


def test_a_flat_correction_of_a_correction_mends_what_that_one_said():
    text = (
        SHORT
        + '\n[[correction]]\nof = "reading-1"\nreason = "misread"\nwhat = "plate_travel"\nvalue = "binds"\n'
        + '\n[[correction]]\nof = "correction-1"\nreason = "no"\nwhat = "plate_travel"\nvalue = "free"\n'
    )
    standing = fold(read_text(text, "job.toml").entries).standing
    assert standing[1].content["value"] == "free"


def test_a_correction_of_a_faulty_entry_draws_no_second_complaint():
    text = (
        SHORT
        + '\n[[reading]]\nwhat = 3\nvalue = "x"\n'
        + '\n[[correction]]\nof = "reading-3"\nreason = "y"\nwithdrawn = true\n'
    )
    assert len(refused(text).all) == 1


def test_corrections_never_run_in_a_ring():
    ring = """
[[correction]]
of = "reading-1"
reason = "a"
withdrawn = true
[[correction]]
of = "correction-1"
reason = "b"
new = { of = "correction-1", reason = "c", withdrawn = true }
"""
    assert "is no id of an entry before this correction" in str(refused(SHORT + ring))


def test_problems_come_in_the_order_of_the_file():
    read = collect((BAD / "many_at_once.toml").read_text(), "job.toml", now=NOW)
    lines = [problem.place.line for problem in read.problems]
    assert lines == sorted(lines)
    assert read.entries == ()


def test_sound_entries_are_there_beside_the_problems_of_others():
    read = collect(SHORT + '\n[[reading]]\nwhat = "system_pressure"\nvalue = 4.9\n', "job.toml")
    assert len(read.problems) == 1
    assert len(read.entries) == 3


def test_the_schema_knows_every_kind_and_its_fields():
    schema = job_file_schema()
    assert set(KINDS) <= set(schema["properties"])
    assert set(schema["$defs"]["instrument"]["properties"]) >= {"id", "class", "entry", "entered"}
    assert schema["$defs"]["reading"]["additionalProperties"] is False
    assert "replaced" in schema["$defs"]["did"]["properties"]["action"]["enum"]
    json.dumps(schema)


@st.composite
def mangled(draw):
    """A good file after an accident: bytes flipped, lines lost or doubled, values exchanged."""
    data = draw(st.sampled_from([EVERY_KIND, SHORT])).encode()
    for _ in range(draw(st.integers(1, 4))):
        how = draw(st.sampled_from(["flip", "cut", "lose", "double", "exchange", "retype"]))
        lines = data.split(b"\n")
        one, two = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        if how == "flip" and data:
            at = draw(st.integers(0, len(data) - 1))
            data = data[:at] + bytes([draw(st.integers(0, 255))]) + data[at + 1 :]
        elif how == "cut":
            data = data[: draw(st.integers(0, len(data)))]
        elif how == "lose":
            data = b"\n".join(lines[:one] + lines[one + 1 :])
        elif how == "double":
            data = b"\n".join([*lines[:one], lines[two], *lines[one:]])
        else:
            left, right = lines[one].partition(b"=")[0::2], lines[two].partition(b"=")[0::2]
            odd = draw(st.sampled_from(ODD)) if how == "retype" else right[1]
            lines[one] = left[0] + b"=" + odd
            data = b"\n".join(lines)
    return data


ODD = [
    b'""', b"nan", b"-inf", b"1e400", b"{}", b"[]", b"[[]]", b"true", b"-0", b'"\\u0000"',
    b"0001-01-01T00:00:00",
    b"9999-12-31T23:59:59-23:59", b"1979-05-27", b"07:32:00", b"99999999999999999999999", b'{ "" = "" }',
    b'["", 3, {}]', b'"reading-1"', b'"correction-1"', b'"step-1"', b"[{ of = { of = 1 } }]",
]  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(mangled())
def test_an_accident_to_a_file_gives_problems_and_nothing_else(data):
    try:
        read = read_bytes(data, "job.toml", now=NOW)
    except Problems as problems:
        str(problems)  # its message can be made
    else:
        fold(read.entries)


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_any_json_in_place_of_a_value_gives_problems_and_nothing_else(data):
    whole = tomllib.loads(EVERY_KIND)
    kind = data.draw(st.sampled_from([*KINDS, "format", "chain"]))
    odd = data.draw(values)
    if isinstance(whole.get(kind), (dict, list)) and data.draw(st.booleans()):
        one = whole[kind] if isinstance(whole[kind], dict) else whole[kind][0]
        one[data.draw(st.sampled_from([*one, "id", "at", "entry", "new", "of"]))] = odd
    else:
        whole[kind] = odd
    try:
        text = json.dumps(whole, default=lambda time: time.isoformat())
        fold(read_text(text, "job.json", now=NOW).entries)
    except Problems as problems:
        str(problems)
