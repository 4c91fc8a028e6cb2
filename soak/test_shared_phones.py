"""Two paired phones at the real address of this machine: a minute's cut, and a server that is killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from browser_world import PHONE, browser
from evenpour.errors import Refused
from evenpour.job.store import Store
from evenpour.web.local_network import local_address

__all__ = ["browser"]

MINUTE = 60_000  # ms


@pytest.fixture
def address() -> str:
    """Where this machine is on its network; plain http there is no secure context, as in a workshop."""
    try:
        return local_address()
    except Refused as none:
        pytest.skip(str(none))


class Served:
    """``evenpour serve --share`` in a process of its own."""

    def __init__(self, home: Path, address: str, port: int) -> None:
        command = [sys.executable, "-m", "evenpour", "serve", "--share"]
        command += ["--address", address, "--port", str(port)]
        environment = {**os.environ, "EVENPOUR_HOME": str(home), "PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)
        self.shared = self._said(r"network: (\S+)/")
        self.code = self._said(r"Pairing code: (\d{4} \d{4})")

    def _said(self, pattern: str) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if match := re.search(pattern, line):
                return match[1]
        raise AssertionError(f"it ended without {pattern}")

    def kill(self) -> None:
        """As when the plug is pulled."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()


@contextmanager
def phone_at(browser: Browser, served: Served, home: Path, who: str) -> Iterator[Page]:
    """A paired phone; the next one needs the next code, which only the machine shows."""
    context: BrowserContext = browser.new_context(base_url=served.shared, **PHONE)
    page = context.new_page()
    page.goto("/jobs/1")
    page.get_by_label("Pairing code").fill(served.code)
    page.get_by_label("What this phone is called").fill(who)
    page.get_by_role("button", name="Pair it").tap()
    expect(page.locator("#contents")).to_be_attached()
    page.goto("/settings")
    page.get_by_label("Your name").fill(who)
    page.get_by_role("button", name="Keep").tap()
    page.wait_for_url("**/settings?saved=yes#said")
    page.goto("/jobs/1/read/system_pressure")
    unread = page.get_by_role("button", name=re.compile("^I have read"))
    if unread.count():
        unread.tap()
        expect(unread).to_have_count(0)
    expect(page.locator("html.scripted")).to_be_attached()  # what is sent earlier is kept in another list
    assert page.evaluate("window.isSecureContext") is False
    yield page
    context.close()


def enter_pressure(page: Page, value: str) -> None:
    form = page.locator("form", has_text="Judge it").first
    form.get_by_role("textbox", name="Reading").fill(value)
    form.get_by_role("button", name="Judge it").tap()
    expect(page.locator(".kept-here").first).to_contain_text(value)


def all_sent(page: Page) -> None:
    expect(page.locator("#desk")).not_to_contain_text("wait", timeout=30_000)
    for kept in ("waiting", "early"):
        assert page.evaluate(f"localStorage.getItem('evenpour.{kept}') || '[]'") == "[]"


def free_port(address: str) -> int:
    with socket.socket() as asked:
        asked.bind((address, 0))
        return int(asked.getsockname()[1])


def test_nothing_is_lost_and_nothing_double_over_a_minute_s_cut_and_a_killed_server(
    browser: Browser, tmp_path: Path, address: str
) -> None:
    with Store(tmp_path / "jobs.db") as store:
        store.new_job({"sheet": "flat-six", "car": "Blue estate"})
    port = free_port(address)
    served = Served(tmp_path, address, port)
    try:
        with phone_at(browser, served, tmp_path, "Ines") as ines:
            served.kill()
            served = Served(tmp_path, address, port)  # Ines stays paired; the new code is for Ray
            with phone_at(browser, served, tmp_path, "Ray") as ray:
                for page in (ines, ray):
                    page.context.set_offline(True)
                for minute, value in enumerate(("4.7", "4.8", "4.9", "5.0")):
                    enter_pressure(ines if minute % 2 else ray, value)
                    ines.wait_for_timeout(MINUTE / 4)
                    if minute == 1:
                        served.kill()
                served = Served(tmp_path, address, port)
                ines.context.set_offline(False)
                ines.wait_for_timeout(200)
                served.kill()  # in the middle of sending
                served = Served(tmp_path, address, port)
                ray.context.set_offline(False)
                all_sent(ines)
                all_sent(ray)
                expect(ray.locator(".kept-here a").first).to_have_text("What it says")
        with Store(tmp_path / "jobs.db") as store:
            entries = [one for one in store.entries(1) if one.kind == "reading"]
        read = [(one.content["who"], one.content["value"]) for one in entries]
        assert sorted(read) == [
            ("Ines", "4.8 bar"),
            ("Ines", "5.0 bar"),
            ("Ray", "4.7 bar"),
            ("Ray", "4.9 bar"),
        ]
        assert len({one.id for one in entries}) == 4
    finally:
        served.kill()
