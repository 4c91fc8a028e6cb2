"""The shipped demo job with other endings: replaced parts, late and corrected entries, exports, closing."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from evenpour import cli, data
from evenpour.errors import Refused
from evenpour.job import Job, close_job, stored_job
from evenpour.job.chain import verify
from evenpour.job.entries import Draft, Entry, linked
from evenpour.job.job import job_from
from evenpour.job.job_file import collect, write_json, write_toml
from evenpour.job.store import Store
from shows_tools import answered, claims, did, entry, pathed, reading, states, time

DEMO = (Path(data.__file__).parent / "demo.toml").read_text(encoding="utf-8")
OPEN_DEMO = DEMO.partition("[[closed]]")[0]
REPLACED = did("replaced", "injector", time(12, day=11), 4)

STALE_BY_INJECTOR_4 = {
    *((f"even_injectors_{opening}", None) for opening in ("idle", "part", "full")),
    *(
        (claim, 4)
        for claim in ("injector_opens_right", "injector_seals", "injector_sprays", "injectors_shut")
    ),
    *((claim, 4) for claim in ("unions_dry", "injectors_seated", "injector_seats_tight")),
    *((claim, None) for claim in ("idle_mixture_right", "idle_speed_right", "holding_right")),
    *((claim, None) for claim in ("dry_hot", "hot_restart_right", "full_load_safe")),
    *((claim, None) for claim in ("no_flooded_bore", "runs")),  # a line was off its injector
}
STILL_PROVED = {
    (claim, None)
    for claim in (
        "system_pressure_right",
        "control_cold_right",
        "control_warm_right",
        "delivery_right",
        "even_lines_idle",
        "even_lines_part",
        "even_lines_full",
        "intake_body_tight",
        "supply_dry",
        "onset_lines_known",
        "onset_injectors_known",
        "compression_right",
        "timing_set",
    )
}


def answers(job: Job) -> tuple[Any, ...]:
    return tuple(one.model_dump() for one in (job.judge(), job.path(), job.catch()))


def demo_entries(text: str = OPEN_DEMO) -> tuple[Entry, ...]:
    return tuple(collect(text, "demo.toml").entries)


def blocks(text: str) -> tuple[str, list[str]]:
    """What stands before the first ``[[...]]``, and every ``[[...]]`` of a job file."""
    head, *rest = text.split("\n[[")
    return head, [f"\n[[{block}" for block in rest]


def test_the_demo_job_is_proved_to_the_end() -> None:
    answer = pathed(DEMO)
    assert set(states(answer).values()) == {"proved"}
    assert (answer["put_back"], answer["may_close"]) == ([], [])


def test_a_replaced_injector_makes_stale_what_rests_on_it_and_nothing_else() -> None:
    status, answer, _ = answered("path", OPEN_DEMO + REPLACED)
    assert status == 1
    assert claims(answer, "stale") == STALE_BY_INJECTOR_4
    assert claims(answer, "proved") >= STILL_PROVED
    assert {other for other, cylinder in claims(answer, "stale") if cylinder not in (None, 4)} == set()
    stale = {stage for stage, state in states(answer).items() if state == "stale"}
    assert stale >= {"bench", "pressures", "catch_injectors", "put_back", "idle"}
    assert states(answer)["catch_lines"] == "proved"
    said = next(stage["why"] for stage in answer["stages"] if stage["stage"] == "catch_injectors")
    assert "njector 4" in said
    assert "replaced" in said
    assert answer["repeat"]
    assert answer["next"]


def test_the_same_with_entries_in_another_order_one_late_and_one_corrected() -> None:
    """The file is shuffled; the replacement was told of the wrong cylinder first, and mended."""
    head, listed = blocks(OPEN_DEMO)
    random.Random(7).shuffle(listed)
    wrong = REPLACED.replace("cylinder = 4", "cylinder = 2").replace("[[did]]", '[[did]]\nid = "mistold"')
    mended = (
        '\n[[correction]]\nof = "mistold"\nreason = "it was the fourth"\n'
        f'action = "replaced"\npart = "injector"\ncylinder = 4\n{time(12, day=11)}'
    )
    answer = pathed(head + wrong + "".join(listed) + mended)
    plain = pathed(OPEN_DEMO + REPLACED)
    assert claims(answer, "stale") == STALE_BY_INJECTOR_4
    assert states(answer) == states(plain)
    assert [step["step"] for step in answer["repeat"]] == [step["step"] for step in plain["repeat"]]


def test_a_touch_entered_late_but_dated_before_the_proofs_spoils_none_of_them() -> None:
    early = pathed(OPEN_DEMO + did("replaced", "injector", "at = 2026-04-01T09:00:00\n", 4))
    assert claims(early, "stale") == set()


def test_a_withdrawn_replacement_never_was() -> None:
    told = REPLACED.replace("[[did]]", '[[did]]\nid = "mistold"')
    text = OPEN_DEMO + told + entry("correction", of="mistold", reason="other car", withdrawn=True)
    assert claims(pathed(text), "stale") == set()
    again = text + entry("correction", of="correction-1", reason="no, this car", withdrawn=True)
    assert claims(pathed(again), "stale") == STALE_BY_INJECTOR_4


def test_a_correction_that_spoils_an_earlier_gate_blocks_what_comes_later_and_loses_nothing() -> None:
    entries = demo_entries()
    system = next(one for one in reversed(entries) if one.content.get("what") == "system_pressure")
    text = write_toml(entries) + (
        f'\n[[correction]]\nof = "{system.id}"\nreason = "wrong ring of the scale"\n'
        f'what = "system_pressure"\nvalue = "4.0 bar"\nconditions = {{ valve = "shut" }}\n'
        f'instrument = "gauge"\n{time(12, day=11)}'
    )
    status, answer, _ = answered("path", text)
    found = states(answer)
    assert status == 1  # a reading is outside
    assert found["pressures"] == "open"
    assert {found["catch_lines"], found["catch_injectors"]} == {"blocked"}
    assert found["safe"] == found["supply"] == found["bench"] == "proved"
    assert ("even_lines_full", None) in claims(answer, "proved")
    before, after = collect(write_toml(entries), "a.toml"), collect(text, "b.toml")
    assert after.entries[: len(before.entries)] == before.entries


# --------------------------------------------------------------------------------------- order of arrival


@pytest.mark.parametrize("seed", range(4))
def test_any_order_of_arrival_folds_to_the_same_answers(seed: int, tmp_path: Path) -> None:
    entries = demo_entries()
    first, *rest = entries
    drafts = [Draft(one.kind, one.content, one.id, one.at) for one in rest]
    # What nobody timed stands where it arrived, so it keeps its place; ties keep their order as well.
    timed = [draft for draft in drafts if draft.at is not None]
    untimed = [draft for draft in drafts if draft.at is None]
    groups = _by_time(timed)
    random.Random(seed).shuffle(groups)
    with Store(tmp_path / "shop.db") as store:
        number = store.import_job([first])
        store.append_many(number, untimed)
        for group in groups:
            store.append_many(number, group)
        late = stored_job(store, number)
    straight = job_from("demo", linked([Draft(first.kind, first.content, first.id, first.at), *drafts]))
    assert answers(late) == answers(straight)


def _by_time(drafts: Sequence[Draft]) -> list[list[Draft]]:
    groups: dict[str, list[Draft]] = {}
    for draft in drafts:
        groups.setdefault(str(draft.at), []).append(draft)
    return list(groups.values())


def test_an_entry_sent_twice_counts_once_and_with_other_words_is_refused(tmp_path: Path) -> None:
    with Store(tmp_path / "shop.db") as store:
        number = store.import_job(demo_entries())
        told = {"what": "system_pressure", "value": "4.9 bar"}
        for _ in range(2):
            store.append(number, "reading", told, id="sent-1", at="2026-05-12T10:00:00")
        assert len(store.entries(number)) == len(demo_entries()) + 1
        with pytest.raises(Refused):
            store.append(
                number, "reading", told | {"value": "4.8 bar"}, id="sent-1", at="2026-05-12T10:00:00"
            )


# -------------------------------------------------------------------------------------- export and import


@pytest.mark.parametrize("form", ["toml", "json"])
def test_import_of_an_export_folds_to_the_same_and_exports_the_same_bytes(form: str, tmp_path: Path) -> None:
    write = {"toml": write_toml, "json": write_json}[form]
    with Store(tmp_path / "one.db") as store:
        number = store.import_job(demo_entries(DEMO))
        kept = store.entries(number)
        first = stored_job(store, number)
    text = write(kept)
    again = collect(text, f"demo.{form}")
    assert not again.problems
    with Store(tmp_path / "two.db") as store:
        number = store.import_job(again.entries)
        copied = store.entries(number)
        second = stored_job(store, number)
    assert write(copied) == text
    assert [one.hash for one in copied] == [one.hash for one in kept]
    assert verify(copied) == ()
    assert answers(second) == answers(first)


def test_a_job_file_may_be_json() -> None:
    job = {
        "format": "evenpour-job/1",
        "engine": {"sheet": "inline-four"},
        "reading": [{"what": "plate_travel", "value": "binds", "at": "2026-05-03T10:00:00"}],
        "did": [{"action": "fitted", "part": "pump_bridge", "at": "2026-05-03T11:00:00"}],
    }
    status, answer, _ = answered("judge", json.dumps(job), suffix=".json")
    assert (status, answer["readings"][0]["verdict"]) == (1, "outside")
    _, answer, _ = answered("path", json.dumps(job), suffix=".json")
    assert [item["item"] for item in answer["put_back"]] == ["pump_bridge"]


# ------------------------------------------------------------------------------------------------- closing


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("EVENPOUR_STORE", str(tmp_path / "shop.db"))
    return tmp_path


def kept(text: str) -> int:
    with Store() as store:
        return store.import_job(demo_entries(text))


def test_a_job_with_the_pump_bridge_in_place_is_not_closed(shop: Path) -> None:
    number = kept(OPEN_DEMO + did("fitted", "pump_bridge", time(12, day=11)))
    with pytest.raises(Refused) as refused:
        close_job(str(number), {"cause": "injector_restricted", "cylinder": 4, "confirmed": True})
    assert "ump bridge" in str(refused.value)
    assert "put-back list" in str(refused.value)
    with Store() as store:
        assert not stored_job(store, number).closed
    assert cli.main(["job", "close", str(number)]) == 1


def test_with_an_override_it_closes_and_the_record_says_so(shop: Path) -> None:
    given = entry("override", time(13, day=11), item="pump_bridge", who="Ines", reason="relay is on order")
    number = kept(OPEN_DEMO + did("fitted", "pump_bridge", time(12, day=11)) + given)
    with Store() as store:
        job = stored_job(store, number)
    # The bridge touches what rests on it as well; each stale claim is answered for by name.
    for claim in sorted({claim for claim, _ in claims(job.path().model_dump(), "stale")}):
        with Store() as store:
            store.append(
                number,
                "override",
                {"claim": claim, "who": "Ines", "reason": "as above"},
                at="2026-05-11T13:05:00",
            )
    close_job(str(number), {})
    with Store() as store:
        closed = stored_job(store, number)
    assert closed.closed
    line = next(
        line for line in closed.overrides() if "bridge" in line.says.lower() or line.target == "pump_bridge"
    )
    assert (line.who, line.reason) == ("Ines", "relay is on order")
    (item,) = closed.path().put_back
    assert item.item == "pump_bridge"
    assert item.overridden is not None
    assert "relay is on order" in item.overridden


def test_a_stale_proof_or_an_unread_caution_keeps_a_job_open(shop: Path) -> None:
    number = kept(OPEN_DEMO + REPLACED)
    with pytest.raises(Refused, match="to be proved again"):
        close_job(str(number), {})
    head, listed = blocks(OPEN_DEMO)
    unread = head + "".join(block for block in listed if not block.startswith("\n[[caution]]"))
    with pytest.raises(Refused, match="was not read"):
        close_job(str(kept(unread)), {})


def test_a_plain_closing_of_the_demo_goes_through(shop: Path) -> None:
    number = kept(OPEN_DEMO)
    close_job(str(number), {"cause": "injector_restricted", "cylinder": 4, "confirmed": True})
    with Store() as store:
        assert stored_job(store, number).closed


def test_a_reading_after_the_replacement_renews_only_its_own_claim() -> None:
    text = OPEN_DEMO + REPLACED
    text += reading(
        "injector_opening_pressure", "3.3 bar", 'stroke = "slow"', "cylinder = 4\n" + time(13, day=11)
    )
    answer = pathed(text)
    assert claims(answer, "stale") == STALE_BY_INJECTOR_4 - {("injector_opens_right", 4)}
