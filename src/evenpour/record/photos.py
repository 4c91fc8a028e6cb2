"""The section on photos: each small, with what it shows, of what it was taken, who took it and when."""

from __future__ import annotations

import base64

from evenpour.job.photos import NAME, Photo, picture
from evenpour.job.pictures import size_of
from evenpour.record.asked import Answers
from evenpour.record.blocks import Block, Figure, Section, Words, section
from evenpour.record.words import sentence, when

LONGEST = 260  # of the longer side in print, in CSS pixels: 69 mm


def photos_section(asked: Answers) -> Section | None:
    """One figure a photo; of one whose file lies elsewhere it is said that there is one."""
    return section("photos", "Photos", [_block(one) for one in asked.photos])


def photo_words(name: str) -> str:
    """How a line names a photo that is shown in its own section."""
    return f"photo {name[:6]}" if NAME.fullmatch(name) else f"photo: {name}"


def _block(one: Photo) -> Block:
    shows = one.text or one.subject or "without words"
    of = f"Of: {one.subject}" if one.text and one.subject else ""
    taken = ", ".join(part for part in (one.who, when(one.at) if one.at else "") if part)
    caption = " ".join(sentence(part) for part in (f"Photo {one.mark}: {shows}", of, taken) if part)
    data = picture(one.name, small=True)
    if data is None:
        return Words(f"{caption} Its file is not on this machine.", small=True)
    return Figure(_drawn(data), f"Photo: {shows}", caption)


def _drawn(data: bytes) -> str:
    """The picture as a drawing, so that it goes wherever a chart goes: into a page, and onto paper."""
    width, height = size_of(data)
    scale = LONGEST / max(width, height)
    wide, high = round(width * scale), round(height * scale)
    source = base64.b64encode(data).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="{wide}" '
        f'height="{high}" viewBox="0 0 {wide} {high}"><image width="{wide}" height="{high}" '
        f'xlink:href="data:image/jpeg;base64,{source}"/></svg>'
    )
