"""What is said where conditions or systems are compared: the same words by the same voices each time.

A pack comes in; quiet clips of the test side go out, in groups of requests in the tool's own phrasings,
natural ways of asking, natural mentions, and chatter. A longer list begins with the shorter one, group by
group. Three recorded speakers speak in turn, whichever others are installed. Nothing here makes sound.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from listen.bench import clips as clips_of
from listen.bench import natural
from listen.bench.clips import QUIET, Clip, ClipPlan, NoVoices
from listen.speech import voices
from vocab.pack.schema import Pack

Group = Literal["own", "natural", "mention", "chatter"]
SPEAKERS = ("rms", "ked", "joe")
"""Held out from teaching and tuning: three American men by three methods (`listen.speech.voices`)."""


@dataclass(frozen=True)
class SaidClip:
    """One sentence by one voice in quiet, and what it is: `group`."""

    group: Group
    clip: Clip


def said(pack: Pack, requests: int, ways: int, mentions: int, chatter: int) -> tuple[SaidClip, ...]:
    """So many of each group (fewer where there are no more), well mixed.

    Natural ways are those that ask for one item; those that ask for two have no single right answer.

    Raises:
        NoVoices: one of `SPEAKERS` cannot speak here.
    """
    first, *_ = SPEAKERS
    speaking = [_voice(speaker) for speaker in SPEAKERS]
    spoken = clips_of.clips(pack, ClipPlan("test", requests, chatter, (QUIET,), speaker=first))
    freely = natural.clips(pack, "test", (QUIET,), speaker=first)
    asks = [one.clip for one in freely if one.said.asks and len(one.said.wanted) == 1]
    mere = [one.clip for one in freely if one.said.way.label == "mention"]
    groups: dict[Group, list[Clip]] = {
        "own": [clip for clip in spoken if clip.item is not None],
        "natural": asks[:ways],
        "mention": mere[:mentions],
        "chatter": [clip for clip in spoken if clip.item is None],
    }
    placed = [
        ((place + 0.5) / len(some), SaidClip(group, replace(clip, voice=speaking[place % len(speaking)])))
        for group, some in groups.items()
        for place, clip in enumerate(some)
    ]
    return tuple(one for _, one in sorted(placed, key=lambda pair: pair[0]))


def _voice(speaker: str) -> str:
    for voice in voices.available("test"):
        if voice.speaker == speaker:
            return voice.id
    raise NoVoices(f"no voice of the speaker {speaker} is installed; python -m listen.bench --help says how")
