"""Pages that work something out, in a browser: what takes time appears by itself, files go by a tap."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from browser_world import LAPTOP, PHONE, Bay, bay, browser, violations

__all__ = ["bay", "browser"]

LOGS = Path(__file__).parent / "traces"
SLOW = 240_000  # ms, for a busy machine


@pytest.fixture(scope="module", autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What is kept beside the store is kept for this module alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("EVENPOUR_HOME", str(tmp_path_factory.mktemp("home")))
        yield


def test_the_causes_appear_by_themselves_and_follow_what_another_device_enters(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    bay.pages.send(f"{job}/read/system_pressure", "read-system_pressure", value="4.6", who="Ray")
    page = bay.device()
    page.goto(f"{job}/causes")
    expect(page.locator("main")).to_contain_text("Worked out from 1 reading", timeout=SLOW)
    expect(page.locator(".causes h3").first).to_be_visible()
    page.evaluate("window.stayed = true")
    bay.pages.send(f"{job}/read/control_pressure_warm", "read-control_pressure_warm", value="3.6", who="Ray")
    expect(page.locator("main")).to_contain_text("Worked out from 2 readings", timeout=SLOW)
    assert page.evaluate("window.stayed")
    page.locator("a.next").tap()
    page.wait_for_url(re.compile(r"/steps/|/catch"))


def test_a_first_look_is_seen_before_the_full_answer_takes_its_place(bay: Bay) -> None:
    job = bay.pages.begin("cold-2", warned=True)
    page = bay.device()
    page.goto(f"{job}/causes")
    expect(page.locator("main")).to_contain_text("Worked out from", timeout=SLOW)
    page.evaluate(
        "window.seen = [];"
        "new MutationObserver(() => seen.push(document.querySelector('main').innerText))"
        ".observe(document.querySelector('main'), { childList: true, subtree: true })"
    )
    bay.pages.send(f"{job}/read/system_pressure", "read-system_pressure", value="4.6", who="Ray")
    expect(page.locator("[data-first]")).to_be_visible(timeout=SLOW)
    assert violations(page) == []
    expect(page.locator("[data-first]")).to_have_count(0, timeout=SLOW)
    expect(page.get_by_role("heading", name="What else it could be")).to_be_visible()
    looks = [text for text in page.evaluate("seen") if "First look: what speaks for and against" in text]
    assert looks
    assert all("Told before the newest entries" in text and "Check next" in text for text in looks)


def test_a_recording_is_chosen_read_and_kept_by_taps(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/traces")
    page.get_by_label("Pressure after the stop").check()
    page.locator("#trace-file").set_input_files(LOGS / "two_pressures.csv")
    page.get_by_role("button", name="Read it").tap()
    expect(page.locator("#problems")).to_contain_text("could be column 2")
    page.locator("[id='trace-column.pressure']").select_option(label="3 P2 [bar]")
    page.get_by_role("button", name="Read it so").tap()
    expect(page.locator(".trace-chart svg")).to_be_visible(timeout=SLOW)
    assert violations(page) == []
    page.get_by_role("button", name="Keep the readings").tap()
    page.wait_for_url(re.compile(r"/traces\?entry=trace-"))
    expect(page.locator("#said")).to_be_visible()
    expect(page.locator(".drawings svg")).to_be_visible(timeout=SLOW)
    kept = [content for kind, content in bay.pages.entries(job) if kind == "reading"]
    assert kept
    assert {one["file"] for one in kept} == {"two_pressures.csv"}


def test_the_gases_are_answered_and_kept_by_taps(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/gas")
    for name, value in (("CO", "1,5"), ("CO2", "13.9"), ("O2", "0.6"), ("HC", "180")):
        page.get_by_label(name, exact=True).fill(value)
    page.get_by_label("Fuel in the tank").select_option("E5")
    page.get_by_role("button", name="Work it out").tap()
    expect(page.locator("#answer .value")).to_contain_text("0.97")
    page.get_by_label("idle warm", exact=True).tap()
    page.get_by_role("button", name="Keep as readings").tap()
    page.wait_for_url(re.compile(r"/gas\?entry="))
    expect(page.locator("#said .verdict")).to_have_count(4)
    assert [kind for kind, _ in bay.pages.entries(job)].count("reading") == 4


def test_a_move_is_entered_by_the_keyboard_alone_and_turns_the_key(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device(**LAPTOP))
    page.goto(f"{job}/screw")
    page.locator("input[name='turns-way'][value='clockwise']").focus()
    page.keyboard.press("Space")
    page.locator("#move-turns-part").focus()
    page.keyboard.type("1/4")
    page.locator("#move-mark").focus()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/screw\?entry="))
    key = page.locator(".dial g:has(.key-end)")
    expect(key).to_have_attribute("transform", re.compile(r"rotate\(90 "))
    expect(page.locator("#live-screw")).to_contain_text("1/4 turn clockwise of where it was found")


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_no_table_of_the_spark_pages_is_cut_off(bay: Bay, width: int) -> None:
    job = bay.pages.begin("")
    page = bay.device(viewport={"width": width, "height": 900})
    rim = "diameter=130&diameter-unit=mm"
    cylinders = "&".join(f"value.{number}=10.{number}" for number in range(1, 7))
    for path in (
        f"order?{rim}",
        f"timing?value=5&value-unit=deg&{rim}",
        f"compression?value-unit=bar&{cylinders}",
    ):
        page.goto(f"{job}/spark/{path}")
        table = page.get_by_role("region").and_(page.locator(".scroll"))
        expect(table).to_be_visible()
        assert table.evaluate("one => one.scrollWidth - one.clientWidth") <= 0, path


def test_without_a_script_what_takes_its_time_is_looked_at_again(bay: Bay) -> None:
    job = bay.pages.begin()
    page = bay.device(**PHONE, java_script_enabled=False)
    page.goto(f"{job}/causes")
    again = page.get_by_role("link", name="Look again")
    for _ in range(120):
        if again.count() == 0:
            break
        page.wait_for_timeout(1000)
        with page.expect_navigation():
            again.tap()
    expect(page.locator(".causes h3").first).to_be_visible()


def test_no_request_left_this_machine_and_no_script_complained(bay: Bay) -> None:
    assert bay.strangers == []
    assert [fault for fault in bay.faults if "422" not in fault] == []
