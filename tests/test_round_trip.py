"""Export and import: the same state, the same bytes, and a chain that shows what was changed between."""

from __future__ import annotations

import json
import tomllib
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpour.errors import Problems
from evenpour.job import chain
from evenpour.job.entries import Draft
from evenpour.job.fold import fold
from evenpour.job.job_file import read_text, write_json, write_toml
from evenpour.job.store import Store
from evenpour.job.tables import catches_csv, readings_csv
from job_examples import EVERY_KIND, SHORT

NOW = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def store():
    with Store("sqlite://") as opened:
        yield opened


def stored(store, text=EVERY_KIND):
    return store.entries(store.import_job(read_text(text, "job.toml", now=NOW).entries))


def state(entries):
    return [(one.rank, one.entry.id, one.kind, dict(one.content), one.at) for one in fold(entries).standing]


@pytest.mark.parametrize(("write", "name"), [(write_toml, "job.toml"), (write_json, "job.json")])
def test_an_export_comes_back_to_the_same_state_and_the_same_bytes(store, write, name):
    entries = stored(store)
    again = (
        stored(store, write(entries))
        if name == "job.toml"
        else store.entries(store.import_job(read_text(write(entries), name, now=NOW).entries))
    )
    assert again == entries
    assert state(again) == state(entries)
    assert write(again) == write(entries)


def test_toml_and_json_carry_each_other(store):
    entries = stored(store)
    through = read_text(write_json(read_text(write_toml(entries), "a.toml").entries), "b.json").entries
    assert write_toml(through) == write_toml(entries)


def test_a_handwritten_file_folds_to_the_same_state_in_a_store(store):
    read = read_text(EVERY_KIND, "job.toml", now=NOW)
    assert state(stored(store)) == state(read.entries)
    assert "entered" not in write_toml(read.entries)
    assert state(read_text(write_toml(read.entries), "again.toml", now=NOW).entries) == state(read.entries)


def test_an_export_adds_id_and_entered_to_every_entry(store):
    exported = tomllib.loads(write_toml(stored(store)))
    tables = [
        table
        for kind, value in exported.items()
        if kind not in {"format", "chain"}
        for table in (value if isinstance(value, list) else [value])
    ]
    assert all("id" in table and "entered" in table for table in tables)
    assert exported["step"][0]["id"] == "spark_disabled"
    assert exported["step"][0]["entry"] == "step-1"


def test_what_was_added_after_an_import_is_exported_behind_it(store):
    number = store.import_job(read_text(SHORT, "job.toml").entries)
    store.append(number, "move", {"part": "mixture_screw", "turns": "+1/8 turn"})
    store.append(number, "correction", {"of": "reading-1", "reason": "x", "withdrawn": True})
    exported = write_toml(store.entries(number))
    assert write_toml(stored(store, exported)) == exported


def test_a_change_to_an_export_is_noticed(store):
    exported = write_toml(stored(store))
    assert "1.45 bar" in exported
    with pytest.raises(Problems, match=r"chain .* does not fit the entries"):
        read_text(exported.replace("1.45 bar", "1.46 bar"), "job.toml", now=NOW)


def test_an_entry_taken_out_of_an_export_is_noticed(store):
    exported = json.loads(write_json(stored(store)))
    del exported["happened"], exported["correction"][1]
    with pytest.raises(Problems, match=r"chain .* does not fit the entries"):
        read_text(json.dumps(exported), "job.json", now=NOW)


def test_who_stands_by_a_change_takes_the_chain_out(store):
    exported = write_toml(stored(store)).replace("1.45 bar", "1.46 bar")
    without = "".join(line for line in exported.splitlines(keepends=True) if not line.startswith("chain"))
    assert read_text(without, "job.toml", now=NOW).entries


def test_entries_written_by_hand_below_an_export_keep_its_chain(store):
    exported = write_toml(stored(store))
    more = '\n[[note]]\ntext = "added at the bench"\n'
    read = read_text(more.join([exported, ""]), "job.toml", now=NOW)
    assert read.entries[-1].content == {"text": "added at the bench"}
    assert chain.head(read.entries[:-1]) == tomllib.loads(exported)["chain"]


def test_an_export_into_the_job_it_came_from_adds_nothing(store):
    number = store.import_job(read_text(EVERY_KIND, "job.toml", now=NOW).entries)
    before = store.entries(number)
    store.append_many(number, read_text(write_json(before), "job.json", now=NOW).entries)
    assert store.entries(number) == before


words = st.text(
    st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n\t\"'\\"), min_size=1
).filter(str.strip)
moments = st.datetimes(
    min_value=datetime(1950, 1, 2),
    max_value=datetime(2026, 5, 1),
    timezones=st.timezones().map(lambda zone: zone),
).map(lambda moment: moment.isoformat())
drafts = st.one_of(
    st.builds(lambda text, at: Draft("note", {"text": text}, None, at), words, st.none()),
    st.builds(
        lambda what, value, conditions: Draft(
            "reading", {"what": what, "value": value, "conditions": conditions}, None, None
        ),
        words,
        words,
        st.dictionaries(words, words, max_size=3),
    ),
    st.builds(
        lambda class_: Draft("instrument", {"id": str(class_), "kind": "gauge", "class": class_}),
        st.floats(1e-9, 50.0) | st.integers(1, 50),
    ),
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(drafts, max_size=5, unique_by=lambda draft: str(draft.content)), st.lists(moments, max_size=2)
)
def test_any_job_comes_back_as_it_was(store, some, times):
    number = store.new_job({"sheet": "flat-six"})
    for draft in some:
        store.append(number, draft.kind, draft.content)
    for at in times:
        store.append(number, "happened", {"what": "backfire"}, at=at)
    entries = store.entries(number)
    toml, as_json = write_toml(entries), write_json(entries)
    assert chain.verify(entries) == ()
    assert read_text(toml, "job.toml").entries == entries
    assert read_text(as_json, "job.json").entries == entries


def test_readings_as_csv_hold_what_was_typed_and_figure_and_unit_apart(store):
    lines = readings_csv(fold(stored(store)).standing).splitlines()
    assert lines[0].startswith("rank,at,what,cylinder,value,number,unit")
    assert any(
        ",control_pressure_cold,,1.40 bar,1.40,bar,regulator_temperature = 18 degC,gauge," in one
        for one in lines
    )
    assert sum(",compression,2," in one for one in lines) == 2


def test_catches_as_csv_have_a_row_for_each_port(store):
    lines = catches_csv(fold(stored(store)).standing).splitlines()
    assert len(lines) == 1 + 6 + 4
    assert ",0,lines,idle,5,,,,60 s,line 3 with 5," in lines[5]


def test_text_that_a_spreadsheet_would_compute_is_shown_instead(store):
    number = store.new_job({"sheet": "flat-six"})
    store.append(number, "reading", {"what": "onset", "value": "-0.25 turn", "note": "=1+1"})
    last = readings_csv(fold(store.entries(number)).standing).splitlines()[-1]
    assert ",-0.25 turn,-0.25,turn," in last
    assert ",'=1+1," in last
