"""Data on how English words are said: a dictionary, and the weights of a small network for all other words.

README.md tells where each file is from; its licence lies beside it.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from vocab.errors import TraycallError

FOLDER = Path(__file__).parent


class MissingPronunciations(TraycallError):
    """A file that says how words sound is missing or damaged."""


@contextmanager
def data_file(name: str) -> Iterator[Path]:
    """The path of a file of this folder, to be read within the block.

    Raises:
        MissingPronunciations: it is missing, or the block could not read it.
    """
    path = FOLDER / name
    try:
        yield path
    except (EOFError, KeyError, OSError, RuntimeError, ValueError, zipfile.BadZipFile, zlib.error) as error:
        raise MissingPronunciations(
            f"{path}, which says how words sound, is missing or damaged ({error}); install traycall again."
        ) from error
