"""Causes where ports feed cylinders of other numbers: one fault is one, and nobody is sent astray."""

from __future__ import annotations

from functools import cache

import pytest

from evenpour.cli.causes import print_causes
from evenpour.job.causes.answer import causes_answer
from evenpour.job.causes.answers import CauseName, CausesAnswer
from evenpour.job.causes.facts import arranged
from evenpour.job.causes.groups import apart_words
from evenpour.job.job import job_of_text
from evenpour.job.job_file import read_text
from evenpour.job.port_words import caught_words, exchange_words, port_of, where_words
from evenpour.job.wording import part_name, part_words, surely_off
from evenpour.machine.line_map import LineMap
from sheet_tools import shipped_sheet

VEE_SIX, OWN = LineMap((1, 4, 2, 5, 3, 6)), LineMap((1, 2, 3, 4, 5, 6))
SHORT_AND_WHITE = """format = "evenpour-job/1"
[engine]
sheet = "vee-six"
[[catch]]
through = "lines"
opening = "idle"
duration = "150 s"
amounts = ["20 ml", "14.2 ml", "20.3 ml", "19.8 ml", "20.1 ml", "19.9 ml"]
[[catch]]
through = "lines"
opening = "full"
duration = "35 s"
amounts = ["80 ml", "63 ml", "80.5 ml", "79.5 ml", "80 ml", "80 ml"]
[[reading]]
what = "plug_look"
value = "white"
cylinder = 4
conditions = { after = "cut_at_load" }
"""


@cache
def answer() -> CausesAnswer:
    return causes_answer(job_of_text(read_text(SHORT_AND_WHITE, "job.toml")))


def test_a_short_port_and_the_white_plug_of_the_cylinder_that_it_feeds_are_one_fault() -> None:
    first = answer().causes[0]
    assert (first.part, first.cylinder, first.port) in [("port", 4, 2), ("pressure_valve", 4, 2)]
    at_4 = [one for one in answer().causes if one.cylinder == 4 and one.part in ("port", "pressure_valve")]
    assert sum(one.probability for one in at_4) > 0.5
    assert not any(reason.what == "plug_look" for one in at_4 for reason in one.against)
    assert not any(one.what == "plug_look" for one in answer().clashes)


