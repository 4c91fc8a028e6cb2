"""What the record says: the first page, the readings, what is left out, and in which order."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest

import record_samples as samples
from evenpour.job.answers import PartAnswer, PutBackAnswer
from evenpour.job.wording import likelihood, shares
from evenpour.record.blocks import Block, Caution, Points, Record, Section, Table, Words, plain
from evenpour.record.content import record_of
from evenpour.record.front_page import put_back_cells
from evenpour.record.words import span, sureness, when


def texts(value: object) -> Iterator[str]:
    """Every text within."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, part in value.items():
            if name not in ("svg", "block", "kind", "id", "state"):
                yield from texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from texts(part)


def words_of(part: Record | Section | Block | object) -> str:
    return " ".join(texts(plain(part))).replace("\u00a0", " ")


def part_of(record: Record, name: str) -> Section:
    return next(section for section in record.sections if section.id == name)


def table_of(record: Record, name: str) -> Table:
    return next(block for block in part_of(record, name).blocks if isinstance(block, Table))


def test_a_good_job_says_quietly_that_it_was_handed_over() -> None:
    front = record_of(samples.good()).front
    assert (front.status, front.loud) == ("Handed over", False)
    assert "5 May 2026, 16:30" in front.sentence
    assert "All 15 stages are proved" in front.sentence


def test_an_overridden_job_says_so_loudly_on_its_first_page_with_name_and_reason() -> None:
    front = record_of(samples.overridden()).front
    assert (front.status, front.loud) == ("Handed over with overrides", True)
    said = words_of(front)
    assert "The injectors pour evenly at full." in said
    assert "the car goes into storage; injector 4 is on order (AB, 5 May 2026, 16:00)" in said


def test_an_unfinished_job_says_so_loudly_on_its_first_page_and_what_is_missing() -> None:
    front = record_of(samples.unfinished()).front
    assert (front.status, front.loud) == ("Not finished", True)
    assert front.sentence.startswith("7 of 15 stages are proved. Missing: 7 things are still to be put back")
    assert "Refit injector 1 with new seals, cylinder 1." in words_of(front)


def test_what_does_not_fit_on_the_first_page_is_counted_there_and_listed_later() -> None:
    record = record_of(samples.unfinished())
    assert "more: see “Stages and proofs”." in words_of(record.front)
    assert "The caution “Exhaust gas kills without smell” is not read." in words_of(part_of(record, "stages"))
    assert "Plug the coil feed in again." in words_of(part_of(record, "put-back"))


def test_the_first_page_stays_one_page_with_much_of_everything() -> None:
    job = samples.unfinished()
    job.passed = samples.overridden().passed * 8
    hot = samples.overridden().judged.readings[-1]
    job.judged = job.judged.model_copy(
        update={"readings": [hot.model_copy(update={"cylinder": k}) for k in range(1, 9)]}
    )
    job.pathed = job.pathed.model_copy(update={"outside": ["System pressure, hot"] * 8})
    lists = [block for block in record_of(job).front.blocks if isinstance(block, Points) and block.loud]
    assert len({len(block.items) for block in lists}) == 1
    assert len(lists[0].items) < 5
    assert [block.items[-1].text[:3] for block in lists] == ["And"] * 4
    assert "more: see “Overrides”." in lists[-1].items[-1].text


def test_all_that_was_mended_is_named_on_the_first_page_however_much_there_is() -> None:
    job = samples.unfinished()
    parts = ("fuel filter replaced", "injector 2 cleaned", "regulator adjusted", "plunger cleaned")
    mended = [*(f"spark plug {k} replaced" for k in range(1, 7)), *parts]
    job.lines = [samples.line("2026-05-03T13:40", "did", words, "e80") for words in mended]
    lists = [block for block in record_of(job).front.blocks if isinstance(block, Points)]
    found = next(block for block in lists if block.title == "Found and mended")
    assert "more" not in found.items[-1].text
    told = " ".join(one.text.lower() for one in found.items)
    for words in (
        "fuel filter replaced",
        "injector cleaned, cylinder 2",
        "regulator adjusted",
        "plunger cleaned",
    ):
        assert words in told
    assert re.search(r"spark plug replaced, cylinders \d to 6; fuel filter", told)
    assert found.items[-1].text.endswith("When: see “Journal”.")


