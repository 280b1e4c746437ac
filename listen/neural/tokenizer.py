"""Text to the model's token ids and back.

It reads the `tokenizer.bin` beside the model, a list of length-prefixed byte strings whose position is the
token id, and gives ids exactly as the model was trained on (byte-pair merges in the order of their ids, a
space before the first word). It never downloads or learns anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

BEGIN, END = 1, 2
_SPACE = "\u2581"
_FIRST_BYTE = 3


class Tokenizer:
    """Byte-pair encoder over the model's own vocabulary (32,768 entries)."""

    def __init__(self, path: Path) -> None:
        entries = _read_entries(path.read_bytes())
        self._pieces = [entry.decode("utf-8", errors="replace") for entry in entries]
        self._id_of = {piece: number for number, piece in enumerate(self._pieces) if not _is_byte(number)}
        self._piece_ids = lru_cache(maxsize=65_536)(self._merge)

    def __len__(self) -> int:
        return len(self._pieces)

    def encode(self, text: str) -> tuple[int, ...]:
        """Ids of `text`, without begin and end marks. Merges never cross a space."""
        return tuple(number for word in text.split(" ") if word for number in self._piece_ids(_SPACE + word))

    def encode_after_word(self, text: str) -> tuple[int, ...]:
        """Ids of `text` that continues a finished word: ", please." or " and the"."""
        head, _, rest = text.partition(" ")
        return (*(self._piece_ids(head) if head else ()), *self.encode(rest))

    def decode(self, ids: Iterable[int]) -> str:
        """The text of some ids; begin and end marks are left out."""
        parts: list[bytes] = []
        for number in ids:
            if number in (0, BEGIN, END):
                continue
            if _is_byte(number):
                parts.append(bytes([number - _FIRST_BYTE]))
            else:
                parts.append(self._pieces[number].replace(_SPACE, " ").encode())
        return b"".join(parts).decode("utf-8", errors="replace").strip()

    def _merge(self, text: str) -> tuple[int, ...]:
        """Merge neighbours, lowest id first, until nothing merges; unknown letters become bytes."""
        pieces = list(text)
        while len(pieces) > 1:
            ranked = [
                (self._id_of.get(a + b, len(self)), place)
                for place, (a, b) in enumerate(zip(pieces, pieces[1:], strict=False))
            ]
            best, place = min(ranked)
            if best == len(self):
                break
            pieces[place : place + 2] = [pieces[place] + pieces[place + 1]]
        ids: list[int] = []
        for piece in pieces:
            known = self._id_of.get(piece)
            ids += [known] if known is not None else [byte + _FIRST_BYTE for byte in piece.encode()]
        return tuple(ids)


def _is_byte(number: int) -> bool:
    return _FIRST_BYTE <= number < _FIRST_BYTE + 256


def _read_entries(data: bytes) -> list[bytes]:
    """Split length-prefixed entries: from 128 up, length = first byte - 128 + 128 * second byte."""
    entries, place = [], 0
    while place < len(data):
        length = data[place]
        place += 1
        if length >= 128:
            length = length - 128 + data[place] * 128
            place += 1
        entries.append(data[place : place + length])
        place += length
    return entries
