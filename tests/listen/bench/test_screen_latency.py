"""The chair screen's stopwatch: a real server, a stand-in engine, a recording as the clip."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.listen.web.browser import served
from tests.listen.web.desk_app import StandIn, recording

screen = pytest.importorskip(
    "listen.bench.screen_latency", reason="needs pip install -e '.[bench]'", exc_type=ImportError
)


def clip(text: str, item: str | None) -> object:
    from listen.bench.clips import Clip

    return Clip(text, item, "flite-rms", 1.0, 0.0, 1.0, None, None, False, "open")


def test_a_request_is_timed_from_its_last_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The server ends an utterance after a known silence, so that nothing can be shown sooner than that."""
    monkeypatch.setattr(screen.clips_of, "speech", lambda clip, folder: recording(5))
    monkeypatch.setattr(screen.clips_of, "babblers", lambda voice, folder: None)
    engine = StandIn()
    engine.texts.extend(["rinse please"] * 20)  # an action, which no guess shows sooner
    with served(tmp_path, engine, endpoint_s=0.8) as server:
        todo = [clip("Rinse please.", None), clip("Rinse please.", None)]
        found = list(screen.measured(server.url, "composite_class_two", todo, tmp_path))
    for one in found:
        assert one.shown is not None and one.ended is not None and not one.asked
        assert 800 - 250 < one.ended <= one.shown  # the voice model may hear the end a little sooner
        assert one.early == 0 and one.wanted is None


def test_the_table_tells_median_and_p95_apart_by_stage_and_counts_the_rest() -> None:
    """Against numpy's own percentiles."""
    rng = np.random.default_rng(1)
    ends, waits = rng.uniform(300, 500, 40), rng.uniform(0, 200, 40)
    found = [
        screen.Moments(str(i), "x", "mirror", 1.0, end, end + wait, "mirror" if i else "probe", False, 0)
        for i, (end, wait) in enumerate(zip(ends, waits, strict=True))
    ]
    found.append(screen.Moments("early", "x", "mirror", 1.0, 400.0, 500.0, "mirror", False, 1))
    found.append(screen.Moments("none", "x", "mirror", 1.0, 400.0, None, None, False, 0))
    found.append(screen.Moments("talk", "y", None, 1.0, 400.0, None, None, False, 0))
    text = screen.table(found, "idle")
    for values in (ends, ends + waits):
        assert f"{np.median(values):6.0f} ms{np.percentile(values, 95):6.0f} ms    40" in text
    assert "42 requests: 40 shown, 39 of them right; 1 answered before their last word." in text
    assert "1 pieces of chatter: 0 answered." in text
    assert screen.counts(found) == {
        "requests": 42, "shown": 40, "right": 39,
        "median_ms": round(np.median(ends + waits)), "p95_ms": round(np.percentile(ends + waits, 95)),
        "ended_median_ms": round(np.median(ends)), "ended_p95_ms": round(np.percentile(ends, 95)),
    }  # fmt: skip


@pytest.mark.slow
def test_a_server_that_does_not_start_says_why(tmp_path: Path) -> None:
    with (
        pytest.raises(screen.NoScreen, match="no folder"),
        screen.served(["--vocabulary", "nowhere"], tmp_path),
    ):
        pass
