"""The sheet's editor in a browser: checked as one types, nothing typed is lost, nobody is shut out."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from browser_world import LAPTOP, PHONE, Bay, bay, browser, violations
from evenpour.job.sheet.found import copy_sheet, find_sheet

__all__ = ["bay", "browser"]
SPARK = "/sheets/six-blue/edit/7"


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet of one's own in a folder of the test's own."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))
    copy_sheet("flat-six", "six-blue", None)


def test_a_value_is_checked_as_it_is_typed_kept_over_a_reload_and_saved(bay: Bay) -> None:
    page = bay.device()
    page.goto(SPARK)
    gap, says = page.locator('[name="values.points_gap"]'), page.locator("[data-says]")
    gap.fill("0,40")
    expect(page.locator(".problem")).to_contain_text("Gap of the points needs its source")
    page.get_by_label("Where my changes come from").fill("manual, page 31")
    expect(says).to_have_text("1 change, no mistake found; not saved yet.")
    gap.fill("40 bar")
    expect(page.locator('[id="edit-values.points_gap-problem"]')).to_be_visible()
    gap.fill("0,40")
    expect(page.locator(".problem")).to_have_count(0)
    page.reload()
    expect(gap).to_have_value("0,40")
    assert find_sheet("six-blue").values["points_gap"].text == "0.35 mm"
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#said")).to_contain_text("Saved.")
    assert find_sheet("six-blue").values["points_gap"].text == "0,40 mm"
    assert bay.faults == []


@pytest.mark.parametrize(("device", "theme"), [(PHONE, "light"), (LAPTOP, "dark")], ids=["phone", "laptop"])
def test_the_editor_shuts_nobody_out(bay: Bay, device: dict[str, object], theme: str) -> None:
    page = bay.device(**device, color_scheme=theme, reduced_motion="reduce")
    for path in ("/sheets/six-blue", "/sheets/six-blue/edit", "/sheets/six-blue/edit/1", SPARK):
        page.goto(path)
        assert violations(page) == [], path
