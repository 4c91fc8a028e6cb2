"""``evenpour add``: what is typed at the car, word by word, and what comes of it."""

from __future__ import annotations

import re
import shlex
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cli_world import AT, DEMO, Shop, shop
from evenpour import cli
from evenpour.cli.add import EXAMPLES
from evenpour.errors import FieldProblem, UnknownName
from evenpour.job.asking import asked_reading
from evenpour.job.catalogue import catalogue
from evenpour.job.demo import demo_entries
from evenpour.job.forms import KINDS
from evenpour.job.job import job_from
from evenpour.job.quick_entry import entry_of

__all__ = ["shop"]
WORDS = [line.strip() for line in EXAMPLES.splitlines() if line.strip().startswith("evenpour add 3 ")]


def typed(line: str) -> tuple[str, dict[str, Any]]:
    """Kind and content of an entry, without a store."""
    return entry_of(shlex.split(line), catalogue())


def wrong(line: str) -> str:
    with pytest.raises(FieldProblem) as caught:
        typed(line)
    return str(caught.value)


def test_every_example_of_the_help_works_as_it_stands(shop: Shop) -> None:
    for _ in range(3):
        shop.begin()
    shop('add 3 instrument gauge pressure gauge range="6 bar" class=1.0 resolution="0.05 bar"')
    shop("add 3 system 4.9 bar --id reading-c260c78dcfa0")
    assert len(WORDS) >= 13
    for line in WORDS:
        words = line.removeprefix("evenpour ")
        if "instrument" in words:
            words = words.replace("gauge", "gauge-2", 1)
        said = shop(words)
        assert (said.status in (0, 1), said.err) == (True, ""), line
        assert said.out.startswith("Kept as ")


@pytest.mark.parametrize(
    ("line", "content"),
    [
        ("system 4.9 bar", {"what": "system_pressure", "value": "4.9 bar"}),
        ("system 4.9bar", {"what": "system_pressure", "value": "4.9bar"}),
        ("system pressure 4,9 bar", {"what": "system_pressure", "value": "4,9 bar"}),
        ("System_Pressure .5 bar", {"what": "system_pressure", "value": ".5 bar"}),
        ("drip 4 dry", {"what": "injector_drip", "value": "dry", "cylinder": 4}),
        ("drip dry cylinder=4", {"what": "injector_drip", "value": "dry", "cylinder": 4}),
        ("comp 3 10.4 bar", {"what": "compression", "value": "10.4 bar", "cylinder": 3}),
        ("comp 150 psi", {"what": "compression", "value": "150 psi"}),
        ("lead_ohms 2 open", {"what": "spark_lead_resistance", "value": "open", "cylinder": 2}),
        (
            "cold 1.45bar regulator_temperature=18C with=gauge who=AB",
            {
                "what": "control_pressure_cold",
                "value": "1.45bar",
                "conditions": {"regulator_temperature": "18C"},
                "instrument": "gauge",
                "who": "AB",
            },
        ),
        ("timing 5 deg note=lamp", {"what": "timing_static", "value": "5 deg", "note": "lamp"}),
        ("system 4.9 ± 0.1 bar", {"what": "system_pressure", "value": "4.9 ± 0.1 bar"}),
        (
            "co 1.5 % state=idle_warm sure=yes",
            {"what": "exhaust_co", "value": "1.5 %", "sure": True, "conditions": {"state": "idle_warm"}},
        ),
    ],
)
def test_a_reading_is_typed_as_it_is_said(line: str, content: dict[str, Any]) -> None:
    assert typed(line) == ("reading", content)


@pytest.mark.parametrize(
    ("line", "content"),
    [
        (
            "catch lines idle 60s 8 8.2 - 8.1 lost 8 ml",
            {"duration": "60s", "amounts": ["8 ml", "8.2 ml", "", "8.1 ml", "", "8 ml"]},
        ),
        ("catch lines idle 1 min 8ml 8,2ml .9ml", {"duration": "1 min", "amounts": ["8ml", "8,2ml", ".9ml"]}),
        (
            "catch lines 12 mm 60 s 1 2 ml",
            {"opening": "12 mm", "duration": "60 s", "amounts": ["1 ml", "2 ml"]},
        ),
        ("catch lines 1/2 in 60 s 1 2 ml", {"opening": "1/2 in", "amounts": ["1 ml", "2 ml"]}),
        ("catch lines part 40s .27 .28 US fl oz", {"amounts": [".27 US fl oz", ".28 US fl oz"]}),
        ("catch lines part 40s 5 6 g temperature=18C tare=21g", {"amounts": ["5 g", "6 g"], "tare": "21g"}),
        (
            "catch lines full 35s 8 9 ml swap='line 3 with 5, line 1 with 2'",
            {"swaps": ["line 3 with 5", "line 1 with 2"]},
        ),
        (
            "catch injectors full 35s 8 9 ml swap='injector 2 with 4'",
            {"through": "injectors", "swaps": ["injector 2 with 4"]},
        ),
        ("catch lines idle 60s 8 9 ml discard=yes with=glass", {"discard": True, "instrument": "glass"}),
    ],
)
def test_a_catch_is_typed_container_by_container(line: str, content: dict[str, Any]) -> None:
    kind, found = typed(line)
    assert kind == "catch"
    assert {name: found[name] for name in content} == content