def test_what_was_mended_stands_in_the_order_of_the_work() -> None:
    job = samples.unfinished()
    days = {"regulator adjusted": "2026-05-03T13:40", "injector 4 replaced": "2026-05-04T09:10"}
    job.lines = [samples.line(at, "did", words, words) for words, at in days.items()]
    lists = [block for block in record_of(job).front.blocks if isinstance(block, Points)]
    found = next(block for block in lists if block.title == "Found and mended")
    assert [one.text for one in found.items] == ["Regulator adjusted.", "Injector 4 replaced."]


def test_a_closed_job_with_something_missing_is_not_called_handed_over_quietly() -> None:
    job = samples.good()
    job.pathed = samples.path(may_close=["the injectors' evenness is stale"])
    front = record_of(job).front
    assert front.loud
    assert front.status == "Handed over with things missing"
    assert "The injectors' evenness is stale." in words_of(front)


def test_a_job_ready_to_be_handed_over_is_not_handed_over_yet() -> None:
    job = samples.good()
    job.closed = False
    front = record_of(job).front
    assert (front.status, front.loud) == ("Not handed over", True)


def test_an_untouched_job_is_not_called_ready_but_told_with_what_comes_first() -> None:
    job = samples.good()
    job.closed = False
    count = len(job.pathed.stages)
    job.pathed = samples.path(stages=samples.stages(dict.fromkeys(range(count), "open")), claims=[])
    front = record_of(job).front
    assert (front.status, front.loud) == ("Not finished", True)
    first = job.pathed.stages[0].title
    assert front.sentence == f"0 of {count} stages are proved. None is begun. Next comes “{first}”."


def test_a_job_in_the_midst_says_how_many_stages_are_not_begun() -> None:
    job = samples.good()
    job.closed = False
    job.pathed = samples.path(stages=samples.stages({1: "open", 2: "blocked"}), claims=[])
    second = job.pathed.stages[1].title
    assert record_of(job).front.sentence.endswith(f"2 stages are not begun. Next comes “{second}”.")


def test_the_first_page_names_what_is_outside_with_its_limit() -> None:
    outside = [
        b
        for b in record_of(samples.overridden()).front.blocks
        if isinstance(b, Points) and "Outside" in b.title
    ]
    assert len(outside) == 1
    assert [item.text for item in outside[0].items] == ["System pressure, hot: 5.31 ± 0.08 bar"]
    assert "4.70 to 5.20 bar" in outside[0].items[0].small[0]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", samples.KINDS)
def test_every_reading_stands_with_value_verdict_limit_and_source(kind: str, units: str) -> None:
    job = samples.KINDS[kind](units)
    said = words_of(table_of(record_of(job, units), "readings"))
    for reading in job.judged.readings:
        assert reading.shown in said
        assert reading.limit is not None
        assert reading.limit.words in said
        assert reading.verdict.replace("_", " ") in said
    assert samples.SOURCE in said


def test_a_replaced_reading_is_marked_and_names_the_one_that_counts() -> None:
    rows = [row for row in table_of(record_of(samples.good()), "readings").rows if row.state == "replaced"]
    assert len(rows) == 1
    assert rows[0].cells[2].text == "replaced"
    assert "was outside" in rows[0].cells[2].small[0]
    assert "1.41 ± 0.08 bar, 3 May 2026, 10:52" in rows[0].cells[2].small[1]


def test_a_reading_of_a_part_that_is_gone_is_not_said_to_have_a_newer_one() -> None:
    job = samples.good()
    gone = job.judged.readings[0].model_copy(update={"stands": False})
    job.judged = job.judged.model_copy(update={"readings": [gone]})
    row = table_of(record_of(job), "readings").rows[0]
    assert row.cells[2].text == "no longer counts"
    assert row.cells[2].small[-1] == "What was read has been changed since."


def test_a_reading_that_cannot_tell_says_how_sure_and_what_would_settle_it() -> None:
    row = next(
        r
        for r in table_of(record_of(samples.overridden()), "readings").rows
        if r.cells[2].text == "cannot tell"
    )
    assert row.cells[2].small == ("93 % that it is within", "3 more readings, or a gauge of class 1.0.")


def test_repeats_are_shown_as_typed() -> None:
    row = table_of(record_of(samples.good()), "readings").rows[0]
    assert row.cells[1].small == ("mean of 3: 4.92 bar, 4.95 bar, 4.93 bar",)


def test_the_same_choice_at_every_cylinder_takes_one_row() -> None:
    rows = [
        r
        for r in table_of(record_of(samples.good()), "readings").rows
        if r.cells[0].text.startswith("Injector drip")
    ]
    assert [row.cells[0].text for row in rows] == ["Injector drip, cylinders 1 to 6"]


