"""An app for tests: the shipped pack, a clock set by hand, and an engine that is told what it hears."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import soundfile
from starlette.testclient import TestClient

from listen.chair import Chair, ChairOptions, open_chair
from listen.engine import Hearing, Phrasing, Samples
from listen.web import ServerSettings, create_app

HERE = "http://127.0.0.1:8465"
OWN = {"origin": HERE}
RECORDINGS = Path(__file__).parents[3] / "recordings_demo" / "audio"

_CHAIR: list[Chair] = []
_SURGERY: list[Chair] = []


def shared_chair() -> Chair:
    """The shipped pack for composite, class II; loaded once."""
    if not _CHAIR:
        _CHAIR.append(open_chair(ChairOptions(procedure="composite_class_two")))
    return _CHAIR[0]


def surgery_chair() -> Chair:
    """The shipped pack for oral surgery; loaded once."""
    if not _SURGERY:
        _SURGERY.append(open_chair(ChairOptions("oral_surgery")))
    return _SURGERY[0]


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self, now_s: float = 1_800_000_000.0) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


def hearing_of(text: str, evidence: float = 0.0) -> Hearing:
    """What an engine makes of a clearly spoken text; `evidence` (nats) below 0 makes it unlikely."""
    return Hearing((Phrasing(text.lower(), -4.0 + evidence),), text, -4.0, -4.0 + evidence, 1.6)


class StandIn:
    """Hears what it is told to hear, one text an utterance, and nothing once it has run out."""

    name = "stand-in"

    def __init__(self) -> None:
        self.texts: deque[str] = deque()
        self.heard_s: list[float] = []

    @property
    def heard(self) -> int:
        """How many utterances it was given."""
        return len(self.heard_s)

    def hear(self, samples: Samples) -> Hearing:
        self.heard_s.append(len(samples) / 16_000)
        if self.texts:
            return hearing_of(self.texts.popleft())
        return Hearing((), "", 0.0, -40.0, len(samples) / 16_000)


def client_for(
    data: Path, engine: StandIn | None = None, further: Sequence[Chair] = (), **settings: object
) -> TestClient:
    """A client of a new app over `data`; use it as a context."""
    engine = engine or StandIn()
    settings.setdefault("clock", Clock())
    app = create_app(shared_chair, ServerSettings(data=data, **settings), lambda: engine, further=further)  # type: ignore[arg-type]
    return TestClient(app, base_url=HERE, follow_redirects=False)


def begin(client: TestClient, procedure: str = "composite_class_two") -> int:
    """Start a session; its number."""
    answer = client.post("/start", data={"procedure": procedure}, headers=OWN)
    assert answer.status_code == 303
    return int(answer.headers["location"].rsplit("/", 1)[1])


def live_of(session: int) -> str:
    """Address of a session's live connection."""
    return f"{HERE.replace('http', 'ws')}/chair/{session}/live"


def recording(number: int) -> Samples:
    """A recording of the demo with a second of silence before and after, shape = (n,), 16 kHz."""
    samples, rate_hz = soundfile.read(RECORDINGS / f"{number:03d}.flac", dtype="float32")
    assert rate_hz == 16_000
    silence = np.zeros(16_000, np.float32)
    return np.concatenate([silence, samples, silence])


def pcm(samples: Samples) -> list[bytes]:
    """As a page sends it: 16-bit blocks of 32 ms."""
    whole = (np.clip(samples, -1, 1) * 32767).astype("<i2")
    return [whole[i : i + 512].tobytes() for i in range(0, len(whole), 512)]