@pytest.mark.parametrize(
    ("line", "kind", "content"),
    [
        ("replaced injector 4", "did", {"action": "replaced", "part": "injector", "cylinder": 4}),
        ("replaced fuel pump", "did", {"action": "replaced", "part": "fuel_pump"}),
        ("fitted key", "did", {"action": "fitted", "part": "mixture_key"}),
        ("taken_out pump bridge", "did", {"action": "taken_out", "part": "pump_bridge"}),
        (
            "disconnected injector_union cylinder=2",
            "did",
            {"action": "disconnected", "part": "injector_union", "cylinder": 2},
        ),
        ("move +1/8 turn", "move", {"part": "mixture_screw", "turns": "+1/8 turn"}),
        ("move -45 deg", "move", {"part": "mixture_screw", "turns": "-45 deg"}),
        ("move ½ turn", "move", {"part": "mixture_screw", "turns": "½ turn"}),
        (
            "move idle air screw -1/4 turn who=AB",
            "move",
            {"part": "idle_air_screw", "turns": "-1/4 turn", "who": "AB"},
        ),
        ("done spark_disabled who=AB", "step", {"id": "spark_disabled", "done": True, "who": "AB"}),
        ("done plugs_out 3", "step", {"id": "plugs_out", "done": True, "cylinder": 3}),
        (
            "passed valve_clearances hydraulic lifters",
            "step",
            {"id": "valve_clearances", "done": False, "reason": "hydraulic lifters"},
        ),
        ("happened backfire", "happened", {"what": "backfire"}),
        ("happened ran dry", "happened", {"what": "ran_dry"}),
        ("happened flooded 3", "happened", {"what": "flooded", "cylinder": 3}),
        ("read fire who=AB", "caution", {"id": "fire", "who": "AB"}),
        (
            "override holding_right who=AB reason=late",
            "override",
            {"claim": "holding_right", "who": "AB", "reason": "late"},
        ),
        (
            "override pump bridge who=AB reason=late",
            "override",
            {"item": "pump_bridge", "who": "AB", "reason": "late"},
        ),
        (
            "override spark_plug[2] who=AB reason=late",
            "override",
            {"item": "spark_plug", "cylinder": 2, "who": "AB", "reason": "late"},
        ),
        (
            "override fire who=AB reason='read on paper'",
            "override",
            {"claim": "fire", "who": "AB", "reason": "read on paper"},
        ),
        ("note CO=1.5 by nose who=AB", "note", {"text": "CO=1.5 by nose", "who": "AB"}),
        ("conditions fuel=E5 altitude='240 m'", "conditions", {"fuel": "E5", "altitude": "240 m"}),
        (
            "instrument gauge pressure gauge range='6 bar' class=1,0",
            "instrument",
            {"id": "gauge", "kind": "pressure gauge", "range": "6 bar", "class": 1.0},
        ),
        ("withdraw a-1 wrong car", "correction", {"of": "a-1", "withdrawn": True, "reason": "wrong car"}),
        (
            "correct a-1 reason=misread system 4.8 bar with=gauge",
            "correction",
            {
                "of": "a-1",
                "reason": "misread",
                "new": {"what": "system_pressure", "value": "4.8 bar", "instrument": "gauge"},
            },
        ),
    ],
)
def test_all_else_is_typed_by_its_first_word(line: str, kind: str, content: dict[str, Any]) -> None:
    assert typed(line) == (kind, content)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("sistem 4.9 bar", "'sistem' is no check"),
        ("system", "value is missing from system_pressure"),
        ("drip", "value is missing from injector_drip. Allowed: dry, drips"),
        ("with=gauge", "names no check"),
        ("system 4.9 bar temprature=18C", "condition 'temprature' is no condition of system_pressure"),
        ("system 4.9 bar with=a with=b", "with 'b' is given twice"),
        ("drip dry cylinder=four", "cylinder 'four' is no cylinder"),
        ("catch", "through is missing from the catch"),
        ("catch hoses idle 60s 8 ml", "'hoses' is no way to catch"),
        ("catch lines", "duration is missing from the catch. Write it like: catch injectors full 35s"),
        ("catch lines idle 60s", "amounts are missing from the catch"),
        ("catch lines idle 60s 8 9 ml colour=red", "colour 'red' does not belong to a catch"),
        ("move", "turns is missing. Write it like: move +1/8 turn"),
        ("move mixture screw", "turns is missing"),
        ("move abc", "turns 'abc' is no size of a move, and no screw. Write it like: move +1/8 turn"),
        ("move carburettor +1 turn", "'carburettor' is no part"),
        ("replaced", "part is missing. What was replaced?"),
        ("replaced injectr 4", "Did you mean injector"),
        ("done", "step is missing. See: evenpour path JOB"),
        ("done spark_disabled quickly", "step 'quickly' does not belong behind a step"),
        ("happened", "happened is missing. Allowed: backfire"),
        ("read", "caution is missing"),
        ("override", "override names nothing"),
        ("override nonsense who=AB reason=x", "'nonsense' is no claim, caution or item to put back"),
        ("withdraw", "names no entry. See the ids in: evenpour job show JOB"),
        ("correct", "needs an entry and its new content"),
        ("instrument", "instrument has no id"),
        ("instrument gauge pressure gauge class=good", "class 'good' is no number"),
        ("", "what is missing"),
    ],
)
def test_what_cannot_be_understood_is_answered_with_how_it_is_written(line: str, says: str) -> None:
    assert says in wrong(line)


