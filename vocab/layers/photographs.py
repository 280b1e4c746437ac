"""A clinic's own photographs of items, beside its changes.

Takes the bytes of a picture that somebody chose and keeps it as a small JPEG file without metadata, named by
its checksum; a change (`SetPhotograph`) says which item it shows. A file stays when another takes its place,
so that undo works, until somebody deletes it for good.
"""

from __future__ import annotations

import hashlib
import io
import re
import threading
from pathlib import Path

from PIL import Image, ImageOps

from vocab.errors import Declined, TraycallError
from vocab.files import write_atomically

FORMATS = ("PNG", "JPEG", "WEBP")
LARGEST_FILE = 2_900_000
"""Most bytes of a picture: what a form of the server holds, less what stands around it."""
MOST_PIXELS = 25_000_000
"""More are not decoded, however few bytes they take."""
LONGEST_SIDE = 1200
QUALITY = 85

TOO_MANY_PIXELS = f"that picture has more than {MOST_PIXELS // 1_000_000} million pixels: make it smaller."

_ONE_AT_A_TIME = threading.Lock()
"""A large picture takes some 200 MB while it is decoded."""


class PhotographError(TraycallError):
    """A photograph that cannot be kept or deleted; the text says why."""


class Photographs:
    """The photographs of one clinic; `folder` is that of its changes."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / "photographs"

    def add(self, raw: bytes) -> str:
        """Keep a picture, and return the checksum of its file.

        Raises:
            Declined: it is no picture, or too large; the text says what to do.
            PhotographError: it cannot be written.
        """
        data = reduced(raw)
        checksum = hashlib.sha256(data).hexdigest()
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            write_atomically(self._file(checksum), data, private=True)
        except OSError as error:
            raise PhotographError(
                f"the photograph cannot be kept in {self._folder} ({error.strerror or error}); free some "
                "space or check that the folder is writable"
            ) from error
        return checksum

    def read(self, checksum: str) -> bytes | None:
        """The JPEG file; None where it is gone."""
        try:
            return self._file(checksum).read_bytes()
        except OSError:
            return None

    def has(self, checksum: str) -> bool:
        """Whether the file is there."""
        return self._file(checksum).is_file()

    def delete(self, checksum: str) -> None:
        """Delete a file for good: a change that names it shows nothing from now on.

        Raises:
            PhotographError: it cannot be deleted.
        """
        try:
            self._file(checksum).unlink(missing_ok=True)
        except OSError as error:
            raise PhotographError(
                f"the photograph cannot be deleted ({error.strerror or error}); delete {self._file(checksum)}"
            ) from error

    def _file(self, checksum: str) -> Path:
        if not re.fullmatch("[0-9a-f]{64}", checksum):
            raise ValueError(checksum)
        return self._folder / f"{checksum}.jpg"


def reduced(raw: bytes) -> bytes:
    """A picture as an upright JPEG file of at most `LONGEST_SIDE` pixels a side, without metadata.

    Raises:
        Declined: it is no PNG, JPEG or WebP picture, is damaged, or has too many bytes or pixels.
    """
    if len(raw) > LARGEST_FILE:
        raise Declined(f"that file is larger than {LARGEST_FILE / 1e6:.1f} MB: make the picture smaller.")
    try:
        with _ONE_AT_A_TIME, Image.open(io.BytesIO(raw), formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise Declined(TOO_MANY_PIXELS)
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is decoded to about that size
            picture = opened.convert("RGBA")
            picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            picture.getexif().update(opened.getexif())
            written = io.BytesIO()
            _on_white(ImageOps.exif_transpose(picture)).save(written, "JPEG", quality=QUALITY, optimize=True)
    except Declined:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise Declined(TOO_MANY_PIXELS) from None
    except Exception:  # a damaged picture fails in many ways
        raise Declined(
            "that file is not a picture that can be read: choose a PNG, JPEG or WebP file."
        ) from None
    return written.getvalue()


def _on_white(picture: Image.Image) -> Image.Image:
    """The pixels alone; what is transparent turns white."""
    plain = Image.new("RGB", picture.size, "white")
    plain.paste(picture, mask=picture.getchannel("A"))
    return plain
