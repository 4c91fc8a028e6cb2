"""Times of day in a log, as seconds from midnight of its first day."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DAY = 86_400.0  # s
H_MIN, MIN_S = "h:min", "min:s"
"""How a time of two parts is meant."""

_PARTS = (
    r"^\s*(?:(?P<day>\d{1,4}[-./]\d{1,2}[-./]\d{1,4})[ T]+)?(?P<first>\d{1,3}):(?P<second>\d{2})"
    r"(?::(?P<third>\d{2}(?:[.,]\d+)?))?(?P<rest>[.,]\d+)?\s*(?P<half>[AaPp])?"
)


def seconds_of(cells: Any, kind: str) -> Array:
    """A column of texts as seconds; nan where nothing stands.

    Args:
        cells: An Arrow array of texts: "10:12:33.5", "2026-05-03 10:12:33", "3.5.2026 10:12", "12:33".
        kind: :data:`H_MIN` or :data:`MIN_S` for times of two parts; anything else for those of three.
    """
    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.compute as pc  # type: ignore[import-untyped]

    parts = pc.extract_regex(cells, _PARTS)

    def number(name: str) -> Array:
        texts = pc.replace_substring(pc.struct_field(parts, name), ",", ".")
        filled = pc.if_else(pc.equal(texts, ""), None, texts)
        return np.asarray(pc.cast(filled, pa.float64()).to_numpy(zero_copy_only=False))

    first, second, third, rest = (number(name) for name in ("first", "second", "third", "rest"))
    three = np.isfinite(third)
    rest = np.nan_to_num(rest)
    two = 60.0 * first + second + rest if kind == MIN_S else 3600.0 * first + 60.0 * second
    half = np.asarray(pc.struct_field(parts, "half").to_numpy(zero_copy_only=False), dtype=object)
    clock = np.where(three, 3600.0 * first + 60.0 * second + np.nan_to_num(third), two)
    if np.any([mark in ("a", "p", "A", "P") for mark in half[:1]]):
        twelve = first == 12.0
        noon = np.array([bool(mark) and mark in "pP" for mark in half])
        clock = clock + np.where(noon & ~twelve, 43_200.0, np.where(~noon & twelve, -43_200.0, 0.0))
    return clock + _days(pc.struct_field(parts, "day"))


def _days(texts: Any) -> Array:
    """Days of the dates, in seconds from the first of our reckoning; 0 without a date."""
    import pyarrow.compute as pc

    encoded = pc.dictionary_encode(texts)
    known = [_day(text) for text in encoded.dictionary.to_pylist()]
    places = np.nan_to_num(encoded.indices.to_numpy(zero_copy_only=False)).astype(np.intp)
    return np.array(known or [0.0])[places] if known else np.zeros(len(texts))


def _day(text: str | None) -> float:
    """Year first, or day first; where only the month first can be right, that. Logs do not span months, so
    that the order of day and month hardly matters.
    """
    if not text:
        return 0.0
    one, two, three = (int(part) for part in re.split(r"[-./]", text))
    if one > 31:
        year, month, day = one, two, three
    elif two > 12:
        month, day, year = one, two, three
    else:
        day, month, year = one, two, three
    try:
        return DAY * date(year if year > 99 else 2000 + year, month, day).toordinal()
    except ValueError:
        return float("nan")


def unwrapped(seconds: Array) -> Array:
    """Times of day that run on over midnight."""
    back = np.diff(seconds, prepend=seconds[:1]) < -0.5 * DAY
    return seconds + DAY * np.cumsum(back)
