"""Photos: taking one of a step or a reading, and all that were taken on the job."""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass
from functools import partial
from urllib.parse import quote

from starlette.responses import Response

from evenpour.errors import FieldProblem
from evenpour.job import photos
from evenpour.job.entries import Draft
from evenpour.job.photos import Photo
from evenpour.job.pictures import MOST_BYTES
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_drafts

SMALLER = "Take it again with the camera set to fewer megapixels, or choose a picture made smaller."
FROM_SCRIPT = "data:image/jpeg;base64,"
KEPT = {"cache-control": "private, max-age=604800, immutable"}  # its address says what it holds


@dataclass(frozen=True, slots=True)
class PhotosPage:
    """Everything photos.html may use; ``step`` and ``about`` say what the next photo is taken of."""

    photos: tuple[Photo, ...]
    step: str
    about: str
    subject: str
    forms: FormState


def show(ask: Ask) -> Response:
    """All photos, and the form for one more."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """Keep one: made small and clean, and named by a note of the journal."""
    step, about = ask.form.get("step", ""), ask.form.get("about", "")
    start = f"/jobs/{ask.number}"
    go = f"{start}/steps/{quote(step, safe='')}" if step else f"{start}/photos"
    return save_drafts(ask, partial(_drafts, ask, step, about), go, _shown)


def _drafts(ask: Ask, step: str, about: str) -> list[Draft]:
    content = {"photo": photos.keep(_sent(ask))}
    said = {"step": step, "about": about, "text": ask.form.get("text", ""), "who": ask.form.get("who", "")}
    content |= {name: text.strip() for name, text in said.items() if text.strip()}
    return [Draft("note", content, ask.entry_id, ask.form.get("at", "").strip() or None)]


def _sent(ask: Ask) -> bytes:
    """The file of the form; or the picture that our script made of it, which waited for the network."""
    if ask.upload is not None:
        return ask.upload.file.read()
    text = ask.form.get("picture", "")
    if text and not text.startswith(FROM_SCRIPT):
        raise FieldProblem("photo", None, "was not understood", remedy="Take it or send it once more")
    try:
        return base64.b64decode(text.removeprefix(FROM_SCRIPT), validate=True)
    except binascii.Error:
        raise FieldProblem("photo", None, "is cut off", remedy="Take it or send it once more") from None


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    said = {**ask.query, **sent.typed.values}
    step, about = said.get("step", ""), said.get("about", "")
    titles = {table["id"]: table["title"] for table in job.known.steps}
    words = {line.entry: line.words for line in job.history() if line.withdrawn is None}
    page = PhotosPage(
        photos=tuple(reversed(job.photos())),
        step=step if step in titles else "",
        about=about if about in words else "",
        subject=titles.get(step) or words.get(about) or "",
        forms=form_state(ask, "photo", sent),
    )
    return ask.page("photos.html", page, title="Photos", status=sent.status)


def file(ask: Ask) -> Response:
    """One photo that stands on this job, and no other; ``size=small`` as it is shown among others."""
    name = ask.word("name")
    data = None
    if any(one.name == name for one in ask.job.photos()):
        data = photos.picture(name, small=ask.query.get("size") == "small")
    if data is None:
        raise FieldProblem("job", name, "has no such photo, or its file is not on this machine")
    return Response(data, media_type="image/jpeg", headers=KEPT)


IN_JOB = (Line("Photos", "/photos", count=lambda job: photos.photo_count(job.folded)),)
PAGES = (
    Page("/jobs/{number:int}/photos", show, save, largest=MOST_BYTES + 1_000_000, smaller=SMALLER),
    Page("/jobs/{number:int}/photos/{name}", file),
)