SAID = st.one_of(
    st.sampled_from([line for example in WORDS for line in shlex.split(example)]),
    st.sampled_from(
        ["catch", "move", "done", "note", "override", "correct", "replaced", "lines", "idle", "60s"]
    ),
    st.sampled_from(
        ["4", "-", "lost", "ml", "US", "fl", "oz", "1/2", "=", "a=", "=b", "x=y=z", "[3]", "a[", "½"]
    ),
    st.text(max_size=8),
)


@given(words=st.lists(SAID, max_size=9))
def test_any_words_are_an_entry_or_are_told_how_one_is_written(words: list[str]) -> None:
    try:
        kind, _ = entry_of(words, catalogue())
    except FieldProblem as problem:
        kind = str(problem)
    assert kind in KINDS or kind.endswith((".", "?"))


def test_where_there_are_many_names_it_is_said_where_they_stand() -> None:
    told = wrong("qqqq 4.9 bar")
    assert re.search(r"'qqqq' is no check. docs/reference.md lists all \d{3}\.$", told)
    told = wrong("sistem 4.9 bar")
    assert re.search(r"Did you mean system.*\? docs/reference.md lists all \d{3}\.$", told)


def test_a_misspelt_short_form_finds_its_neighbour() -> None:
    with pytest.raises(UnknownName, match="Did you mean system"):
        typed("sistem 4.9 bar")


def test_what_was_never_kept_is_not_named_in_the_complaint(shop: Shop) -> None:
    shop.begin()
    assert shop.bad("add 1 system 4.9").startswith("system_pressure '4.9' has no unit.")
    assert shop.bad("add 1 drip 7 dry").startswith("cylinder '7' is not on this engine")


@pytest.mark.parametrize(
    "line",
    [
        "system 49 bar",
        "system 71 bar",
        "system 4.9 ml",
        "drip dry",
        "drip 7 dry",
        "drip 4 wet",
        "system 4.9 bar with=nothing",
        "catch lines idle 60s 8 8 8 ml",
        "catch lines idle 60s 8 8 8 8 -8 8 ml",
        "catch lines idle 60s 8 8 8 8 8 8 ml swap='injector 2 with 4'",
        "move injector +1 turn",
        "move 3 clicks",
        "done nonsense",
        "passed valve_clearances",
        "happened bang",
        "read fyre",
        "compression_spread 1 bar",
        "reconnected fuel_pump",
        "override pump_bridge who=AB reason='not there'",
        "system 4.9 bar --at yesterday",
        "system 4.9 bar --at 2199-05-03T10:12",
        "system 4.9 bar --units metrical",
        "withdraw nothing reason=x",
    ],
)
def test_nothing_is_kept_of_what_is_wrong_or_questioned(shop: Shop, line: str) -> None:
    shop.begin()
    said = shop(f"add 1 {line}")
    assert (said.status, said.out) == (2, "")
    assert "Traceback" not in said.err
    assert shop.entries(1) == []


