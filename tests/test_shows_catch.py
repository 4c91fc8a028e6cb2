"""Catches written by hand, put through ``evenpour catch``: what they point to, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from evenpour.data import sheet_names
from shows_tools import answered, catch, caught, did, engine, pathed, states, time

CYLINDERS = {
    "flat-six": 6,
    "flat-six-oxygen": 6,
    "inline-four": 4,
    "inline-four-oxygen": 4,
    "inline-five": 5,
    "inline-six": 6,
    "vee-six": 6,
    "vee-eight": 8,
}
KEYS = {
    "spread_by_run",
    "even_by_run",
    "spread",
    "even",
    "parts",
    "undivided",
    "suspect_amounts",
    "next_catch",
}
# The same small scatter at every port, some tenths of a per cent.
SCATTER = (0.003, -0.004, 0.001, 0.0, -0.002, 0.004, -0.001, 0.002)
CONTAINER = """
[[instrument]]
id = "container"
kind = "measuring cylinder"
range = "100 ml"
error = "0.5 ml"
resolution = "1 ml"
"""
BY = 'instrument = "container"\n'
AIM = {"idle": (20.0, "150 s"), "part": (50.0, "60 s"), "full": (80.0, "35 s")}


def amounts(
    mean: float,
    off: Mapping[int, float] | None = None,
    *,
    n: int = 6,
    unit: str = "ml",
    lost: Sequence[int] = (),
) -> list[str]:
    """By port; *off* as fractions of the mean."""
    return [
        ""
        if port in lost
        else f"{mean * (1.0 + SCATTER[port - 1]) * (1.0 + (off or {}).get(port, 0.0)):.2f} {unit}"
        for port in range(1, n + 1)
    ]


def run(
    through: str,
    opening: str,
    minute: int,
    off: Mapping[int, float] | None = None,
    *,
    n: int = 6,
    lost: Sequence[int] = (),
    more: str = "",
) -> str:
    mean, duration = AIM[opening]
    at = time(11 + minute // 60, minute % 60)
    return catch(through, opening, amounts(mean, off, n=n, lost=lost), BY + more + at, duration=duration)


def swapped(*swaps: str) -> str:
    return "swaps = [" + ", ".join(f'"{swap}"' for swap in swaps) + "]\n"


def off(answer: Mapping[str, Any], at_least: float = 0.9) -> set[tuple[str, int]]:
    return {(part["part"], part["cylinder"]) for part in answer["parts"] if part["p_off"] >= at_least}


def p_off(answer: Mapping[str, Any], part: str, cylinder: int) -> float:
    (found,) = [one for one in answer["parts"] if (one["part"], one["cylinder"]) == (part, cylinder)]
    return float(found["p_off"])


def groups(answer: Mapping[str, Any]) -> list[set[tuple[str, int]]]:
    return [{(one["part"], one["cylinder"]) for one in group} for group in answer["undivided"]]


def both_ways(openings: Sequence[str] = ("idle", "full"), n: int = 6) -> str:
    return CONTAINER + "".join(run("lines", opening, 5 * step, n=n) for step, opening in enumerate(openings))


# ------------------------------------------------------------------------------- every engine


@pytest.mark.parametrize("sheet", sheet_names())
def test_even_catches_are_even_on_every_engine(sheet: str) -> None:
    n = CYLINDERS[sheet]
    text = engine(sheet) + both_ways(n=n) + run("injectors", "full", 30, n=n)
    status, answer, error = answered("catch", text)
    assert (status, error) == (0, "")
    assert set(answer) >= KEYS
    assert set(answer["even_by_run"]) == {"lines:idle", "lines:full", "injectors:full"}
    assert all(p >= 0.95 for p in answer["even_by_run"].values())
    assert answer["even"] == min(answer["even_by_run"].values())
    assert len(answer["parts"]) == 3 * n
    assert all(
        set(part) == {"part", "cylinder", "feeds", "hangs", "deviation", "u", "p_off"}
        for part in answer["parts"]
    )
    assert off(answer, 0.2) == set()
    assert (answer["undivided"], answer["suspect_amounts"]) == ([], [])


@pytest.mark.parametrize("sheet", sheet_names())
def test_one_run_with_neighbours_exchanged_divides_line_from_injector(sheet: str) -> None:
    n = CYLINDERS[sheet]
    pairs = [f"injector {a} with {a + 1}" for a in range(1, n, 2)]
    start = engine(sheet) + both_ways(n=n) + run("injectors", "full", 30, {2: -0.18}, n=n)
    moved = caught(start + run("injectors", "full", 40, {1: -0.18}, n=n, more=swapped(*pairs)))
    stayed = caught(start + run("injectors", "full", 40, {2: -0.18}, n=n, more=swapped(*pairs)))
    assert off(moved) == {("injector", 2)}
    assert off(stayed) == {("line", 2)}
    assert moved["undivided"] == stayed["undivided"] == []


# ------------------------------------------------------------------------------- what it points to


def test_uneven_bare_lines_point_to_port_or_line_never_to_an_injector() -> None:
    text = engine() + CONTAINER + run("lines", "idle", 0, {3: 0.25}) + run("lines", "full", 10, {3: 0.25})
    status, answer, _ = answered("catch", text)
    assert status == 1
    assert answer["even"] <= 0.05
    assert answer["spread"] == pytest.approx(0.25, abs=0.04)
    assert p_off(answer, "port", 3) + p_off(answer, "line", 3) > 0.9
    assert all(part["p_off"] < 0.05 for part in answer["parts"] if part["part"] == "injector")
    assert {("port", 3), ("line", 3)} in groups(answer)
    assert any("line 3" in swap for swap in answer["next_catch"]["swaps"])


def test_where_lines_reach_no_other_port_a_spare_line_is_asked_for() -> None:
    text = (
        engine("vee-eight")
        + CONTAINER
        + run("lines", "idle", 0, {3: 0.25}, n=8)
        + run("lines", "full", 10, {3: 0.25}, n=8)
    )
    following = caught(text)["next_catch"]
    assert following["swaps"] == []
    assert "spare line" in following["why"]


@pytest.mark.parametrize("short", [-0.12, -0.15, -0.2, -0.25, -0.3, -0.4])
def test_even_bare_and_uneven_through_injectors_asks_to_swap_before_buying(short: float) -> None:
    text = (
        engine()
        + both_ways()
        + run("injectors", "full", 30, {4: short})
        + run("injectors", "full", 40, {4: short})
    )
    status, answer, _ = answered("catch", text)
    assert (status, answer["verdict"]) == (1, "outside")
    assert answer["even_by_run"]["lines:full"] >= 0.95
    assert answer["even_by_run"]["injectors:full"] <= 0.05
    assert p_off(answer, "injector", 4) > p_off(answer, "line", 4) > p_off(answer, "port", 4)
    assert p_off(answer, "injector", 4) + p_off(answer, "line", 4) > 0.9
    following = answer["next_catch"]
    assert (following["through"], following["opening"]) == ("injectors", "full")
    assert any("injector 4" in swap for swap in following["swaps"])
    assert following["why"]


def test_the_swap_that_was_asked_for_tells() -> None:
    start = (
        engine()
        + both_ways()
        + run("injectors", "full", 30, {4: -0.3})
        + run("injectors", "full", 40, {4: -0.3})
    )
    (swap,) = caught(start)["next_catch"]["swaps"]
    assert swap == "injector 4 with 1"
    told = caught(start + run("injectors", "full", 50, {1: -0.3}, more=swapped(swap)))
    assert off(told) == {("injector", 4)}
    assert told["next_catch"]["swaps"] == []
    assert "injector 4" in told["next_catch"]["why"]
    line = caught(start + run("injectors", "full", 50, {4: -0.3}, more=swapped(swap)))
    assert off(line) == {("line", 4)}


def test_two_injectors_that_are_off_for_sure_are_told_apart() -> None:
    pairs = swapped("injector 1 with 2", "injector 3 with 4", "injector 5 with 6")
    text = (
        engine()
        + both_ways(("full",))
        + run("injectors", "full", 30, {2: -0.2, 5: 0.18})
        + run("injectors", "full", 40, {1: -0.2, 6: 0.18}, more=pairs)
    )
    answer = caught(text)
    assert off(answer) == {("injector", 2), ("injector", 5)}
    assert answer["undivided"] == []


def test_an_edge_that_is_off_shows_at_the_idle_opening_only() -> None:
    text = engine() + CONTAINER
    for minute, opening, amount in (
        (0, "idle", -0.3),
        (5, "idle", -0.3),
        (10, "full", 0.0),
        (15, "full", 0.0),
    ):
        text += run("lines", opening, minute, {3: amount})
    answer = caught(text)
    assert ("port", 3) in off(answer)
    assert answer["even_by_run"]["lines:idle"] <= 0.05
    assert answer["even_by_run"]["lines:full"] >= 0.95


def test_a_line_that_moves_takes_its_fault_and_its_number_along() -> None:
    text = engine() + CONTAINER + run("lines", "full", 0, {3: -0.25})
    answer = caught(text + run("lines", "full", 10, {5: -0.25}, more=swapped("line 3 with 5")))
    assert off(answer) == {("line", 3)}


def test_three_in_a_ring_are_told_one_exchange_after_the_other() -> None:
    """3 with 4 puts injector 4 third; 3 with 5 then puts injector 5 fourth and 3 fifth."""
    text = engine("inline-five") + both_ways(("full",), n=5) + run("injectors", "full", 30, {5: -0.2}, n=5)
    ring = swapped("injector 1 with 2", "injector 3 with 4", "injector 3 with 5")
    answer = caught(text + run("injectors", "full", 40, {4: -0.2}, n=5, more=ring))
    assert off(answer) == {("injector", 5)}


def test_a_dead_injector_is_found() -> None:
    text = (
        engine()
        + both_ways()
        + run("injectors", "full", 30, {2: -1.0})
        + run("injectors", "full", 40, {2: -1.0})
    )
    answer = caught(text)
    assert ("injector", 2) in off(answer)
    assert answer["even_by_run"]["injectors:full"] <= 0.05
    assert "injector 2" in answer["next_catch"]["why"]


# ------------------------------------------------------------------------------- accidents


def test_a_container_that_fell_over_is_suspected_and_blames_no_part() -> None:
    text = engine() + CONTAINER + run("lines", "full", 0) + run("lines", "full", 10, {5: -0.5})
    answer = caught(text + run("lines", "full", 20))
    (suspect,) = answer["suspect_amounts"]
    assert (suspect["catch"], suspect["position"]) == (1, 5)
    assert suspect["why"]
    assert off(answer, 0.2) == set()
    assert answer["even"] >= 0.95


def test_a_slip_of_the_pen_is_offered_and_not_applied() -> None:
    typed = amounts(80.0)
    typed[2] = "8.01 ml"
    text = engine() + CONTAINER + run("lines", "full", 0)
    answer = caught(text + catch("lines", "full", typed, BY + time(11, 10), duration="35 s"))
    (suspect,) = answer["suspect_amounts"]
    assert (suspect["catch"], suspect["position"]) == (1, 3)
    assert suspect["offer"].startswith("80")


def test_a_lost_container_leaves_the_others_and_says_nothing_of_its_own() -> None:
    answer = caught(
        engine()
        + CONTAINER
        + run("lines", "full", 0, {2: -0.3}, lost=(5,))
        + run("lines", "full", 9, {2: -0.3})
    )
    assert answer["even"] <= 0.05
    alone = caught(engine() + CONTAINER + run("lines", "full", 0, lost=(5,)))
    assert alone["even"] >= 0.9


def test_unequal_times_are_taken_out() -> None:
    """Port 3 ran 42 s instead of 35 s and holds a fifth more."""
    times = 'durations = ["35 s", "35 s", "42 s", "35 s", "35 s", "35 s"]\n'
    even = caught(
        engine() + CONTAINER + catch("lines", "full", amounts(80.0, {3: 0.2}), BY + times + time(11))
    )
    assert even["even"] >= 0.95
    not_so = caught(engine() + CONTAINER + catch("lines", "full", amounts(80.0), BY + times + time(11)))
    assert not_so["spread"] == pytest.approx(1.0 - 35.0 / 42.0, abs=0.04)


@pytest.mark.parametrize(
    ("mean", "unit"), [(80.0, "ml"), (2.705, "fl oz"), (2.816, "imp fl oz"), (59.6, "g"), (0.0596, "kg")]
)
def test_volume_or_weight_tell_the_same(mean: float, unit: str) -> None:
    def of(off: Mapping[int, float]) -> list[str]:
        return [f"{mean * (1.0 + off.get(port, 0.0)):.6f} {unit}" for port in range(1, 7)]

    text = '\n[conditions]\nfuel = "E5"\nambient_temperature = "17 degC"\n'
    more = 'temperature = "17 degC"\n' if unit.endswith("g") else ""
    for minute in (0, 10):
        text += catch("lines", "full", of({3: -0.2}), more + time(11, minute), duration="35 s")
    answer = caught(engine() + text)
    assert answer["even"] <= 0.05
    assert answer["runs"][0]["amounts"][0] == pytest.approx(80.0, rel=0.02)
    assert answer["spread"] == pytest.approx(0.207, abs=0.03)


def test_a_purge_run_never_counts() -> None:
    text = engine() + CONTAINER + run("lines", "full", 0, {3: -0.5}, more="discard = true\n")
    answer = caught(text + run("lines", "full", 10))
    assert answer["even"] >= 0.95
    assert [one["discarded"] for one in answer["runs"]] == [True, False]


def test_nothing_caught_or_nothing_usable_is_no_fault() -> None:
    for text in (engine(), engine() + catch("lines", "full", ["80 ml", "", "", "", "", ""], time(11))):
        status, answer, _ = answered("catch", text)
        assert status == 0
        assert (answer["spread_by_run"], answer["even"], answer["verdict"]) == ({}, None, "cannot_tell")


def test_an_opening_without_a_limit_is_reported_not_judged() -> None:
    text = engine() + CONTAINER + catch("lines", "12 mm", amounts(40.0, {3: 0.2}), BY + time(11))
    answer = caught(text)
    assert answer["spread_by_run"]["lines:12 mm"] == pytest.approx(0.18, abs=0.05)
    assert answer["even_by_run"]["lines:12 mm"] is None
    assert answer["verdict"] == "cannot_tell"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('amounts = ["80 ml", "80 ml"]', "6"),
        ('amounts = ["80", "80", "80", "80", "80", "80"]', "unit"),
        ('amounts = ["", "", "", "", "", ""]', "lost"),
        ('amounts = ["-8 ml", "80 ml", "80 ml", "80 ml", "80 ml", "80 ml"]', "below zero"),
        ('amounts = ["80 bar", "80 ml", "80 ml", "80 ml", "80 ml", "80 ml"]', "pressure"),
    ],
)
def test_amounts_that_cannot_be_are_refused_with_their_place(more: str, words: str) -> None:
    file = (
        f'{engine()}\n[[catch]]\nthrough = "lines"\nopening = "full"\nduration = "35 s"\n{more}\n{time(11)}'
    )
    status, answer, error = answered("catch", file)
    assert (status, answer) == (2, None)
    assert words in error
    assert "catch 1" in error


# ------------------------------------------------------------------------------- a part replaced between


def test_a_replaced_injector_is_another_one_and_keeps_its_number() -> None:
    text = engine() + both_ways()
    text += run("injectors", "full", 30, {4: -0.2}) + run("injectors", "full", 40, {4: -0.2})
    text += did("replaced", "injector", time(13), 4)
    waiting = caught(text)
    assert waiting["verdict"] == "cannot_tell"  # nothing was caught through the new one
    assert waiting["even"] == min(waiting["even_by_run"].values())
    assert p_off(waiting, "injector", 4) < 0.05
    assert states(pathed(text))["catch_injectors"] != "proved"
    again = caught(text + run("injectors", "full", 150))
    assert (again["verdict"], off(again, 0.2)) == ("within", set())
    assert again["even_by_run"]["injectors:full"] >= 0.95


def test_the_order_of_the_file_is_not_the_order_of_the_car() -> None:
    first, late = run("injectors", "full", 30, {4: -0.2}), run("injectors", "full", 150)
    replaced = did("replaced", "injector", time(13), 4)
    straight = caught(engine() + both_ways() + first + replaced + late)
    mixed = caught(engine() + late + replaced + both_ways() + first)
    straight.pop("runs"), mixed.pop("runs")
    assert mixed == straight


EXAMPLE = """
[engine]
sheet = "flat-six"                    # shipped, in the user's folder, or a path