def test_an_open_circuit_that_is_one_cylinders_only_keeps_its_own_row() -> None:
    job = samples.good()
    readings = [
        samples.choice("injector_drip", "Injector drip", "drips" if k == 3 else "dry", ["dry"], cylinder=k)
        for k in range(1, 5)
    ]
    job.judged = job.judged.model_copy(update={"readings": readings})
    rows = table_of(record_of(job), "readings").rows
    assert [row.cells[0].text for row in rows] == [
        "Injector drip, cylinders 1 and 2",
        "Injector drip, cylinder 3",
        "Injector drip, cylinder 4",
    ]
    assert rows[1].state == "loud"


def test_nothing_but_the_put_back_list_is_shown_empty() -> None:
    job = samples.SampleJob(
        sheet=samples.sheet(),
        judged=samples.JudgeAnswer(sheet="flat-six", notice=samples.NOTICE, readings=[]),
        pathed=samples.path(stages=[], claims=[]),
        closed=False,
        chain_head="",
    )
    job.corrections = list  # type: ignore[method-assign]
    record = record_of(job)
    assert [section.id for section in record.sections] == ["put-back", "sheet", "about"]
    assert "Empty." in words_of(record.sections[0])
    assert all(not isinstance(b, Table) or b.rows for section in record.sections for b in section.blocks)


def test_the_sections_stand_in_the_order_of_the_page() -> None:
    assert [section.id for section in record_of(samples.overridden()).sections] == [
        "stages", "readings", "catches", "screws", "renewed", "corrections", "overrides", "put-back",
        "cautions", "sheet", "instruments", "journal", "about",
    ]  # fmt: skip


def test_the_screw_ledger_carries_the_running_total_in_words() -> None:
    rows = table_of(record_of(samples.good()), "screws").rows
    assert [(row.cells[1].text, row.cells[1].small[0]) for row in rows] == [
        ("1/8 turn", "clockwise"),
        ("1/16 turn", "anticlockwise"),
    ]
    assert [(row.cells[2].text, row.cells[2].small[0]) for row in rows] == [
        ("1/8 turn", "clockwise"),
        ("1/16 turn", "clockwise"),
    ]


def test_the_screw_ledger_says_from_which_side_the_last_bit_came_and_at_which_mark() -> None:
    rows = table_of(record_of(samples.good()), "screws").rows
    assert [(row.cells[3].text, row.cells[3].small) for row in rows] == [
        ("clockwise", ("from the lean side",)),
        ("–", ()),
    ]
    assert [row.cells[5].small for row in rows] == [("mark: seated",), ()]


def test_corrections_say_why_and_withdrawn_entries_are_struck() -> None:
    rows = table_of(record_of(samples.good()), "corrections").rows
    assert [(row.state, row.cells[1].text, row.cells[1].small) for row in rows] == [
        ("", "corrected", ("The point had been left out.",)),
        ("replaced", "withdrawn", ("The hose had come off.",)),
    ]


def test_what_was_disturbed_in_every_cylinder_alike_takes_one_row() -> None:
    rows = table_of(record_of(samples.good()), "renewed").rows
    assert [(row.cells[0].text, row.cells[0].small) for row in rows] == [
        ("Control pressure cold is right", ()),
        ("The unions are dry", ("cylinders 1 to 6",)),
    ]


def test_an_unread_caution_says_that_nobody_read_it() -> None:
    cautions = [
        b for b in part_of(record_of(samples.unfinished()), "cautions").blocks if isinstance(b, Caution)
    ]
    assert [(one.is_read, one.read) for one in cautions] == [
        (True, "Read by AB, 3 May 2026, 09:30"),
        (False, "Not read"),
    ]


def test_the_last_section_holds_the_hash_and_says_what_it_is_good_for() -> None:
    said = words_of(part_of(record_of(samples.good()), "about"))
    assert samples.HEAD in said
    assert "Whoever holds an export of this job can check that nothing was changed after" in said
    assert "The engine's manual decides" in said
    assert "Signature" in said


def test_a_catch_from_before_a_part_was_changed_is_marked_on_the_first_page_and_in_the_table() -> None:
    mended = samples.catches("metric", uneven=True).model_copy(update={"outdated": ["injectors:full"]})
    record = record_of(replace(samples.unfinished(), caught=mended))
    marked = "it was uneven, but a part was changed since"
    assert f"catch again, {marked}; spread" in words_of(record.front)
    tables = [block for block in part_of(record, "catches").blocks if isinstance(block, Table)]
    (row,) = [row for table in tables for row in table.rows if marked in words_of(row)]
    assert row.state == ""


