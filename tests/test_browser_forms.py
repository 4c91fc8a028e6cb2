"""The forms in a browser: a name asked once, links held without a network, a file that is too large."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from browser_world import PHONE, Bay, bay, browser, violations

__all__ = ["bay", "browser"]

TIGHT = 1.35  # of the page's height once the name is known: it was more than twice before


def height(page: Page) -> float:
    return float(page.evaluate("document.documentElement.scrollHeight"))


def test_the_name_is_asked_once_for_all_forms_and_goes_with_whatever_is_sent(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.device()
    page.goto(f"{job}/put-back")
    expect(page.get_by_label("Your name")).to_have_count(1)
    asked = height(page)
    page.get_by_label("Your name").fill("Ines")
    page.get_by_role("button", name="It is back as it was: Tank cap").tap()
    expect(page.locator("#said")).to_contain_text("Off the put-back list")
    assert bay.pages.entries(job)[-1][1]["who"] == "Ines"
    expect(page.get_by_label("Your name")).to_have_count(0)
    assert asked < TIGHT * height(page)


def test_the_name_is_said_first_where_no_script_runs(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.device(**PHONE, java_script_enabled=False)
    page.goto(f"{job}/put-back")
    page.get_by_label("Your name").fill("Ines")
    page.get_by_role("button", name="Keep my name").tap()
    page.wait_for_url(f"**{job}/put-back")
    expect(page.get_by_label("Your name")).to_have_count(0)
    page.get_by_role("button", name="It is back as it was: Tank cap").tap()
    assert bay.pages.entries(job)[-1][1]["who"] == "Ines"


def test_a_name_said_once_goes_with_entries_that_wait_for_the_network(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.device()
    page.goto(f"{job}/enter")
    page.context.set_offline(True)
    page.get_by_label("Your name").fill("Ines")
    for text in ("Smells of varnish.", "A wasp in the filter box."):
        page.get_by_label("Words for the record").fill(text)
        page.get_by_role("button", name="Keep the note").tap()
    expect(page.locator("#desk-waiting")).to_contain_text("2 entries wait")
    page.context.set_offline(False)
    expect(page.locator("#desk-waiting")).to_have_count(0, timeout=15_000)
    notes = [content["who"] for kind, content in bay.pages.entries(job) if kind == "note"]
    assert notes[-2:] == ["Ines", "Ines"]
    bay.faults.clear()


def notes_in(bay: Bay, job: str) -> list[str]:
    return [content["text"] for kind, content in bay.pages.entries(job) if kind == "note"]


def test_what_is_sent_before_the_scripts_are_there_is_sent_once_by_them(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    held: list[Route] = []
    page.route("**/sending.js*", lambda route: held.append(route))  # on its way, and does not arrive
    page.goto(f"{job}/enter", wait_until="commit")
    page.get_by_label("Words for the record").fill("Smells of varnish.")
    keep = page.get_by_role("button", name="Keep the note")
    keep.tap()
    expect(keep).to_have_attribute("aria-disabled", "true")
    assert page.url.endswith("/enter")
    assert "Smells of varnish." not in notes_in(bay, job)
    for route in held:
        route.continue_()
    expect(page.locator("#said")).to_contain_text("Kept: ")
    assert notes_in(bay, job).count("Smells of varnish.") == 1
    assert page.evaluate("localStorage.getItem('evenpour.early')") is None


def test_what_is_sent_as_the_network_goes_before_the_scripts_are_there_is_kept(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.route("**/sending.js*", lambda route: route.abort())
    page.goto(f"{job}/enter")
    page.context.set_offline(True)
    for text in ("Hums when warm.", "Hums when cold."):
        page.get_by_label("Words for the record").fill(text)
        page.get_by_role("button", name="Keep the note").tap()
        expect(page.locator(".kept-here", has_text=text)).to_contain_text(
            "Kept on this device", timeout=10_000
        )
    page.unroute("**/sending.js*")
    page.context.set_offline(False)  # the page comes again by itself, and what it kept goes out
    expect(page.locator("html.scripted")).to_have_count(1, timeout=20_000)
    expect(page.locator("#desk-waiting")).to_have_count(0, timeout=15_000)
    page.wait_for_function("!JSON.parse(localStorage.getItem('evenpour.waiting') || '[]').length")
    assert sorted(notes_in(bay, job)[-2:]) == ["Hums when cold.", "Hums when warm."]
    bay.faults.clear()


def test_while_there_is_no_network_a_tap_on_a_link_is_held_where_it_was_made(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/enter")
    page.context.set_offline(True)
    expect(page.locator("#desk")).to_contain_text("Stay on this page until it is back")
    link = page.get_by_role("link", name="Now", exact=True).last
    link.tap()
    held = page.locator("#held")
    expect(held).to_contain_text("What you sent is kept")
    box, place = held.bounding_box(), link.bounding_box()
    assert box is not None
    assert place is not None
    assert abs(box["y"] + box["height"] - place["y"]) < 20  # above it: the thumb's links stand at the foot
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert page.url.endswith("/enter")
    page.get_by_role("link", name="A part", exact=True).tap()  # within the page: it is not held
    expect(held).to_have_count(0)
    page.context.set_offline(False)
    expect(page.locator("#desk-away")).to_have_count(0, timeout=10_000)
    link.tap()
    page.wait_for_url(f"**{job}")
    bay.faults.clear()


def test_a_second_tap_goes_whatever_the_network_seems_to_be(bay: Bay) -> None:
    job = bay.pages.begin("cold-1", warned=True)
    page = bay.named(bay.device())
    page.route(re.compile(r"/news\?"), lambda route: route.abort())
    page.route("**/icon.svg", lambda route: route.abort())
    for path, tap, there in (("enter", "Now", job), ("gas", "Work it out", f"{job}/gas?*")):
        page.goto(f"{job}/{path}")
        expect(page.locator("#desk-away")).to_be_visible(timeout=10_000)
        what = page.get_by_role("link" if tap == "Now" else "button", name=tap, exact=True).last
        what.tap()
        expect(page.locator("#held")).to_be_visible()
        assert page.url.endswith(path)
        what.tap()
        page.wait_for_url(f"**{there}")
    bay.faults.clear()


def test_no_network_is_said_in_a_way_that_shuts_nobody_out(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device(**PHONE, reduced_motion="reduce"))
    page.goto(f"{job}/put-back")
    page.route(re.compile(r"/news\?"), lambda route: route.abort())
    page.route("**/icon.svg", lambda route: route.abort())
    expect(page.locator("#desk-away")).to_be_visible(timeout=10_000)
    page.locator("main a").first.tap()
    expect(page.locator("#held")).to_be_visible()
    assert violations(page) == []
    bay.faults.clear()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_photo_that_is_too_large_is_answered_with_a_page(bay: Bay, tmp_path: Path, scripts: bool) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.device(**PHONE, java_script_enabled=scripts)
    page.goto(f"{job}/photos")
    big = tmp_path / "big.jpg"
    big.write_bytes(os.urandom(27_000_000))
    page.locator("input[type=file]").set_input_files(str(big))
    page.get_by_role("button", name="Keep the photo").tap()
    expect(page.locator("h1")).to_have_text("That is too large", timeout=15_000)
    page.get_by_role("link", name="Back to its form").tap()
    page.wait_for_url(f"**{job}/photos")
    bay.faults.clear()


def test_a_form_that_comes_back_folds_open_nothing_that_was_not_filled_in(bay: Bay) -> None:
    job = bay.pages.begin("cold-1", warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    form = page.locator("form", has_text="Judge it").first
    more = form.locator("details", has_text="another time")
    for note, folded in (("", True), ("At the port.", False)):
        if note:
            more.locator("summary").tap()
            form.get_by_label("Note", exact=True).fill(note)
        form.get_by_role("button", name="Judge it").tap()
        expect(page.locator("#problems")).to_be_visible()
        expect(more).to_have_js_property("open", not folded)
    bay.faults.clear()
