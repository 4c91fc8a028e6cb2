"""A whole job by what is named first alone: each step done with the demo's readings leads on to handover."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from evenpour.job.demo import demo_entries
from evenpour.job.entries import Entry
from evenpour.job.job import Job, job_from
from evenpour.job.step_page import back_by_hand, step_page
from evenpour.path import next_steps
from evenpour.path.answer import NextStep

TAKEN_IN = 9  # entries of the demo with which a job begins: engine, conditions, instruments
MOST = 6  # times one step may come: the pressure is let off before each thing that is opened
IN_ORDER = (
    ("spark_disabled", "release_pressure", "plate_at_rest", "pump_switch_off"),
    ("old_filter_out", "flush_into_can", "new_filter", "look_for_wet_unions"),
    ("gauge_in", "bleed_gauge", "read_system_pressure", "gauge_out"),
    ("pump_bridge_in", "pump_switch_off", "flush_into_can", "electrics_back", "crank_for_oil"),
    ("injectors_out", "lines_ready", "catch_lines_full", "injectors_on_lines", "catch_injectors_full"),
    ("catch_injectors_full", "injectors_in", "injector_unions_wiped", "electrics_back"),
    ("key_in", "onset_lines", "key_and_wedge_out", "clear_to_start", "pump_stops_key_on", "hot_restarts"),
    ("spark_disabled", "spark_on_every_lead", "clear_to_start", "walk_the_list", "clean_end"),
)


def read_at(step_checks: tuple[str, ...]) -> Iterator[Entry]:
    """What the demo read of these checks, the newest of each place and state; no catch with a swap."""
    found: dict[tuple[object, ...], Entry] = {}
    for entry in demo_entries():
        said = entry.content
        if entry.kind == "catch" and not said.get("swaps"):
            found["catch", said["through"], said["opening"]] = entry
        elif entry.kind == "reading":
            found[said["what"], said.get("cylinder"), str(said.get("conditions"))] = entry
    for (what, *which), entry in found.items():
        name = ":".join(map(str, which)) if what == "catch" else what
        if what in step_checks or name in step_checks:
            yield entry


def followed(entries: list[Entry], passed_over: str = "") -> list[str]:
    """The steps named first, one after the other, each done with what the demo read in it; one is passed over
    the first time.
    """
    begun = max((one.at for one in entries if one.at), default="2026-05-04T08:00:00+00:00")
    at = datetime.fromisoformat(begun)
    step_done = next(one for one in demo_entries() if one.kind == "step")

    def enter(like: Entry, minutes: int, content: object = None) -> None:
        nonlocal at
        at += timedelta(minutes=minutes)
        added = {"id": f"now-{len(entries)}", "seq": len(entries) + 1, "at": at.isoformat(timespec="minutes")}
        entries.append(replace(like, **added, **({"content": content} if content else {})))

    order: list[str] = []
    while steps := next_steps((job := job_from("demo", entries)).state):
        step = job.plan.step[steps[0].step]
        assert not steps[0].unmet, f"{step.id} is named first, but {steps[0].unmet}"
        order.append(step.id)
        assert Counter(order)[step.id] <= MOST, order
        if step.id == passed_over and order.count(step.id) == 1:
            enter(step_done, 5, {"id": step.id, "done": False, "reason": "no spanner fits"})
            continue
        for entry in read_at(step.checks):
            enter(entry, 1)
        enter(step_done, 40, {"id": step.id, "done": True})
    left = [item.name for item in job.path().put_back]
    assert not left, left
    return order


def are_in_order(order: list[str], some: tuple[str, ...]) -> bool:
    """Whether each of some comes after the first of the one before it."""
    places = [order.index(name) for name in some]
    return places == sorted(places)


def test_doing_what_is_named_first_leads_through_the_whole_job_in_the_order_of_the_work() -> None:
    order = followed(list(demo_entries()[:TAKEN_IN]))
    for some in IN_ORDER:
        assert are_in_order(order, some), [name for name in order if name in some]
    assert order[-2:] == ["clean_end", "record_signed"]


@pytest.mark.parametrize(
    ("part", "cylinder", "in_order"),
    [
        (
            "injector",
            2,
            ("release_pressure", "injectors_out", "injector_opening", "injectors_on_lines",
             "catch_injectors_idle", "injectors_in", "plugs_dry", "first_start", "idle_mixture_and_speed"),
        ),
        ("line", 3, ("lines_ready", "catch_lines_idle", "injectors_on_lines", "catch_injectors_idle")),
        ("filter", None, ("gauge_in", "look_for_wet_unions", "read_system_pressure", "gauge_out")),
        (
            "control_pressure_regulator",
            None,
            ("release_pressure", "regulator_body", "gauge_in", "look_for_wet_unions", "bleed_gauge",
             "read_control_cold", "gauge_out", "electrics_back", "first_start", "walk_round_hot"),
        ),
        (
            "cold_start_valve",
            None,
            ("release_pressure", "cold_start_valve_bench", "gauge_in", "look_for_wet_unions", "bleed_gauge",
             "read_holding", "gauge_out", "first_start", "walk_round_hot"),
        ),
    ],
)  # fmt: skip
def test_a_part_replaced_after_the_end_is_proved_again_in_the_order_of_the_work(
    part: str, cylinder: int | None, in_order: tuple[str, ...]
) -> None:
    assert are_in_order(followed(after_the_end("replaced", part, cylinder)), in_order)


def after_the_end(action: str, part: str, cylinder: int | None = None) -> list[Entry]:
    """The demo, and one thing more done to a part."""
    entries = list(demo_entries())
    last, did = entries[-1], next(one for one in entries if one.kind == "did")
    content = {"action": action, "part": part} | ({"cylinder": cylinder} if cylinder else {})
    return [*entries, replace(did, id="later", seq=last.seq + 1, at=last.at, content=content)]


def test_what_is_brought_about_says_the_next_that_needs_it_and_a_tool_was_taken_off() -> None:
    job = job_from("demo", after_the_end("replaced", "injector", 1))
    first = {one.step: one.why for one in reversed(next_steps(job.state))}
    assert job.plan.step["injectors_out"].title in first["release_pressure"]
    bridge = job.state.last_off["pump_bridge", None].words
    assert bridge.startswith("pump bridge in the relay socket was taken off by step")
    assert "was put back by step" in job.state.last_off["pump_relay", None].words


def then(entries: list[Entry], **content: object) -> list[Entry]:
    """These, and one thing more done to a part."""
    last, did = entries[-1], next(one for one in demo_entries() if one.kind == "did")
    return [*entries, replace(did, id=f"then-{last.seq}", seq=last.seq + 1, at=last.at, content=content)]


def worn_points(**content: object) -> list[Entry]:
    """The demo, its points replaced, and one thing more: dwell, timing and spark are to be seen again."""
    return then(after_the_end("replaced", "contact_points"), **content)


def after_the_end_happened(what: str) -> list[Entry]:
    """The demo, and one thing more that happened."""
    entries = after_the_end("removed", "filter")
    return [*entries[:-1], replace(entries[-1], kind="happened", content={"what": what})]


@pytest.mark.parametrize("part", ["fuel_distributor", "fuel_pump", "sensor_plate", "control_union"])
def test_no_pump_and_no_engine_runs_with_a_part_off_the_car(part: str) -> None:
    job = job_from("demo", after_the_end("removed", part))
    could = [job.plan.step[one.step] for one in next_steps(job.state) if not one.unmet]
    runs_it = [step.id for step in could if "fuel_pressure" in step.touches]
    assert set(runs_it) <= {"pump_switch_off", "pump_volts"}  # the feed's end in a can
    assert not runs_it


def test_a_bridge_left_in_is_taken_out_and_its_switch_is_not_proved_first() -> None:
    order = followed(after_the_end("fitted", "pump_bridge"))
    assert order == ["electrics_back", "pump_stops_key_on", "walk_the_list"]


@pytest.mark.parametrize(
    ("part", "bars"),
    [
        ("battery", {"battery_check", "pump_volts"}),
        ("vacuum_hoses", {"smoke_intake_body"}),
        ("control_pressure_regulator", {"regulator_body", "heater_ohms", "read_control_cold"}),
        ("accumulator", {"accumulator_vent_look", "read_holding"}),
        ("line", {"plugs_dry", "injector_unions_wiped"}),
    ],
)
def test_nothing_is_proved_that_putting_a_part_back_undoes(part: str, bars: set[str]) -> None:
    entries = after_the_end("removed", part, 2 if part == "line" else None)
    steps = next_steps((job := job_from("demo", entries)).state)
    could = {one.step for one in steps if not one.unmet}
    assert could.isdisjoint(bars)
    refitted = replace(
        entries[-1], id="back", seq=entries[-1].seq + 1, content={**entries[-1].content, "action": "refitted"}
    )
    job = job_from("demo", [*entries, refitted])
    assert bars & {one.step for one in next_steps(job.state)}


def test_what_was_benched_off_the_car_needs_no_second_bench() -> None:
    entries = after_the_end("removed", "cold_start_valve")
    order = followed(
        [
            *entries,
            replace(
                entries[-1],
                id="back",
                seq=entries[-1].seq + 1,
                content={"action": "refitted", "part": "cold_start_valve"},
            ),
        ]
    )
    assert "cold_start_valve_bench" not in order
    assert are_in_order(order, ("smoke_intake_body", "look_for_wet_unions", "first_start"))


def upto(entry: str, kind: str, **content: object) -> list[Entry]:
    """The demo up to an entry, and one thing more."""
    entries = list(demo_entries())
    entries = entries[: 1 + next(place for place, one in enumerate(entries) if one.id == entry)]
    did = next(one for one in demo_entries() if one.kind == "did")
    last = entries[-1]
    return [*entries, replace(did, kind=kind, id="later", seq=last.seq + 1, at=last.at, content=content)]


def test_a_leak_at_idle_is_dry_and_run_before_any_full_load() -> None:
    """The hoses are blanked off for the idle: they hold up no start and nothing before the road."""
    order = followed(upto("reading-85", "happened", what="union_leaked"))
    assert "full_load" not in order[: order.index("first_start")]
    assert are_in_order(
        order,
        (
            "injector_unions_wiped",
            "plugs_dry",
            "spark_parts",
            "pump_stops_key_on",
            "first_start",
            "walk_round_hot",
        ),
    )


@pytest.mark.parametrize(
    ("entries", "runs_the_pump"),
    [
        (upto("reading-53", "did", action="replaced", part="control_pressure_regulator"), "bleed_gauge"),
        (after_the_end("replaced", "injector", 2), "injectors_on_lines"),
        (upto("reading-52", "did", action="replaced", part="control_pressure_regulator"), "measure_delivery"),
    ],
)
def test_a_control_line_that_was_open_is_wiped_before_the_pump_runs(
    entries: list[Entry], runs_the_pump: str
) -> None:
    order = followed(entries)
    assert "look_for_wet_unions" in order[: order.index(runs_the_pump)]


def test_the_plate_is_not_moved_through_its_travel_while_pressure_stands() -> None:
    order = followed(after_the_end_happened("backfire"))
    assert are_in_order(order, ("release_pressure", "plate_centred", "look_for_wet_unions"))


def test_plugs_that_were_out_for_a_look_at_the_bores_are_screwed_in_before_the_starter_turns() -> None:
    order = followed(after_the_end("replaced", "injector", 2))
    assert are_in_order(order, ("injector_unions_wiped", "plugs_dry", "spark_parts", "spark_on_every_lead"))


@pytest.mark.parametrize(
    ("entries", "bars"),
    [
        (upto("step-36", "did", action="removed", part="battery"), {"look_for_wet_unions", "bleed_gauge"}),
        (upto("step-50", "did", action="removed", part="sensor_plate"), {"onset_lines", "catch_lines_idle"}),
        (upto("step-50", "did", action="removed", part="funnel"), {"onset_lines", "catch_lines_idle"}),
        (after_the_end("fitted", "clamps"), {"pump_switch_off", "gauge_out", "look_for_wet_unions"}),
        (upto("reading-71", "did", action="fitted", part="piston_stop"), {"spark_on_every_lead"}),
        (upto("step-7", "did", action="removed", part="filter"), {"as_found_run"}),
        (upto("step-7", "did", action="removed", part="exhaust"), {"as_found_run"}),
        (upto("step-7", "did", action="removed", part="throttle_linkage"), {"as_found_run"}),
        (upto("step-7", "did", action="fitted", part="plate_wedge"), {"as_found_run"}),
        (upto("step-7", "did", action="disconnected", part="vacuum_hoses"), {"as_found_run"}),
        (upto("step-7", "did", action="fitted", part="mixture_key"), {"as_found_run"}),
        (upto("step-7", "did", action="fitted", part="bore_plugs"), {"as_found_run"}),
        (upto("step-7", "did", action="fitted", part="catch_containers"), {"as_found_run"}),
        (worn_points(action="fitted", part="piston_stop"), {"points_and_dwell", "static_timing"}),
        (worn_points(action="removed", part="oil"), {"points_and_dwell", "static_timing"}),
        (worn_points(action="removed", part="valve_train"), {"points_and_dwell", "static_timing"}),
        (worn_points(action="removed", part="battery"), {"points_and_dwell", "spark_on_every_lead"}),
        (worn_points(action="disconnected", part="control_union"), {"points_and_dwell"}),
        (worn_points(action="fitted", part="catch_containers"), {"points_and_dwell", "spark_on_every_lead"}),
        (
            then(after_the_end("adjusted", "valve_train"), action="fitted", part="piston_stop"),
            {"valve_clearances"},
        ),
        (upto("bridge-out", "did", action="fitted", part="catch_containers"), {"spark_on_every_lead"}),
        (upto("step-66", "did", action="fitted", part="piston_stop"), {"plugs_dry"}),
    ],
)
def test_nothing_runs_without_what_it_needs_or_with_what_must_be_off(
    entries: list[Entry], bars: set[str]
) -> None:
    could = {one.step for one in next_steps(job_from("demo", entries).state) if not one.unmet}
    assert could.isdisjoint(bars)


@pytest.mark.parametrize(
    ("entries", "cranks"),
    [
        (worn_points(action="disconnected", part="pump_fuse"), "points_and_dwell"),
        (upto("bridge-out", "did", action="disconnected", part="pump_fuse"), "spark_on_every_lead"),
        (upto("step-74", "did", action="disconnected", part="pump_fuse"), "crank_for_oil"),
    ],
)
def test_the_starter_turns_with_the_pump_fuse_out(entries: list[Entry], cranks: str) -> None:
    """Pulling it is the first line of what comes next: nobody is sent to put it in before."""
    job = job_from("demo", entries)
    assert cranks in {one.step for one in next_steps(job.state) if not one.unmet}
    assert not back_by_hand(job)


def test_the_pump_fuse_is_put_back_once_oil_pressure_was_seen() -> None:
    cranked = job_from("demo", upto("step-75", "did", action="disconnected", part="pump_fuse"))
    could = [one.step for one in next_steps(cranked.state) if not one.unmet]
    assert not [step for step in could if "fuel_pressure" in cranked.plan.step[step].touches]
    assert [one.item for one in back_by_hand(cranked)] == ["pump_fuse"]


@pytest.mark.parametrize("done", ["step-58", "step-62"])
def test_the_wedge_is_out_before_an_injector_is_in_the_engine(done: str) -> None:
    job = job_from("demo", upto(done, "did", action="replaced", part="accumulator"))
    assert ("plate_wedge", None) not in job.state.on_list
    assert "pump_volts" not in {one.step for one in barred_by_the_wedge(job)}


def barred_by_the_wedge(job: Job) -> list[NextStep]:
    """The steps named now that wait for the wedge."""
    return [one for one in next_steps(job.state) if any("wedge" in words for words in one.unmet)]


@pytest.mark.parametrize("part", ["accumulator", "fuel_pump", "control_pressure_regulator"])
def test_no_pump_runs_with_the_wedge_in_and_injectors_in_the_engine(part: str) -> None:
    """Not even for its switch: the wedge comes out first, and the bores are seen before the engine turns."""
    entries = then(after_the_end("fitted", "plate_wedge"), action="replaced", part=part)
    assert barred_by_the_wedge(job_from("demo", entries))
    order = followed(entries)
    assert are_in_order(order, ("release_pressure", "key_and_wedge_out", "pump_switch_off", "plugs_dry"))
    assert are_in_order(order, ("plugs_dry", "spark_parts", "clear_to_start", "walk_the_list"))


def test_the_wedge_bars_no_catch_and_bars_it_with_one_injector_in_or_without_containers() -> None:
    caught = job_from("demo", upto("step-49", "did", action="replaced", part="pump_relay"))
    assert ("plate_wedge", None) in caught.state.on_list
    assert not barred_by_the_wedge(caught)
    for content in (
        {"action": "refitted", "part": "injector", "cylinder": 2},
        {"action": "taken_out", "part": "catch_containers"},
    ):
        job = job_from("demo", upto("step-54", "did", **content))
        assert barred_by_the_wedge(job) or ("plate_wedge", None) not in job.state.on_list


def test_a_filter_changed_before_the_spark_is_proved_has_the_bridge_out_once() -> None:
    order = followed(upto("step-67", "did", action="replaced", part="filter"))
    assert are_in_order(order, ("gauge_in", "gauge_out", "electrics_back", "spark_on_every_lead"))
    assert order.count("electrics_back") == order.count("spark_on_every_lead") == 1


def test_an_injector_taken_from_its_line_is_hung_on_again_before_it_is_caught_through() -> None:
    order = followed(upto("catch-10", "did", action="removed", part="injector", cylinder=2))
    assert are_in_order(order, ("injectors_on_lines", "catch_injectors_full"))


@pytest.mark.parametrize("entered", [124, 174])
def test_from_the_middle_of_a_job_it_leads_to_the_end(entered: int) -> None:
    order = followed(list(demo_entries()[:entered]))
    assert order[-2:] == ["clean_end", "record_signed"]
    assert are_in_order(order, ("electrics_back", "first_start", "walk_the_list"))


def test_a_filter_off_the_car_leads_to_the_end() -> None:
    """The feed is open for a while: no round of bridge in and out, or injectors out and in."""
    no_filter = followed(after_the_end("removed", "filter"))
    assert are_in_order(no_filter, ("new_filter", "connect_fuel", "look_for_wet_unions", "electrics_back"))


def test_water_in_the_fuel_has_the_injectors_out_and_in_once() -> None:
    """The return was open for the delivery: it is wiped before the lines are caught."""
    order = followed(after_the_end_happened("water_found"))
    assert are_in_order(
        order, ("injectors_out", "connect_fuel", "measure_delivery", "purge_lines", "injectors_in")
    )
    assert "look_for_wet_unions" in order[order.index("measure_delivery") : order.index("purge_lines")]
    assert order.count("injectors_out") == order.count("injectors_in") == 1


def test_after_weeks_of_standing_plate_and_plunger_are_felt_in_place_and_nothing_is_opened() -> None:
    assert followed(after_the_end_happened("stood_weeks")) == [
        "tank_sample",
        "plate_centred",
        "lever_play_felt",
    ]


@pytest.mark.parametrize("entries", ["screw", "backfire", "refuelled"])
def test_a_cold_engine_is_warmed_up_before_its_idle_is_read_again(entries: str) -> None:
    late = (
        after_the_end("adjusted", "mixture_screw") if entries == "screw" else after_the_end_happened(entries)
    )
    order = followed(late)
    assert are_in_order(
        order, ("clear_to_start", "warm_enough", "idle_mixture_and_speed", "fast_idle_lambda")
    )


def test_a_regulator_set_anew_is_read_again_and_not_opened_for_its_gauze() -> None:
    order = followed(after_the_end("adjusted", "control_pressure_regulator"))
    assert {"read_control_cold", "read_control_warm"} <= set(order)
    assert "regulator_body" not in order
    assert "regulator_body" in followed(after_the_end("replaced", "control_pressure_regulator"))


@pytest.mark.parametrize(
    ("upto", "mends", "read_again"),
    [
        ("injectors-full-1", "odd_injector", "catch_injectors_full"),
        ("cold-1", "set_control_cold", "read_control_cold"),
    ],
)
def test_after_what_mends_it_is_read_again(upto: str, mends: str, read_again: str) -> None:
    """Marked done with nothing entered, an exchange or an adjustment is not asked for again and again."""
    entries = list(demo_entries())
    end = next(place for place, entry in enumerate(entries, 1) if entry.id == upto)
    order = followed(entries[:end])
    after = order[order.index(mends) + 1 :]
    assert mends not in after[: after.index(read_again)]
    assert order[-1] == "record_signed"


@pytest.mark.parametrize(
    ("left", "other_work", "waits"),
    [
        ("injectors_out", "regulator_body", "injector_opening"),
        ("bleed_gauge", "ports_shut_at_rest", "read_system_pressure"),
        ("gauge_in", "ports_shut_at_rest", "bleed_gauge"),
        ("lines_ready", "key_in", "purge_lines"),
        ("key_in", "catch_lines_full", "onset_lines"),  # the injectors are not hung on for the key
        ("look_for_wet_unions", "gauge_in", "plate_rest_set"),
        ("connect_fuel", "gauge_in", "look_for_wet_unions"),
        ("injectors_on_lines", "catch_lines_full", "catch_injectors_idle"),
        ("spark_parts", "advance_parts", "clear_to_start"),  # nothing but the plugs holds up the first fire
    ],
)
def test_what_was_passed_over_is_offered_once_more_when_only_what_waits_for_it_is_left(
    left: str, other_work: str, waits: str
) -> None:
    order = followed(list(demo_entries()[:TAKEN_IN]), passed_over=left)
    again = order.index(left, order.index(left) + 1)
    assert order.index(other_work) < again < order.index(waits)
    assert order[-1] == "record_signed"


def test_the_page_of_a_step_says_what_is_off_in_the_words_of_the_first_page() -> None:
    job = job_from("demo", upto("step-39", "did", action="disconnected", part="control_union"))
    named = {one.step: one.unmet for one in next_steps(job.state)}
    said = step_page(job, "read_system_pressure").on_list
    assert said == ("still on the put-back list: control-pressure unions",)
    assert set(said) <= {words for unmet in named.values() for words in unmet}
    dry = step_page(job_from("demo", list(demo_entries())), "catch_injectors_full").on_list
    assert dry == ("not yet entered as taken off: injectors 1 to 6",)
