"""How a word that no dictionary holds sounds, guessed from its letters by the small network of g2p-en.

Words of the letters a to z come in, ARPAbet phones without stress go out; many words at once, each greedily.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from vocab.language.data import data_file

MOST_PHONES = 24
"""The network stops after this many phones of one word."""
TOGETHER = 256
"""This many words go through the network at once."""

_MODEL_PHONES = (
    "AA0 AA1 AA2 AE0 AE1 AE2 AH0 AH1 AH2 AO0 AO1 AO2 AW0 AW1 AW2 AY0 AY1 AY2 B CH D DH EH0 EH1 EH2 ER0 ER1 "
    "ER2 EY0 EY1 EY2 F G HH IH0 IH1 IH2 IY0 IY1 IY2 JH K L M N NG OW0 OW1 OW2 OY0 OY1 OY2 P R S SH T TH "
    "UH0 UH1 UH2 UW UW0 UW1 UW2 V W Y Z ZH"
)
_PHONE_OF_INDEX = tuple(_MODEL_PHONES.split())
_START, _END, _FIRST_PHONE = 2, 3, 4
_END_OF_WORD, _FIRST_LETTER = 2, 3


class SpellingNetwork:
    """The encoder and decoder of g2p-en: gated recurrent units of 256, greedy.

    shapes: what each letter (phone) adds to the gates (n, 768), hidden weights (256, 768),
    output (256, n_phones). Words go through it many at a time, which is some ten times faster.
    """

    def __init__(self, weights: Mapping[str, NDArray[np.float32]]) -> None:
        def side(name: str) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
            from_x = weights[f"{name}_emb"] @ weights[f"{name}_w_ih"].T + weights[f"{name}_b_ih"]
            return from_x, np.ascontiguousarray(weights[f"{name}_w_hh"].T), weights[f"{name}_b_hh"]

        self._letters, self._phones = side("enc"), side("dec")
        self._out, self._out_bias = np.ascontiguousarray(weights["fc_w"].T), weights["fc_b"]

    def phones(self, words: Sequence[str]) -> list[tuple[str, ...]]:
        """Phones of words of the letters a to z, in their order."""
        order = sorted(range(len(words)), key=lambda i: -len(words[i]))
        found: list[tuple[str, ...]] = [()] * len(words)
        for at in range(0, len(order), TOGETHER):
            some = order[at : at + TOGETHER]
            for i, phones in zip(some, self._decode(self._encode([words[i] for i in some])), strict=True):
                found[i] = phones
        return found

    def _encode(self, words: Sequence[str]) -> NDArray[np.float32]:
        """The last hidden state (n, 256) of words that are sorted from long to short."""
        codes = [[*(ord(c) - ord("a") + _FIRST_LETTER for c in word), _END_OF_WORD] for word in words]
        hidden = np.zeros((len(words), self._letters[1].shape[0]), np.float32)
        for t in range(len(codes[0])):
            n = sum(len(code) > t for code in codes)
            hidden[:n] = _step(self._letters, [code[t] for code in codes[:n]], hidden[:n])
        return hidden

    def _decode(self, hidden: NDArray[np.float32]) -> list[tuple[str, ...]]:
        out: list[list[str]] = [[] for _ in hidden]
        open_words = list(range(len(hidden)))
        last = [_START] * len(hidden)
        # No phone at all may come out for long, so the steps are counted as well.
        for _ in range(2 * MOST_PHONES):
            hidden = _step(self._phones, last, hidden)
            best = np.argmax(hidden @ self._out + self._out_bias, axis=1)
            for word, index in zip(open_words, best, strict=True):
                if index >= _FIRST_PHONE:
                    out[word].append(_PHONE_OF_INDEX[index - _FIRST_PHONE].rstrip("012"))
            going = [
                k for k, word in enumerate(open_words) if best[k] != _END and len(out[word]) < MOST_PHONES
            ]
            if not going:
                break
            hidden, last = hidden[going], [int(best[k]) for k in going]
            open_words = [open_words[k] for k in going]
        return [tuple(phones) for phones in out]


def _step(
    side: tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]],
    index: Sequence[int],
    hidden: NDArray[np.float32],
) -> NDArray[np.float32]:
    """One step of the units: hidden (n, 256) before and after the inputs `index` (n)."""
    from_x, weights, bias = side
    n = hidden.shape[1]
    x, h = from_x[list(index)], hidden @ weights + bias
    gates = 1.0 / (1.0 + np.exp(-(x[:, : 2 * n] + h[:, : 2 * n])))
    reset, update = gates[:, :n], gates[:, n:]
    new = np.tanh(x[:, 2 * n :] + reset * h[:, 2 * n :])
    return np.asarray((1.0 - update) * new + update * hidden, dtype=np.float32)


@cache
def spelling_network() -> SpellingNetwork:
    """The network with its shipped weights, read once.

    Raises:
        MissingPronunciations: the weights are missing or damaged.
    """
    with data_file("g2p.npz") as path, path.open("rb") as file, np.load(file) as weights:
        return SpellingNetwork(weights)
