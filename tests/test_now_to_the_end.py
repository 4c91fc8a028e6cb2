"""A whole job by what is named first alone: each step done with the demo's readings leads on to handover."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from evenpour.job.demo import demo_entries
from evenpour.job.entries import Entry
from evenpour.job.job import job_from
from evenpour.path import next_steps

TAKEN_IN = 9  # entries of the demo with which a job begins: engine, conditions, instruments
MOST = 6  # times one step may come: the pressure is let off before each thing that is opened
IN_ORDER = (
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


def test_doing_what_is_named_first_leads_through_the_whole_job_in_the_order_of_the_work() -> None:
    entries = list(demo_entries()[:TAKEN_IN])
    at = datetime.fromisoformat("2026-05-04T08:00:00+00:00")
    step_done = next(one for one in demo_entries() if one.kind == "step")

    def enter(like: Entry, minutes: int, content: object = None) -> None:
        nonlocal at
        at += timedelta(minutes=minutes)
        added = {"id": f"now-{len(entries)}", "seq": len(entries) + 1, "at": at.isoformat(timespec="minutes")}
        entries.append(replace(like, **added, **({"content": content} if content else {})))

    order: list[str] = []
    while steps := next_steps((job := job_from("demo", entries)).state):
        step = job.plan.step[steps[0].step]
        order.append(step.id)
        assert Counter(order)[step.id] <= MOST, order
        for entry in read_at(step.checks):
            enter(entry, 1)
        enter(step_done, 40, {"id": step.id, "done": True})
    for some in IN_ORDER:
        places = [order.index(name) for name in some]
        assert places == sorted(places), [order[place] for place in sorted(places)]
    assert order[-1] == "clean_end"
