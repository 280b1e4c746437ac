"""Tries a new name that was spoken: what the engine heard, whether it is understood, and what would help.

From one utterance and its hearing it tells what the utterance is taken for now, and what it would be taken
for with the new name written in different ways; each way is tried by hearing the same sound again. Nothing is
kept.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict, dataclass
from typing import Any

from listen.chair import Chair
from listen.engine import Engine, Hearing, Samples
from listen.readings import Reader
from listen.speech.try_name import with_name
from vocab.pack.schema import Name, Pack
from vocab.requests.lexicon import Lexicon

SURE_P = 0.5
MOST_WORDS = 6


@dataclass(frozen=True)
class Taken:
    """What an utterance would be taken for; `item` is an id, None for no request."""

    item: str | None
    name: str
    p: float


@dataclass(frozen=True)
class Try:
    """A name with a way of saying it ("" for as written), and what the sound would then be taken for."""

    say: str
    taken: Taken
    good: bool


@dataclass(frozen=True)
class SpokenName:
    """The result for one utterance."""

    heard: str
    now: Taken
    tries: tuple[Try, ...]

    def view(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def spoken(
    chair: Chair, engine: Engine | None, hearing: Hearing, samples: Samples, item: str, name: str
) -> SpokenName:
    """Try a name of an item on an utterance, shape = (n,); without a name only known names are tried."""
    now = taken_for(chair.pack, chair.lexicon, chair, hearing)
    heard = " ".join(hearing.free_text.split())
    if not name or item not in chair.pack.by_id:
        return SpokenName(heard, now, ())
    tries: list[Try] = []
    for say in _ways(heard, name):
        pack = with_name(chair.pack, item, Name(text=name, say=(say,) if say else ()))
        again = _heard_with(engine, pack, samples)
        if again is None:
            break
        taken = taken_for(pack, Lexicon(pack, chair.pronouncer), chair, again)
        tries.append(Try(say, taken, taken.item == item and taken.p >= SURE_P))
        if tries[-1].good:
            break
    return SpokenName(heard, now, tuple(tries))


def taken_for(pack: Pack, lexicon: Lexicon, chair: Chair, hearing: Hearing) -> Taken:
    """The likeliest item of a hearing."""
    mass: defaultdict[str, float] = defaultdict(float)
    for way in Reader(pack, lexicon, chair.calibration).of_hearing(hearing, {}).ways:
        for candidate in way.requests[0].candidates:
            mass[candidate.item] += way.p * candidate.p
    if not mass:
        return Taken(None, "", 0.0)
    item = max(mass, key=lambda one: mass[one])
    return Taken(item, pack.item(item).name.text, round(mass[item], 3))


def _heard_with(engine: Engine | None, pack: Pack, samples: Samples) -> Hearing | None:
    from listen.neural.engine import NeuralEngine

    return engine.renewed(pack, keep=False).hear(samples) if isinstance(engine, NeuralEngine) else None


def _ways(heard: str, name: str) -> tuple[str, ...]:
    """As it is written; as the engine wrote it down; as the engine wrote it, in one word."""
    words = "".join(c if c.isalnum() or c in "' " else " " for c in heard.lower()).split()
    if not words or len(words) > MOST_WORDS or words == name.lower().split():
        return ("",)
    joined = "".join(words)
    return ("", " ".join(words)) if len(words) == 1 else ("", " ".join(words), joined)