def test_port_and_cylinder_are_both_told(capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    print_causes(answer())
    said = " ".join(capsys.readouterr().out.split())
    assert "(port 2, feeding cylinder 4)" in said
    assert said.count("1. send the fuel distributor to be cleaned and matched: ") == 1  # whichever its port
    assert "port 2, which feeds cylinder 4, 63.0 ml" in said


def test_parts_between_port_and_cylinder_are_told_by_both_and_others_by_their_cylinder() -> None:
    for part, words in [
        ("port", "port 2, feeding cylinder 4"),
        ("line", "port 2, feeding cylinder 4"),
        ("injector", "cylinder 4, fed by port 2"),
        ("spark_plug", "cylinder 4"),
    ]:
        assert where_words(part, [(4, port_of(VEE_SIX, part, 4))]) == words
        assert where_words(part, [(4, port_of(OWN, part, 4))]) == "cylinder 4"
    assert port_of(VEE_SIX, "port", 6) is None
    assert port_of(VEE_SIX, "port", None) is None
    assert caught_words(VEE_SIX, 2) == "port 2, which feeds cylinder 4"
    assert caught_words(OWN, 2) == "port 2"


def test_causes_told_together_keep_each_port_beside_its_cylinder() -> None:
    names = [CauseName(cause="port_restricted", cylinder=one, port=VEE_SIX.port(one)) for one in (2, 4)]
    (said,) = apart_words(names)
    assert said.endswith("(port 2 or 3, feeding cylinder 4 or 2)")


def test_an_exchange_in_a_catch_is_by_ports_and_what_it_moves_by_cylinders() -> None:
    lines, injectors = arranged([("injector", 2, 3)], VEE_SIX)
    assert lines == ()
    assert injectors == (0, 3, 2, 1, 4, 5)  # ports 2 and 3 feed cylinders 4 and 2
    assert arranged([("line", 3, 5)], OWN) == ((0, 1, 4, 3, 2, 5), ())
    assert arranged([("line", 3, 5), ("line", 3, 5)], VEE_SIX) == ((), ())


HEAD = SHORT_AND_WHITE.partition("[[catch]]")[0]
CATCH = '[[catch]]\nthrough = "injectors"\nopening = "{}"\nduration = "35 s"\namounts = {}\n'
SHORT_2, EVEN = (f'["80 ml", "{two} ml", "80.5 ml", "79.5 ml", "80 ml", "80 ml"]' for two in ("66", "80"))


def test_catches_name_the_cylinder_beside_the_port_and_an_exchange_says_whose_numbers_it_has() -> None:
    caught = job_of_text(read_text(HEAD + CATCH.format("full", SHORT_2), "job.toml")).catch()
    names = {part_name(one) for one in caught.parts if one.cylinder == 2}
    assert names == {
        "port 2 (feeding cylinder 4)",
        "line of port 2 (feeding cylinder 4)",
        "injector of cylinder 4 (fed by port 2)",
    }
    assert "injector 6" in {part_name(one) for one in caught.parts}
    assert caught.next_catch is not None
    by_port = exchange_words(shipped_sheet("vee-six"), ["line 3 with 5"])
    assert by_port == "line 3 with 5 (numbers of the ports)"
    assert exchange_words(shipped_sheet("flat-six"), ["line 3 with 5"]) == "line 3 with 5"
    if caught.next_catch.swaps:
        assert any("port 2 feeds cylinder 4" in note for note in caught.notes)


def test_catches_say_where_an_exchanged_injector_hangs_and_name_it_alike_everywhere() -> None:
    moved = '["80 ml", "80 ml", "66 ml", "79.5 ml", "80 ml", "80 ml"]\nswaps = ["injector 2 with 3"]'
    text = HEAD + CATCH.format("full", SHORT_2) + CATCH.format("full", moved)
    caught = job_of_text(read_text(text, "job.toml")).catch()
    (off,) = surely_off(caught)
    where = "now at port 3, which feeds cylinder 2, exchanged with that of port 3"
    assert part_words(off).startswith(f"injector of cylinder 4 (fed by port 2), {where}: ")
    assert caught.next_catch is not None
    assert caught.next_catch.why.startswith("Put the injector of cylinder 4 (fed by port 2) right first")
    assert caught.next_catch.why.endswith(f"The injector of cylinder 4 (fed by port 2) is {where}.")
    assert {one.hangs for one in caught.parts if one.part != "injector" or one.cylinder not in (2, 3)} == {""}


def test_an_injector_that_was_renewed_in_cylinder_4_is_another_one_on_port_2() -> None:
    renewed = '[[did]]\naction = "replaced"\npart = "injector"\ncylinder = 4\n'
    told = [CATCH.format("full", SHORT_2), renewed, CATCH.format("full", EVEN)]
    text = HEAD + "".join(f"{one}at = 2026-05-03T1{hour}:00:00\n" for hour, one in enumerate(told))
    caught = job_of_text(read_text(text, "job.toml")).catch()
    off = {(one.part, one.cylinder): one.p_off for one in caught.parts}
    assert off["injector", 2] < 0.2
    assert off["line", 2] < 0.2


@pytest.mark.parametrize(("entered", "port"), [(4, 2), (2, 3)])
def test_a_port_seen_to_drip_was_entered_for_its_cylinder(entered: int, port: int) -> None:
    drips = f'[[reading]]\nwhat = "rest_delivery"\nvalue = "drips"\ncylinder = {entered}\n'
    caught = job_of_text(read_text(HEAD + CATCH.format("full", EVEN) + drips, "job.toml")).catch()
    assert any(note.startswith(f"Port {port} lets fuel through") for note in caught.notes)
