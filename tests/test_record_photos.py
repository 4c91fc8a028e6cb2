"""Photos in the record: small, each with its words, in the page itself and on paper."""

from __future__ import annotations

import base64
import io
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evenpour.job import photos
from evenpour.job.entries import Draft
from evenpour.job.growth import grown
from evenpour.job.job import Job, job_from
from evenpour.record.content import record_of
from evenpour.record.html import html_of
from evenpour.record.pdf import pdf_of
from test_photos import opened, photographed


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A user's folder of its own."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path))


def photographed_job() -> Job:
    """A reading with a photo, a photo at a step, and one whose file lies elsewhere."""
    name, other = photos.keep(photographed((1600, 1200))), photos.keep(photographed((600, 900)))
    drafts = [
        Draft("engine", {"sheet": "flat-six", "car": "Blue estate"}, "engine"),
        Draft("reading", {"what": "system_pressure", "value": "4.9 bar"}, "r1", "2026-05-03T10:10:00+02:00"),
        Draft("note", {"photo": name, "about": "r1", "text": "The dial", "who": "Ines"}, "n1",
              "2026-05-03T10:12:00+02:00"),
        Draft("note", {"photo": other, "step": "read_system_pressure"}, "n2"),
        Draft("note", {"photo": f"{'0' * 64}.jpg", "text": "Elsewhere"}, "n3"),
    ]  # fmt: skip
    entries, _ = grown([], drafts, fill_time=False)
    return job_from("job.toml", entries)


def test_the_page_shows_each_photo_small_with_its_words_and_nothing_else_in_it() -> None:
    page = html_of(record_of(photographed_job()))
    found = re.findall(r'xlink:href="data:image/jpeg;base64,([A-Za-z0-9+/=]+)"', page)
    assert len(found) == 2
    for text in found:
        image = opened(base64.b64decode(text))
        assert max(image.size) <= 480
        assert dict(image.getexif()) == {}
    words = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert re.search(r"Photo [0-9a-f]{6}: The dial\. Of: System pressure.* Ines, 3 May 2026, 10:12\.", words)
    assert 'aria-label="Photo: The dial"' in page
    assert "Elsewhere. Its file is not on this machine." in words
    assert re.search(r"A photo: The dial\W+photo [0-9a-f]{6}", words)


def test_paper_holds_the_photos_and_stays_the_same_for_the_same_job() -> None:
    job = photographed_job()
    paper = pdf_of(record_of(job))
    assert paper == pdf_of(record_of(job))
    reader = PdfReader(io.BytesIO(paper))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert "The dial" in text
    assert sum(len(page.images) for page in reader.pages) == 2
    assert b"SECRET" not in paper
