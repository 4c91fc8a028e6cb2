"""What every page weighs with all that it brings, as it is sent; nothing of it comes from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from browser_world import Bay, bay_at, every_page
from evenpour.web.rendering import STATIC
from web_world import Pages

FIRST, MOST = 150_000, 1_500_000  # bytes
BROUGHT = re.compile(r'\b(?:href|src|action|data-fetch|poster|srcset|formaction)="([^"]*)"')
AT_ONCE = re.compile(r'<(?:link|img|image|use|script|source)\b[^>]*?\b(?:href|src)="([^"#]+)')
SCRIPTS = {f"/static/{path.name}" for path in STATIC.glob("*.js")}
FONTS = {f"/static/fonts/{path.name}" for path in STATIC.glob("fonts/*.woff2")}
TAKES_LONG = ("/causes/", "/found?")  # causes are sentences; a recording is weighed where it is read anyway


@pytest.fixture(scope="module")
def bay(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bay]:
    """A shop; nobody looks at it with a browser here."""
    with bay_at(None, tmp_path_factory.mktemp("bay")) as opened:  # type: ignore[arg-type]
        yield opened


def sent(pages: Pages, path: str) -> tuple[int, str]:
    """Bytes on their way, and the text."""
    with pages.client.stream("GET", path, headers={"accept-encoding": "gzip"}) as answer:
        text = b"".join(answer.iter_bytes())
        total = answer.num_bytes_downloaded
    return total, text.decode("utf-8", "replace")


def weight(pages: Pages, path: str, files: dict[str, int]) -> tuple[int, str]:
    """Of a page with all that comes with it, and what is fetched later; *files* were weighed before."""
    total, source = sent(pages, path)
    for later in re.findall(r'data-fetch="([^"]+)"', source):
        while not any(one in later for one in TAKES_LONG):
            more, piece = sent(pages, later.replace("&amp;", "&"))
            if "data-again" not in piece:  # it is the whole answer
                total, source = total + more, source + piece
                break
    named = {one for one in AT_ONCE.findall(source) if not one.startswith("data:")} | SCRIPTS | FONTS
    files |= {one: sent(pages, one)[0] for one in named if one not in files}
    return total + sum(files[one] for one in named), source


def test_the_first_pages_are_light_and_none_is_heavy_or_brings_anything_from_elsewhere(bay: Bay) -> None:
    pages, job = bay.pages, bay.pages.begin("injectors-full-1")
    files: dict[str, int] = {}
    weighed = {sight.path: weight(pages, sight.path, files) for sight in every_page(bay, job)}
    charts = [path for path, (_, source) in weighed.items() if "<figure" in source]
    assert {f"{job}/catch", f"{job}/screw", "/what-if"} <= set(charts)
    for path, (total, source) in weighed.items():
        assert total < (FIRST if path in ("/", job) else MOST), path
        elsewhere = [one for one in BROUGHT.findall(source) if re.match(r"[a-z]+:(?!image/)|//", one)]
        assert elsewhere == [], path


def test_what_is_brought_is_looked_for_where_it_can_stand() -> None:
    there = ('<script src="/static/a.js">', '<img loading="lazy" src="/b.jpg">', '<use href="/c.svg#d"/>')
    assert [AT_ONCE.findall(one)[0] for one in there] == ["/static/a.js", "/b.jpg", "/c.svg"]
