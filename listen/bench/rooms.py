"""Microphones, rooms, masks, a second talker and a song: what each costs, on the same requests.

`conditions` says what is tried, `clips` puts every sentence of `listen.bench.said` into each of them, `sound`
makes the samples, and `counts` says what came of it. A voice is of normal effort and the noise in the room
has a level of its own, so that a microphone farther away gets less voice in as much noise. Speech is cut
where it was put: how well the cutter of utterances does from afar is not measured.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, astuple, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from listen.audio import file_blocks
from listen.bench import clips as clips_of
from listen.bench import singing
from listen.bench import treatment_room as treatment
from listen.bench.clips import Clip, Muffle, babblers, without_silence
from listen.bench.corpus import chatter
from listen.bench.human import KITCHEN, KITCHEN_FILE
from listen.bench.report import OF_REQUEST, Result
from listen.bench.said import SPEAKERS, Group, SaidClip
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.shares import wilson
from listen.speech import noise, voices
from vocab.errors import TraycallError

Kind = Literal["room", "noise", "talker", "song"]
CHAIR, IDLE = "chair", "idle"
RUNNING = ("high speed", "slow speed", "suction", "ultrasonic", "chair")
"""What runs beside the chair; one of them a sentence."""
MASK_DB = (20.0, 10.0)
TALKER_DB = (12.0, 6.0, 0.0)
SONG_DB = (10.0, 5.0)
LYRICS, SUNG_LINES = 6, 2
"""Lines that may be sung, and how many are in a song."""
LATEST_S = 0.5
"""The second talker begins within so much of the first."""
OTHERS = 20, 6
"""A second talker says one of so many of the requests in the tool's own phrasings, or of the chatter."""
RECIPE = "1"
"""Part of every clip's id; raise it when `sound` or a place changes."""


class NoKitchen(TraycallError):
    """The folder of people's recordings has no recorded noise."""


class TooFew(TraycallError):
    """There are too few sentences for two people to say different ones."""


@dataclass(frozen=True)
class Condition:
    """One row of the table.

    room: a microphone at `place`, in `around` (`CHAIR`, `KITCHEN` or `IDLE`) of `level` dB(A); noise: chair
    noise `level` dB below the speech, with or without a mask; talker: a second voice `level` dB below; song:
    music with words `level` dB below.
    """

    kind: Kind
    level: float
    place: str = ""
    around: str = ""
    muffle: Muffle = "open"

    @property
    def name(self) -> str:
        """As the table and the figures call it."""
        if self.kind == "room":
            return f"{self.place}, {self.around}, {self.level:g} dB(A)"
        told = {"open": "no mask", "mask": "mask"}.get(self.muffle, self.muffle)
        return f"{told if self.kind == 'noise' else self.kind}, {self.level:g} dB"


def conditions(kitchen: bool = False) -> tuple[Condition, ...]:
    """All that can be tried with what is made here; or each microphone in recorded kitchen noise."""
    loud = (treatment.LIGHT_DBA, treatment.HEAVY_DBA)
    if kitchen:
        return tuple(Condition("room", dba, place, KITCHEN) for dba in loud for place in treatment.PLACES)
    levels = ((IDLE, treatment.IDLE_DBA), *((CHAIR, dba) for dba in loud))
    muffles: tuple[Muffle, ...] = ("open", "mask")
    return (
        *(Condition("room", dba, place, around) for around, dba in levels for place in treatment.PLACES),
        *(Condition("noise", level, muffle=muffle) for level in MASK_DB for muffle in muffles),
        *(Condition("talker", level) for level in TALKER_DB),
        *(Condition("song", level) for level in SONG_DB),
    )


@dataclass(frozen=True)
class RoomClip:
    """A sentence under a condition. `other` are the second talker's words, voice and item (None: chatter)."""

    said: Clip
    group: Group
    condition: Condition
    other: tuple[str, str, str | None] | None = None
    kitchen: Path | None = None

    @property
    def id(self) -> str:
        """Made from everything that decides the sound, and the answer."""
        parts = (RECIPE, self.said.id, *astuple(self.condition), self.other)
        return hashlib.sha256("\x1f".join(map(str, parts)).encode()).hexdigest()[:16]

    @property
    def seed(self) -> tuple[str, str]:
        """Shared by all conditions of a sentence, so that they have the same noise."""
        return self.said.text, self.said.voice

    @property
    def facts(self) -> dict[str, Any]:
        """What the records of a hearing say of this clip."""
        other = self.other and self.other[2]
        told = {"group": self.group, "condition": self.condition.name, "other_item": other}
        return {**asdict(self.said), **told, "speaker": self.said.speaker, "level": self.condition.name}


