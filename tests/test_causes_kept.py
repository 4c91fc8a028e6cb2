"""The causes' answer as it is kept on disk: the same again, anew when anything changed, never in the way."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from evenpour.job.causes import answer as working
from evenpour.job.causes import kept as causes_kept
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.causes.kept import Hold, Tell, answer_at_hand, kept_answer
from evenpour.job.causes.prior import Prior
from evenpour.job.causes.repair_costs import Costs, set_cost
from evenpour.job.job import Job
from evenpour.job.kept_files import folder
from job_examples import head, job_with

HEAD = head()
LOW = '[[reading]]\nwhat = "system_pressure"\nvalue = "4.2 bar"\n'


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))
    monkeypatch.delenv("EVENPOUR_STORE", raising=False)
    causes_kept._at_hand.clear()


really = working.causes_answer
made: dict[object, CausesAnswer] = {}  # what takes seconds is worked out once for all tests


@pytest.fixture(autouse=True)
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A name for every time that an answer was asked to be worked out."""
    times: list[str] = []

    def counted(
        job: Job, prior: Prior, own_costs: Costs, *, tell: Tell | None = None, hold: Hold | None = None
    ) -> CausesAnswer:
        times.append(job.name)
        key = (job.chain_head, str(own_costs.plain()))
        if key not in made or tell is not None:
            made[key] = really(job, prior, own_costs, tell=tell, hold=hold)
        return made[key]

    monkeypatch.setattr(working, "causes_answer", counted)
    return times


def job(text: str = LOW) -> Job:
    return job_with(text)


def test_an_answer_is_worked_out_once_and_the_same_when_read_back(worked_out: list[str]) -> None:
    assert answer_at_hand(job()) is None
    first = kept_answer(job())
    assert kept_answer(job()) is first
    causes_kept._at_hand.clear()  # another process finds it on disk
    assert kept_answer(job()) == first
    assert answer_at_hand(job()) == first
    assert len(worked_out) == 1


def test_what_is_being_done_is_told_while_it_is_worked_out_and_not_when_kept() -> None:
    told: list[str] = []
    kept_answer(job(), tell=told.append)
    assert len(told) >= 4
    assert any("causes on 1 reading" in words for words in told)
    count = len(told)
    kept_answer(job(), tell=told.append)
    assert len(told) == count


def test_another_reading_or_another_cost_is_another_answer(worked_out: list[str]) -> None:
    before = kept_answer(job())
    kept_answer(job(LOW.replace("4.2", "4.3")))
    assert len(worked_out) == 2
    set_cost("system_pressure_low", minutes=15, parts=0)
    after = kept_answer(job())
    assert len(worked_out) == 3
    assert before.repairs != after.repairs
    assert before.causes == after.causes


def test_another_process_looks_for_the_answer_under_the_same_name() -> None:
    program = (
        "from evenpour.job import job_of_text\nfrom evenpour.job.job_file import read_text\n"
        "from evenpour.job.causes.kept import key_of\nfrom evenpour.job.causes.prior import shipped_prior\n"
        "from evenpour.job.causes.repair_costs import costs\n"
        f"job = job_of_text(read_text({HEAD + LOW!r}, 'job.toml'))\n"
        "print(key_of(job, shipped_prior(), costs()))"
    )
    said = [
        subprocess.Popen(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            stdout=subprocess.PIPE,
        )
        for seed in ("1", "2")
    ]
    keys = {one.communicate()[0] for one in said}
    assert len(keys) == 1
    assert len(keys.pop().strip()) == 64


@pytest.mark.parametrize("spoilt", [b"", b"{", b'{"sheet": 1}', b"\xff\xfe"])
def test_a_spoilt_file_is_worked_out_anew_and_mended(worked_out: list[str], spoilt: bytes) -> None:
    first = kept_answer(job())
    (file,) = folder().glob("*.json")
    file.write_bytes(spoilt)
    causes_kept._at_hand.clear()
    assert kept_answer(job()) == first
    assert len(worked_out) == 2
    assert CausesAnswer.model_validate_json(file.read_bytes()) == first


def test_the_folder_keeps_no_more_than_it_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(causes_kept, "MOST", 2)
    folder().mkdir(parents=True)
    for number in range(4):
        (folder() / f"causes-{number}.json").write_text("{}")
    kept_answer(job())
    assert len(list(folder().glob("*.json"))) == 2


def test_a_folder_that_cannot_be_written_to_takes_no_answer_away(tmp_path: Path) -> None:
    folder().parent.mkdir(parents=True, exist_ok=True)
    folder().write_text("a file where the folder would be")
    assert kept_answer(job()).readings == 1


def test_many_who_ask_at_once_wait_for_one_answer(worked_out: list[str]) -> None:
    opened = job()
    found: list[CausesAnswer] = []
    asking = [threading.Thread(target=lambda: found.append(kept_answer(opened))) for _ in range(4)]
    for one in asking:
        one.start()
    for one in asking:
        one.join()
    assert len(found) == 4
    assert all(one is found[0] for one in found)
    assert len(worked_out) == 1
