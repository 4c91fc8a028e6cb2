"""Photos: nothing is left of them but what is to be seen, and the journal vouches for them."""

from __future__ import annotations

import hashlib
import io
import os
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from cli_world import Shop, shop
from evenpour.errors import FieldProblem, Problems
from evenpour.job import photos
from evenpour.job.entries import Draft
from evenpour.job.job import Job, job_from
from evenpour.job.opening import stored_job
from evenpour.job.pictures import LONGEST, MOST_BYTES, SMALL, cleaned, is_clean
from evenpour.job.store import Store

__all__ = ["shop"]

GPS, ORIENTATION, MAKE = 0x8825, 0x0112, 0x010F
PLACE = {1: "N", 2: (48.0, 51.0, 29.6), 3: "E", 4: (2.0, 17.0, 40.2)}


def photographed(
    size: tuple[int, int] = (400, 300), *, orientation: int = 1, kind: str = "JPEG", mode: str = "RGB"
) -> bytes:
    """A picture as from a camera: red at the left, blue at the right, with the place and the camera in it."""
    image = Image.new("RGB", size, "red")
    image.paste("blue", (size[0] // 2, 0, size[0], size[1]))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    exif[MAKE] = "SECRETCAMERA"
    exif[GPS] = PLACE
    out = io.BytesIO()
    more = {"comment": b"SECRETCOMMENT", "quality": 95} if kind == "JPEG" else {}
    image.convert(mode).save(out, kind, exif=exif, **more)
    return out.getvalue()


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's folder of its own."""
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def test_where_when_and_with_what_it_was_taken_is_gone() -> None:
    taken = photographed()
    assert opened(taken).getexif().get_ifd(GPS)[2] == (48.0, 51.0, 29.6)  # it was there
    for data in (cleaned(taken).full, cleaned(taken).small):
        image = opened(data)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive",
                                   "progression"}  # fmt: skip
        for secret in (b"SECRET", b"Exif", b"GPS", b"ICC_PROFILE", b"http"):
            assert secret not in data
        assert is_clean(data)
    assert not is_clean(taken)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_of_picture_become_the_same_kind_and_lose_the_same(kind: str) -> None:
    data = cleaned(photographed(kind=kind)).full
    assert opened(data).format == "JPEG"
    assert dict(opened(data).getexif()) == {}
    assert b"SECRET" not in data


@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [  # how the camera was held, the size upright, and where red then is; by the orientation tag's meaning
        (1, (400, 300), "left"),
        (2, (400, 300), "right"),
        (3, (400, 300), "right"),
        (4, (400, 300), "left"),
        (5, (300, 400), "top"),
        (6, (300, 400), "top"),
        (7, (300, 400), "bottom"),
        (8, (300, 400), "bottom"),
    ],
)
def test_a_photo_is_turned_upright_before_the_tag_that_says_so_is_gone(
    orientation: int, size: tuple[int, int], red_at: str
) -> None:
    image = opened(cleaned(photographed(orientation=orientation)).full)
    assert image.size == size
    width, height = size
    at = {"left": (20, height // 2), "right": (width - 20, height // 2),
          "top": (width // 2, 20), "bottom": (width // 2, height - 20)}  # fmt: skip
    for side, point in at.items():
        red, _, blue = image.getpixel(point)  # type: ignore[misc]
        assert (red > 200 and blue < 60) == (side == red_at) or side not in (red_at, _across(red_at))


def _across(side: str) -> str:
    return {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}[side]


@given(st.integers(1, 3000), st.integers(1, 3000))
@settings(max_examples=15)
def test_no_side_is_longer_than_agreed_and_the_shape_stays(width: int, height: int) -> None:
    out = io.BytesIO()
    Image.new("RGB", (width, height), "green").save(out, "PNG")
    picture = cleaned(out.getvalue())
    for data, longest in ((picture.full, LONGEST), (picture.small, SMALL)):
        size = opened(data).size
        assert max(size) == min(longest, max(width, height))
        shrunk = max(1.0, max(width, height) / longest)
        assert abs(size[0] - width / shrunk) <= 1.0  # a pixel cannot be cut
        assert abs(size[1] - height / shrunk) <= 1.0


def test_what_was_see_through_is_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (255, 0, 0, 0)).save(out, "PNG")
    assert opened(cleaned(out.getvalue()).full).getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "1"])