def clips(
    said: Sequence[SaidClip], tried: Sequence[Condition], people: Path | None = None
) -> tuple[RoomClip, ...]:
    """Every sentence under every condition, sentence by sentence, so that a run cut short has all conditions.

    With a second talker there are only requests: of chatter beside a request nobody can say what is right.

    Args:
        people: the folder with the recorded kitchen noise, where a condition has some.

    Raises:
        NoKitchen: it is not there.
        TooFew: a second talker would have nothing to say.
    """
    kitchen = people and people / KITCHEN_FILE
    if kitchen is not None and not kitchen.is_file():
        raise NoKitchen(f"{kitchen} is missing: --people wants the folder that holds {KITCHEN_FILE}.")
    return tuple(
        RoomClip(
            one.clip,
            one.group,
            condition,
            _other(one, said) if condition.kind == "talker" else None,
            kitchen if condition.around == KITCHEN else None,
        )
        for one in said
        for condition in tried
        if condition.kind != "talker" or one.clip.item is not None
    )


def _other(one: SaidClip, said: Sequence[SaidClip]) -> tuple[str, str, str | None]:
    """What somebody else says at the same time: chatter, or a request for another item."""
    rng = noise.generator_for("other talker", one.clip.text, one.clip.voice)
    own, talk = (
        [other.clip for other in said if other.group == group][:most]
        for group, most in zip(("own", "chatter"), OTHERS, strict=True)
    )
    beside = talk if talk and rng.random() < 0.5 else own
    fitting = [c for c in beside if c.speaker != one.clip.speaker and c.item != one.clip.item]
    if not fitting:
        raise TooFew("a second talker needs more to say: give --requests and --chatter 6 or more")
    other = fitting[int(rng.integers(len(fitting)))]
    return other.text, other.voice, other.item


# ---------------------------------------------------------------- sound


def spoken(clip: RoomClip) -> tuple[tuple[str, str], ...]:
    """Words and voices that must be spoken before the clip can be heard."""
    out = [(clip.said.text, clip.said.voice)]
    if clip.other:
        out.append(clip.other[:2])
    return (*out, *_lyrics(clip)) if clip.condition.kind == "song" else tuple(out)


