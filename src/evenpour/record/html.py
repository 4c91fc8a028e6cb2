"""The record as one HTML file: no script, nothing fetched, fit to be read aloud and to be printed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from evenpour.record.blocks import Record, plain

if TYPE_CHECKING:
    from markupsafe import Markup

HERE = Path(__file__).parent
ACROSS = 1  # panels of a drawing beside each other: a phone shows one at the size it was drawn


def html_of(record: Record) -> str:
    """The same content as the PDF, in the same order."""
    import jinja2  # only when a page is wanted
    from markupsafe import Markup

    world = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    world.filters["drawing"] = _drawing
    world.filters["across"] = _across
    css = Markup((HERE / "record.css").read_text(encoding="utf-8"))  # our own file, nothing typed
    page: str = world.get_template("record.html.jinja").render(record=plain(record), css=css)
    return page


def _across(svg: str) -> float:
    """How wide a drawing of ours is, [px]."""
    found = re.search(r'<svg[^>]*? width="([0-9.]+)"', svg)
    assert found is not None
    return float(found[1])


def _drawing(svg: str, alt: str) -> Markup:
    """An SVG of ours to stand in the page, with its words for those who cannot see it."""
    from markupsafe import Markup, escape

    inner = re.sub(r"^.*?<svg\b", "", svg, count=1, flags=re.S)
    inner = re.sub(r'\s(?:aria-[a-z]+|role)="[^"]*"', "", inner)
    return Markup('<svg role="img" aria-label="') + escape(alt) + Markup('"') + Markup(inner)
