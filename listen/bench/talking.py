"""Hours of talk in which nobody asks for anything: what is answered or asked about all the same.

Sentences come in, each once and by one voice; they pass through voice activity, endpoint, engine and judge as
on the chair screen, with pauses between them as people make them. What was done with each goes out. The
sentences (`ways/talk.txt`) were written for this; nothing is taught or tuned on them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import numpy as np

from listen.bench import clips as clips_of
from listen.bench.clips import LEAD_S, Clip, NoVoices
from listen.bench.long_shift import BLOCK, ROOM_RMS, TALK_PAUSE_S, SimulatedChair, TimedVerdict, at_level
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.shares import hourly, wilson
from listen.speech import noise, voices
from listen.speech.voices import Side
from listen.verdict import Verdict
from vocab.pack.schema import Pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import names_within

Did = Literal["quiet", "asked", "answered"]
PIECE = 60
"""So many sentences are one stretch of sound."""


@cache
def sentences() -> tuple[str, ...]:
    """All of them, in written order."""
    return tuple(files("listen.bench").joinpath("ways", "talk.txt").read_text("utf-8").splitlines())


def clips(side: Side, most: int = 0) -> tuple[Clip, ...]:
    """Each sentence once, by one voice of a side, in random order.

    Args:
        most: how many; all when 0.

    Raises:
        NoVoices: no recorded voice of this side can speak here.
    """
    speaking = voices.available(side)
    if not speaking:
        raise NoVoices(f"no recorded voice of the {side} side is installed; see DEVELOPERS.md")
    order = noise.generator_for("talk", side).permutation(len(sentences()))[: most or None]
    return tuple(
        Clip(sentences()[int(line)], None, speaking[at % len(speaking)].id, 1.0, 0.0, 1.0, None, None,
             room=False, muffle="open")
        for at, line in enumerate(order)
    )  # fmt: skip


@dataclass(frozen=True)
class TalkLine:
    """What was done with one sentence. names: whether it names an item; seconds: of sound, with the pause
    behind it; item: what was answered, or offered first."""

    text: str
    voice: str
    names: bool
    seconds: float
    did: Did
    item: str | None = None

    @property
    def facts(self) -> dict[str, Any]:
        """As plain values."""
        return dict(vars(self))


def listen(
    some: Sequence[Clip], keep: Path, chair: SimulatedChair, pack: Pack, seed: int
) -> Iterator[TalkLine]:
    """Hear some sentences one after the other, with room tone between them."""
    rng, lexicon = noise.generator_for("talk", "piece", seed), Lexicon(pack)
    words = [at_level(clips_of.without_silence(clips_of.speech(clip, keep))) for clip in some]
    pauses = [round(float(rng.uniform(*TALK_PAUSE_S)) * SAMPLE_RATE_HZ) for _ in some]
    parts: list[Samples] = [np.zeros(SAMPLE_RATE_HZ, np.float32)]
    for one, pause in zip(words, pauses, strict=True):
        parts += [one, np.zeros(pause, np.float32)]
    parts.append(np.zeros(SAMPLE_RATE_HZ, np.float32))
    sound = np.concatenate(parts)
    sound += (ROOM_RMS * rng.standard_normal(len(sound))).astype(np.float32)
    heard = [one for start in range(0, len(sound), BLOCK) for one in chair.push(sound[start : start + BLOCK])]
    at_s = 1.0
    for clip, one, pause in zip(some, words, pauses, strict=True):
        until_s = at_s + (len(one) + pause) / SAMPLE_RATE_HZ
        mine = [v for v in heard if at_s - LEAD_S <= v.start_s < until_s - LEAD_S]
        did, item = _done(mine)
        names = bool(names_within(clip.text, lexicon, pack.speech)[1])
        yield TalkLine(clip.text, clip.voice, names, until_s - at_s, did, item)
        at_s = until_s


def _done(verdicts: Sequence[TimedVerdict]) -> tuple[Did, str | None]:
    for one in verdicts:
        if one.outcome.named:
            return "answered", one.outcome.named[0]
    for one in verdicts:
        if one.outcome.verdict is not Verdict.QUIET:
            return "asked", next(iter(one.outcome.offered), None)
    return "quiet", None


def counts(lines: Sequence[TalkLine]) -> dict[str, dict[str, float]]:
    """What is kept for the model card: of all sentences, and of those that name an item."""
    named = [one for one in lines if one.names]
    return {
        title: {
            "sentences": len(some),
            "hours": round(sum(line.seconds for line in some) / 3600, 3),
            **{did: sum(one.did == did for one in some) for did in ("answered", "asked")},
        }
        for title, some in (("all", lines), ("named", named))
    }


def table(lines: Sequence[TalkLine]) -> str:
    """The figures as lines of text, and every sentence that was not met with silence."""
    hours = sum(line.seconds for line in lines) / 3600
    out = [f"{len(lines)} sentences, {hours:.2f} hours, each once"]
    for title, some in (("all", lines), ("with an item's name", [one for one in lines if one.names])):
        for did in ("answered", "asked"):
            k = sum(one.did == did for one in some)
            share, per_hour = wilson(k, len(some)), hourly(k, hours)
            out.append(
                f"{title}: {did} {k} of {len(some)} ({100 * share.low:.2f}-{100 * share.high:.2f} %), "
                f"{per_hour.value:.1f} an hour ({per_hour.low:.1f}-{per_hour.high:.1f})"
            )
    out += [f"  {one.did}, {one.item}: {one.text}" for one in lines if one.did != "quiet"]
    return "\n".join(out)
