"""The demo job, from intake to handover, on a phone of 390 px by taps alone; and on two devices at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import cycle, pairwise
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Locator, Page, expect

from browser_world import Bay, bay_at, browser
from evenpour.job.answers import PathAnswer
from evenpour.job.catalogue import catalogue
from evenpour.job.demo import demo_entries
from evenpour.job.entries import Entry
from evenpour.job.exchanges import KINDS, put_back_item
from evenpour.job.job import Job, job_from
from evenpour.job.opening import stored_job
from evenpour.job.store import Store
from sharing_world import workshop

__all__ = ["browser"]

_FRACTION = re.compile(r"([+-])(?:(\d+) )?(\d+(?:/\d+)?) turn")


class Mechanic:
    """Somebody with a phone, who does at the car what an entry of the demo says."""

    def __init__(self, bay: Bay, who: str = "Ines", link: str = "") -> None:
        self.page = bay.device()
        self.page.set_default_timeout(60_000)  # a machine may have other work than this
        if link:
            self._pair(link, who)
        bay.named(self.page, who)
        self.job = ""
        self.ready: Locator | None = None  # what sends the form that is filled in
        self.steps = {table["id"]: table for table in catalogue().steps}

    def begin(self, engine: Mapping[str, Any], conditions: Mapping[str, Any]) -> None:
        """A new job on the sheet."""
        page = self.page
        page.goto("/")
        page.get_by_role("link", name="Begin a job").tap()
        page.get_by_label("The car").fill(engine["car"])
        page.get_by_label("Flat six, 2.7 l").tap()
        for label, name in (("Air temperature", "ambient_temperature"), ("Height above", "altitude")):
            page.get_by_role("textbox", name=label).fill(conditions[name].split()[0])
        page.get_by_label("Fuel in the tank").select_option(conditions["fuel"])
        page.get_by_text("Chassis, mileage, workshop").tap()
        page.get_by_label("Chassis number").fill(engine["chassis"])
        page.get_by_label("Mileage").fill(engine["mileage"])
        page.get_by_label("Workshop", exact=True).fill(engine["workshop"])
        page.get_by_role("button", name="Begin the job").tap()
        page.wait_for_url(re.compile(r"/jobs/\d+$"))
        self.job = re.sub(r"^https?://[^/]+", "", page.url)

    def _pair(self, link: str, who: str) -> None:
        self.page.goto(link)
        self.page.get_by_label("What this phone is called").fill(f"{who}'s phone")
        self.page.get_by_role("button", name="Pair it").tap()
        expect(self.page.locator("#contents")).to_be_attached()

    def does(self, entry: Entry) -> None:
        """What one entry says."""
        self.fills_in(entry)
        self.sends()

    def fills_in(self, entry: Entry) -> None:
        """The form of one entry, not sent yet."""
        getattr(self, f"_{entry.kind}")(entry.content, entry.at)

    def sends(self) -> None:
        """What is filled in."""
        if self.ready is not None:
            self._tap(self.ready)
            self.ready = None
            expect(self.page.locator("#said")).to_be_visible()

    def _form(self, address: str, name: str) -> Locator:
        """The form of that name, with everything in it folded open and every caution of the page read."""
        here = re.sub(r"^https?://[^/]+", "", self.page.url).partition("?")[0].partition("#")[0]
        if here != address.partition("?")[0] or "?" in address:
            self.page.goto(address)
        return self._here(name)

    def _here(self, name: str) -> Locator:
        """The same on the page that is open."""
        unread = self.page.get_by_role("button", name=re.compile("^I have read"))
        if unread.count():
            self._tap(unread)
        form = self.page.locator("form", has=self.page.locator(f"input[name=form][value='{name}']"))
        outer = form.locator("xpath=ancestor::details[not(@open)]/summary")
        if outer.count():
            outer.tap()
        folded = form.locator("details:not([open]) > summary")
        while folded.count():
            folded.first.tap()
        return form

    def _send(self, form: Locator, at: str | None, content: Mapping[str, Any]) -> None:
        if at and form.locator("[name=at]").count():
            form.locator("[name=at]").fill(at[:16])
        if content.get("note") and form.locator("[name=note]").count():
            form.locator("[name=note]").fill(content["note"])
        self.ready = form.locator("button:not([type=button])")

    def _follow(self, link: Locator) -> None:
        """Tap what leads to another page."""
        with self.page.expect_navigation():
            link.tap()

    def _tap(self, button: Locator) -> None:
        """Tap what sends a form, and wait for the page that answers."""
        before = self.page.url
        button.tap()
        late = self.page.locator(".kept-here a")  # the server was slow; it was sent after all
        for _ in range(600):
            if self.page.url != before and "entry=" in self.page.url:
                break
            if late.count():
                late.tap()
            self.page.wait_for_timeout(100)
        self.page.wait_for_load_state()

    def _fill(self, form: Locator, name: str, text: str) -> None:
        """A figure with its unit, wherever the form has room for it."""
        figure, _, unit = text.partition(" ")
        form.locator(f"[name='{name}']").fill(figure)
        if unit:
            form.locator(f"[name='{name}-unit']").select_option(unit)

    def _word(self, form: Locator, name: str, word: str) -> None:
        choice = form.locator(f"[name='{name}']")
        if choice.first.evaluate("one => one.tagName") == "SELECT":
            choice.select_option(word)
        else:
            form.locator(f"[name='{name}'][value='{word}']").tap()

    def _turns(self, form: Locator, name: str, text: str) -> None:
        sign, whole, part = _FRACTION.fullmatch(text).groups()  # type: ignore[union-attr]
        self._word(form, f"{name}-way", "clockwise" if sign == "+" else "anticlockwise")
        if "/" not in part:
            whole, part = part, ""
        if whole:
            form.locator(f"[name='{name}-whole']").fill(whole)
        if part:
            form.locator(f"[name='{name}-part']").select_option(part)

    def _instrument(self, content: Mapping[str, Any], at: str | None) -> None:
        form = self._form(f"{self.job}/enter", "gauge")
        form.locator("[name=id]").fill(content["id"])
        form.locator("[name=instrument_kind]").fill(content["kind"])
        if "class" in content:
            form.locator("[name=class]").fill(str(content["class"]))
        for name in ("range", "error", "resolution"):
            if name in content:
                self._fill(form, name, content[name])
        self._send(form, None, {})

    def _caution(self, content: Mapping[str, Any], at: str | None) -> None:
        """Read when the step is opened that carries it."""

    def _step(self, content: Mapping[str, Any], at: str | None) -> None:
        form = self._form(f"{self.job}/steps/{content['id']}", "done" if content["done"] else "passed")
        if content.get("reason"):
            form.locator("[name=reason]").fill(content["reason"])
        if content.get("cylinder"):
            form.locator("[name=cylinder]").select_option(str(content["cylinder"]))
        self._send(form, at, content)

    def _reading(self, content: Mapping[str, Any], at: str | None) -> None:
        what = content["what"]
        step = next((table["id"] for table in self.steps.values() if what in table.get("checks", ())), None)
        address = f"{self.job}/steps/{step}" if step else f"{self.job}/read/{what}"
        form = self._form(address, f"read-{what}")
        cylinder = content.get("cylinder")
        name = f"value.{cylinder}" if cylinder else "value"
        check = catalogue().checks[what]
        if check.choices:
            self._word(form, name, content["value"])
        elif check.prefer == "turn":
            signed = content["value"] if content["value"][0] in "+-" else f"+{content['value']}"
            self._turns(form, name, signed)
        elif cylinder:
            figure, _, unit = content["value"].partition(" ")
            form.locator(f"[name='{name}']").fill(figure)
            form.locator("[name='value-unit']").select_option(unit)
        else:
            self._fill(form, name, content["value"])
        for condition, text in content.get("conditions", {}).items():
            if form.locator(f"[name='w.{condition}']").count() and not text[0].isdigit():
                self._word(form, f"w.{condition}", text)
            else:
                self._fill(form, f"c.{condition}", text)
        if not check.choices:
            form.locator("[name=instrument]").select_option(content.get("instrument", ""))
        self._send(form, at, content)

    def _catch(self, content: Mapping[str, Any], at: str | None) -> None:
        asked = f"{self.job}/catch?through={content['through']}&opening={content['opening']}"
        form = self._form(asked, "catch")
        self._fill(form, "duration", content["duration"])
        for port, amount in enumerate(content["amounts"], start=1):
            form.locator(f"[name='amount.{port}']").fill(amount.partition(" ")[0])
        for row, swap in enumerate(content.get("swaps", ()), start=1):
            kind, first, _, second = swap.split()
            for name, value in (("kind", kind), ("first", first), ("second", second)):
                form.locator(f"[name='swap-{name}.{row}']").select_option(value)
        form.locator("[name=instrument]").select_option(content["instrument"])
        if form.locator("[name=stands]").count():  # something was exchanged for the catch before
            self._word(form, "stands", "still" if content.get("swaps") else "back")
        self._send(form, at, content)

    def _move(self, content: Mapping[str, Any], at: str | None) -> None:
        """From the page of what no step asks for to the screw's own place, its cautions first."""
        self.page.goto(f"{self.job}/enter")
        own = f"?screw={content['part']}" if content["part"] != "mixture_screw" else "/screw#turned"
        self._follow(self.page.locator(f"a.aside-link[href*='{own}']").first)
        form = self._here("move")
        if form.locator("[name=part]:not([type=hidden])").count():
            self._word(form, "part", content["part"])
        self._turns(form, "turns", content["turns"])
        if content.get("approach"):
            self._word(form, "approach", content["approach"])
        self._send(form, at, content)

    def _did(self, content: Mapping[str, Any], at: str | None) -> None:
        """The part is named first: its cautions come before what was done to it."""
        self.page.goto(f"{self.job}/enter")
        chooser = self.page.locator("form[method=get]", has=self.page.locator("select[name=part]"))
        chooser.locator("[name=part]").select_option(content["part"])
        self._follow(chooser.locator("button"))
        form = self._here("did")
        if form.locator("select[name=part]").count():
            form.locator("[name=part]").select_option(content["part"])
        form.locator("[name=action]").select_option(content["action"])
        if content.get("cylinder"):
            form.locator("[name=cylinder]").select_option(str(content["cylinder"]))
        self._send(form, at, content)

    def _closed(self, content: Mapping[str, Any], at: str | None) -> None:
        form = self._form(f"{self.job}/record", "closed")
        form.locator("[name=cause]").select_option(content["cause"])
        form.locator("[name=cylinder]").select_option(str(content["cylinder"]))
        self._send(form, at, content)


