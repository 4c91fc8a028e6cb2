"""Photos in a browser: made small on the phone, kept without a network, without the place they were taken."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from browser_world import Bay, bay, browser, violations
from evenpour.job import photos
from test_photos import photographed

__all__ = ["bay", "browser"]

STEP = "read_system_pressure"
# What fits into the device's memory, down to its last few thousand signs.
FILL = """() => {
  let count = 0;
  for (let size = 1 << 20; size > 1024; size /= 2)
    try { for (;;) localStorage.setItem(`0filler${count++}`, "x".repeat(size)); } catch { continue; }
}"""


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A user's folder of its own: the server runs in this process."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))


def take(page: Page, data: bytes, text: str) -> None:
    form = page.locator("form[data-photo]")
    if not form.is_visible():
        page.get_by_text("Take a photo at this step").tap()
    form.locator("input[type=file]").set_input_files(
        {"name": "IMG_1.JPG", "mimeType": "image/jpeg", "buffer": data}
    )
    form.get_by_label("What is to be seen").fill(text)
    form.get_by_role("button", name="Keep the photo").tap()


def kept(bay: Bay, job: str) -> list[str]:
    return [str(content["photo"]) for kind, content in bay.pages.entries(job) if kind == "note"]


def test_a_photo_from_a_phone_arrives_small_and_upright_and_is_seen(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    sent: list[int] = []
    page.on("request", lambda asked: sent.append(len(asked.post_data or "")))
    page.goto(f"{job}/steps/{STEP}")
    take(page, photographed((3000, 2000), orientation=6), "Gauge at the port")
    expect(page.locator("#said")).to_contain_text("Kept")
    shown = page.locator("#live-photos img")
    expect(shown).to_have_attribute("alt", "Photo: Gauge at the port")
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("complete", True)
    assert shown.evaluate("one => 0 < one.naturalWidth && one.naturalWidth < one.naturalHeight")
    (name,) = kept(bay, job)
    data = photos.picture(name)
    assert data is not None
    with Image.open(io.BytesIO(data)) as image:
        assert max(image.size) == 1600
        assert image.size[1] > image.size[0]
        assert dict(image.getexif()) == {}
    assert max(sent) < 900_000
    page.goto(f"{job}/photos")
    assert violations(page) == []


def test_a_photo_waits_for_the_network_without_its_place_and_is_sent_once(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/steps/{STEP}")
    page.context.set_offline(True)
    take(page, photographed((1200, 900)), "Dial")
    expect(page.locator(".kept-here")).to_contain_text("Kept on this device")
    (waiting,) = json.loads(page.evaluate("localStorage.getItem('evenpour.waiting')"))
    assert "SECRET" not in waiting["body"]
    page.context.set_offline(False)
    expect(page.locator(".kept-here a")).to_have_text("What it says", timeout=15_000)
    assert len(kept(bay, job)) == 1
    bay.faults.clear()  # the browser complains of the network that was cut


def test_a_device_that_is_full_says_so_and_keeps_what_it_had(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/steps/{STEP}")
    page.context.set_offline(True)
    take(page, photographed((640, 480)), "First")
    expect(page.locator(".kept-here")).to_have_count(1)
    page.evaluate(FILL)
    take(page, photographed((1600, 1200)), "Second")
    expect(page.locator(".kept-here").first).to_contain_text("no room to keep it")
    assert len(json.loads(page.evaluate("localStorage.getItem('evenpour.waiting')"))) == 1
    page.evaluate(
        "for (const name of Object.keys(localStorage)) if (name < 'e') localStorage.removeItem(name)"
    )
    page.context.set_offline(False)
    expect(page.locator("#desk")).not_to_contain_text("wait", timeout=15_000)
    assert len(kept(bay, job)) == 1
    bay.faults.clear()


def test_what_is_no_photo_is_said_beside_the_field_and_the_words_stay(bay: Bay) -> None:
    job = bay.pages.begin("cold-1")
    page = bay.named(bay.device())
    page.goto(f"{job}/steps/{STEP}")
    take(page, b"no picture at all", "Gauge at the port")
    expect(page.locator("#photo-photo-problem")).to_contain_text("no picture that is read here")
    expect(page.get_by_label("What is to be seen")).to_have_value("Gauge at the port")
    assert kept(bay, job) == []
    bay.faults.clear()  # the browser complains of the 422
