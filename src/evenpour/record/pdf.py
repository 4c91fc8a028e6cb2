"""The record as PDF: tagged, with its own fonts, the same bytes for the same job."""

from __future__ import annotations

import json
from pathlib import Path

from evenpour.record.blocks import Record, plain

HERE = Path(__file__).parent
TEMPLATE = HERE / "record.typ"
FONTS = HERE / "fonts"


def pdf_of(record: Record) -> bytes:
    """The record set in type, A4. Nothing is read but the template and the fonts beside this module."""
    import typst  # 80 MB of it: only when a PDF is wanted

    made: bytes = typst.compile(
        TEMPLATE,
        root=HERE,
        font_paths=[FONTS],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"record": json.dumps(plain(record), ensure_ascii=False)},
        pdf_standards=["ua-1"],  # tagged, so that it can be read aloud
        timestamp=record.seconds,
    )
    return made