def test_the_shares_of_an_either_or_come_to_no_more_than_a_hundred() -> None:
    one, other = (
        PartAnswer(part=part, cylinder=4, deviation=-0.09, u=0.09, p_off=p)
        for part, p in (("injector", 0.506), ("line", 0.4965))
    )
    caught = samples.catches("metric").model_copy(update={"parts": [one, other], "undivided": [[one, other]]})
    assert [likelihood(p) for p in shares(caught).values()] == ["50 %", "50 %"]
    apart = caught.model_copy(update={"undivided": []})
    assert [likelihood(p) for p in shares(apart).values()] == ["51 %", "50 %"]


def test_alike_things_to_put_back_are_joined_on_the_first_page_with_their_cylinders() -> None:
    def left(cylinder: int | None, words: str, hangs: str = "") -> PutBackAnswer:
        return PutBackAnswer(
            item="x", cylinder=cylinder, name="x", since=None, since_said="", step=None, words=words,
            entry="e", overridden=None, hangs=hangs,
        )  # fmt: skip

    plug, hung = "screw the spark plug in", "put it back"
    cells = put_back_cells(
        [*(left(k, plug) for k in (1, 2, 3)), left(1, hung, "at 4"), left(4, hung, "at 1")]
    )
    assert [cell.text for cell in cells] == [
        "Screw the spark plug in, cylinders 1 to 3.",
        "Put it back, cylinder 1.",
        "Put it back, cylinder 4.",
    ]


def test_every_part_is_judged_in_words_and_per_cent() -> None:
    tables = [b for b in part_of(record_of(samples.overridden()), "catches").blocks if isinstance(b, Table)]
    by_part = {row.cells[0].text: row for row in tables[-1].rows}
    assert by_part["Injector 4"].cells[2].text == "off"
    assert by_part["Injector 4"].cells[2].small == ("99 % sure: pours too little",)
    assert by_part["Injector 4"].cells[1].text == "−17.2 ± 2.2 %"
    assert by_part["Line 2"].cells[2].text == "cannot tell"
    assert by_part["Port 1"].cells[2].text == "in order"


def test_conditions_shared_by_the_readings_are_said_once() -> None:
    job = samples.good()
    shared = [
        one.model_copy(update={"conditions": {**one.conditions, "fuel": "E5"}}) for one in job.judged.readings
    ]
    job.judged = job.judged.model_copy(update={"readings": shared})
    section = part_of(record_of(job), "readings")
    assert any(isinstance(b, Words) and "fuel E5" in b.text for b in section.blocks)
    assert "fuel E5" not in words_of(table_of(record_of(job), "readings"))


def test_a_certainty_is_never_printed_as_a_hundred_or_as_nought() -> None:
    assert likelihood(1.0) == "over 99 %"
    assert likelihood(0.0) == "under 1 %"
    assert likelihood(0.631) == "63 %"
    assert sureness("outside", 0.03) == "97 % sure"
    assert sureness("cannot_tell", None) == ""


def test_times_are_said_as_people_say_them() -> None:
    assert when("2026-05-03T10:12:00+02:00") == "3 May 2026, 10:12"
    assert when("3 May 2026, 10:12") == "3 May 2026, 10:12"
    assert span(["2026-05-09T16:51:00", "2026-05-09T16:56:00"]) == "9 May 2026, 16:51 to 16:56"


def test_a_figure_is_not_torn_from_its_unit() -> None:
    assert plain("4.93 ± 0.08 bar, 0.27 US fl oz, lambda 0.95") == (
        "4.93\u00a0±\u00a00.08\u00a0bar, 0.27\u00a0US\u00a0fl\u00a0oz, lambda\u00a00.95"
    )
    assert plain("-10 degC, (-1/8 turn), flat-six-2, 2026-05-03, 1-6-2") == (
        "−10\u00a0°C, (−1/8\u00a0turn), flat-six-2, 2026-05-03, 1-6-2"
    )
    assert plain("injector 4 is in order, 3 may fail") == "injector 4 is in order, 3 may fail"


def test_units_are_printed_with_the_signs_of_print_however_they_were_typed() -> None:
    assert plain("at 20 degC, 0.05 bar/degC, ± 0.3 ohm, 38 deg") == (
        "at 20\u00a0°C, 0.05\u00a0bar/°C, ±\u00a00.3\u00a0Ω, 38°"
    )


def test_the_record_carries_the_jobs_last_moment_and_no_other_time() -> None:
    record = record_of(samples.good())
    assert record == record_of(samples.good())
    assert replace(record, seconds=0) != record
