"""From a Vega-Lite specification to an SVG; knows nothing of jobs, so that it can be loaded beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.pool import Pool
from pathlib import Path
from typing import Any

FONT = "Inter"
FONTS = Path(__file__).parent / "fonts"
VEGA_LITE = "6.4"


def drawn(spec: Mapping[str, Any], name: str) -> str:
    """The SVG of a specification, its ids made its own by *name*, so that several can stand in one page."""
    import vl_convert  # heavy: only a record with catches needs it

    vl_convert.register_font_directory(str(FONTS))
    svg: str = vl_convert.vegalite_to_svg(dict(spec), vl_version=VEGA_LITE)
    # The halo of a figure is its outline, drawn before the figure itself.
    svg = svg.replace('<g class="mark-text role-mark', '<g paint-order="stroke" class="mark-text role-mark')
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)


@contextmanager
def drawn_beside() -> Iterator[Pool]:
    """A process of its own for the drawings, loading what draws while the job is opened.

    Loading takes half a second and drawing as long again; both hold the interpreter, so a thread saves
    nothing. Only specifications are sent there, so that it need load nothing but what draws.
    """
    with get_context("spawn").Pool(1, initializer=_load) as beside:
        yield beside


def _load() -> None:
    drawn({"data": {"values": []}, "mark": "point"}, "w")
