"""Checks a Vosk model folder before the library's C code touches it.

Given a folder, it returns the list of words the model knows, or raises an error that says what is wrong
with the folder. Nothing here imports vosk. The checks exist because the C code ends the process on some
broken folders instead of reporting them (an empty `conf/model.conf`, for one).
"""

from __future__ import annotations

import mmap
import struct
from pathlib import Path

from vocab.errors import TraycallError

NEEDED_TEXT = {
    "am/final.mdl": b"",
    "conf/mfcc.conf": b"",
    "conf/model.conf": b"silence-phones=",
    "graph/disambig_tid.int": b"",
}
"""Files every model with a changeable grammar has, and what they must contain."""

IVECTOR_TEXT = {
    "ivector/splice.conf": b"right-context=",
    "ivector/final.mat": b"",
    "ivector/global_cmvn.stats": b"",
    "ivector/online_cmvn.conf": b"",
    "ivector/final.dubm": b"",
}
"""What a model must also have once it has `ivector/final.ie`."""

FST_MAGIC = 2125659606
SYMBOLS_MAGIC = 2125658996
HAS_INPUT_SYMBOLS, HAS_OUTPUT_SYMBOLS = 1, 2


class NoVoskModel(TraycallError):
    """The folder is missing, or is not a Vosk model whose grammar can be changed."""


def check_folder(folder: Path) -> None:
    """Raise NoVoskModel, saying what to do, unless `folder` looks like a usable model."""
    if not folder.is_dir():
        raise NoVoskModel(
            f"there is no Vosk model folder at {folder}; unpack a model there or name another with --model"
        )
    if (folder / "graph/HCLG.fst").is_file() or (folder / "HCLG.fst").is_file():
        raise NoVoskModel(
            f"the Vosk model in {folder} has a fixed graph (HCLG.fst) and takes no vocabulary; "
            "choose a small model or one marked lgraph (they have HCLr.fst and Gr.fst)"
        )
    needed = dict(NEEDED_TEXT)
    if (folder / "ivector/final.ie").exists():
        needed |= IVECTOR_TEXT
    files = (*needed, "graph/HCLr.fst", "graph/Gr.fst")
    missing = [name for name in files if not (folder / name).is_file()]
    if missing:
        inside = next((d.name for d in sorted(folder.iterdir()) if (d / "am/final.mdl").is_file()), None)
        hint = f"; the model seems to be one folder deeper, in {folder / inside}" if inside else ""
        raise NoVoskModel(
            f"{folder} is not a Vosk model: it lacks {', '.join(missing)} (a model has "
            f"{', '.join(files)}){hint}"
        )
    broken = [name for name, text in needed.items() if not _holds(folder / name, text)]
    broken += [name for name in ("graph/HCLr.fst", "graph/Gr.fst") if not _is_fst(folder / name)]
    if broken:
        raise NoVoskModel(f"the Vosk model in {folder} is damaged: {', '.join(broken)}; unpack it again")


def word_list(folder: Path) -> tuple[str, ...]:
    """Every word of a checked model, in the model's order, without its markers (<eps>, #0, [unk]).

    The list is in `graph/words.txt`, or (all small models) inside `graph/Gr.fst`. The library
    itself loads no model that has neither, so neither does this.
    """
    try:
        words = _symbols(folder / "graph/Gr.fst")
        if not words:
            text = (folder / "graph/words.txt").read_text(encoding="utf-8")
            words = [line.split()[0] for line in text.splitlines() if line.strip()]
    except (OSError, struct.error, UnicodeDecodeError, ValueError) as error:
        raise NoVoskModel(
            f"the words of the Vosk model in {folder} cannot be read ({error}); unpack it again"
        ) from error
    return tuple(w for w in words if w[0] not in "<#![")


def _holds(path: Path, text: bytes) -> bool:
    with path.open("rb") as file:
        data = file.read(-1 if text else 1)
    return bool(data) and text in data


def _is_fst(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(4) == struct.pack("<i", FST_MAGIC)


def _symbols(path: Path) -> list[str]:
    """The last symbol table in the header of an OpenFst file; [] if it holds none.

    Header (OpenFst, little-endian): magic, type, arc type (texts: length then bytes), version,
    flags, then properties, start, states, arcs as 64-bit; then the tables the flags announce:
    magic, name, next free key, size, and `size` times text and key.
    """
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        at = 4
        for _ in range(2):
            at += 4 + _int(data, at)
        flags = _int(data, at + 4)
        at += 8 + 4 * 8
        words: list[str] = []
        for flag in (HAS_INPUT_SYMBOLS, HAS_OUTPUT_SYMBOLS):
            if flags & flag:
                words, at = _table(data, at)
        return words


def _table(data: mmap.mmap, at: int) -> tuple[list[str], int]:
    if _int(data, at) != SYMBOLS_MAGIC:
        raise ValueError("no symbol table where Gr.fst announces one")
    at += 8 + _int(data, at + 4)
    (size,) = struct.unpack_from("<q", data, at + 8)
    at += 16
    words = []
    for _ in range(size):
        length = _int(data, at)
        words.append(data[at + 4 : at + 4 + length].decode("utf-8"))
        at += 4 + length + 8
    return words, at


def _int(data: mmap.mmap, at: int) -> int:
    (number,) = struct.unpack_from("<i", data, at)
    return int(number)
