"""The templates, and the few things they may do with a value. Undefined names fail, nothing is computed."""

from __future__ import annotations

import gc
import hashlib
import re
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup, escape

from evenpour.job.caution_told import was_read
from evenpour.job.unsettled import settled
from evenpour.job.wording import cylinder_list, likelihood, when_said
from evenpour.record import panels
from evenpour.record.blocks import plain
from evenpour.web import words

SELDOM = 100  # looks through the middle-aged before one through everything; Python's own is 10
HERE = Path(__file__).parent
STATIC = HERE / "static"


@cache
def environment() -> jinja2.Environment:
    """The one environment: everything escaped, StrictUndefined."""
    world = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    world.globals["static"] = static
    world.tests["was_read"] = was_read
    world.filters |= {
        "when": when_said,
        "clock": words.clock,
        "day": words.day,
        "likelihood": likelihood,
        "cylinders": cylinder_list,
        "sentence": words.sentence,
        "lower_first": words.lower_first,
        "print": plain,
        "state": words.state,
        "settled": settled,
        "minutes": words.minutes,
        "drawing": drawing,
    }
    return world


# The colours in which charts are drawn for paper, and what the page has for them, light or dark.
_COLOURS = {
    panels.INK: "currentColor",
    panels.GREY: "var(--soft)",
    panels.PAPER_GREY: "var(--band)",
    panels.PAPER: "var(--paper)",
}


def drawing(svg: str, alt: str) -> Markup:
    """A chart to stand in a page, in the page's own colours, with its words for those who cannot see it."""
    inner = re.sub(r"^.*?<svg\b", "", svg, count=1, flags=re.S)
    inner = re.sub(r'\s(?:aria-[a-z]+|role|style)="[^"]*"', "", inner)
    for paper, page in _COLOURS.items():
        inner = inner.replace(f'"{paper}"', f'"{page}"')
    return Markup('<svg role="img" aria-label="') + escape(alt) + Markup('"') + Markup(inner)


def rendered(template: str, **values: Any) -> str:
    """The page."""
    return environment().get_template(template).render(**values)


def warm_up() -> None:
    """Compile every template, so that the first page is as quick as the next, and settle what is loaded.

    To be called once the application is made: a tenth of a second goes by each time all that is loaded is
    looked through for what refers to itself and can go. What is there now never goes, and of jobs little is
    left for that search, so it is made a tenth as often.
    """
    world = environment()
    for name in world.list_templates(extensions=["html"]):
        world.get_template(name)
    gc.collect()
    gc.freeze()
    young, middle, _ = gc.get_threshold()
    gc.set_threshold(young, middle, SELDOM)


@cache
def static(name: str) -> str:
    """The address of a file of ours; it changes with the file, so that a browser may keep it for good."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?v={digest}"
