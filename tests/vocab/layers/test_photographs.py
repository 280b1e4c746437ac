"""A clinic's photographs: what is kept of a picture, what is refused, and who added or removed it."""

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from tests.vocab.small_pack import small_pack
from vocab.errors import Declined
from vocab.layers import Vocabulary
from vocab.layers.changes import RetireItem, SetPhotograph
from vocab.layers.photographs import LARGEST_FILE, LONGEST_SIDE, Photographs, reduced
from vocab.layers.store import CLINIC

WHEN = datetime(2026, 11, 29, 9, 0, tzinfo=UTC)
ITEM = "mouth_mirror"


def picture(kind: str = "PNG", size: tuple[int, int] = (40, 20), mode: str = "RGB", **more: object) -> bytes:
    written = io.BytesIO()
    Image.new(mode, size, "red" if mode == "RGB" else 0).save(written, kind, **more)
    return written.getvalue()


def opened(raw: bytes) -> Image.Image:
    return Image.open(io.BytesIO(raw))


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_picture_is_kept_as_a_small_jpeg(kind: str) -> None:
    made = opened(reduced(picture(kind, (3000, 1500))))
    assert (made.format, made.size) == ("JPEG", (LONGEST_SIDE, LONGEST_SIDE // 2))
    assert opened(reduced(picture(kind, (40, 20)))).size == (40, 20)


def test_metadata_is_left_out_and_the_picture_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112], exif[0x010E] = 6, "Where it was taken"
    raw = picture("JPEG", (40, 20), exif=exif, comment=b"Somebody")
    assert b"Where it was taken" in raw and b"Somebody" in raw
    made = reduced(raw)
    assert opened(made).size == (20, 40)
    assert b"Where it was taken" not in made and b"Somebody" not in made and not opened(made).getexif()


def test_what_is_transparent_turns_white() -> None:
    assert opened(reduced(picture("PNG", mode="RGBA"))).getpixel((3, 3)) == (255, 255, 255)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"%PDF-1.7",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        picture("GIF"),
        picture("PNG")[:40],
        picture("JPEG", (400, 400))[:300],
    ],
)
def test_what_is_no_picture_is_refused(raw: bytes) -> None:
    with pytest.raises(Declined, match="choose a PNG, JPEG or WebP file"):
        reduced(raw)


@pytest.mark.parametrize("side", [6_000, 14_000])
def test_few_bytes_with_very_many_pixels_are_refused(side: int) -> None:
    raw = picture("PNG", (side, side), "1")
    assert len(raw) < 100_000
    with pytest.raises(Declined, match="million pixels"):
        reduced(raw)


def test_too_many_bytes_are_refused() -> None:
    with pytest.raises(Declined, match="larger than"):
        reduced(bytes(LARGEST_FILE + 1))


def test_a_photograph_is_replaced_undone_and_removed_with_who_and_when(tmp_path: Path) -> None:
    vocabulary, kept = Vocabulary(small_pack(), tmp_path), Photographs(tmp_path)
    first, second = kept.add(picture(size=(10, 10))), kept.add(picture(size=(20, 20)))

    def shown() -> str | None:
        return vocabulary.composed().settings.photograph_of(ITEM)

    assert shown() is None
    for checksum in (first, second):
        vocabulary.record(CLINIC, [SetPhotograph(item=ITEM, file=checksum)], "Kim", WHEN)
    assert shown() == second
    assert vocabulary.composed().touched["photograph", ITEM].who == "Kim"
    vocabulary.undo(CLINIC, "c2", "Ada", WHEN)
    assert shown() == first and kept.read(first) is not None
    vocabulary.record(CLINIC, [SetPhotograph(item=ITEM)], "Ada", WHEN)
    assert shown() is None
    told = [f"{entry.change.who} {entry.text}" for entry in vocabulary.history()]
    assert told[0] == "Kim adds a photograph of mouth mirror"
    assert told[-1] == "Ada removes the photograph of mouth mirror"


def test_a_photograph_leaves_the_names_as_they_are(tmp_path: Path) -> None:
    vocabulary = Vocabulary(small_pack(), tmp_path)
    before = vocabulary.composed().pack
    made = vocabulary.record(CLINIC, [SetPhotograph(item=ITEM, file="0" * 64)], "Kim", WHEN)
    assert made.pack == before and not made.conflicts
    assert not vocabulary.record(CLINIC, [RetireItem(item=ITEM)], "Kim", WHEN).conflicts


def test_a_deleted_file_is_gone_and_missed_by_nobody(tmp_path: Path) -> None:
    kept = Photographs(tmp_path)
    checksum = kept.add(picture())
    assert kept.has(checksum)
    for _ in range(2):
        kept.delete(checksum)
    assert not kept.has(checksum) and kept.read(checksum) is None
    assert not list((tmp_path / "photographs").iterdir())


@pytest.mark.parametrize("file", ["../clinic.yaml", "", "A" * 64])
def test_a_change_names_a_file_by_its_checksum_only(file: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError):
        SetPhotograph(item=ITEM, file=file)
    with pytest.raises(ValueError):
        Photographs(tmp_path).read(file)
