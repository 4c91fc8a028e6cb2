"""A QR code as a drawing of our own, for a page and for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from markupsafe import Markup

QUIET: Final = 4  # modules left white all round, as the standard asks
_HALVES: Final = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_DARK_ON_LIGHT: Final = ("\x1b[38;5;16m\x1b[48;5;231m", "\x1b[0m")


def modules(text: str) -> list[list[bool]]:
    """The squares of the code for *text*, row by row, dark ones true, with the quiet zone round them."""
    import segno

    inner = [[bool(dark) for dark in row] for row in segno.make(text, error="m", micro=False).matrix]
    side = [False] * QUIET
    blank = [False] * (len(inner) + 2 * QUIET)
    return [*([blank] * QUIET), *([*side, *row, *side] for row in inner), *([blank] * QUIET)]


def drawn(text: str, says: str) -> Markup:
    """The code as SVG, black on white in any theme; *says* is for who cannot see it."""
    squares = modules(text)
    size = len(squares)
    path = "".join(
        f"M{start} {row}h{length}v1h-{length}z"
        for row, line in enumerate(squares)
        for start, length in _runs(line)
    )
    return Markup(
        '<svg class="qr" role="img" viewBox="0 0 {size} {size}" aria-label="{says}" '
        'shape-rendering="crispEdges"><rect width="{size}" height="{size}" fill="#fff"/>'
        '<path d="{path}" fill="#000"/></svg>'
    ).format(size=size, says=says, path=path)


def printed(text: str) -> str:
    """The code for a terminal: two rows in a line, dark on light whatever the terminal's colours are."""
    squares = modules(text)
    if len(squares) % 2:
        squares.append([False] * len(squares[0]))
    on, off = _DARK_ON_LIGHT
    return "\n".join(
        on + "".join(_HALVES[pair] for pair in zip(upper, lower, strict=True)) + off
        for upper, lower in zip(squares[::2], squares[1::2], strict=True)
    )


def _runs(line: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Where dark squares begin in a row, and how many stand together."""
    start = None
    for place, dark in enumerate([*line, False]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            yield start, place - start
            start = None
