"""What every engine takes and gives: an utterance in, scored phrasings out.

An engine hears one utterance and returns the phrasings of the closed vocabulary it considers, each
with a log-score, beside the score of "anything else". It never decides what to do with them.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from vocab.errors import TraycallError

_LOG = logging.getLogger(__name__)
SAMPLE_RATE_HZ = 16_000
"""Every engine hears mono float32 samples in -1..1 at this rate."""

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Phrasing:
    """One complete way of asking, lower case without punctuation, and its log-score (nats)."""

    text: str
    log_p: float


@dataclass(frozen=True)
class Hearing:
    """What an engine made of one utterance.

    `phrasings` are best first and comparable with each other. `log_p_best - log_p_free` is the
    evidence that the vocabulary was spoken at all: the best phrasing's plain log-probability against
    that of `free_text`, what the engine wrote when nothing bound it. `duration_s` is how long it heard.
    `spliced` are sentences of free words with a name of the vocabulary in them, best first and comparable
    with each other, and `evidence_spliced` is the log-probability of the best less that of `free_text`.
    """

    phrasings: tuple[Phrasing, ...]
    free_text: str
    log_p_free: float
    log_p_best: float
    duration_s: float
    spliced: tuple[Phrasing, ...] = ()
    evidence_spliced: float = 0.0


class EngineFailed(TraycallError):
    """The engine, or its loading, failed in a way that nobody foresaw."""


@contextmanager
def failures_told() -> Iterator[None]:
    """Whatever fails within becomes a `TraycallError` that people can read; the log has the rest.

    Raises:
        EngineFailed: for every failure that is no `TraycallError` already.
    """
    try:
        yield
    except TraycallError:
        raise
    except Exception as error:
        _LOG.warning("the engine failed", exc_info=error)
        raise EngineFailed(
            f"hearing failed ({type(error).__name__}: {error or 'no reason given'}). Say it again, "
            "type or touch; if it happens again, restart traycall and run `traycall machine`."
        ) from error


class Engine(Protocol):
    """A recogniser bound to one vocabulary."""

    @property
    def name(self) -> str:
        """Which engine and model spoke, for the answer to say."""
        ...

    def hear(self, samples: Samples) -> Hearing:
        """Score one utterance, shape = (n,), float32, 16 kHz mono."""
        ...
