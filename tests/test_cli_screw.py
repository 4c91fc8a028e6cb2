"""``evenpour screw``: the ledger from a journal, with its corrections, and what it says to do."""

from __future__ import annotations

import pytest

from cli_world import AT, DEMO, Shop, shop

__all__ = ["shop"]


def enter(shop: Shop, job: int, *lines: str) -> None:
    """Entries a minute apart."""
    for minute, line in enumerate(lines, start=len(shop.entries(job))):
        assert shop(f"add {job} {line} --at {AT.format(minute)}").status in (0, 1)


def test_nothing_entered_yet_asks_for_a_mark_and_the_onset(shop: Shop) -> None:
    job = shop.begin()
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert (answer["total_turns"], answer["ledger"], answer["start"]) == (0.0, [], None)
    assert f"evenpour add {job} move 0 turn mark=scribed" in answer["instructions"][0]
    assert "onset_lines" in answer["instructions"][1]


def test_the_demo_ends_with_the_screw_left_where_it_stands(shop: Shop) -> None:
    answer = shop.answer("screw", f"screw {DEMO}", status=0)
    assert (answer["advice"], answer["turns"], answer["why_no_advice"]) == ("stay", 0.0, None)
    assert answer["p_in_window"] >= 0.95
    assert answer["window"]["low"] <= answer["expected"]["co"] <= answer["window"]["high"]
    assert "Leave the screw. The idle stands where it should" in shop(f"screw {DEMO}").out


def test_the_caution_comes_first(shop: Shop) -> None:
    job = shop.begin()
    assert shop(f"screw {job}").out.startswith("CAUTION, Fuel burns")
    assert shop(f"screw {DEMO}").out.startswith("CAUTION, Exhaust gas kills without smell (read by Ines)")


def test_turns_degrees_and_clicks_add_up(shop: Shop) -> None:
    job = shop.begin("inline-five")  # a click of its screw is 18 degrees
    enter(shop, job, "move +1/4 turn who=AB", "move 90 deg", "move -5 clicks note=back")
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["total_turns"] == pytest.approx(0.25)
    assert [line["total"] for line in answer["ledger"]] == pytest.approx([0.25, 0.5, 0.25])
    assert [line["reversed"] for line in answer["ledger"]] == [False, False, True]
    assert [line["who"] for line in answer["ledger"]] == ["AB", "", ""]
    out = shop(f"screw {job}").out
    assert "anticlockwise, play first" in out
    assert "5 clicks anticlockwise" in out  # as it was typed, the sign as a direction
    assert "It stands 1/4 turn clockwise of where it was found." in out


def test_the_starting_point_lies_back_from_the_onset_with_bare_lines(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "move +1/4 turn", "onset 3/8 turn through=lines")
    answer = shop.answer("screw", f"screw {job}", status=0)
    # Found at 1/4 + 3/8; half a turn back from there is 1/8, an eighth back from here.
    assert answer["start"]["position"] == pytest.approx(0.125)
    assert answer["start"]["turns"] == pytest.approx(-0.125)
    assert answer["start"]["source"]
    (way, entered, key, odds) = answer["instructions"]
    assert (answer["advice"], answer["turns"]) == ("start", pytest.approx(-0.125))
    assert 0.0 < answer["p_in_window"] < 0.9
    assert "likely that the idle stands where it should" in odds
    assert "anticlockwise by 1/4 turn (90° of the key), then clockwise by 1/8 turn (45° of the key)" in way
    assert f"evenpour add {job} move -1/8 turn approach=lean" in entered
    assert key.startswith("Key out")
    enter(shop, job, "move -1/8 turn approach=lean")
    there = shop.answer("screw", f"screw {job}", status=0)
    assert there["start"]["turns"] == 0.0
    assert there["approached"] == "lean"
    assert there["instructions"][0].startswith("The screw stands at its starting point")


def test_at_the_starting_point_from_the_wrong_side_the_play_is_taken_up(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "onset 0 turn through=lines", "move -1/2 turn")
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["approached"] == "rich"
    assert any("come up clockwise" in words for words in answer["instructions"])


def test_onsets_far_apart_are_a_finding(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "onset 1/2 turn through=lines", "onset 7/8 turn through=injectors")
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["onsets_apart"] == pytest.approx(0.375)
    assert "more than a quarter turn" in answer["instructions"][0]
    near = shop.answer("screw", f"screw {DEMO}")
    assert near["onsets_apart"] == pytest.approx(0.0625)
    assert not any("quarter turn. Look" in words for words in near["instructions"])


