"""Photos through the pages: kept by a plain form or by a script, shown where they belong, to nobody else."""

from __future__ import annotations

import asyncio
import base64
import http.client
import re
from collections.abc import MutableMapping
from pathlib import Path
from typing import Any

import httpx
import pytest

from evenpour.job import photos
from evenpour.web.routes import pages as every_page
from evenpour.web.size_limit import SizeLimit
from test_photos import opened, photographed
from web_world import Html, Pages, pages, shop_pages

__all__ = ["pages", "shop_pages"]

STEP = "read_system_pressure"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's folder of its own: the server runs in this process."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))
    return tmp_path


def send(pages: Pages, job: str, data: bytes | None = None, **typed: str) -> httpx.Response:
    """As a browser without scripts sends the form."""
    files = {"photo": ("IMG_0001.JPG", photographed() if data is None else data, "image/jpeg")}
    fields = {"form": "photo", "kind": "note", "entry_id": "photo-1", **typed}
    return pages.client.post(f"{job}/photos", data=fields, files=files)


def named(pages: Pages, job: str) -> list[str]:
    return [str(content["photo"]) for kind, content in pages.entries(job) if kind == "note"]


def test_a_photo_taken_at_a_step_stands_there_in_the_history_and_among_all(pages: Pages) -> None:
    job = pages.begin("cold-1")
    found = pages.get(f"{job}/steps/{STEP}").html.form("photo")
    assert found.fields["step"] == STEP
    answer = send(pages, job, step=STEP, text="Gauge at the port", who="Ines")
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{job}/steps/{STEP}?entry=photo-1#said"
    (name,) = named(pages, job)
    for path in (f"{job}/steps/{STEP}", f"{job}/photos", f"{job}/history"):
        source = pages.get(path).html.source
        assert f'src="{job}/photos/{name}?size=small"' in source, path
        assert 'alt="Photo: Gauge at the port"' in source
    served = pages.client.get(f"{job}/photos/{name}")
    assert served.headers["content-type"] == "image/jpeg"
    assert served.headers["x-content-type-options"] == "nosniff"
    assert dict(opened(served.content).getexif()) == {}


def test_a_photo_of_a_reading_stands_beside_it(pages: Pages) -> None:
    job = pages.begin(warned=True)
    pages.send(f"{job}/read/system_pressure", "read-system_pressure", value="4.9")
    page = pages.get(f"{job}/readings")
    link = next(one for one in page.html.links if "/photos?about=" in one)
    form = pages.get(link).html.form("photo")
    assert "System pressure" in pages.get(link).text
    assert send(pages, job, about=form.fields["about"]).status_code == 303
    (name,) = named(pages, job)
    for path in (f"{job}/readings", f"{job}/read/system_pressure", f"{job}/steps/{STEP}"):
        assert name in pages.get(path).html.source, path


def test_a_photo_that_a_script_made_smaller_is_kept_the_same_way_and_once(pages: Pages) -> None:
    job = pages.begin()
    text = "data:image/jpeg;base64," + base64.b64encode(photographed((1600, 1200))).decode()
    fields = {"form": "photo", "kind": "note", "entry_id": "photo-2", "picture": text,
              "at": "2026-05-03T10:12:00+02:00"}  # fmt: skip
    for _ in range(2):
        answer = pages.client.post(f"{job}/photos", data=fields, headers={"accept": "application/json"})
        assert answer.json() == {"go": f"{job}/photos?entry=photo-2#said"}
    assert len(named(pages, job)) == 1


def test_a_photo_withdrawn_is_shown_to_nobody(pages: Pages) -> None:
    job = pages.begin()
    send(pages, job)
    (name,) = named(pages, job)
    assert pages.client.get(f"{job}/photos/{name}").status_code == 200
    pages.send(f"{job}/entries/photo-1/mend", "withdraw", reason="Shows a face")
    assert pages.client.get(f"{job}/photos/{name}").status_code == 404
    assert name not in pages.get(f"{job}/photos").html.source


def test_a_photo_of_another_job_is_not_shown_on_this_one(pages: Pages) -> None:
    job, other = pages.begin(), pages.begin()
    send(pages, job)
    (name,) = named(pages, job)
    assert pages.client.get(f"{other}/photos/{name}").status_code == 404
    assert pages.client.get(f"{job}/photos/{'0' * 64}.jpg").status_code == 404


