"""From a Vega-Lite specification to an SVG; knows nothing of jobs, so that it can be loaded beside them."""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
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


def warm_up() -> None:
    """Load what draws, beside other work: it takes half a second, and leaves the interpreter free."""
    nothing = {"data": {"values": []}, "mark": "point"}
    threading.Thread(target=drawn, args=(nothing, "w")).start()
