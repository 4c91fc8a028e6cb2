"""The record as one HTML file: the same words, nothing fetched, fit to be read aloud."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Literal

import pytest
from playwright.sync_api import Browser

import record_samples as samples
from browser_world import browser
from evenpour.record.content import record_of
from evenpour.record.html import ACROSS, html_of

__all__ = ["browser"]


class Outline(HTMLParser):
    """Tags with their attributes, the text, and whether every tag was closed."""

    EMPTY = frozenset({"meta", "path", "rect", "line", "br"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.EMPTY:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).replace("\u00a0", " ").split())

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    return {kind: html_of(record_of(make())) for kind, make in samples.KINDS.items()}


@pytest.mark.parametrize("kind", samples.KINDS)
def test_the_page_is_whole_and_names_title_and_language(pages: dict[str, str], kind: str) -> None:
    outline = Outline(pages[kind])
    assert outline.open == []
    assert outline.named("html") == [{"lang": "en"}]
    assert "Record of work: " in outline.text
    assert [tag for tag, _ in outline.tags if tag == "h1"] == ["h1"]


@pytest.mark.parametrize("kind", samples.KINDS)
def test_the_page_asks_for_nothing_from_outside(pages: dict[str, str], kind: str) -> None:
    outline = Outline(pages[kind])
    assert not outline.named("script")
    assert not outline.named("link")
    assert not [a for _, a in outline.tags for name in a if name in ("src", "href") or name.startswith("on")]
    assert "@import" not in pages[kind]
    assert set(re.findall(r"url\(([^)]*)\)", pages[kind])) <= {
        f"#{name}" for name in re.findall(r'id="([^"]+)"', pages[kind])
    }
    assert set(re.findall(r"\w+://[^/\s\"']+", pages[kind])) <= {"http://www.w3.org"}


@pytest.mark.parametrize("kind", samples.KINDS)
def test_tables_have_captions_and_scoped_headings_and_drawings_have_words(
    pages: dict[str, str], kind: str
) -> None:
    outline = Outline(pages[kind])
    assert len(outline.named("table")) == len(outline.named("caption")) > 8
    assert all(heading.get("scope") in ("col", "row") for heading in outline.named("th"))
    drawings = outline.named("svg")
    assert len(drawings) == 3
    assert all(one.get("role") == "img" and "ml/min" in str(one.get("aria-label")) for one in drawings)


@pytest.mark.parametrize("kind", samples.KINDS)
def test_the_page_holds_every_readings_value(pages: dict[str, str], kind: str) -> None:
    text = Outline(pages[kind]).text
    for reading in samples.KINDS[kind]().judged.readings:
        assert reading.shown in text


def test_what_is_not_as_it_should_be_stands_before_everything_else(pages: dict[str, str]) -> None:
    text = Outline(pages["unfinished"]).text
    assert text.index("Not finished") < text.index("1 Stages and proofs")
    assert 'class="standing loud"' in pages["unfinished"]
    assert 'class="standing loud"' not in pages["good"]


def test_what_a_person_typed_cannot_become_part_of_the_page() -> None:
    job = samples.good()
    job.engine["car"] = '<script>alert("x")</script> & Söhne'
    page = html_of(record_of(job))
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_both_forms_carry_the_same_content_in_the_same_order(pages: dict[str, str]) -> None:
    record = record_of(samples.overridden())
    text = Outline(pages["overridden"]).text
    places = [
        text.index(f"{number} {section.title}") for number, section in enumerate(record.sections, start=1)
    ]
    assert places == sorted(places)


def test_the_same_job_gives_the_same_page(pages: dict[str, str]) -> None:
    assert html_of(record_of(samples.good())) == pages["good"]


def test_on_a_phone_no_record_is_wider_than_its_screen(pages: dict[str, str], browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    for source in pages.values():
        # A table with many columns, each too wide to share a narrow screen with the others.
        wide = re.sub(r"(<td[^>]*>)", r"\1<span>immeasurably-unbreakable</span>", source, count=12)
        page.set_content(wide)
        assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.close()


def test_on_a_phone_no_verdict_is_cut_and_charts_keep_their_size(browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme="dark")
    page.set_content(html_of(record_of(samples.overridden(), across=ACROSS)))
    cut = """() => [...document.querySelectorAll('.stacked .says, figure svg')]
        .filter(one => one.getBoundingClientRect().right > innerWidth).length"""
    assert page.locator(".stacked .says").count() > 50
    assert page.evaluate(cut) == 0
    scales = """() => [...document.querySelectorAll('figure svg')]
        .map(one => one.getBoundingClientRect().width / one.viewBox.baseVal.width)"""
    assert page.evaluate(scales) == [pytest.approx(1.0, abs=0.02)] * page.locator("figure svg").count()
    dark = "() => getComputedStyle(document.querySelector('main')).backgroundColor"
    assert page.evaluate(dark) == "rgb(28, 26, 23)"
    page.close()


@pytest.mark.parametrize("width", [390, 360])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone_every_port_of_a_catch_is_seen_with_its_name(
    browser: Browser, width: int, scheme: Literal["light", "dark"]
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, color_scheme=scheme)
    job = samples.good()
    assert job.caught is not None
    for run in job.caught.runs:  # as long as an amount is typed anywhere
        run.typed[:] = ["12.25 US fl oz" for _ in run.typed]
    page.set_content(html_of(record_of(job, across=ACROSS)))
    ports = page.locator("td[data-column^=Port]")
    assert ports.count() >= 6
    lies = """all => all.map(one => {
        const words = document.createRange();
        words.selectNodeContents(one);
        const {left, right, height} = words.getBoundingClientRect();
        const name = getComputedStyle(one, "::before").content;
        const room = one.closest(".scroll").getBoundingClientRect();
        return [left >= room.left && right <= room.right && height < 30, name]
    })"""
    for number, (whole, name) in enumerate(ports.evaluate_all(lies)):
        assert whole, number
        assert name == f'"Port {number % 6 + 1}"'
    assert page.evaluate("document.documentElement.scrollWidth") == width
    page.close()


def test_on_paper_a_catch_stays_a_table(browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.set_content(html_of(record_of(samples.good())))
    page.emulate_media(media="print")
    cell = page.locator("td[data-column='Port 6']").first
    assert cell.evaluate("one => getComputedStyle(one).display") == "table-cell"
    assert cell.evaluate("one => getComputedStyle(one, '::before').content") == "none"
    page.close()