def test_a_replaced_fuel_distributor_voids_the_onset_and_keeps_the_count(shop: Shop) -> None:
    job = shop.begin()
    enter(
        shop, job, "move +1/4 turn mark=seated", "onset 3/8 turn through=lines",
        "replaced fuel_distributor", "move -1/8 turn",
    )  # fmt: skip
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["total_turns"] == pytest.approx(0.125)
    assert answer["start"] is None
    marks = {mark["name"]: mark for mark in answer["marks"]}
    assert marks["seated"]["void"] is None
    assert "fuel distributor was replaced" in marks["onset_lines"]["void"]
    assert "Find it again" in answer["instructions"][0]
    assert "still stands where the ledger says" in answer["instructions"][0]


@pytest.mark.parametrize(
    ("spoiling", "spoilt"),
    [
        ("replaced fuel_distributor", True),
        ("cleaned plunger", True),
        ("adjusted plate_rest", True),
        ("move plate_rest +1/4 turn", True),
        ("replaced injector 4", False),
        ("replaced control_pressure_regulator", False),
        ("move +1/4 turn", False),
    ],
)
def test_what_the_ledger_calls_void_the_path_calls_stale(shop: Shop, spoiling: str, spoilt: bool) -> None:
    job = shop.begin()
    enter(shop, job, "onset 3/8 turn through=lines", spoiling)
    (mark,) = shop.answer("screw", f"screw {job}")["marks"]
    claims = {one["claim"]: one["state"] for one in shop.answer("path", f"path {job}")["claims"]}
    assert (mark["void"] is not None) == spoilt
    assert (claims["onset_lines_known"] == "stale") == spoilt


def test_another_screw_starts_anew(shop: Shop) -> None:
    job = shop.begin()
    enter(
        shop, job, "move +1 turn", "onset 3/8 turn through=lines", "replaced mixture_screw", "move +1/16 turn"
    )
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["total_turns"] == pytest.approx(0.0625)
    assert answer["counted_from"].startswith("where the new one was fitted")
    assert "another screw" in answer["instructions"][0]


def test_corrections_and_withdrawals_count(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "move +1/4 turn --id one", "move +1/8 turn --id two", "move +1 turn --id three")
    enter(shop, job, 'correct one reason="it was the other way" move -1/4 turn', "withdraw three reason=slip")
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["total_turns"] == pytest.approx(-0.125)
    assert [bool(line["corrected_by"]) for line in answer["ledger"]] == [True, False]
    assert answer["withdrawn"] == [{"entry": "three", "typed": "+1 turn", "reason": "slip"}]
    assert "Withdrawn: 1 turn clockwise (slip)." in shop(f"screw {job}").out


def test_a_mark_noted_without_turning_disturbs_nothing(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "exhaust_co 1.5 % state=idle_warm")
    before = shop.answer("path", f"path {job}")["claims"]
    enter(shop, job, "move 0 turn mark=scribed")
    assert shop.answer("path", f"path {job}")["claims"] == before
    (mark,) = shop.answer("screw", f"screw {job}")["marks"]
    assert (mark["name"], mark["from_here"], mark["void"]) == ("scribed", 0.0, None)
    enter(shop, job, "move 1/16 turn")
    moved = {one["claim"]: one["state"] for one in shop.answer("path", f"path {job}")["claims"]}
    assert moved["idle_mixture_right"] == "stale"


def test_once_the_engine_runs_the_mixture_decides(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "onset 1/2 turn through=lines", "exhaust_co 1.5 % state=idle_warm")
    enter(shop, job, "move +3/4 turn --sure")
    answer = shop.answer("screw", f"screw {job}", status=0)
    assert answer["has_run"]
    assert "3/4 turn richer than its starting point" in answer["instructions"][0]
    assert "more than half a turn" in answer["instructions"][1]
    assert answer["cautions"][0]["id"] == "carbon_monoxide"


def test_a_side_that_is_none_is_refused(shop: Shop) -> None:
    job = shop.begin()
    assert "is no side. Allowed: lean, rich" in shop.bad(f"add {job} move 1/8 turn approach=left")


def test_a_move_that_nobody_makes_is_asked_about(shop: Shop) -> None:
    job = shop.begin()
    said = shop.bad(f"add {job} move +9turn")
    assert "Were degrees or clicks meant?" in said
    assert shop.entries(job) == []
    assert shop(f"add {job} move +2.5turn mark=seated").status == 0
    assert shop(f"add {job} move -90deg").status == 0
    assert shop(f"add {job} move +9turn --sure").status == 0


def test_on_a_running_engine_more_than_a_quarter_turn_is_asked_about(shop: Shop) -> None:
    job = shop.begin()
    enter(shop, job, "onset 1/2 turn through=lines", "move -1/2 turn", "exhaust_co 1.5 % state=idle_warm")
    said = shop.bad(f"add {job} move +3/8 turn")
    assert "On a running engine the mixture screw goes by a quarter turn at most: +3/8 turn is far." in said
    enter(shop, job, "move 90 deg", "move idle_air_screw +2 turn", "move +3/8 turn --sure")
    enter(shop, job, "onset 1/2 turn through=lines", "move -1/2 turn")  # it stands again