def states(path: PathAnswer) -> dict[str, str]:
    return {stage.stage: stage.state for stage in path.stages}


def verdicts(job: Job) -> list[tuple[str, int | None, str, str]]:
    rows = [(row.what, row.cylinder, row.shown, row.verdict) for row in job.judge().readings if row.stands]
    return sorted(rows, key=str)


def test_the_demo_job_is_done_by_taps_alone(browser: Browser, tmp_path: Path) -> None:
    told = demo_entries()
    with bay_at(browser, tmp_path) as bay:
        mechanic = Mechanic(bay)
        first = {one.kind: one.content for one in told[:2]}
        mechanic.begin(first["engine"], first["conditions"])
        for entry in told[2:]:
            mechanic.does(entry)
        is_the_demo(bay.store, mechanic.job)
        expect(show_page(mechanic.page, f"{mechanic.job}/record")).to_contain_text("Handed over")
        assert bay.strangers == []
        assert bay.faults == []


def test_the_demo_job_is_done_on_two_devices_at_once(browser: Browser, tmp_path: Path) -> None:
    """One at the machine, one a paired phone: while one sends, the other has filled in the next entry."""
    told = demo_entries()
    with Store(tmp_path / "jobs.db") as store, workshop(store, tmp_path) as shared:
        bays = Bay(browser, shared.machine, store), Bay(browser, shared.shared, store)
        link = shared.sharing.link(shared.sharing.codes.current())
        pair = Mechanic(bays[0]), Mechanic(bays[1], "Ray", link)
        pair[0].begin(told[0].content, told[1].content)
        pair[1].job = pair[0].job
        turns = list(zip(told[2:], cycle(pair)))
        turns[0][1].fills_in(turns[0][0])
        for (_, sender), (following, other) in pairwise(turns):
            other.fills_in(following)
            sender.sends()
        turns[-1][1].sends()
        is_the_demo(store, pair[0].job)
        names = {str(one.content.get("who")) for one in store.entries(1) if one.kind == "reading"}
        assert names == {"Ines", "Ray"}
        for bay in bays:
            assert bay.strangers == []
            assert bay.faults == []
            bay.close()


def is_the_demo(store: Store, address: str) -> None:
    """The job says what the demo says, each entry once."""
    told = demo_entries()
    done, wanted = stored_job(store, int(address.rpartition("/")[2])), job_from("demo", told)
    assert states(done.path()) == states(wanted.path())
    assert verdicts(done) == verdicts(wanted)
    assert done.path().put_back == wanted.path().put_back == []
    assert done.closed
    assert done.catch().spread_by_run == wanted.catch().spread_by_run
    assert {kind: n for kind, n in counted(done).items() if kind != "caution"} == {
        kind: n for kind, n in counted(wanted).items() if kind != "caution"
    }


def counted(job: Job) -> dict[str, int]:
    """Entries by kind, but for those with which a catch says that exchanged parts are back: a page asks."""
    asked = {put_back_item(kind) for kind in KINDS}
    kinds = [entry.kind for entry in job.entries if entry.content.get("part") not in asked]
    return {kind: kinds.count(kind) for kind in kinds}


def show_page(page: Page, address: str) -> Locator:
    page.goto(address)
    return page.locator("main")
