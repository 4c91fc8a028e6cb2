"""Limits of an engine's sheet: what is allowed, under which conditions, and how the limit moves with them.

A limit *holds* only under its ``when``; it *depends* on conditions that move it (and lend it their
doubt); it *asks* for circumstances the reading should have been taken in. One door: the types live in
``limit_types``, reading from data in ``limit_data``, the limit at a reading's conditions in ``bands``,
its wording in ``limit_words``.
"""

from __future__ import annotations

from evenpour.measure.bands import Band, Doubt, NotJudged, applies, band
from evenpour.measure.limit_data import limit_from
from evenpour.measure.limit_types import Depends, Limit, Match
from evenpour.measure.limit_words import limit_words

__all__ = [
    "Band",
    "Depends",
    "Doubt",
    "Limit",
    "Match",
    "NotJudged",
    "applies",
    "band",
    "limit_from",
    "limit_words",
]
