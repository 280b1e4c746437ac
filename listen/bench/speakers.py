"""How well each speaker is heard: the same sentences by every voice, counted by speaker and by group.

Voices and a pack come in; clips go out, and from their results the counts of each speaker and of groups of
speakers (women and men, accents; recorded, one network's styles, rule-made), with how far confidence is off
in each. Sentences are of the test side whoever speaks: requests in the tool's own phrasings, natural ways of
asking, and chatter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Literal

import numpy as np

from listen import shares
from listen.bench import clips as clips_of
from listen.bench import natural
from listen.bench.clips import Clip, NoVoices
from listen.bench.corpus import chatter, requests
from listen.bench.report import Kind as Outcome
from listen.bench.report import Result
from listen.speech import noise, voices
from listen.speech.voices import Kind, Voice
from vocab.pack.schema import Pack

KINDS: tuple[Kind, ...] = ("recorded", "style", "formant")
"""In the order of the report."""
TITLES: dict[Kind, str] = {"recorded": "recorded", "style": "one network", "formant": "rule-made"}
Part = Literal["request", "way", "chatter"]
Counts = dict[str, int]
SEED = 31
DRAWS = 400


@dataclass(frozen=True)
class Heard:
    """One clip's result, with which part of the sentences it belongs to."""

    part: Part
    voice: Voice
    level: str
    result: Result


# ---------------------------------------------------------------- clips


@dataclass(frozen=True)
class Line:
    """A sentence that every voice says; `item` is None for chatter."""

    part: Part
    text: str
    item: str | None


def lines(pack: Pack, of_requests: int, of_ways: int, of_chatter: int) -> tuple[Line, ...]:
    """The sentences, each part drawn from the test side, no item asked for twice within a part; more of them
    begin with the same ones."""
    made = requests(pack, "test", np.random.default_rng(clips_of.SEED), clips_of.PER_NAME)
    filler = natural.Filler(pack)
    asks = [way for way in natural.ways("test") if way.label == "ask" and "{b}" not in way.sentence]
    talk = chatter("test")

    def drawn(part: Part, among: Sequence[tuple[str, str]], many: int) -> Iterator[Line]:
        order = noise.generator_for("speakers", part).permutation(len(among))
        by_item: dict[str, Line] = {}
        for text, item in (among[int(place)] for place in order):
            by_item.setdefault(item, Line(part, text, None if part == "chatter" else item))
        return islice(by_item.values(), many)

    return (
        *drawn("request", [(one.text, one.item) for one in made], of_requests),
        *drawn("way", [(one.text, one.wanted[0]) for one in map(filler.said, asks)], of_ways),
        *drawn("chatter", [(text, text) for text in talk], of_chatter),
    )


def chosen(speaker: str | None, taught_without: bool, styles: int = 0) -> tuple[Voice, ...]:
    """One voice of each speaker of the test side; or of this speaker alone.

    Args:
        styles: at most so many styles of the network; all when 0.
        taught_without: the engine was taught without this speaker, who may then be of the tune side.

    Raises:
        NoVoices: there is no such voice here, or hearing it would tell nothing.
    """
    if taught_without and speaker is None:
        raise NoVoices(
            "an adapter is heard with the speaker without whom it was taught: --adapter FILE --speaker NAME"
        )
    here = voices.available(kinds=KINDS)
    own = speaker if taught_without else None
    side = [v for v in here if v.side == "test" or (v.side == "tune" and v.speaker == own)]
    found = {v.speaker: v for v in reversed(side) if speaker in (None, v.speaker)}
    if not found:
        raise NoVoices(
            f"{speaker or 'no speaker of the test side'} cannot be heard here: not installed, of the "
            "teaching side, or of the tuning side, and then heard only with an adapter taught without the "
            "speaker (--adapter FILE --speaker NAME)"
        )
    some = [v for v in here if found.get(v.speaker) == v]
    left_out = [v for v in some if v.kind == "style"][styles:] if styles else ()
    return tuple(v for v in some if v not in left_out)


def clips(said: Sequence[Line], by: Sequence[Voice], levels_db: Sequence[float | None]) -> tuple[Clip, ...]:
    """Every sentence by every voice at every level: of one sentence in the same kind of noise."""
    return tuple(
        Clip(
            text=line.text,
            item=line.item,
            voice=voice.id,
            rate=1.0,
            pitch=0.0,
            vocal_tract=1.0,
            kind=None if snr_db is None else clips_of.KINDS[place % len(clips_of.KINDS)],
            snr_db=snr_db,
            room=False,
            muffle="open",
        )
        for voice in by
        for snr_db in levels_db
        for place, line in enumerate(said)
    )


def heard(said: Sequence[Line], results: Sequence[Result]) -> list[Heard]:
    """The results of the clips of these sentences."""
    parts = {line.text: line.part for line in said}
    return [
        Heard(parts[r.record["text"]], voices.voice(r.record["voice"]), r.record["level"], r) for r in results
    ]


# ---------------------------------------------------------------- counting


GROUPS: dict[str, Callable[[Voice], bool]] = {
    "recorded": lambda v: v.kind == "recorded",
    "one network": lambda v: v.kind == "style",
    "one network, women": lambda v: v.kind == "style" and v.sex == "woman",
    "one network, men": lambda v: v.kind == "style" and v.sex == "man",
    "one network, American": lambda v: v.kind == "style" and v.accent == "American",
    "one network, British": lambda v: v.kind == "style" and v.accent == "British",
    "one network, other accents": lambda v: v.kind == "style" and v.accent not in ("American", "British"),
    "rule-made": lambda v: v.kind == "formant",
}


