"""What must not be taken as proved: half a proof, a doubted catch, a leaking port, a changed journal."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from evenpour.errors import Problems, Refused
from evenpour.job import Job, job_of_text, stored_job
from evenpour.job.job_file import read_text
from evenpour.job.store import Store
from job_examples import head

HEAD = head()


def job(text: str, head: str = HEAD) -> Job:
    return job_of_text(read_text(head + text, "job.toml"))


def state(job: Job, claim: str, cylinder: int | None = None) -> str:
    return next(one.state for one in job.path().claims if (one.claim, one.cylinder) == (claim, cylinder))


def reading(what: str, value: str, at: str, conditions: str = "", cylinder: int | None = None) -> str:
    number = f"cylinder = {cylinder}\n" if cylinder else ""
    stated = f"conditions = {{ {conditions} }}\n" if conditions else ""
    return f'[[reading]]\nwhat = "{what}"\nvalue = "{value}"\n{number}{stated}at = 2026-05-04T{at}:00\n'


def catch(through: str, opening: str, amounts: list[float], at: str) -> str:
    typed = ", ".join(f'"{amount} ml"' for amount in amounts)
    return (
        f'[[catch]]\nthrough = "{through}"\nopening = "{opening}"\nduration = "35 s"\n'
        f"amounts = [{typed}]\nat = 2026-05-04T{at}:00\n"
    )


EVEN = [80.0, 80.5, 79.5, 80.0, 80.0, 80.5]


def test_a_switch_open_hot_is_not_proved_until_it_was_seen_closed_cold():
    hot = reading("thermo_time_switch", "open", "10:00", 'temperature = "60 degC"')
    cold = reading("thermo_time_switch", "closed", "10:10", 'temperature = "17 degC"')
    assert state(job(hot), "thermo_time_switch_right") == "open"
    assert state(job(hot + cold), "thermo_time_switch_right") == "proved"


def test_an_auxiliary_air_valve_seen_shut_is_not_proved_to_open():
    shut = reading("auxiliary_air", "shut", "10:00", 'after = "5 min"')
    half = reading("auxiliary_air", "half", "10:10", 'temperature = "17 degC"')
    assert state(job(shut), "auxiliary_air_right") == "open"
    assert state(job(shut + half), "auxiliary_air_right") == "proved"


def test_a_reading_for_which_no_limit_is_known_takes_no_proof_away():
    good = reading("holding_pressure", "2.3 bar", "10:10", 'after = "10 min"')
    early = reading("holding_pressure", "2.4 bar", "10:20", 'after = "5 min"')
    assert state(job(good + early), "holding_right") == "proved"


def test_a_drip_on_the_bench_says_nothing_of_the_car():
    bench = reading("injector_drip", "dry", "10:00", cylinder=4)
    in_the_car = reading("injector_drip", "dry", "10:10", 'where = "car"', cylinder=4)
    assert state(job(bench), "injectors_shut", 4) == "open"
    assert state(job(bench + in_the_car), "injectors_shut", 4) == "proved"


def test_a_rested_battery_below_its_limit_is_not_good():
    cranking = reading("battery_voltage", "10.9 V", "10:00", 'load = "cranking"')
    rested = reading("battery_voltage", "11.0 V", "10:10", 'load = "rested"')
    good = reading("battery_voltage", "12.6 V", "09:50", 'load = "rested"')
    assert state(job(cranking), "battery_good") == "open"
    assert state(job(good + cranking), "battery_good") == "proved"
    assert state(job(good + cranking + rested), "battery_good") == "open"


def test_evenness_that_rests_on_a_spoilt_newest_catch_proves_nothing_yet():
    twice = catch("lines", "full", EVEN, "10:00") + catch("lines", "full", EVEN, "10:05")
    tipped = catch("lines", "full", [80.0, 80.5, 41.0, 80.0, 80.0, 80.5], "10:10")
    again = catch("lines", "full", EVEN, "10:20")
    assert state(job(twice), "even_lines_full") == "proved"
    assert state(job(twice + tipped), "even_lines_full") == "open"
    assert job(twice + tipped).catch().verdict != "within"
    assert state(job(twice + tipped + again), "even_lines_full") == "proved"


def test_the_same_shortfall_at_another_port_is_asked_about_as_a_forgotten_exchange():
    short = catch("injectors", "full", [80.0, 80.5, 79.5, 65.5, 80.0, 80.0], "10:10")
    moved = catch("injectors", "full", [65.5, 80.0, 79.5, 80.0, 80.5, 80.0], "10:20")
    found = job(catch("lines", "full", EVEN, "10:00") + short + moved)
    assert any("exchanged in between" in note for note in found.catch().notes)
    assert state(found, "even_injectors_full") == "open"
    after = found.catch().next_catch
    assert after is not None
    assert (after.through, after.opening) == ("injectors", "full")


def test_a_port_that_pours_at_rest_is_outside_and_named():
    found = job(catch("lines", "rest", [0, 0, 0, 0, 0, 3.0], "10:00"))
    assert found.catch().verdict == "outside"
    assert any("Port 6" in note for note in found.catch().notes)
    assert state(found, "rest_tight") == "open"
    assert found.catch().next_catch is None
    minute = catch("lines", "rest", [0, 0, 0, 0, 0, 0], "10:30").replace("35 s", "60 s")
    assert state(job(minute), "rest_tight") == "proved"
    trace = catch("lines", "rest", [0, 0, 0, 0, 0, 0.3], "10:30").replace("35 s", "60 s")
    assert state(job(trace), "rest_tight") == "open"


def test_a_leak_at_rest_is_over_once_the_port_was_seen_dry_or_the_distributor_replaced():
    leak = catch("lines", "rest", [0, 0, 0, 0, 0, 3.0], "10:00")
    dry = reading("rest_delivery", "dry", "10:30", cylinder=6)
    lost = leak.replace("10:00", "10:20").replace('"3.0 ml"', '""')
    replaced = '[[did]]\naction = "replaced"\npart = "fuel_distributor"\nat = 2026-05-04T11:00:00\n'
    timed = leak.replace("10:00", "10:00")
    assert job(leak + dry).catch().verdict != "outside"
    assert job(leak + lost).catch().verdict == "outside"
    assert job(timed + replaced).catch().verdict != "outside"


def test_oxygen_control_is_not_judged_by_a_duty_with_the_sensor_off():
    head = HEAD.replace("flat-six", "inline-four-oxygen")
    off = reading("lambda_duty", "50 %", "10:00", 'state = "idle_warm", sensor = "off"')
    on = reading("lambda_duty", "50 %", "10:10", 'state = "idle_warm", sensor = "connected"')
    assert state(job(off, head), "idle_mixture_right") == "open"
    assert state(job(on, head), "idle_mixture_right") == "proved"


def test_an_entry_before_the_job_began_is_refused():
    head = HEAD.replace('"flat-six"\n', '"flat-six"\nat = 2026-05-04T09:00:00\n')
    with pytest.raises(Problems, match="lies before the job"):
        job(reading("system_pressure", "4.9 bar", "08:00"), head)


def test_what_was_never_proved_is_not_listed_as_proved_again():
    bench = reading("plunger_return", "falls", "10:00", 'where = "bench"')
    touch = '[[did]]\naction = "adjusted"\npart = "sensor_plate"\nat = 2026-05-04T11:00:00\n'
    assert "plunger_in_service" not in {line.claim for line in job(bench + touch).renewed()}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("update entries set content = replace(content, '4.4 bar', '4.9 bar')", "not as it was entered"),
        ("delete from entries where seq = 2", "missing at its end"),
    ],
)
def test_a_journal_changed_behind_the_store_is_not_answered_from(tmp_path: Path, change: str, said: str):
    path = tmp_path / "jobs.db"
    with Store(path) as store:
        number = store.new_job({"sheet": "flat-six"})
        store.append(number, "reading", {"what": "system_pressure", "value": "4.4 bar"})
    with sqlite3.connect(path) as database:
        for (name,) in database.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            database.execute(f"drop trigger {name}")
        database.execute(change)
    database.close()
    with Store(path) as store, pytest.raises(Refused, match=said):
        stored_job(store, number)
