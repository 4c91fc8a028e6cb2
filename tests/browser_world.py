"""A real browser at the pages: phones and laptops that tap, type, lose the network and get it back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect, sync_playwright

from evenpour.job.demo import demo_entries
from evenpour.job.sheet.found import copy_sheet, own_sheets
from evenpour.job.store import Store
from web_world import Pages, served

BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable")
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
AXE = Path(__file__).parent / "vendor" / "axe" / "axe.min.js"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "device_scale_factor": 1}
LAPTOP = {"viewport": {"width": 1280, "height": 900}}
SHOP_PAGES = (
    "/", "/jobs/new", "/settings", "/sharing", "/what-if", "/sheets", "/sheets/flat-six", "/instruments",
)  # fmt: skip
OWN_SHEET = "six-blue"
SHEET_PAGES = ("", "/edit", "/edit/1", "/edit/2", "/edit/7", "/edit/14?of=system_pressure")
RECORDING = Path(__file__).parent / "traces" / "holding_three_heads.csv"
JOB_PAGES = (
    "", "/stages", "/stages/pressures", "/steps/read_control_cold", "/steps/injector_drip_test",
    "/steps/static_timing", "/put-back", "/enter", "/read/onset", "/readings", "/catch",
    "/catch?entry=injectors-full-1", "/causes", "/gas", "/gas?co=1.5&co2=13.9&o2=0.6&hc=180&fuel=E5",
    "/screw", "/spark",
    "/spark/timing?value=5&value-unit=deg&diameter=130&diameter-unit=mm", "/spark/order",
    "/spark/compression", "/traces",
    "/history", "/entries/cold-1/mend", "/photos", "/record", "/what-if", "/sheet",
)  # fmt: skip
WHY_SKIPPED = "no Chromium on this machine; on Debian: apt-get install chromium"


def browser_path() -> str | None:
    """Where a browser lies that can be driven."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for a module; skipped where there is none."""
    path = browser_path()
    if path is None:
        pytest.skip(WHY_SKIPPED)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        yield opened
        opened.close()


class Bay:
    """A shop with its server, and the devices that look at it."""

    def __init__(self, browser: Browser, address: str, store: Store) -> None:
        self.browser = browser
        self.address = address
        self.store = store
        self.pages = Pages(address, store)
        self.strangers: list[str] = []  # addresses asked that are not this server's
        self.faults: list[str] = []  # what scripts or the browser complained about
        self._contexts: list[BrowserContext] = []

    def device(self, **wanted: Any) -> Page:
        """A page of a fresh device; a phone if nothing is said."""
        context = self.browser.new_context(base_url=self.address, **(wanted or PHONE))
        context.set_default_timeout(10_000)
        self._contexts.append(context)
        context.on("request", self._asked)
        page = context.new_page()
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", lambda line: self.faults.append(line.text) if line.type == "error" else None)
        return page

    def _asked(self, request: Request) -> None:
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.strangers.append(request.url)

    def named(self, page: Page, who: str = "Ines") -> Page:
        """The device knows who holds it."""
        page.goto("/settings")
        page.get_by_label("Your name").fill(who)
        page.get_by_role("button", name="Keep").click()
        page.wait_for_url("**/settings?saved=yes#said")
        return page

    def close(self) -> None:
        """Put every device away."""
        for context in self._contexts:
            context.close()
        self.pages.client.close()


@contextmanager
def bay_at(browser: Browser, folder: Path) -> Iterator[Bay]:
    """A shop in *folder*, served; what is kept beside the store lies there too."""
    with (
        pytest.MonkeyPatch.context() as patch,
        Store(folder / "jobs.db") as store,
        served(store) as address,
    ):
        patch.setenv("EVENPOUR_HOME", str(folder))
        bay = Bay(browser, address, store)
        try:
            yield bay
        finally:
            bay.close()


@pytest.fixture(scope="module")
def bay(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bay]:
    """One shop for a module."""
    with bay_at(browser, tmp_path_factory.mktemp("bay")) as opened:
        yield opened


@dataclass(frozen=True)
class Sight:
    """A page to look at: its address, how it answers, and what is pressed on it to see what it says then."""

    path: str
    status: int = 200
    press: str = ""

    def __str__(self) -> str:
        return f"{self.path} {self.press}".strip()


def every_page(bay: Bay, job: str) -> Iterator[Sight]:
    """Every kind of page, those of the job *job* among them, and forms with something wrong."""
    yield from map(Sight, SHOP_PAGES)
    yield Sight("/nowhere", 404)
    if OWN_SHEET not in own_sheets():
        copy_sheet("flat-six", OWN_SHEET, None)
    yield from (Sight(f"/sheets/{OWN_SHEET}{path}") for path in SHEET_PAGES)
    yield from (Sight(job + path) for path in JOB_PAGES)
    yield Sight(f"{job}/gas?co=much&fuel=E5", 422)
    yield Sight(f"{job}/spark/timing?value=early&value-unit=deg", 422)
    yield Sight(f"{job}/enter", press="Keep the note")
    if "The job is closed" not in bay.pages.get(f"{job}/read/system_pressure").text:
        for path in ("read/system_pressure", "catch"):
            if "I have read" in bay.pages.get(f"{job}/{path}").text:
                bay.pages.send(f"{job}/{path}", "cautions", who="Ines")
        yield Sight(f"{job}/read/system_pressure", press="Judge it")
        yield Sight(f"{job}/catch", press="Judge the catch")
    yield Sight(f"{bay.pages.begin(demo_entries()[-2].id)}/record")  # ready to be closed
    with RECORDING.open("rb") as file:
        sent = {"file": (RECORDING.name, file)}
        taken = bay.pages.client.post(f"{job}/traces", data={"kind": "holding"}, files=sent)
    yield Sight(taken.headers["location"])


def go_to(page: Page, sight: Sight) -> None:
    """Open it; one that answers otherwise than it should ends the test."""
    answer = page.goto(sight.path)
    assert answer is not None, sight
    assert answer.status == sight.status, sight
    if sight.press:
        page.get_by_role("button", name=sight.press, exact=True).first.click()
        expect(page.locator("#problems")).to_be_visible()


def violations(page: Page) -> list[str]:
    """What axe finds on the page, one line a rule and element.

    The window is made as high as the page: what stands still at its foot would else lie over something.
    """
    size = page.viewport_size or {"width": 390, "height": 844}
    height = int(page.evaluate("document.documentElement.scrollHeight"))
    page.set_viewport_size({"width": size["width"], "height": height + 200})
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: rules})",
        ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    )
    page.set_viewport_size(size)
    return [
        f"{one['id']}: {node['target']} {node.get('failureSummary', '')}"
        for one in found["violations"]
        for node in one["nodes"]
    ]
