"""No other site can act through the pages, and nothing of them comes from elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from starlette.datastructures import Headers

from evenpour import web
from evenpour.job.sheet.found import sheet_text
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


@pytest.fixture
def elsewhere(tmp_path: Path) -> list[str]:
    """Paths of this machine: a sound sheet that is none of the book, a file that is no sheet, and nothing."""
    sheet, other = tmp_path / "six.toml", tmp_path / "notes.txt"
    sheet.write_text(sheet_text("flat-six")[0].replace("title = ", 'title = "Told" #', 1), "utf-8")
    other.write_text("kept = [private\n", "utf-8")
    return [str(sheet), str(other), str(tmp_path / "missing.toml"), f"{tmp_path}/\0"]


@pytest.mark.parametrize("path", ["/what-if", "/what-if/live", "/spark", "/spark/timing"])
def test_no_page_opens_a_sheet_by_its_path_or_tells_whether_it_is_there(
    pages: Pages, elsewhere: list[str], path: str
) -> None:
    answers = [pages.client.get(path, params={"sheet": sheet}) for sheet in elsewhere]
    assert {answer.status_code for answer in answers} <= {404, 422}
    words = {answer.text.replace(sheet, "…") for answer, sheet in zip(answers, elsewhere, strict=True)}
    for said in words:
        assert "is no sheet" in said
        assert not re.search("Told|private|not there|column", said)
    sent = pages.client.post("/what-if", data={"sheet": elsewhere[0]})
    assert sent.status_code == 404


def test_no_job_begins_on_a_sheet_by_its_path(pages: Pages, elsewhere: list[str]) -> None:
    before = pages.store.count()
    fields = pages.get("/jobs/new").html.form("new-job").fields
    for sheet in elsewhere:
        answer = pages.client.post("/jobs/new", data={**fields, "who": "Ines", "sheet": sheet})
        assert answer.status_code == 422
        assert "is no sheet" in answer.text
        assert not re.search("private|not there|column", answer.text)
    assert pages.store.count() == before


def test_no_mending_puts_a_job_on_a_sheet_by_its_path(pages: Pages, elsewhere: list[str]) -> None:
    job = pages.begin()
    mend = f"{job}/entries/engine/mend"
    for sheet in elsewhere:
        page = pages.send(mend, "mend", sheet=sheet, reason="the wrong one")
        assert page.status == 422
        assert "is no sheet" in page.text
    assert len(pages.entries(job)) == 1
    assert pages.send(mend, "mend", sheet="vee-eight", reason="the wrong one").status == 200


def test_a_job_on_a_sheet_by_its_path_can_still_be_mended(pages: Pages, elsewhere: list[str]) -> None:
    job = pages.begin(sheet=elsewhere[0])
    page = pages.send(f"{job}/entries/engine/mend", "mend", car="Red estate", reason="another car")
    assert page.status == 200
    assert [content.get("new", {}).get("car") for _, content in pages.entries(job)] == [None, "Red estate"]


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