def test_mending_the_words_under_a_photo_keeps_the_photo_and_its_place(pages: Pages) -> None:
    job = pages.begin()
    send(pages, job, step=STEP, text="Gage")
    pages.send(f"{job}/entries/photo-1/mend", "mend", text="Gauge", reason="slip")
    source = pages.get(f"{job}/steps/{STEP}").html.source
    assert 'alt="Photo: Gauge"' in source


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"no picture at all", "is no picture that is read here"),
        (photographed()[:-300], "is cut off or damaged"),
        (b"", "is missing"),
    ],
    ids=["words", "cut off", "empty"],
)
def test_what_is_no_photo_is_said_beside_the_field_and_nothing_is_kept(
    pages: Pages, data: bytes, words: str
) -> None:
    job = pages.begin()
    answer = send(pages, job, data, step=STEP, text="Gauge at the port")
    assert answer.status_code == 422
    page = Html(answer.text)
    assert words in page.text
    assert "photo-photo-problem" in page.ids
    again = page.form("photo")
    assert (again.fields["text"], again.fields["step"]) == ("Gauge at the port", STEP)
    assert len(pages.entries(job)) == 1


def test_a_form_sent_without_a_photo_says_that_it_is_missing(pages: Pages) -> None:
    job = pages.begin()
    answer = pages.client.post(f"{job}/photos", data={"form": "photo", "kind": "note"})
    assert answer.status_code == 422
    assert "is missing" in Html(answer.text).text


@pytest.mark.parametrize("text", ["data:image/svg+xml;base64,AAAA", "data:image/jpeg;base64,!!", "AAAA"])
def test_what_no_script_of_ours_sends_is_not_taken(pages: Pages, text: str) -> None:
    job = pages.begin()
    answer = pages.client.post(f"{job}/photos", data={"form": "photo", "kind": "note", "picture": text})
    assert answer.status_code == 422


def refused(pages: Pages, path: str, length: int) -> Html:
    """What is said of a body of that length, none of which is sent."""
    line = http.client.HTTPConnection(pages.address.removeprefix("http" + "://"), timeout=20)
    line.putrequest("POST", path)
    line.putheader("origin", pages.address)
    line.putheader("content-length", str(length))
    line.endheaders()
    answer = line.getresponse()
    assert answer.status == 413
    text = answer.read().decode()
    line.close()
    return Html(text)


async def nothing(*_: object) -> None:
    return None


def test_as_much_as_a_page_takes_is_let_through() -> None:
    let: list[str] = []

    async def through(scope: MutableMapping[str, Any], *_: object) -> None:
        let.append(scope["path"])

    for length, path in ((26_000_000, "/jobs/1/photos"), (1_000_000, "/jobs/1/enter")):
        headers = [(b"content-length", str(length).encode())]
        scope = {"type": "http", "method": "POST", "path": path, "headers": headers}
        asyncio.run(SizeLimit(through, list(every_page()))(scope, nothing, nothing))
    assert let == ["/jobs/1/photos", "/jobs/1/enter"]


def test_more_than_a_camera_gives_is_refused_unread_and_elsewhere_nothing_large_is_taken(
    pages: Pages,
) -> None:
    said = refused(pages, "/jobs/1/photos", 26_000_001)
    assert "At most 26 MB are taken here, and nothing was kept.Take it again with the camera set" in said.text
    assert said.links.count("/jobs/1/photos") == 1
    assert "At most 1 MB are taken here" in refused(pages, "/jobs/1/enter", 2_000_000).text
    job = pages.begin()
    files = {"photo": ("a.jpg", photographed(), "image/jpeg")}
    assert pages.client.post(f"{job}/enter", data={"kind": "note"}, files=files).status_code == 400


def test_a_photo_whose_file_is_elsewhere_is_named_and_no_page_breaks(pages: Pages, home: Path) -> None:
    job = pages.begin()
    send(pages, job, step=STEP)
    (name,) = named(pages, job)
    for file in photos.photos_folder().iterdir():
        file.unlink()
    for path in (f"{job}/photos", f"{job}/history", f"{job}/steps/{STEP}"):
        page = pages.get(path)
        assert page.status == 200
        assert not re.search(r"<img[^>]*/photos/", page.html.source)
        assert name[:6] in page.html.source
