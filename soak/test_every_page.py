"""Every page of every engine, in both themes, on a phone and on a laptop."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from browser_world import LAPTOP, PHONE, Bay, Sight, bay_at, browser, every_page, go_to, violations
from evenpour import data
from evenpour.job.store import Store
from sharing_world import workshop
from web_world import Pages, pages, shop_pages

__all__ = ["browser", "pages", "shop_pages"]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("device", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_nobody_is_shut_out_of_any_page(
    browser: Browser, tmp_path: Path, device: dict[str, object], theme: str
) -> None:
    with bay_at(browser, tmp_path) as bay:
        for upto in ("injectors-full-1", ""):
            page = bay.device(**device, color_scheme=theme, reduced_motion="reduce")
            for sight in every_page(bay, bay.pages.begin(upto)):
                go_to(page, sight)
                assert violations(page) == [], sight
        assert bay.strangers == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("device", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_nobody_is_shut_out_of_the_door(
    browser: Browser, tmp_path: Path, device: dict[str, object], theme: str
) -> None:
    with Store(tmp_path / "jobs.db") as store, workshop(store, tmp_path) as shared:
        bay = Bay(browser, shared.shared, store)
        page = bay.device(**device, color_scheme=theme, reduced_motion="reduce")
        for sight in (Sight("/", 403), Sight("/pair"), Sight(f"/pair?code={shared.code}")):
            go_to(page, sight)
            assert violations(page) == [], sight
        page.get_by_label("What this phone is called").fill("Bay phone")
        page.locator("#pair-code").fill("1")
        page.get_by_role("button", name="Pair it").click()
        page.locator("#problems").wait_for()
        assert violations(page) == []
        assert bay.strangers == []
        bay.close()


@pytest.mark.parametrize("sheet", data.sheet_names())
def test_every_step_of_every_engine_opens(pages: Pages, sheet: str) -> None:
    job = pages.begin(sheet=sheet)
    links = {
        link for link in pages.get(f"{job}/stages").html.links if "/steps/" in link or "/stages/" in link
    }
    assert len(links) > 75
    for link in sorted(links):
        assert pages.get(link).status == 200, link
