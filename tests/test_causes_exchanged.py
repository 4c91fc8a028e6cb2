"""How an exchange between two catches is told as a reason: what moved, and what stayed."""

from __future__ import annotations

import pytest

from evenpour.cli.causes import print_causes
from evenpour.cli.path import print_put_back
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CauseLine
from evenpour.job.causes.considered import Considered
from evenpour.job.exchanges import stands_at
from evenpour.job.job import Job
from evenpour.record.causes import causes_section
from evenpour.record.front_page import put_back_cell
from job_examples import job_with

EVEN = '["80 ml", "80.5 ml", "79.5 ml", "80 ml", "80.5 ml", "79.5 ml"]'
BARE = f'[[catch]]\nthrough = "lines"\nopening = "full"\nduration = "35 s"\namounts = {EVEN}\n'


def _caught(short_at: int, more: str = "") -> str:
    amounts = EVEN.split(", ")
    amounts[short_at - 1] = f'{"[" if short_at == 1 else ""}"6{short_at} ml"'
    return (
        f'[[catch]]\nthrough = "injectors"\nopening = "full"\nduration = "35 s"\n'
        f"amounts = {', '.join(amounts)}\n{more}"
    )


def _job(text: str) -> Job:
    return job_with(BARE + text)


def _first(text: str) -> CauseLine:
    return causes_answer(_job(text)).causes[0]


def _said(line: CauseLine) -> str:
    return next(reason.words for reason in line.for_ if reason.what == "catch")


def test_what_went_along_with_the_injector_is_told_so() -> None:
    line = _first(_caught(4) + _caught(1, 'swaps = ["injector 4 with 1"]\n'))
    assert line.says.startswith("the injector ")
    assert line.cylinder == 4
    assert _said(line) == (
        "fuel caught through injectors, full: after exchanging injector 4 with 1 the short amount moved from "
        "port 4 (64.0 ml) to port 1 (61.0 ml), with the injector"
    )


def test_where_the_exchanged_injector_hangs_is_told_with_its_repair_at_a_prompt_and_in_the_record(
    capsys: pytest.CaptureFixture[str],
) -> None:
    where = "cylinder 4; now at port 1, exchanged with injector 1"
    job = _job(_caught(4) + _caught(1, 'swaps = ["injector 4 with 1"]\n'))
    answer = causes_answer(job)
    assert (answer.worth_doing or "").endswith(where)
    capsys.readouterr()
    print_causes(answer)
    assert f"{where}:" in " ".join(capsys.readouterr().out.split())
    section = causes_section(Considered(answer, None, ""))
    assert section is not None
    assert where in str(section.blocks)
    assert [one.hangs for one in job.path().put_back] == [
        "now at port 4, exchanged with injector 4", "now at port 1, exchanged with injector 1"
    ]  # fmt: skip
    print_put_back(job.path().put_back)
    printed = " ".join(capsys.readouterr().out.split())
    assert "that of cylinder 4 is now at port 1, exchanged with injector 1" in printed
    assert "now at port 1, exchanged with injector 1" in str(put_back_cell(job.path().put_back[1]))


def test_what_stayed_where_the_injector_went_is_told_of_the_line() -> None:
    line = _first(_caught(4) + _caught(4, 'swaps = ["injector 4 with 1"]\n'))
    assert (line.part, line.cylinder) == ("line", 4)
    assert _said(line) == (
        "fuel caught through injectors, full: after exchanging injector 4 with 1 the short amount stayed at "
        "port 4 (64.0 ml): it is not the injector"
    )


def test_an_exchange_elsewhere_is_no_reason() -> None:
    line = _first(_caught(4) + _caught(4, 'swaps = ["injector 2 with 3"]\n'))
    assert all("after exchanging" not in reason.words for reason in line.for_)


@pytest.mark.parametrize(
    ("port", "now"), [(1, 2), (2, 3), (3, 1), (4, 4)], ids=["first", "second", "third", "another"]
)
def test_parts_exchanged_in_a_ring_stand_where_the_last_exchange_put_them(port: int, now: int) -> None:
    swaps = (("injector", 1, 2), ("injector", 2, 3), ("line", 4, 1))
    assert stands_at("injector", port, swaps) == now