def test_an_odd_value_is_kept_once_the_person_is_sure(shop: Shop) -> None:
    shop.begin()
    assert "Was it 4.8 bar, or 48 psi (3.31 bar)?" in shop.bad("add 1 system 48 bar")
    assert shop("add 1 system 48 bar --sure").status == 1  # kept, and outside
    assert len(shop.entries(1)) == 1


def test_taking_off_what_is_not_on_is_questioned_and_kept_if_sure(shop: Shop) -> None:
    shop.begin()
    assert "was not on the put-back list" in shop.bad("add 1 taken_out pump_bridge")
    said = shop("add 1 taken_out pump_bridge --sure")
    assert said.status == 0
    assert "? Pump bridge" in said.out
    assert "? Pump bridge" not in shop("add 1 oil clean").out, "asked once, not with every entry after it"
    assert "? Pump bridge" in shop("path 1").out


def test_a_reading_is_judged_at_once(shop: Shop) -> None:
    shop.begin()
    shop('add 1 instrument gauge pressure gauge range="6 bar" class=1.0 resolution="0.05 bar"')
    said = shop("add 1 system 4.9 bar with=gauge valve=shut")
    assert said.status == 0
    assert "4.90 ± 0.08 bar  within, over 99 % sure  4.70 to 5.20 bar [a]" in said.out
    shop("add 1 adjusted primary_pressure_regulator")  # else the next reading is a repeat of this one
    answer = shop.answer("add", "add 1 system 5.6 bar with=gauge valve=shut", status=1)
    (row,) = answer["readings"]
    assert (row["what"], row["verdict"], row["unit"]) == ("system_pressure", "outside", "bar")
    assert row["entries"] == [answer["entry"]]


def test_a_choice_is_answered_without_a_doubt_it_does_not_have(shop: Shop) -> None:
    shop.begin()
    said = shop("add 1 drip 4 dry")
    assert "cylinder 4  dry    within   dry [a]" in said.out
    assert "±" not in said.out


def test_what_went_stale_stages_and_put_back_are_said_at_once(shop: Shop) -> None:
    shop.begin()
    shop(f"add 1 drip 4 dry --at {AT.format(12)}")
    said = shop(f"add 1 replaced injector 4 --at {AT.format(20)}")
    assert said.status == 1
    assert "STALE now: The injector holds without a drip, cylinder 4: injector 4 was replaced" in said.out
    assert "Stage “Prove the parts on the bench” is STALE now." in said.out
    assert re.search(r"To repeat, \d+ minutes in all", said.out)
    later = shop(f"add 1 oil clean --at {AT.format(30)}")
    assert later.status == 0
    assert re.search(r"Still to repeat, \d+ minutes in all: see evenpour path 1", later.out)
    on = shop.answer("add", "add 1 fitted mixture_key")
    assert [item["item"] for item in on["put_on"]] == ["mixture_key"]
    assert shop.answer("add", "add 1 taken_out mixture_key")["taken_off"] == ["key in the mixture screw"]


def test_a_catch_is_weighed_at_once_and_names_the_next(shop: Shop) -> None:
    shop.begin()
    said = shop("add 1 catch injectors full 35s 80 81 79.5 66 80 80.5 ml")
    assert "Through injectors, full opening: spread" in said.out
    assert "Cannot be told apart yet: port 4 or line 4 or injector 4." in said.out
    assert "Next catch" in said.out
    assert said.out.rstrip().endswith("Typical values from common practice; your engine's manual decides.")
    answer = shop.answer("add", "add 1 catch lines idle 60s 8 8.2 - 8.1 8.0 7.9 ml swap='line 3 with 5'")
    run = answer["catch"]["runs"][-1]
    assert (run["amounts"][2], run["shown"][2], run["swaps"]) == (None, None, ["line 3 with 5"])


def test_a_correction_and_a_withdrawal_answer_with_what_they_changed(shop: Shop) -> None:
    shop.begin()
    shop("add 1 system 5.6 bar valve=shut --id first")
    shop('add 1 correct first reason="misread" system 4.9 bar valve=shut')
    rows = shop.answer("judge", "judge 1", status=0)["readings"]
    assert [(row["value"], row["verdict"]) for row in rows] == [(4.9, "within")]
    assert shop('add 1 withdraw first reason="wrong car"').status == 0
    assert shop.answer("judge", "judge 1")["readings"] == []