[conditions]                          # hold for all readings that state none of their own
ambient_temperature = "18 degC"
altitude = "240 m"
fuel = "E5"

[[instrument]]
id = "gauge"
kind = "pressure gauge"
range = "6 bar"
class = 1.0                           # per cent of range; or error = "0.05 bar"
resolution = "0.05 bar"               # a wideband display may add: scale = "14.7 AFR at lambda 1"

[[reading]]
what = "control_pressure_cold"        # a check's id
value = "1.45 bar"                    # quantity or choice; an open circuit is "open"
conditions = { regulator_temperature = "18 degC" }
instrument = "gauge"
at = 2026-05-03T10:12:00

[[catch]]
through = "lines"                     # or "injectors"
opening = "idle"                      # rest, idle, part, full, or "12 mm"
duration = "60 s"                     # or durations = [...], one per container
amounts = ["8.0 ml", "8.2 ml", "7.9 ml", "8.1 ml", "", "8.0 ml"]   # by port; "" is lost
swaps = ["line 3 with 5"]             # changed over for this run
instrument = "container"
at = 2026-05-03T11:02:00

[[move]]
part = "mixture_screw"
turns = "+1/8 turn"                   # clockwise positive
at = 2026-05-03T12:31:00

[[did]]
action = "replaced"
part = "injector"
cylinder = 4
at = 2026-05-03T11:40:00

[[step]]
id = "spark_disabled"
done = true                           # false needs reason = "..."
who = "AB"
at = 2026-05-03T10:50:00
"""


def test_the_published_example_is_a_job_although_it_describes_no_container() -> None:
    for command in ("judge", "path", "catch"):
        status, answer, error = answered(command, EXAMPLE)
        assert (status, error) == (0, "")
    assert answer is not None
    assert answer["even_by_run"]["lines:idle"] >= 0.95
    assert "container states no error" in answer["runs"][0]["basis"]
    # and the lines that its last catch was poured with stand exchanged
    assert {item["item"] for item in pathed(EXAMPLE)["put_back"]} == {"coil_feed", "exchanged_line"}


def test_a_container_that_is_nearly_a_described_one_is_asked_about() -> None:
    text = (
        engine() + CONTAINER + catch("lines", "full", amounts(80.0), 'instrument = "contaner"\n' + time(11))
    )
    status, _, error = answered("catch", text)
    assert status == 2
    assert "container" in error
