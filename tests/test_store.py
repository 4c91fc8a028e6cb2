"""The store: nothing acknowledged is lost, nothing is kept twice, nothing is changed."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sqlite3
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sql

from evenpour.errors import FieldProblem, OutOfRange, Problems, Questioned, Refused, UnknownName
from evenpour.job import chain
from evenpour.job import store_tables as tables
from evenpour.job.entries import Draft
from evenpour.job.job_file import read_text
from evenpour.job.places import default_path
from evenpour.job.store import Store
from job_examples import EVERY_KIND

POSTGRES = os.environ.get("EVENPOUR_TEST_POSTGRES", "")  # a URL of an empty database
READING = {"what": "system_pressure", "value": "4.9 bar"}
SPAWN = multiprocessing.get_context("spawn")


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request, tmp_path):
    if request.param == "sqlite":
        return str(tmp_path / "new" / "jobs.db")
    if not POSTGRES:
        pytest.skip("EVENPOUR_TEST_POSTGRES names no database")
    engine = sql.create_engine(sql.make_url(POSTGRES).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        connection.execute(sql.text("DROP SCHEMA public CASCADE"))
        connection.execute(sql.text("CREATE SCHEMA public"))
    engine.dispose()
    return POSTGRES


@pytest.fixture
def store(where):
    with Store(where) as opened:
        yield opened


@pytest.fixture
def job(store):
    return store.new_job({"sheet": "flat-six", "car": "green coupe", "workshop": "Shed, bay 2"})


def test_an_entry_comes_back_as_it_was_sent(store, job):
    sent = store.append(job, "reading", READING, id="r1", at="2026-05-03T10:12:00+02:00")
    assert store.entries(job)[-1] == sent
    assert (sent.seq, sent.id, sent.at, sent.content) == (2, "r1", "2026-05-03T10:12:00+02:00", READING)


def test_an_entry_without_a_time_is_of_now(store, job):
    at = datetime.fromisoformat(store.append(job, "reading", READING).at)
    assert abs((datetime.now(UTC) - at).total_seconds()) < 60


def test_the_same_entry_sent_twice_counts_once(store, job):
    once = store.append(job, "reading", READING, id="r1")
    assert store.append(job, "reading", dict(reversed(READING.items())), id="r1") == once
    assert len(store.entries(job)) == 2


@pytest.mark.parametrize(
    ("kind", "content", "at"),
    [
        ("reading", {**READING, "value": "4.8 bar"}, "2026-05-03T10:12:00Z"),
        ("note", {"text": "x"}, "2026-05-03T10:12:00Z"),
        ("reading", READING, "2026-05-03T10:13:00Z"),
    ],
)
def test_the_same_id_with_something_else_is_refused(store, job, kind, content, at):
    store.append(job, "reading", READING, id="r1", at="2026-05-03T10:12:00Z")
    with pytest.raises(Refused, match="the id of another entry"):
        store.append(job, kind, content, id="r1", at=at)


def test_two_jobs_may_use_the_same_id(store, job):
    other = store.new_job({"sheet": "flat-six"})
    store.append(job, "reading", READING, id="r1")
    assert store.append(other, "reading", {**READING, "value": "4.7 bar"}, id="r1").seq == 2


def test_the_chain_holds_and_entered_grows(store, job):
    for count in range(20):
        store.append(job, "note", {"text": str(count)})
    entries = store.entries(job)
    assert chain.verify(entries) == ()
    stamps = [entry.entered for entry in entries]
    assert stamps == sorted(set(stamps))


def test_a_clock_set_back_does_not_change_the_order_of_arrival(store, job):
    ahead = "2036-05-03T10:12:00.000000+00:00"
    store.append_many(job, [Draft("note", {"text": "a"}, "a", None, ahead)])
    assert store.append(job, "note", {"text": "b"}).entered == "2036-05-03T10:12:00.000001+00:00"


def test_many_are_kept_all_or_none(store, job):
    good, bad = Draft("note", {"text": "a"}, "a"), Draft("note", {"txet": "b"}, "b")
    with pytest.raises(Problems, match="Did you mean text"):
        store.append_many(job, [good, bad])
    assert len(store.entries(job)) == 1
    store.append_many(job, [good, Draft("note", {"text": "b"}, "b")])
    assert [entry.id for entry in store.entries(job)] == ["engine", "a", "b"]


def test_a_correction_of_an_unknown_entry_is_refused(store, job):
    with pytest.raises(Refused, match="is no id of an entry before this correction"):
        store.append(job, "correction", {"of": "r1", "reason": "x", "withdrawn": True})


def test_wrong_fields_are_named(store, job):
    with pytest.raises(Problems, match="Did you mean value"):
        store.append(job, "reading", {"what": "system_pressure", "vlaue": "4.9 bar"})
    with pytest.raises(Problems, match="instrument 'gauge' is not described"):
        store.append(job, "reading", {**READING, "instrument": "gauge"})
    with pytest.raises(UnknownName, match="Did you mean reading"):
        store.append(job, "raeding", READING)


def test_a_second_engine_is_mended_not_added(store, job):
    with pytest.raises(Problems, match="engine stands twice"):
        store.append(job, "engine", {"sheet": "inline-four"})
    store.append(job, "correction", {"of": "engine", "reason": "x", "new": {"sheet": "inline-four"}})
    assert store.jobs()[0].sheet == "inline-four"


def test_times_that_cannot_be_are_refused(store, job):
    with pytest.raises(OutOfRange, match="1950"):
        store.append(job, "reading", READING, at="1926-05-03T10:12:00Z")
    with pytest.raises(Questioned, match="future"):
        store.append(job, "reading", READING, at=datetime(2126, 5, 3, tzinfo=UTC))


@pytest.mark.parametrize("number", [77, 2**31 - 1, 2**31, 2**63, 10**20])
def test_an_unknown_job_is_named(store, number):
    with pytest.raises(FieldProblem, match=f"job '?{number}'? is not in this store"):
        store.entries(number)
    with pytest.raises(FieldProblem, match=f"job '?{number}'? is not in this store"):
        store.append(number, "note", {"text": "x"})
    assert store.head(number) == ""


def test_entries_can_be_neither_changed_nor_deleted(store, job):
    for statement in ("UPDATE entries SET content = '{}'", "DELETE FROM entries"):
        with pytest.raises(sql.exc.DBAPIError, match="never changed"), store._engine.begin() as connection:
            connection.execute(sql.text(statement))
    assert len(store.entries(job)) == 1


def test_jobs_are_found_by_every_word(store, job):
    store.new_job({"sheet": "inline-four", "car": "RED 50% original"})
    assert [found.number for found in store.jobs("GREEN bay")] == [job]
    assert [found.car for found in store.jobs("50%")] == ["RED 50% original"]
    assert store.jobs("green red") == ()
    assert [found.number for found in store.jobs(str(job))] == [job]
    assert (store.count(), store.count("red")) == (2, 1)


def test_the_newest_job_comes_first_and_pages_do_not_overlap(store):
    numbers = [store.new_job({"sheet": "flat-six", "car": f"car {count}"}) for count in range(5)]
    store.append(numbers[0], "note", {"text": "back again"})
    listed = [*store.jobs(limit=3), *store.jobs(limit=3, offset=3)]
    assert [found.number for found in listed] == [numbers[0], *reversed(numbers[1:])]


def test_a_job_is_closed_while_a_closing_stands(store, job):
    store.append(job, "closed", {"cause": "pump_weak"}, id="c")
    assert store.jobs()[0].closed
    store.append(job, "correction", {"of": "c", "reason": "came back", "withdrawn": True})
    assert not store.jobs()[0].closed


def test_a_store_opened_again_holds_what_it_held(where):
    with Store(where) as store:
        number = store.import_job(read_text(EVERY_KIND, "job.toml").entries)
        before = store.entries(number)
    with Store(where) as store:
        assert store.entries(number) == before


def test_a_newer_store_is_refused(where):
    with Store(where) as store, store._engine.begin() as connection:
        connection.execute(tables.version.update().values(version=99))
    with pytest.raises(Refused, match="made by a newer evenpour"):
        Store(where)


def test_a_later_step_runs_once_on_an_older_store(where, monkeypatch):
    Store(where).close()
    ran = []
    monkeypatch.setattr(tables, "MIGRATIONS", (*tables.MIGRATIONS, lambda _: ran.append(1)))
    Store(where).close()
    Store(where).close()
    assert ran == [1]


def test_a_file_that_is_no_store_is_refused_in_words(tmp_path):
    (tmp_path / "jobs.db").write_text("this is no database, " * 100)
    with pytest.raises(Refused, match=r"jobs\.db cannot be used"):
        Store(tmp_path / "jobs.db")


@pytest.mark.parametrize("where", ["mysql:///x", "sqlite:/\x00", "://"])
def test_an_address_that_is_none_is_refused_in_words(where, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(Refused):
        Store(where)


def test_a_path_under_a_file_is_refused_in_words(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(Refused, match="cannot be opened"):
        Store(tmp_path / "file" / "jobs.db")


def test_the_default_place_follows_the_environment(monkeypatch, tmp_path):
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))
    assert default_path() == tmp_path / "jobs.db"
    monkeypatch.delenv("EVENPOUR_HOME")
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    assert default_path() == tmp_path / "share" / "evenpour" / "jobs.db"


def test_every_connection_syncs_fully(tmp_path):
    with Store(tmp_path / "jobs.db") as store, store._engine.connect() as connection:
        asked = {
            name: connection.scalar(sql.text(f"PRAGMA {name}")) for name in ("synchronous", "foreign_keys")
        }
        assert asked == {"synchronous": 2, "foreign_keys": 1}
        assert connection.scalar(sql.text("PRAGMA journal_mode")) == "wal"


def test_a_reader_does_not_wait_for_a_writer(tmp_path):
    path = tmp_path / "jobs.db"
    with Store(path) as store:
        number = store.new_job({"sheet": "flat-six"})
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        assert len(store.entries(number)) == 1
        assert time.monotonic() - began < 5.0  # a waiting reader would sit out the busy time of 20 s
        other.close()


def _send(where: str, job: int, name: str, count: int) -> None:
    with Store(where) as store:
        for number in range(count):
            store.append(job, "note", {"text": f"{name} {number}"}, id=f"{name}-{number}")


def test_two_who_append_at_once_lose_nothing(where):
    with Store(where) as store:
        job = store.new_job({"sheet": "flat-six"})
    senders = [SPAWN.Process(target=_send, args=(where, job, name, 25)) for name in ("a", "b", "c")]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join(120)
    assert [sender.exitcode for sender in senders] == [0, 0, 0]
    with Store(where) as store:
        entries = store.entries(job)
    assert chain.verify(entries) == ()
    assert {entry.id for entry in entries[1:]} == {f"{name}-{count}" for name in "abc" for count in range(25)}


def _open(where: str) -> None:
    Store(where).close()


def test_two_who_open_a_new_store_at_once_both_can(where):
    openers = [SPAWN.Process(target=_open, args=(where,)) for _ in range(3)]
    for opener in openers:
        opener.start()
    for opener in openers:
        opener.join(120)
    assert [opener.exitcode for opener in openers] == [0, 0, 0]


def _send_until_killed(where: str, job: int, told: str) -> None:
    with Store(where) as store, Path(told).open("w") as acknowledged:
        for number in range(100_000):
            entry = store.append(job, "note", {"text": str(number)})
            acknowledged.write(f"{entry.id} {entry.hash}\n")
            acknowledged.flush()


def test_a_kill_in_the_middle_loses_nothing_that_was_acknowledged(where, tmp_path):
    told = tmp_path / "acknowledged"
    with Store(where) as store:
        job = store.new_job({"sheet": "flat-six"})
    sender = SPAWN.Process(target=_send_until_killed, args=(where, job, str(told)))
    sender.start()
    until = time.monotonic() + 60
    while time.monotonic() < until and not (told.exists() and told.read_text().count("\n") >= 30):
        time.sleep(0.01)
    os.kill(sender.pid, signal.SIGKILL)
    sender.join(30)
    acknowledged = [
        line.split() for line in told.read_text().splitlines(keepends=True) if line.endswith("\n")
    ]
    with Store(where) as store:
        entries = store.entries(job)
        store.append(job, "note", {"text": "goes on"})
    assert len(acknowledged) >= 30
    assert chain.verify(entries) == ()
    assert {tuple(one) for one in acknowledged} <= {(entry.id, entry.hash) for entry in entries}
