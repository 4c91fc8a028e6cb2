"""Mending on a phone: by taps and the keypad, ending where one came from; and jumping about by keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from browser_world import PHONE, Bay, bay, browser, violations

__all__ = ["bay", "browser"]


def test_a_slip_in_a_catch_is_mended_by_taps_and_the_keypad(bay: Bay) -> None:
    job = bay.pages.begin("injectors-full-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/catch#caught")
    page.get_by_role("link", name="Mend").first.tap()
    field = page.get_by_label("Port 4", exact=True)
    expect(field).to_have_attribute("inputmode", "decimal")
    field.fill("80")
    page.get_by_label("What was wrong").fill("misread")
    page.get_by_role("button", name="Put it right").tap()
    page.wait_for_url(f"**{job}/catch?entry=*")
    expect(page.locator("#said")).to_contain_text("The catch is kept.")
    kind, content = bay.pages.entries(job)[-1]
    assert kind == "correction"
    assert content["new"]["amounts"][3] == "80 ml"  # type: ignore[index]


def test_an_odd_figure_is_asked_about_and_said_to_be_so(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/readings")
    page.get_by_role("link", name="Mend this entry").first.tap()
    page.get_by_label("Reading", exact=True).fill("49.5")
    page.get_by_label("What was wrong").fill("misread")
    page.get_by_role("button", name="Put it right").tap()
    expect(page.locator("#problems")).to_contain_text("is odd")
    expect(page.get_by_label("Reading", exact=True)).to_have_value("49.5")
    page.get_by_label("It is so, odd as it looks").check()
    page.get_by_role("button", name="Put it right").tap()
    page.wait_for_url(f"**{job}/readings?entry=*")
    assert bay.pages.entries(job)[-1][1]["new"]["value"] == "49.5 bar"  # type: ignore[index]


def test_a_time_that_nobody_touched_stays_as_it_was(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device(**PHONE, timezone_id="America/New_York"))
    page.goto(f"{job}/entries/cold-1/mend")
    page.get_by_label("Reading", exact=True).fill("1.4")
    page.get_by_label("What was wrong").fill("misread")
    page.get_by_role("button", name="Put it right").tap()
    page.wait_for_url(f"**{job}/readings?entry=*")
    new = bay.pages.entries(job)[-1][1]["new"]
    assert new["at"] == "2026-05-06T08:10:00+00:00"  # type: ignore[index]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_nobody_is_shut_out_of_mending_or_of_the_long_pages(bay: Bay, theme: str) -> None:
    job = bay.pages.begin("injectors-full-1")
    page = bay.device(**PHONE, color_scheme=theme, reduced_motion="reduce")
    sights = ("/entries/injectors-full-1/mend", "/entries/cold-1/mend", "/readings?first=outside", "")
    for path in (*sights, "/read/system_pressure", "/catch"):  # with a caution still to be read
        page.goto(f"{job}{path}")
        assert violations(page) == [], path
    page.goto(f"{job}/entries/cold-1/mend")
    page.get_by_label("Reading", exact=True).fill("x")
    page.get_by_label("What was wrong").fill("misread")
    page.get_by_role("button", name="Put it right").tap()
    expect(page.locator("#problems")).to_be_visible()
    assert violations(page) == []


def test_a_long_page_is_jumped_about_by_the_keyboard_alone(bay: Bay) -> None:
    job = bay.pages.begin("injectors-full-1")
    page = bay.device(viewport={"width": 1280, "height": 900})
    page.goto(f"{job}/history")
    jumps = page.get_by_role("navigation", name="On this page").get_by_role("link")
    assert jumps.count() > 1
    jumps.last.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**#day-*")
    expect(page.locator(":target")).to_be_in_viewport()
    page.keyboard.press("Tab")  # goes on from there
    assert page.evaluate(
        "() => document.querySelector(':target').compareDocumentPosition(document.activeElement) & 4"
    )
