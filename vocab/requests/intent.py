"""What a sentence asks for a name in it: to be handed over, refused, given back, or nothing at all.

Takes sentences in which one name is marked and gives probabilities of `LABELS`. The classifier is a small
sentence encoder, trained on natural sentences (`listen.adapt`), the same for typed and spoken words. It
does not see which name was marked, so a clinic's new names are judged like any other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from onnxruntime import InferenceSession
    from tokenizers import Tokenizer

LABELS = ("ask", "refuse", "back", "fell", "out", "mention")
TARGET, OTHER = "[unused0]", "[unused1]"
"""Stand in for the marked name and for other names."""
LANGUAGES = frozenset({"en"})
"""Languages it can judge."""
LONGEST = 64
"""Word pieces of a sentence; what is further from the marked name is left out."""


class Pieces:
    """Turns sentences into word pieces.

    Args:
        path: the pieces, one per line, in the order of their numbers.
    """

    def __init__(self, path: Path) -> None:
        from tokenizers import AddedToken, Tokenizer
        from tokenizers.models import WordPiece
        from tokenizers.normalizers import BertNormalizer
        from tokenizers.pre_tokenizers import BertPreTokenizer

        listed = path.read_text(encoding="utf-8").splitlines()
        numbers = {piece: number for number, piece in enumerate(listed)}
        self._tokenizer: Tokenizer = Tokenizer(WordPiece(numbers, unk_token="[UNK]"))
        self._tokenizer.normalizer = BertNormalizer(lowercase=True)
        self._tokenizer.pre_tokenizer = BertPreTokenizer()
        self._tokenizer.add_special_tokens([AddedToken(mark, normalized=False) for mark in (TARGET, OTHER)])
        self._target = numbers[TARGET]
        self._begin, self._end = numbers["[CLS]"], numbers["[SEP]"]

    def batch(self, texts: Sequence[str]) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
        """Numbers of the pieces (0 after the end), and 1 where the marked name is; shape = (n, longest)."""
        rows = [self._row(text) for text in texts]
        tokens = np.zeros((len(rows), max(map(len, rows))), np.int64)
        for row, numbers in zip(tokens, rows, strict=True):
            row[: len(numbers)] = numbers
        return tokens, (tokens == self._target).astype(np.float32)

    def _row(self, text: str) -> list[int]:
        numbers = self._tokenizer.encode(text, add_special_tokens=False).ids
        if len(numbers) > LONGEST - 2:
            at = numbers.index(self._target) if self._target in numbers else 0
            begin = max(0, min(at - LONGEST // 2, len(numbers) - LONGEST + 2))
            numbers = numbers[begin : begin + LONGEST - 2]
        return [self._begin, *numbers, self._end]


class Intent:
    """The classifier.

    Args:
        folder: `model.onnx`, `pieces.txt` and `intent.json`, which has the scale and the shifts that make its
            scores probabilities.
    """

    def __init__(self, folder: Path) -> None:
        os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")
        from onnxruntime import InferenceSession, SessionOptions

        options = SessionOptions()
        options.intra_op_num_threads = 1
        self._session: InferenceSession = InferenceSession(
            str(folder / "model.onnx"), options, providers=["CPUExecutionProvider"]
        )
        self._pieces = Pieces(folder / "pieces.txt")
        fitted = json.loads((folder / "intent.json").read_text(encoding="utf-8"))
        self._scale, self._shift = float(fitted["scale"]), np.array(fitted["shift"])

    def scores(self, texts: Sequence[str]) -> NDArray[np.float64]:
        """The network's raw scores, before calibration; shape = (n, labels)."""
        tokens, target = self._pieces.batch(texts)
        made = self._session.run(None, {"tokens": tokens, "target": target})[0]
        return np.asarray(made, np.float64)

    def p(self, texts: Sequence[str]) -> NDArray[np.float64]:
        """The probability of each of `LABELS` for the marked name of each sentence, shape = (n, labels)."""
        if not texts:
            return np.zeros((0, len(LABELS)))
        scores = self.scores(texts) * self._scale + self._shift
        powers = np.exp(scores - scores.max(axis=1, keepdims=True))
        return np.asarray(powers / powers.sum(axis=1, keepdims=True))


@cache
def shipped() -> Intent:
    """The classifier that comes with the program, loaded once."""
    return Intent(Path(str(files("vocab").joinpath("intent_model"))))