def _lyrics(clip: RoomClip) -> tuple[tuple[str, str], ...]:
    """Two lines of chatter by one of the other speakers."""
    rng = noise.generator_for("lyrics", *clip.seed)
    lines = chatter("test")[:: len(chatter("test")) // LYRICS][:LYRICS]
    singer = str(rng.choice([name for name in SPEAKERS if name != clip.said.speaker]))
    voice = next(one for one in voices.available("test") if one.speaker == singer)
    return tuple((lines[int(at)], voice.id) for at in rng.permutation(LYRICS)[:SUNG_LINES])


def sound(clip: RoomClip, folder: Path) -> Samples:
    """The clip as the microphone hears it. shape = (n,), 16 kHz."""
    condition, lead_s = clip.condition, clips_of.LEAD_S
    words = _words(clip.said.text, clip.said.voice, folder)
    samples = noise.pad(words, lead_s, lead_s)
    if condition.kind == "room":
        return _in_room(clip, samples)
    if condition.kind == "noise":
        muffled = noise.mask_filter(samples) if condition.muffle == "mask" else samples
        rng = noise.generator_for("kind", *clip.seed)
        kind = clips_of.KINDS[int(rng.integers(len(clips_of.KINDS)))]
        return clips_of.in_noise(muffled, kind, condition.level, clip.seed, babblers(clip.said.voice, folder))
    if condition.kind == "song":
        lines = [_words(text, voice, folder) for text, voice in _lyrics(clip)]
        rng = noise.generator_for("song", *clip.seed)
        return noise.mix(samples, singing.song(len(samples), rng, lines), condition.level).samples
    return _with_talker(clip, words, folder)


def _words(text: str, voice: str, folder: Path) -> Samples:
    return without_silence(voices.cached(voices.voice(voice), text, folder))


def _in_room(clip: RoomClip, samples: Samples) -> Samples:
    condition, rng = clip.condition, noise.generator_for("room", *clip.seed)
    distances = treatment.DISTANCES_M[condition.place]
    microphone = treatment.Microphone(condition.place, distances[int(rng.integers(len(distances)))])
    long_enough = len(samples) + SAMPLE_RATE_HZ
    running = RUNNING[int(rng.integers(len(RUNNING)))]
    if condition.around == IDLE:
        around = treatment.ventilation(long_enough, rng)
    elif clip.kitchen is not None:
        recorded = _recorded(clip.kitchen)
        first = int(rng.integers(len(recorded)))
        around = np.take(recorded, np.arange(first, first + long_enough), mode="wrap")
    else:
        around = (
            noise.chair(long_enough, rng) if running == "chair" else noise.NOISES[running](long_enough, rng)
        )
    return treatment.in_room(samples, microphone, around, condition.level)


@lru_cache(maxsize=1)
def _recorded(file: Path) -> Samples:
    return np.concatenate(list(file_blocks(file)))


def _with_talker(clip: RoomClip, words: Samples, folder: Path) -> Samples:
    """Both voices, the second begun within half a second and heard to its end."""
    assert clip.other is not None
    second = _words(*clip.other[:2], folder)
    apart_db = noise.speech_level(words).active_db - clip.condition.level
    second = second * 10.0 ** ((apart_db - noise.speech_level(second).active_db) / 20.0)
    late_s = float(noise.generator_for("late", *clip.seed).uniform(0.0, LATEST_S))
    second = noise.pad(second, late_s, 0.0)
    total = np.zeros(max(len(words), len(second)))
    total[: len(words)] += words
    total[: len(second)] += second
    total *= min(1.0, 0.99 / float(np.max(np.abs(total))))
    return noise.pad(total.astype(np.float32), clips_of.LEAD_S, clips_of.LEAD_S)


# ---------------------------------------------------------------- what came of it


def counts(results: Iterable[Result]) -> dict[str, dict[str, dict[str, int]]]:
    """By condition and group: requests with right item (`chosen`) and what was done, chatter answered.

    With a second talker, `other` counts the answers that gave what the other voice had asked for (among the
    wrong ones).
    """
    out: dict[str, dict[str, dict[str, int]]] = {}
    for result in results:
        at = out.setdefault(result.record["condition"], {}).setdefault(result.record["group"], {})
        for key in _keys(result):
            at.setdefault(key, 0)
        if result.request:
            at["requests"] += 1
            at["chosen"] += result.chosen
            at[result.kind] += 1
            if "other" in at:
                at["other"] += result.record["other_item"] in result.outcome.named
        else:
            at["chatter"] += 1
            at["answered"] += result.kind == "answered"
            at["asked"] += result.kind == "asked"
    return out


def _keys(result: Result) -> tuple[str, ...]:
    if not result.request:
        return ("chatter", "answered", "asked")
    other = ("other",) if result.record["condition"].startswith("talker") else ()
    return ("requests", "chosen", *OF_REQUEST, *other)


def table(counted: dict[str, dict[str, dict[str, int]]]) -> str:
    """One line a condition, with Wilson's intervals of 95 %."""
    done = f"{'at once':>8}{'wrong':>6} "
    lines = [f"{'':30}{'own: right item':27}{done}{'natural: right item':27}{done}  chatter answered"]
    for name, groups in counted.items():
        parts = [f"{name:30}"]
        for group in ("own", "natural"):
            at = groups.get(group, {})
            n = at.get("requests", 0)
            share = wilson(at.get("chosen", 0), n)
            shown = f"{share.k}/{n} ({100 * share.low:.0f}-{100 * share.high:.0f} %)"
            parts.append(f"{shown:27}{at.get('right', 0):>8}{at.get('wrong', 0):>6} ")
        talk = groups.get("chatter")
        parts.append(f"  {talk['answered']}/{talk['chatter']}" if talk else "  -")
        lines.append("".join(parts))
    return "\n".join(lines)
