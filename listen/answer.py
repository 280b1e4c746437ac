"""The tool's answer to one request: the object that is printed, sent and shown.

It only holds its fields and never decides anything. As JSON it is one object per line, with the same keys for
speech and for text.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from listen.verdict import Verdict


@dataclass(frozen=True)
class Likely:
    """An item and its probability; `size` is its variant, None where it has none or none was said."""

    item: str
    p: float
    size: str | None = None


@dataclass(frozen=True)
class Answer:
    """One request and what is done about it; an utterance that asks for nothing gives one quiet answer, which
    is what the defaults say.

    source: file, "microphone" or "text"; start_s, end_s: when it was spoken (None for text); heard:
    the best phrasing, "" where nothing was asked for; kind: "item", "action", "correction",
    "refusal", "repeat", "modifier" or "nothing"; item: id or None; name: its preferred name; slot:
    its address on the tray; action, end, quantity: as said; size: as said, or the item's only variant
    on the tray; replaces: the item that a correction takes back; refused: items that the speaker said
    are not wanted; warning: what must be known before it is passed, or None; p: probability of the
    item, or of the request where it names none; alternatives: other items; next: what is likely to
    be asked for next; engine: what heard it; latency_ms: from the end of the sound (or the text) to here.
    """

    source: str = ""
    start_s: float | None = None
    end_s: float | None = None
    heard: str = ""
    kind: str = "nothing"
    verdict: Verdict = Verdict.QUIET
    item: str | None = None
    name: str | None = None
    slot: str | None = None
    action: str | None = None
    end: str | None = None
    size: str | None = None
    quantity: int | None = None
    replaces: str | None = None
    refused: tuple[str, ...] = ()
    warning: str | None = None
    p: float = 0.0
    alternatives: tuple[Likely, ...] = ()
    next: tuple[Likely, ...] = ()
    engine: str = ""
    latency_ms: float = 0.0

    def to_json(self) -> str:
        """One line; probabilities to four places, times to the millisecond."""
        return json.dumps(_rounded(asdict(self)), ensure_ascii=False)


_PLACES = {"p": 4, "start_s": 3, "end_s": 3, "latency_ms": 1}


def _rounded(value: object, key: str = "") -> object:
    if isinstance(value, dict):
        return {k: _rounded(v, k) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return round(value, _PLACES[key]) if isinstance(value, float) and key in _PLACES else value
