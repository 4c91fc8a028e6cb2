"""A paired phone in a browser: it pairs by a link, works beside the machine, loses nothing when shown out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser_world import LAPTOP, PHONE, Bay, browser, violations
from evenpour.job.store import Store
from sharing_world import Workshop, workshop

__all__ = ["browser"]


class Floor:
    """A shared workshop, the machine in its office, and the phones on its floor."""

    def __init__(self, browser: Browser, shared: Workshop) -> None:
        self.shared = shared
        self.machine = Bay(browser, shared.machine, shared.store)
        self.phones = Bay(browser, shared.shared, shared.store)

    def paired(self, who: str = "Ines") -> Page:
        """A phone that was let in by the link in the QR code."""
        phone = self.phones.device()
        phone.goto(self.shared.sharing.link(self.shared.sharing.codes.current()))
        phone.get_by_label("What this phone is called").fill(f"{who}'s phone")
        phone.get_by_role("button", name="Pair it").tap()
        expect(phone.get_by_role("heading", level=1)).to_have_text("The bay book")
        return self.phones.named(phone, who)

    def readings(self, job: str) -> list[object]:
        """What was read on the job, as typed."""
        entries = self.shared.store.entries(int(job.rpartition("/")[2]))
        return [entry.content["value"] for entry in entries if entry.kind == "reading"]

    def close(self) -> None:
        """Put every device away."""
        self.machine.close()
        self.phones.close()


@contextmanager
def floor_at(browser: Browser, folder: Path, port: int = 0, store: Store | None = None) -> Iterator[Floor]:
    """A shared workshop in *folder*."""
    with store or Store(folder / "jobs.db") as kept, workshop(kept, folder, port) as shared:
        floor = Floor(browser, shared)
        try:
            yield floor
        finally:
            floor.close()


@pytest.fixture(scope="module")
def floor(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Floor]:
    """One for the module."""
    with floor_at(browser, tmp_path_factory.mktemp("floor")) as opened:
        yield opened


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


@pytest.mark.parametrize(("device", "theme"), [(PHONE, "light"), (LAPTOP, "dark")], ids=["phone", "laptop"])
def test_nobody_is_shut_out_of_pairing_or_of_sharing(
    floor: Floor, device: dict[str, object], theme: str
) -> None:
    look = {**device, "color_scheme": theme, "reduced_motion": "reduce"}
    stranger, machine = floor.phones.device(**look), floor.machine.device(**look)
    stranger.goto("/pair")
    assert violations(stranger) == []
    machine.goto("/sharing")
    assert violations(machine) == []
    assert machine.evaluate("document.documentElement.scrollWidth") <= device["viewport"]["width"]  # type: ignore[index]


def test_a_phone_and_the_machine_see_each_other_s_entries_without_a_reload(floor: Floor) -> None:
    job = floor.machine.pages.begin("cold-1")
    phone, machine = floor.paired(), floor.machine.named(floor.machine.device(**LAPTOP), "Ray")
    for page in (phone, machine):
        page.goto(f"{job}/put-back")
        page.evaluate("window.stayed = true")
    phone.get_by_role("button", name="It is back as it was: Tank cap").tap()
    expect(machine.locator("#desk")).to_contain_text("Ines: Tank cap reconnected")
    expect(machine.locator("main")).not_to_contain_text("Close the tank cap")
    assert machine.evaluate("window.stayed")
    phone.evaluate("window.stayed = true")
    machine.goto(f"{job}/enter")
    form = machine.locator("form", has=machine.locator("input[name=form][value=note]"))
    form.locator("textarea, input[name=text]").first.fill("Smells of varnish.")
    form.locator("button:not([type=button])").click()
    expect(phone.locator("#desk")).to_contain_text("Ray: Smells of varnish")
    assert phone.evaluate("window.stayed")


def test_the_machine_shows_a_new_phone_and_the_next_code_without_a_reload(floor: Floor) -> None:
    machine = floor.machine.device(**LAPTOP)
    machine.goto("/sharing")
    code = machine.locator(".code").inner_text()
    floor.paired("Zoe")
    expect(machine.locator("#live-phones")).to_contain_text("Zoe's phone")
    expect(machine.locator(".code")).not_to_have_text(code)


def test_a_phone_shown_out_keeps_what_is_entered_and_sends_it_once_when_it_is_paired_again(
    floor: Floor,
) -> None:
    job = floor.machine.pages.begin(warned=True)
    phone = floor.paired("Mo")
    phone.goto(f"{job}/read/system_pressure")
    machine = floor.machine.device(**LAPTOP)
    machine.goto("/sharing")
    machine.locator("li", has_text="Mo's phone").get_by_role("button").click()
    expect(machine.locator("#said")).to_have_text("That phone is let in no longer.")
    enter_pressure(phone, "4.9")
    expect(phone.locator("#desk")).to_contain_text("let in no longer")
    assert floor.readings(job) == []
    phone.get_by_role("link", name="Pair it again").tap()
    phone.get_by_label("Pairing code").fill(floor.shared.code)
    phone.get_by_label("What this phone is called").fill("Mo's phone again")
    phone.get_by_role("button", name="Pair it").tap()
    expect(phone.get_by_role("heading", level=1)).to_have_text("The bay book")
    all_sent(phone)
    assert floor.readings(job) == ["4.9 bar"]
    floor.phones.faults.clear()  # the browser complains of what was refused


def test_a_paired_phone_loses_nothing_over_a_cut_network_and_a_server_started_anew(
    browser: Browser, tmp_path: Path
) -> None:
    store = Store(tmp_path / "jobs.db")
    with floor_at(browser, tmp_path, store=store) as floor:
        job = floor.machine.pages.begin(warned=True)
        phone = floor.paired()
        phone.goto(f"{job}/read/system_pressure")
        port = int(floor.shared.shared.rpartition(":")[2])
        phone.context.set_offline(True)
        for value in ("4.7", "4.8"):
            enter_pressure(phone, value)
            expect(phone.locator(".kept-here").first).to_contain_text(value)
        state = phone.context.storage_state()
    with Store(tmp_path / "jobs.db") as again, workshop(again, tmp_path, port) as anew:
        later = Floor(browser, anew)
        phone = later.phones.device(**PHONE, storage_state=state)
        phone.goto(f"{job}/read/system_pressure")  # still paired: the token outlived the server
        all_sent(phone)
        assert later.readings(job) == ["4.7 bar", "4.8 bar"]
        later.close()


def test_no_request_left_the_shared_address_and_no_script_complained(floor: Floor) -> None:
    assert floor.phones.strangers == []
    assert floor.machine.strangers == []
    assert [one for one in floor.phones.faults + floor.machine.faults if not re.search("40[34]", one)] == []
