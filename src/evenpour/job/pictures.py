"""A photo as it came from a camera, made small and clean: only what is to be seen is left of it.

A camera writes into the file where and when it was taken, with what, and often a second picture. None of that
is copied: the pixels are turned upright, made smaller and set down in a new file.
"""

from __future__ import annotations

import io
import struct
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from evenpour.errors import FieldProblem

if TYPE_CHECKING:
    from PIL.Image import Image

LONGEST: Final = 1600  # px, the longer side of what is kept
SMALL: Final = 480  # px, of what is shown among others
MOST_BYTES: Final = 25_000_000
MOST_PIXELS: Final = 60_000_000  # three times what most phones take; 180 MB while it is read
FORMATS: Final = ("JPEG", "PNG", "WEBP")
_QUALITY: Final = 82
_SEND_AGAIN: Final = "Take it or send it once more"
_one_at_a_time = threading.Lock()  # a large one takes much memory while it is read


@dataclass(frozen=True, slots=True)
class Picture:
    """JPEG files of one photo, in both sizes."""

    full: bytes
    small: bytes


def cleaned(data: bytes) -> Picture:
    """The photo in *data*: upright, no side longer than 1600 px, without anything but the picture.

    The same bytes give the same picture.

    Raises:
        FieldProblem: it is no picture, too large, or cut off; ``field`` is "photo".
    """
    if not data:
        raise FieldProblem("photo", None, "is missing", remedy="Take one, or choose one")
    if len(data) > MOST_BYTES:
        raise _too_large(f"has {len(data) / 1e6:.0f} MB", f"up to {MOST_BYTES / 1e6:.0f} MB")
    with _quietly():
        try:
            image = _read(data)
        except (OSError, SyntaxError, ValueError, TypeError, struct.error, IndexError, KeyError):
            raise FieldProblem("photo", None, "is cut off or damaged", remedy=_SEND_AGAIN) from None
        return Picture(_written(image, LONGEST), _written(image, SMALL))


def is_clean(data: bytes) -> bool:
    """Whether a file is a photo as :func:`cleaned` makes them, so that it may come from elsewhere."""
    from PIL import Image

    if not data.startswith(b"\xff\xd8") or len(data) > LONGEST * LONGEST:
        return False
    try:
        with _quietly(), Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
            fits = max(image.size) <= LONGEST
            bare = not {"exif", "comment", "icc_profile", "xmp", "photoshop", "mp"} & set(image.info)
            if fits and bare:
                image.load()
    except (OSError, SyntaxError, ValueError, struct.error):
        return False
    return fits and bare


def size_of(data: bytes) -> tuple[int, int]:
    """Width and height of a clean photo, px."""
    from PIL import Image

    with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
        return image.size


def shrunk(data: bytes) -> bytes:
    """The small size of a clean photo."""
    from PIL import Image

    with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
        return _written(image.convert("RGB"), SMALL)


@contextmanager
def _quietly() -> Iterator[None]:
    """One picture at a time, and no word on the terminal about what is odd in it: what matters is raised."""
    with _one_at_a_time, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _read(data: bytes) -> Image:
    """The picture upright, with nothing behind it, at most as large as it is kept."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = None  # looked at here, before anything is unpacked
    try:
        opened = Image.open(io.BytesIO(data), formats=FORMATS)
    except UnidentifiedImageError:
        trouble = "is no picture that is read here"
        raise FieldProblem("photo", None, trouble, allowed="JPEG, PNG or WebP") from None
    with opened as image:
        width, height = image.size
        if width * height > MOST_PIXELS:
            most = f"up to {MOST_PIXELS / 1e6:.0f} million"
            raise _too_large(f"has {width * height / 1e6:.0f} million pixels", most)
        image.draft("RGB", (LONGEST, LONGEST))  # a JPEG is unpacked no larger than needed
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((LONGEST, LONGEST))
        return _on_white(upright)


def _on_white(image: Image) -> Image:
    """A picture of its own in three colours: what was see-through is white, and nothing else comes along."""
    import PIL.Image

    clean = PIL.Image.new("RGB", image.size, "white")
    if "A" in image.getbands() or "transparency" in image.info:
        seen = image.convert("RGBA")
        clean.paste(seen, mask=seen.getchannel("A"))
    else:
        clean.paste(image.convert("RGB"))
    return clean


def _written(image: Image, longest: int) -> bytes:
    copy = image.copy()
    copy.thumbnail((longest, longest))
    out = io.BytesIO()
    copy.save(out, "JPEG", quality=_QUALITY, optimize=True, progressive=True)
    return out.getvalue()


def _too_large(has: str, most: str) -> FieldProblem:
    return FieldProblem("photo", None, has, allowed=most, remedy="Let the camera take smaller ones")
