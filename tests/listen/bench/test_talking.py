"""Talk at length: each sentence once, and what was done with each is told from what its neighbours got."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from listen.bench import corpus, natural
from listen.bench.clips import Clip
from listen.bench.systems import SystemOutcome
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.verdict import Verdict
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import names_within

talking = pytest.importorskip(
    "listen.bench.talking", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)
TimedVerdict = pytest.importorskip("listen.bench.long_shift", exc_type=ImportError).TimedVerdict

SAYS = ("Talk of this.", "Talk of that.", "Talk of those.", "Talk of us.")


class _Chair:
    """Takes whatever is loud for an utterance; what was done with each is given."""

    def __init__(self, done: Sequence[SystemOutcome]) -> None:
        self._done, self._now_s, self._start_s = iter(done), 0.0, -1.0

    def push(self, block: Samples) -> list[object]:
        before_s, self._now_s = self._now_s, self._now_s + len(block) / SAMPLE_RATE_HZ
        loud = float(np.sqrt(np.mean(block**2))) > 0.01
        if loud and self._start_s < 0:
            self._start_s = before_s
        if loud or self._start_s < 0:
            return []
        start_s, self._start_s = self._start_s, -1.0
        return [TimedVerdict(start_s, self._now_s, next(self._done))]


def _outcome(verdict: Verdict, named: tuple[str, ...] = (), offered: tuple[str, ...] = ()) -> SystemOutcome:
    return SystemOutcome(None, 0.0, 1.0, verdict, named, offered, (), "", 1.0)


@pytest.mark.slow
def test_no_sentence_comes_twice_and_many_name_an_item() -> None:
    texts = talking.sentences()
    assert len(set(texts)) == len(texts) >= 2_000
    pack = shipped_pack()
    lexicon = Lexicon(pack)
    named = sum(bool(names_within(text, lexicon, pack.speech)[1]) for text in texts)
    assert named >= len(texts) / 3


def test_nothing_of_it_is_taught_or_tuned_on() -> None:
    taught = {way.sentence for part in ("teach", "tune", "test") for way in natural.ways(part)}
    assert not {*corpus.chatter(), *taught} & set(talking.sentences())


def test_what_was_done_is_told_of_its_own_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    words = (0.1 * rng.standard_normal(SAMPLE_RATE_HZ)).astype(np.float32)
    monkeypatch.setattr(talking.clips_of, "speech", lambda clip, folder: words)
    monkeypatch.setattr(talking.clips_of, "without_silence", lambda samples: samples)
    chair = _Chair(
        [
            _outcome(Verdict.QUIET),
            _outcome(Verdict.ANSWER, named=("mouth_mirror",)),
            _outcome(Verdict.CHECK, offered=("wedge", "clamp")),
            _outcome(Verdict.QUIET),
        ]
    )
    some = [Clip(text, None, "v", 1.0, 0.0, 1.0, None, None, room=False, muffle="open") for text in SAYS]
    lines = list(talking.listen(some, tmp_path, chair, shipped_pack(), seed=1))
    assert [(line.text, line.did, line.item) for line in lines] == [
        ("Talk of this.", "quiet", None),
        ("Talk of that.", "answered", "mouth_mirror"),
        ("Talk of those.", "asked", "wedge"),
        ("Talk of us.", "quiet", None),
    ]
    told = talking.table(lines)
    assert "answered 1 of 4" in told and "answered, mouth_mirror: Talk of that." in told
    assert all(1.6 <= line.seconds <= 4.1 for line in lines)
    kept = talking.counts(lines)
    assert (kept["all"]["sentences"], kept["all"]["answered"], kept["all"]["asked"]) == (4, 1, 1)
    assert kept["named"]["sentences"] == 0 and kept["all"]["hours"] > 0