def test_pictures_without_three_colours_are_read_too(mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    assert opened(cleaned(photographed(mode=mode, kind=kind)).full).mode == "RGB"


def test_the_same_photo_gives_the_same_file() -> None:
    taken = photographed()
    assert cleaned(taken) == cleaned(taken)


@pytest.mark.parametrize(
    ("data", "trouble"),
    [
        (b"", "is missing"),
        (b"GIF89a but not really", "is no picture that is read here"),
        (b"%PDF-1.7", "is no picture"),
        (b"<svg xmlns='x'><script>alert(1)</script></svg>", "is no picture"),
        (b"\xff\xd8\xff", "is no picture"),
        (photographed()[:-400], "is cut off or damaged"),
        (photographed(kind="PNG")[:-400], "is cut off or damaged"),
        (b"\0" * (MOST_BYTES + 1), "MB"),
    ],
    ids=["nothing", "words", "paper", "drawing", "head only", "cut off", "cut off too", "too many bytes"],
)
def test_what_is_no_whole_picture_is_named(data: bytes, trouble: str) -> None:
    with pytest.raises(FieldProblem, match=trouble) as found:
        cleaned(data)
    assert found.value.field == "photo"


def test_a_small_file_that_unpacks_to_something_huge_is_refused_before_it_is_unpacked() -> None:
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")
    assert len(out.getvalue()) < 100_000
    with pytest.raises(FieldProblem, match="400 million pixels"):
        cleaned(out.getvalue())


@given(st.integers(0, 10**6))
@settings(max_examples=60)
def test_a_damaged_file_is_read_or_named_and_never_a_fault_of_ours(seed: int) -> None:
    dice = random.Random(seed)
    data = bytearray(photographed((60, 40), kind=dice.choice(["JPEG", "PNG", "WEBP"])))
    for _ in range(dice.randint(1, 12)):
        data[dice.randrange(len(data))] = dice.randrange(256)
    try:
        picture = cleaned(bytes(data))
    except FieldProblem:
        return
    assert is_clean(picture.full)


# ---- on a job ----


def job_with(*drafts: Draft) -> Job:
    from evenpour.job.growth import grown

    begun = [Draft("engine", {"sheet": "flat-six"}, "engine"), *drafts]
    entries, _ = grown([], begun, fill_time=False)
    return job_from("job.toml", entries)


def test_a_photo_is_named_by_what_it_holds(home: Path) -> None:
    name = photos.keep(photographed())
    data = photos.picture(name)
    assert data is not None
    assert name == f"{hashlib.sha256(data).hexdigest()}.jpg"
    small = photos.picture(name, small=True)
    assert small is not None
    assert len(small) <= len(data)
    (home / "photos" / name.replace(".jpg", ".small.jpg")).unlink()
    assert photos.picture(name, small=True) is not None
    assert photos.keep(photographed()) == name
    if os.name == "posix":
        assert (home / "photos").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("name", ["../jobs.db", "x.jpg", "a" * 64 + ".jpg", "a" * 64 + ".small.jpg"])
def test_a_name_that_is_none_of_ours_opens_no_file(home: Path, name: str) -> None:
    photos.keep(photographed())
    (home / "jobs.db").write_text("secret", encoding="utf-8")
    assert photos.picture(name) is None


def test_a_photo_stands_with_its_reading_or_its_step_and_withdrawn_it_is_shown_no_more(home: Path) -> None:
    name = photos.keep(photographed())
    reading = {"what": "system_pressure", "value": "4.9 bar"}
    told = [
        Draft("reading", reading, "r1"),
        Draft("note", {"photo": name, "about": "r1", "text": "The dial", "who": "Ines"}, "n1"),
        Draft("note", {"photo": [name], "step": "read_system_pressure"}, "n2"),
        Draft("note", {"photo": "by-hand.jpg"}, "n3"),
    ]
    by_entry = {one.entry: one for one in job_with(*told).photos()}
    assert by_entry["n1"].about == "r1"
    assert by_entry["n1"].subject.startswith("System pressure")
    assert (by_entry["n1"].text, by_entry["n1"].who, by_entry["n1"].here) == ("The dial", "Ines", True)
    assert by_entry["n2"].step == "read_system_pressure"
    assert not by_entry["n3"].here
    words = {line.entry: line.words for line in job_with(*told).history()}
    assert words["n1"] == "A photo: The dial"
    assert words["n2"].startswith("A photo, ")
    gone = Draft("correction", {"of": "n1", "reason": "blurred", "withdrawn": True}, "c1")
    assert [one.entry for one in job_with(*told, gone).photos()] == ["n2", "n3"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({"photo": "a.jpg", "about": "r9"}, "is no id of an entry before this note"),
        ({"photo": "a.jpg", "step": "no_step"}, "is no step"),
    ],
)
def test_a_photo_belongs_to_something_that_is_there(content: dict[str, str], words: str) -> None:
    with pytest.raises(Problems, match=words):
        job_with(Draft("note", content, "n1"))


def test_an_exported_job_brings_its_photos_along_and_an_import_takes_only_what_is_vouched_for(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop("job new flat-six")
    kept, other = photos.keep(photographed()), photos.keep(photographed((200, 200)))
    with Store() as store:
        for number, name in enumerate((kept, other)):
            store.append(1, "note", {"photo": name}, id=f"n{number}")
    shop(f"job export 1 -o {tmp_path / 'away.toml'}")
    folder = tmp_path / "away-photos"
    assert sorted(file.name for file in folder.iterdir()) == sorted([kept, other])
    (folder / other).write_bytes(photographed((200, 201)))  # not the one that the journal names
    monkeypatch.setenv("EVENPOUR_HOME", str(tmp_path / "elsewhere"))
    monkeypatch.delenv("EVENPOUR_STORE", raising=False)
    shop.capsys.readouterr()
    assert shop(f"job import {tmp_path / 'away.toml'}").status == 0
    assert photos.is_here(kept)
    assert not photos.is_here(other)
    with Store() as store:
        assert [one.here for one in stored_job(store, 1).photos()] == [True, False]