def test_a_reading_outside_names_the_step_that_puts_it_right(shop: Shop) -> None:
    shop.begin()
    said = shop("add 1 system 5.6 bar valve=shut")
    assert "or to find out: Set system pressure, only if it is off [shim_system_pressure]" in said.out
    answer = shop.answer("add", "add 1 cold 1.8 bar regulator_temperature=17C", status=1)
    assert [one["step"] for one in answer["mend"]] == ["set_control_cold"]
    assert shop.answer("add", "add 1 drip 4 drips", status=1)["mend"] == []
    shop("add 1 catch lines full 35s 80 81 79.5 40 80 80.5 ml")
    low = shop.answer("add", "add 1 catch lines full 35s 80 81 79.5 40 80 80.5 ml", status=1)
    assert [one["step"] for one in low["mend"]] == ["odd_port"]
    assert "To put it right" not in shop("add 1 co 0.6 %").out


def test_a_correction_shows_the_verdict_of_what_it_corrected(shop: Shop) -> None:
    shop.begin()
    shop("add 1 system 4.9 bar valve=shut --id first")
    answer = shop.answer("add", 'add 1 correct first reason="misread" system 5.6 bar valve=shut', status=1)
    (row,) = answer["readings"]
    assert (row["verdict"], row["entries"]) == ("outside", ["first"])
    shop("add 1 catch lines full 35s 80 81 79.5 80 80 80.5 ml --id caught")
    again = shop.answer(
        "add", "add 1 correct caught reason=misread catch lines full 35s 80 81 80 80 80 80 ml"
    )
    assert again["catch"]["runs"][0]["amounts"][2] == 80.0


def test_a_changed_part_names_the_catches_that_no_longer_count(shop: Shop) -> None:
    shop.begin()
    shop("add 1 catch injectors full 35s 80 81 79.5 66 80 80.5 ml")
    shop("add 1 catch lines full 35s 80 81 79.5 80 80 80.5 ml")
    said = shop("add 1 replaced injector 4")
    told = "Caught before this part was changed; catch again: through injectors, full opening\n"
    assert told in said.out
    assert shop.answer("add", "add 1 replaced injector 4")["catch_again"] == []


def test_the_same_id_sent_twice_counts_once(shop: Shop) -> None:
    shop.begin()
    first = shop("add 1 system 4.9 bar --id phone-1")
    again = shop("add 1 system 4.9 bar --id phone-1")
    assert (first.status, again.status) == (0, 0)
    assert again.out.splitlines()[0] == "Kept as phone-1."
    assert len(shop.entries(1)) == 1
    assert "is the id of another entry already" in shop.refused("add 1 system 4.8 bar --id phone-1")
    assert len(shop.entries(1)) == 1


