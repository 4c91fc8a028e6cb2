"""That readings cannot tell two causes apart is said by one rule: on the page, in the record, in print."""

from __future__ import annotations

import pytest

from evenpour.cli.causes import print_causes
from evenpour.job.causes.answers import CauseName, CausesAnswer, ReasonLine
from evenpour.job.causes.considered import Considered
from evenpour.job.causes.groups import not_told_apart
from evenpour.record.causes import causes_section
from test_record_causes import CLOGGED, LINE, answer
from test_record_content import words_of

NAMES = [CauseName(cause=one.cause, cylinder=4) for one in (CLOGGED, LINE)]
BOTH = "the injector is clogged (cylinder 4); or the injection line is restricted (cylinder 4)"


def _answer(first: float, second: float) -> CausesAnswer:
    lines = [
        line.model_copy(update={"probability": p})
        for line, p in zip((CLOGGED, LINE), (first, second), strict=True)
    ]
    return answer(*lines).model_copy(update={"undivided": [NAMES]})


@pytest.mark.parametrize(("first", "second", "close"), [(0.93, 0.07, False), (0.6, 0.4, True)])
def test_only_what_is_nearly_as_likely_is_said_not_to_be_told_apart(
    first: float, second: float, close: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    told = _answer(first, second)
    assert not_told_apart(told) == ([BOTH] if close else [])
    print_causes(told)
    printed = " ".join(capsys.readouterr().out.split())
    assert ("These readings cannot tell apart" in printed) == close
    section = causes_section(Considered(told, None, ""))
    assert section is not None
    assert (f"These readings cannot tell apart: {BOTH}." in words_of(section)) == close


def test_the_record_gives_no_reason_whose_figures_show_no_difference() -> None:
    same = ReasonLine(what="x", words="3.3 bar: one would expect 3.3 bar with it as without", weight=2.0,
                      strength="clearly")  # fmt: skip
    line = CLOGGED.model_copy(update={"for_": [*CLOGGED.for_, same], "against": [same]})
    section = causes_section(Considered(answer(line), None, ""))
    assert section is not None
    assert "port 4 pours less" in words_of(section)
    assert "with it as without" not in words_of(section)
