"""The pages in a browser: by taps, by keys, by eye; with two devices, without a network, over a restart."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser_world import LAPTOP, PHONE, SHOP_PAGES, Bay, Sight, bay, browser, every_page, go_to, violations
from evenpour.job.store import Store
from web_world import served

__all__ = ["bay", "browser"]


@pytest.fixture(scope="module")
def job(bay: Bay) -> str:
    """The demo job half way, for looking at."""
    return bay.pages.begin("injectors-full-1")


@pytest.mark.parametrize(
    ("device", "theme", "paths"),
    [
        (PHONE, "light", ("", "/steps/read_control_cold", "/catch")),
        (LAPTOP, "dark", ("/put-back", "/stages/pressures", "/steps/injector_drip_test")),
    ],
    ids=["phone", "laptop"],
)
def test_nobody_is_shut_out(
    bay: Bay, job: str, device: dict[str, object], theme: str, paths: tuple[str, ...]
) -> None:
    page = bay.device(**device, color_scheme=theme, reduced_motion="reduce")
    for path in (*SHOP_PAGES[:2], *(job + path for path in paths)):  # the soak looks at all of them
        go_to(page, Sight(path))
        assert violations(page) == [], path


@pytest.mark.parametrize("width", [195, 320, 2560])  # 195: a phone whose letters are twice as large
def test_no_page_has_to_be_pushed_sideways(bay: Bay, job: str, width: int) -> None:
    page = bay.device(viewport={"width": width, "height": 800})
    for sight in every_page(bay, job):
        go_to(page, sight)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, sight


TARGETS = """() => [...document.querySelectorAll('a, button, summary, select, input:not([type=hidden])')]
  .filter(one => one.checkVisibility() && !one.closest('.skip, .hidden'))
  .map(one => ({box: (one.type === 'radio' || one.type === 'checkbox' ? one.closest('label') : one)
       .getBoundingClientRect(), inline: getComputedStyle(one).display === 'inline', tag: one.tagName,
       text: (one.textContent || one.name).trim().slice(0, 40),
       entry: !!one.closest('form.slip') && !one.closest('details') && one.matches('input, select, button')}))
  .map(({box, ...rest}) => ({...rest, height: box.height, width: box.width}))"""


def test_fingers_hit_what_they_aim_at(bay: Bay, job: str) -> None:
    page = bay.device()
    for sight in every_page(bay, job):
        go_to(page, sight)
        for target in page.evaluate(TARGETS):
            if target["inline"]:
                continue  # a link within a sentence
            assert target["height"] >= 43.9, (sight, target)
            assert target["width"] >= 43.9 or target["tag"] == "A", (sight, target)
            assert not target["entry"] or target["height"] >= 63.9, (sight, target)


def test_a_page_prints_in_ink_on_white_without_what_one_taps(bay: Bay, job: str) -> None:
    page = bay.device(**LAPTOP, color_scheme="dark")
    page.goto(f"{job}/steps/read_control_cold")
    page.emulate_media(media="print")
    shown = page.evaluate(
        """() => [...document.querySelectorAll('nav, form, button, .desk, .thumb, summary')]
          .filter((one) => one.checkVisibility()).map((one) => one.className || one.localName)"""
    )
    assert shown == []
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    expect(page.get_by_role("heading", name="How to")).to_be_visible()
    expect(page.get_by_text("licensed practice come first")).to_be_visible()


def test_no_two_controls_of_a_page_go_by_the_same_name(bay: Bay, job: str) -> None:
    page = bay.device()
    for path in ("", "/put-back", "/catch", "/steps/injector_drip_test", "/screw"):
        page.goto(job + path)
        lines = [line.strip() for line in page.locator("main").aria_snapshot().splitlines()]
        # a link may stand twice where it leads to the same place
        controls = [line for line in lines if re.match(r"- (button|textbox|combobox|slider|checkbox) ", line)]
        controls += [line for line in lines if line.startswith('- link "Mend')]
        assert sorted(set(controls)) == sorted(controls), path


def test_a_caution_a_reading_and_a_done_step_by_taps_alone(bay: Bay) -> None:
    job = bay.pages.begin()
    page = bay.named(bay.device())
    page.goto(job)
    page.get_by_role("link", name="Steps", exact=True).tap()
    page.get_by_role("link", name="System pressure", exact=False).first.tap()
    expect(page.get_by_text("The lines keep their pressure for hours")).to_be_visible()
    page.get_by_role("button", name=re.compile("I have read")).tap()
    form = page.locator("form", has_text="Judge it").first
    form.get_by_role("textbox", name="Reading").fill("4,9")
    form.get_by_label("shut", exact=True).tap()
    form.get_by_role("button", name="Judge it").tap()
    said = page.locator("#said")
    expect(said.locator(".value")).to_have_text("4.90 ± 0.12 bar")
    expect(said.locator(".word")).to_contain_text("within")
    expect(said).to_be_focused()
    page.locator("form", has_text="Step done").get_by_role("button", name="Step done").tap()
    page.wait_for_url(re.compile(r"entry=step-"))
    expect(page.locator("#live-state")).to_contain_text("done")
    kinds = [kind for kind, _ in bay.pages.entries(job)]
    assert kinds.count("reading") == 1
    assert kinds[-1] == "step"


def test_what_one_device_enters_the_other_shows_without_a_reload(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    phone, laptop = bay.named(bay.device(), "Ines"), bay.named(bay.device(**LAPTOP), "Ray")
    laptop.goto(f"{job}/put-back")
    expect(laptop.locator("main")).to_contain_text("Close the tank cap")
    laptop.evaluate("window.stayed = true")
    phone.goto(f"{job}/put-back")
    phone.get_by_role("button", name="It is back as it was: Tank cap").tap()
    expect(phone.locator("#said")).to_contain_text("Off the put-back list")
    expect(laptop.locator("main")).not_to_contain_text("Close the tank cap")
    expect(laptop.locator("#desk")).to_contain_text("Ines: Tank cap reconnected")
    assert laptop.evaluate("window.stayed")


def test_whoever_goes_by_keyboard_keeps_the_place_while_others_enter(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.device(**LAPTOP)
    page.goto(job)
    for piece, leads, part in (("contents", "gas", "coil_feed"), ("list", "put-back", "spark_plug")):
        link = page.locator(f'#live-{piece} a[href="{job}/{leads}"]')
        link.focus()
        page.evaluate("document.activeElement.dataset.old = 'yes'")
        assert bay.pages.send(f"{job}/put-back", f"back-{part}", who="Ray").status == 200
        expect(page.locator("[data-old]")).to_have_count(0, timeout=15_000)  # the piece was put in anew
        expect(link).to_be_focused()


def test_a_form_half_filled_in_stays_as_it_is_while_others_enter(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    page.get_by_role("textbox", name="Reading").fill("4.9")
    bay.pages.send(f"{job}/enter", "note", text="Smells of varnish.", who="Ray")
    expect(page.locator("#desk")).to_contain_text("Smells of varnish")
    expect(page.get_by_role("textbox", name="Reading")).to_have_value("4.9")


def enter_pressure(page: Page, value: str) -> None:
    form = page.locator("form", has_text="Judge it").first
    form.get_by_role("textbox", name="Reading").fill(value)
    form.get_by_role("button", name="Judge it").tap()


def all_sent(page: Page) -> None:
    """Wait until nothing waits on the device any more."""
    for _ in range(75):
        if page.evaluate("localStorage.getItem('evenpour.waiting') || '[]'") == "[]":
            break
        page.wait_for_timeout(200)
    expect(page.locator("#desk")).not_to_contain_text("wait")


def readings(bay: Bay, job: str) -> list[object]:
    return [content["value"] for kind, content in bay.pages.entries(job) if kind == "reading"]


def test_without_a_network_an_open_page_keeps_entries_and_sends_each_once_later(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    page.context.set_offline(True)
    enter_pressure(page, "4.9")
    expect(page.locator(".kept-here")).to_contain_text("Kept on this device: System pressure, 4.9")
    enter_pressure(page, "5.0")
    expect(page.locator("#desk")).to_contain_text("2 entries wait")
    assert readings(bay, job) == []
    page.context.set_offline(False)
    all_sent(page)
    expect(page.locator(".kept-here a").first).to_have_text("What it says")
    assert readings(bay, job) == ["4.9 bar", "5.0 bar"]
    entries = bay.store.entries(int(job.rpartition("/")[2]))
    assert all(one.at is not None for one in entries[1:])
    bay.faults.clear()  # the browser complains of the network that was cut


def test_an_answer_lost_on_its_way_back_makes_nothing_double(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    lost = {"count": 0}

    def swallow(route: object) -> None:
        lost["count"] += 1
        if lost["count"] == 1:
            route.fetch()  # type: ignore[attr-defined]  # it arrives, but nobody hears of it
            route.abort()  # type: ignore[attr-defined]
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.route("**/read/system_pressure", lambda route: (
        swallow(route) if route.request.method == "POST" else route.continue_()))  # fmt: skip
    enter_pressure(page, "4.9")
    expect(page.locator(".kept-here")).to_be_visible()
    all_sent(page)
    assert lost["count"] >= 2
    assert readings(bay, job) == ["4.9 bar"]
    bay.faults.clear()


def test_over_a_killed_server_nothing_is_lost_and_nothing_double(browser: Browser, tmp_path: Path) -> None:
    with Store(tmp_path / "jobs.db") as store:
        with served(store) as address:
            bay = Bay(browser, address, store)
            job = bay.pages.begin(warned=True)
            page = bay.named(bay.device())
            page.goto(f"{job}/read/system_pressure")
        enter_pressure(page, "4.8")
        expect(page.locator(".kept-here")).to_be_visible()
        with served(store, int(address.rpartition(":")[2])):
            all_sent(page)
            assert readings(bay, job) == ["4.8 bar"]
        bay.close()


def test_an_entry_sent_late_and_not_taken_is_shown_to_be_mended(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    page.context.set_offline(True)
    enter_pressure(page, "49")
    expect(page.locator(".kept-here")).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator("#desk")).to_contain_text("Sent late and not taken", timeout=10_000)
    page.get_by_role("button", name="Mend it").tap()
    expect(page.locator("#problems")).to_be_visible()
    form = page.locator("form", has_text="Judge it").first
    expect(form.get_by_role("textbox", name="Reading")).to_have_value("49")
    form.get_by_role("textbox", name="Reading").fill("4.9")
    form.get_by_role("button", name="Judge it").tap()
    expect(page.locator("#said")).to_contain_text("within")
    assert readings(bay, job) == ["4.9 bar"]
    bay.faults.clear()


def test_an_entry_at_which_the_server_fails_holds_up_no_other_and_is_not_lost(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device())
    page.goto(f"{job}/read/system_pressure")
    page.route("**/read/system_pressure", lambda route: (
        route.fulfill(status=500, content_type="text/html", body="<main><p>The tool failed</p></main>")
        if "value=4.9&" in (route.request.post_data or "") else route.continue_()))  # fmt: skip
    page.context.set_offline(True)
    enter_pressure(page, "4.9")
    expect(page.locator(".kept-here")).to_be_visible()
    enter_pressure(page, "5.0")
    expect(page.locator("#desk")).to_contain_text("2 entries wait")
    page.context.set_offline(False)
    expect(page.locator("#desk-waiting")).to_have_count(0, timeout=30_000)
    expect(page.locator("#desk-refused")).to_contain_text("4.9", timeout=30_000)
    expect(page.locator("#desk-refused")).to_contain_text("the server fails at it")
    expect(page.get_by_role("button", name="Throw it away")).to_be_visible()
    assert readings(bay, job) == ["5.0 bar"]
    page.get_by_role("button", name="Mend it").tap()  # the server still fails: it stays
    expect(page.locator("#desk-refused")).to_contain_text("4.9")
    page.unroute("**/read/system_pressure")
    all_sent(page)
    assert sorted(map(str, readings(bay, job))) == ["4.9 bar", "5.0 bar"]
    bay.faults.clear()


def test_a_time_that_runs_outlives_a_reload_and_goes_into_the_reading(bay: Bay) -> None:
    job = bay.pages.begin("holding-1")
    page = bay.named(bay.device())
    page.clock.install()
    page.goto(f"{job}/steps/read_holding")
    if page.get_by_role("button", name=re.compile("I have read")).count():
        page.get_by_role("button", name=re.compile("I have read")).tap()
    page.get_by_role("button", name="Start").tap()
    page.clock.run_for(61_000)
    expect(page.locator(".runs")).to_have_text("1:01")
    page.reload()
    expect(page.locator(".runs")).to_have_text(re.compile(r"1:0\d"))
    page.clock.run_for(9 * 60_000)
    expect(page.locator(".past")).to_contain_text("10:00 passed: read now")
    after = page.get_by_label("Time passed", exact=False).first
    expect(after).to_have_value("10")
    expect(page.get_by_label("Unit of time passed").first).to_have_value("min")
    page.get_by_role("button", name="Stop").tap()
    page.get_by_role("button", name="Back to nought").tap()
    expect(page.locator(".runs")).to_have_text("0:00")


def test_a_running_clock_is_told_on_other_pages_of_its_job_alone_with_the_way_to_it(bay: Bay) -> None:
    job, other = bay.pages.begin("holding-1", warned=True), bay.pages.begin("", warned=True)
    page = bay.named(bay.device())
    page.clock.install()
    page.goto(f"{job}/steps/read_holding")
    page.get_by_role("button", name="Start").tap()
    expect(page.locator("#clocks")).to_have_count(0)
    page.clock.run_for(61_000)
    for path in ("", "/readings"):
        page.goto(f"{job}{path}")
        expect(page.locator("#clocks")).to_contain_text(re.compile(r"1:0\d, next mark at 10:00"))
    assert violations(page) == []
    page.goto(other)
    expect(page.locator("#clocks")).to_have_count(0)
    page.goto(job)
    page.locator("#clocks a").tap()
    page.wait_for_url(f"**{job}/steps/read_holding#timer-1")
    page.get_by_role("button", name="Stop").tap()
    page.goto(job)
    expect(page.locator("#clocks")).to_have_count(0)


def test_a_catch_is_counted_in_runs_its_time_and_fills_it_in(bay: Bay) -> None:
    job = bay.pages.begin()
    page = bay.named(bay.device())
    page.clock.install()
    bay.pages.send(f"{job}/catch", "cautions", who="Ines")
    page.goto(f"{job}/catch")
    page.get_by_label("Run for").fill("60")
    page.get_by_role("button", name="Start").tap()
    page.clock.run_for(3_000)
    expect(page.locator(".runs")).to_contain_text("−0:0")
    page.clock.run_for(63_000)
    expect(page.locator(".past")).to_contain_text("Time is up")
    expect(page.get_by_label("Time", exact=False).nth(0)).to_be_visible()
    expect(page.locator("#catch-duration")).to_have_value("60")


def test_the_keyboard_alone_reaches_and_enters_everything(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.named(bay.device(**LAPTOP))
    page.goto(f"{job}/read/system_pressure")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    for _ in range(12):
        if page.evaluate("document.activeElement.name") == "value":
            break
        page.keyboard.press("Tab")
    page.keyboard.type("4.9")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("4.90 ± 0.12 bar")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline is not None


def test_every_page_works_without_a_script(bay: Bay) -> None:
    job = bay.pages.begin(warned=True)
    page = bay.device(**PHONE, java_script_enabled=False)
    page.goto(f"{job}/read/system_pressure")
    page.get_by_label("Your name").fill("Ines")
    enter_pressure(page, "4.9")
    expect(page.locator("#said")).to_contain_text("within")
    assert readings(bay, job) == ["4.9 bar"]


def test_no_request_left_this_machine_and_no_script_complained(bay: Bay) -> None:
    assert bay.strangers == []
    assert [fault for fault in bay.faults if "404" not in fault] == []
