"""No other site can act through the pages, and nothing of them comes from elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from starlette.datastructures import Headers

from evenpour import web
from evenpour.web.rendering import STATIC
from evenpour.web.security import CSP, same_origin
from web_world import Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]
WEB = Path(str(web.__file__)).parent


def test_every_answer_carries_the_headers_that_keep_it_to_itself(pages: Pages) -> None:
    job = pages.begin()
    for path in ("/", job, f"{job}/news", "/static/page.css", "/nowhere"):
        headers = pages.client.get(path).headers
        assert headers["content-security-policy"] == CSP, path
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["x-frame-options"] == "DENY"
        assert "server" not in headers or path
    assert "script-src 'self'" in CSP
    assert "unsafe" not in CSP


@pytest.mark.parametrize("host", ["evil.example.org", "127.0.0.1.example.org", "192.168.1.9", ""])
def test_a_name_that_was_bent_to_this_address_is_refused(pages: Pages, host: str) -> None:
    answer = pages.client.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "bay book" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost:8642", "[::1]:8642", "LOCALHOST"])
def test_this_machine_s_own_names_are_answered(pages: Pages, host: str) -> None:
    assert pages.client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "said",
    [
        {"origin": "https://example.org"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": "http://127.0.0.1"},
    ],
)
def test_an_entry_from_another_site_is_refused(pages: Pages, said: dict[str, str]) -> None:
    job = pages.begin()
    answer = pages.client.post(
        f"{job}/enter", data={"form": "note", "kind": "note", "text": "x"}, headers=said
    )
    assert answer.status_code == 403
    assert len(pages.entries(job)) == 1


@pytest.mark.parametrize(
    ("headers", "allowed"),
    [
        ({"host": "localhost:8642", "origin": "http://localhost:8642"}, True),
        ({"host": "localhost:8642", "sec-fetch-site": "same-origin"}, True),
        (
            {"host": "localhost:8642", "sec-fetch-site": "same-origin", "origin": "http://localhost:8642"},
            True,
        ),
        (
            {"host": "localhost:8642", "sec-fetch-site": "same-origin", "origin": "http://example.org:8642"},
            False,
        ),
        ({"host": "localhost:8642"}, False),
        ({"host": "localhost:8642", "origin": "http://localhost:8643"}, False),
    ],
)
def test_a_browser_s_word_on_where_a_request_comes_from_is_heeded(
    headers: dict[str, str], allowed: bool
) -> None:
    assert same_origin(Headers(headers)) is allowed


def test_an_entry_too_large_to_be_one_is_refused_unread(pages: Pages) -> None:
    job = pages.begin()
    answer = pages.client.post(f"{job}/enter", data={"form": "note", "text": "x" * 1_100_000})
    assert answer.status_code == 413


def test_only_entries_are_taken_and_only_where_a_page_takes_them(pages: Pages) -> None:
    job = pages.begin()
    assert pages.client.post(f"{job}/history", data={"kind": "note"}).status_code == 405
    assert pages.client.put(job).status_code == 405
    page = pages.client.post(f"{job}/enter", data={"form": "x", "kind": "engine", "sheet": "vee-eight"})
    assert page.status_code == 422
    assert len(pages.entries(job)) == 1


def test_no_page_style_or_script_of_ours_names_another_place() -> None:
    for path in [*WEB.rglob("*.html"), *WEB.rglob("*.js"), *WEB.rglob("*.css")]:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"https?://|//[a-z]+\.", text), path.name
        assert "style=" not in text or path.suffix != ".html", path.name
        assert not re.search(r"\son[a-z]+=", text) or path.suffix != ".html", path.name


def test_files_of_ours_are_kept_by_the_browser_under_an_address_that_changes_with_them(pages: Pages) -> None:
    source = pages.get("/").html.source
    address = next(iter(re.findall(r'href="(/static/page\.css\?v=[0-9a-f]+)"', source)))
    assert "immutable" in pages.client.get(address).headers["cache-control"]
    assert pages.client.get("/static/page.css").headers["cache-control"] == "no-cache"
    assert pages.client.get("/static/../security.py").status_code == 404
    assert {path.suffix for path in STATIC.rglob("*") if path.is_file()} <= {
        ".css", ".js", ".svg", ".woff2", ".txt", ".toml",
    }  # fmt: skip