def counts(some: Sequence[Heard]) -> dict[str, Any]:
    """What is kept for the model card.

    Returns:
        "speakers": by kind, then by speaker ("af_sky, American woman"), the worst heard first, then by level.
        "groups": by title, `speakers` (how many), `off_percent` (expected calibration error of the right item
        over all that asks, given that it does), `chance_percent` (what that error would be on average if
        confidence were honest: so few answers never fit exactly), the same two of natural ways alone, then
        by level.
    """
    levels = list(dict.fromkeys(one.level for one in some))
    by_speaker: dict[str, dict[str, Any]] = {}
    for kind in KINDS:
        speaking = dict.fromkeys(one.voice for one in some if one.voice.kind == kind)
        own = {voice: [one for one in some if one.voice == voice] for voice in speaking}
        order = sorted(own, key=lambda voice: _worth(own[voice]))
        if order:
            by_speaker[TITLES[kind]] = {
                f"{v.speaker}, {v.accent} {v.sex}": _by_level(own[v], levels) for v in order
            }
    groups = {}
    for title, belongs in GROUPS.items():
        inside = [one for one in some if belongs(one.voice)]
        if inside:
            groups[title] = {
                "speakers": len({one.voice.speaker for one in inside}),
                **_off([one for one in inside if one.result.request], ""),
                **_off([one for one in inside if one.part == "way"], "ways_"),
                **_by_level(inside, levels),
            }
    return {"speakers": by_speaker, "groups": groups}


def _worth(own: Sequence[Heard]) -> tuple[int, int]:
    """How often the right item was found, then how often at once; over requests and ways of all levels."""
    return sum(one.result.chosen for one in own), sum(one.result.kind == "right" for one in own)


def _by_level(some: Sequence[Heard], levels: Sequence[str]) -> dict[str, Counts]:
    return {level: _cell([one for one in some if one.level == level]) for level in levels}


def _cell(some: Sequence[Heard]) -> Counts:
    """Of requests and of ways: how many, `chosen` (the likeliest item is right), and each outcome; of chatter
    what was answered and asked about."""
    out: Counts = {}
    asked: tuple[Outcome, ...] = ("right", "checked", "wrong", "missed")
    for part, name, before in (("request", "requests", ""), ("way", "ways", "ways_")):
        own = [one.result for one in some if one.part == part]
        out[name] = len(own)
        out[f"{before}chosen"] = sum(one.chosen for one in own)
        out |= {f"{before}{kind}": sum(one.kind == kind for one in own) for kind in asked}
    talk = [one.result for one in some if one.part == "chatter"]
    told: tuple[Outcome, ...] = ("answered", "asked")
    return out | {"chatter": len(talk)} | {kind: sum(one.kind == kind for one in talk) for kind in told}


def _off(asked: Sequence[Heard], before: str) -> dict[str, float]:
    """Expected calibration error, and what chance alone would make of it, in per cent with one decimal."""
    if not asked:
        return {}
    outcomes = [one.result.outcome for one in asked]
    p = np.array([min(1.0, o.p / max(1 - o.p_nothing, shares.LEAST_P)) for o in outcomes])
    found = shares.calibration_error([float(one.result.chosen) for one in asked], p)
    draws = np.random.default_rng(SEED).random((DRAWS, len(p))) < p
    by_chance = float(np.mean([shares.calibration_error(drawn.astype(np.float64), p) for drawn in draws]))
    return {
        f"{before}off_percent": round(100 * found, 1),
        f"{before}chance_percent": round(100 * by_chance, 1),
    }


# ---------------------------------------------------------------- in words


def table(counted: Mapping[str, Any]) -> str:
    """Speakers by kind, the worst heard first, and groups, as text with intervals of 95 % (Wilson)."""
    head = (
        f"{'':36}{'level':8}{'right item':24}{'at once':9}{'wrong':7}{'missed':8}"
        f"{'own words: right item':24}{'at once':9}{'wrong':7}{'chatter answered':16}"
    )
    parts = [head]
    for title, speakers in counted["speakers"].items():
        parts += ["", title, *(_rows(name, cells) for name, cells in speakers.items())]
    parts += ["", "groups"]
    for title, cells in counted["groups"].items():
        levels = {level: cell for level, cell in cells.items() if isinstance(cell, dict)}
        off = [
            f"{what} off by {cells[f'{key}off_percent']} % (by chance {cells[f'{key}chance_percent']})"
            for key, what in (("", "confidence"), ("ways_", "in own words"))
            if f"{key}off_percent" in cells
        ]
        parts += [_rows(f"{title} ({cells['speakers']})", levels), f"{'':36}{', '.join(off)}"]
    return "\n".join(parts)


def _rows(name: str, levels: Mapping[str, Counts]) -> str:
    return "\n".join(_row(name if not place else "", at, levels[at]) for place, at in enumerate(levels))


def _row(name: str, level: str, cell: Counts) -> str:
    def share(k: int, n: int) -> str:
        part = shares.wilson(k, n)
        return f"{k}/{n} ({100 * part.low:.0f}-{100 * part.high:.0f} %)" if n else "-"

    return (
        f"{name:36}{level:8}{share(cell['chosen'], cell['requests']):24}{cell['right']:<9}{cell['wrong']:<7}"
        f"{cell['missed']:<8}{share(cell['ways_chosen'], cell['ways']):24}{cell['ways_right']:<9}"
        f"{cell['ways_wrong']:<7}{cell['answered']}/{cell['chatter']}"
    )
