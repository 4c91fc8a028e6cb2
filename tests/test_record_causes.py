"""The record on causes: what may be wrong and why, and what the model says of it."""

from __future__ import annotations

from pathlib import Path

import pytest

import record_samples as samples
from evenpour.job.causes import considered as module
from evenpour.job.causes.answers import CauseLine, CauseName, CausesAnswer, ReasonLine
from evenpour.job.causes.considered import Considered, considered
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from evenpour.job.whatif import bench as whatif_bench
from evenpour.job.whatif.worked_out import whatif
from evenpour.record.blocks import Figure, Table
from evenpour.record.content import record_of
from test_record_content import part_of, words_of


def cause(name: str, says: str, p: float, cylinder: int | None = None, **more: object) -> CauseLine:
    return CauseLine(
        cause=name, cylinder=cylinder, says=says, probability=p, severity=0.4, severity_u=0.1,
        severity_words="clearly", for_=[ReasonLine(what="catch", words="port 4 pours less", weight=3.0,
        strength="strongly")], against=[], if_mended=[], part=None, remedy="clean or renew it", **more,
    )  # fmt: skip


def answer(*causes: CauseLine, nothing_wrong: float = 0.0) -> CausesAnswer:
    return CausesAnswer(
        sheet="flat-six", notice="", causes=list(causes), nothing_wrong=nothing_wrong, unexplained=0.0,
        others=0.0, clashes=[], undivided=[], next_checks=[], repairs=[], worth_doing=None, readings=12,
        left_out=[], notes=[], hour_of_work=60.0,
    )  # fmt: skip


CLOGGED = cause("injector_restricted", "the injector is clogged (cylinder 4)", 0.83, 4)
LINE = cause("line_restricted", "the injection line is restricted (cylinder 4)", 0.16, 4)


def test_a_record_without_worked_out_causes_says_nothing_of_them() -> None:
    record = record_of(samples.good())
    assert not {"causes", "what-if"} & {part.id for part in record.sections}
    assert "likely" not in words_of(record.front)


def test_causes_stand_with_their_reasons_and_the_likeliest_on_the_first_page() -> None:
    record = record_of(samples.unfinished(), found=Considered(answer(CLOGGED, LINE), None, ""))
    table = next(block for block in part_of(record, "causes").blocks if isinstance(block, Table))
    assert [row.cells[0].text for row in table.rows] == [
        "The injector is clogged (cylinder 4).",
        "The injection line is restricted (cylinder 4).",
    ]
    assert table.rows[0].cells[1].text == "83 %"
    assert table.rows[0].cells[2].small == ("for: port 4 pours less (strongly)",)
    assert "The injector is clogged (cylinder 4): 83 % likely." in words_of(record.front)


def test_what_is_unlikely_is_counted_together_and_not_watched() -> None:
    little = cause("line_restricted", "the injection line is restricted (cylinder 2)", 0.004, 2)
    record = record_of(samples.good(), found=Considered(answer(little, nothing_wrong=0.9), None, ""))
    words = words_of(part_of(record, "causes"))
    assert "restricted" not in words
    assert "Nothing that is known here seems wrong" in words
    assert "All other causes together: 10 %." in words
    assert "To watch" not in words_of(record.front)


@pytest.mark.parametrize("tried", ["", "the injector is clogged (cylinder 4)"])
def test_the_model_stands_beside_with_its_chart_and_says_that_nothing_was_measured(tried: str) -> None:
    settings = ["injector_restricted[4]=0.4"] if tried else []
    found = Considered(answer(CLOGGED), whatif("flat-six", settings), tried)
    part = part_of(record_of(samples.unfinished(), found=found), "what-if")
    figure = next(block for block in part.blocks if isinstance(block, Figure))
    assert figure.svg.startswith("<svg")
    assert "lambda" in figure.alt.lower()
    words = words_of(part)
    assert "none of them measured" in words
    assert (f"Set: {tried}." in words) == bool(tried)
    assert ("What would read otherwise" in words) == bool(tried)


def test_the_likeliest_cause_is_set_with_what_stands_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[list[str]] = []
    assert whatif_bench  # loaded before the model is put aside, or it would keep what stands in for it
    pair = cause(
        "injector_restricted", "two things", 0.7, 4,
        with_=CauseName(cause="pump_weak", cylinder=None), severities=[0.4, 0.25],
    )  # fmt: skip
    monkeypatch.setattr(
        "evenpour.job.whatif.worked_out.whatif", lambda sheet, settings, units: asked.append(settings)
    )
    with Store(tmp_path / "jobs.db") as store:
        job = stored_job(store, store.new_job({"sheet": "flat-six"}))
        for kept in (answer(pair), answer(LINE), None):
            monkeypatch.setattr(module, "answer_at_hand", lambda job, store, kept=kept: kept)
            found = considered(job, store=store)
            assert (found is None) == (kept is None)
    assert asked == [["injector_restricted[4]=0.40", "pump_weak=0.25"], []]