def test_the_same_sent_again_a_while_later_still_counts_once(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.begin()
    monkeypatch.setattr("evenpour.job.times.local_now", lambda: "2026-05-03T10:12:00+00:00")
    shop("add 1 system 4.9 bar --id phone-1")
    monkeypatch.setattr("evenpour.job.times.local_now", lambda: "2026-05-03T10:13:07+00:00")
    assert shop("add 1 system 4.9 bar --id phone-1").status == 0
    assert [one["at"] for one in shop.entries(1)] == ["2026-05-03T10:12:00+00:00"]


def test_an_entry_sent_again_after_the_job_was_closed_is_answered_as_before(shop: Shop) -> None:
    shop.begin()
    shop(f"add 1 note hello --id phone-1 --at {AT.format(12)}")
    shop(f"add 1 oil clean --id phone-2 --at {AT.format(13)}")
    assert shop("job close 1").status == 0
    said = shop(f"add 1 oil clean --id phone-2 --at {AT.format(13)}")
    assert (said.status, said.out.splitlines()[0]) == (0, "Kept as phone-2.")
    assert shop("add 1 oil fuel --id phone-3").status == 1


def test_an_entry_sent_late_lands_at_its_own_time(shop: Shop) -> None:
    shop.begin()
    shop(f"add 1 replaced injector 4 --at {AT.format(20)}")
    said = shop(f"add 1 drip 4 dry --at {AT.format(12)}")
    assert said.status == 1, "proved before the injector was changed, so stale at once"
    assert [one["kind"] for one in shop.entries(1)] == ["reading", "did"]


def test_a_job_file_is_its_owners(shop: Shop) -> None:
    before = DEMO.read_bytes()
    told = shop.refused("add", str(DEMO), "system", "4.9", "bar")
    assert "A job file is its owner's: edit it, or take it in with: evenpour job import FILE" in told
    assert DEMO.read_bytes() == before


def test_the_units_asked_for_are_answered_and_those_typed_are_kept(shop: Shop) -> None:
    shop.begin()
    said = shop("add 1 system 4.9 bar --units us")
    assert "71.1 ± 1.7 psi" in said.out
    (entry,) = shop.entries(1)
    assert entry["words"] == "System pressure: 4.9 bar"


def test_a_stated_condition_that_plays_no_part_is_kept_and_said_aloud(shop: Shop) -> None:
    shop.begin()
    said = shop("add 1 system 4.9 bar through=lines")
    assert "through bare lines or through the injectors (lines) is stated, but plays no part" in " ".join(
        said.out.split()
    )


def test_the_words_need_something_behind_the_job(shop: Shop) -> None:
    shop.begin()
    assert "Missing argument 'WHAT VALUE ...'" in shop.bad("add 1")


def test_a_value_that_begins_with_a_minus_is_no_option(shop: Shop) -> None:
    shop.begin()
    assert shop("add 1 move -1/8 turn").status == 0
    assert cli.main(["add", "1", "timing", "-2", "deg"]) == 1  # outside, but read
    assert len(shop.entries(1)) == 2


def test_an_amount_a_decimal_point_off_its_neighbours_is_asked_about_and_kept_if_sure(shop: Shop) -> None:
    shop.begin()
    said = shop.bad("add 1 catch injectors full 35s 80 80.5 79.5 8 80.5 79.5 ml")
    assert "is about a tenth of what the other ports gave in this catch" in said
    assert "Was it 80 ml?" in said
    said = shop.bad("add 1 catch injectors full 35s 80 80.5 79.5 660 80.5 79.5 ml")
    assert "is about ten times what the other ports gave in this catch" in said
    assert "Was it 66 ml?" in said
    assert shop("add 1 catch injectors full 35s 80 80.5 79.5 8 80.5 79.5 ml --sure").status in (0, 1)


@pytest.mark.parametrize(
    "amounts", ["80 80.5 79.5 66 80.5 79.5", "80 80.5 79.5 lost 80.5 79.5", "80 8 79.5 8 80.5 79.5"]
)
def test_amounts_that_are_no_slip_of_the_point_are_not_asked_about(shop: Shop, amounts: str) -> None:
    shop.begin()
    assert shop(f"add 1 catch injectors full 35s {amounts} ml").status in (0, 1)


def test_a_repeat_that_contradicts_the_reading_before_is_asked_about_and_not_averaged(shop: Shop) -> None:
    shop.begin()
    shop('add 1 instrument gauge pressure gauge range="6 bar" class=1.0 resolution="0.05 bar"')
    first = "add 1 system {} instrument=gauge valve=shut --at 2026-05-03T10:{}"
    shop(first.format("4.2 bar", "12"))
    asked = shop(first.format("5.0 bar", "15"))
    assert asked.status == 2
    assert "contradicts 4.2 bar of 3 May 2026, 10:12" in asked.err
    assert "correct or withdraw" in asked.err
    # Once the repair between is entered, or somebody answers for both, nothing is asked.
    assert shop("add 1 adjusted primary_pressure_regulator --at 2026-05-03T10:13").err == ""
    assert shop(first.format("5.0 bar", "15")).err == ""
    assert shop(first.format("4.2 bar", "17") + " --sure").err == ""


@pytest.mark.parametrize("again", ["4.65 bar", "4.55 bar"])
def test_a_repeat_that_scatters_or_is_as_far_outside_is_not_asked_about(shop: Shop, again: str) -> None:
    shop.begin()
    shop('add 1 instrument gauge pressure gauge range="6 bar" class=1.0 resolution="0.05 bar"')
    for value, minute in (("4.63 bar", 12), (again, 15)):
        assert shop(f"add 1 system {value} instrument=gauge valve=shut --at 2026-05-03T10:{minute}").err == ""


def test_the_doubt_taken_where_no_gauge_is_stated_is_told_in_the_unit_that_is_asked_for() -> None:
    job = job_from("a job", demo_entries(), number=1)
    assert asked_reading(job, "timing_static").assumed == "± 0.5°"
    assert asked_reading(job, "onset").assumed == "± 1/16 turn"
    assert asked_reading(job, "spark_lead_resistance").assumed == "± 0.1 kΩ"
