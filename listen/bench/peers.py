"""Other ways of hearing beside the tool's own, side by side on the very same clips.

A pack comes in; groups of clips go out, each in quiet and in noise, and what every system made of them: the
tool's own phrasings with chatter, natural ways of asking with mentions, and people. Whoever gives only text
is looked up by the tool's own resolver, so that hearing is compared and nothing else. A peer that cannot run
here is named with the reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from listen.bench import clips as clips_of
from listen.bench import hearings, human, orders, report, said, systems
from listen.bench.clips import Clip
from listen.bench.human import HumanClip, HumanSet
from listen.bench.systems import System
from listen.engine import Samples
from listen.shares import wilson
from listen.speech import noise
from vocab.pack.schema import Pack

LEVELS_DB: tuple[float | None, ...] = (None, 10.0)
SYSTEMS = ("neural", "neural-text", "sphinx-grammar", "sphinx-text")
VOSK = "vosk"
NO_VOSK = "not measured: there is no English model in the package registries (--vosk-model FOLDER)"
PeerClip = Clip | HumanClip


@dataclass(frozen=True)
class PeerGroup:
    """Clips that are counted together, by the pack that they are heard with."""

    name: str
    parts: tuple[tuple[Pack, tuple[PeerClip, ...]], ...]


def systems_here(vosk_model: Path | None) -> tuple[tuple[System, ...], dict[str, str]]:
    """The systems to compare, and those that cannot run here with the reason.

    Raises:
        NoPeer: PocketSphinx is not installed.
    """
    names = (*SYSTEMS, VOSK) if vosk_model else SYSTEMS
    return systems.find(names, vosk_model), {} if vosk_model else {VOSK: NO_VOSK}


def spoken_groups(pack: Pack, requests: int, ways: int, chatter: int) -> tuple[PeerGroup, ...]:
    """Own phrasings with chatter, and natural ways of asking with as many mentions."""
    every = said.said(pack, requests, ways, ways, chatter)
    groups = {"own": ("own", "chatter"), "natural": ("natural", "mention")}
    return tuple(
        PeerGroup(name, ((pack, _at_levels(one.clip for one in every if one.group in held)),))
        for name, held in groups.items()
    )


def _at_levels(quiet: Iterable[Clip]) -> tuple[Clip, ...]:
    every = tuple(quiet)
    return tuple(_in_noise(clip, level) for level in LEVELS_DB for clip in every)


def _in_noise(clip: Clip, snr_db: float | None) -> Clip:
    kinds = clips_of.KINDS
    kind = kinds[int(noise.generator_for("clip", clip.text, clip.voice).integers(len(kinds)))]
    return clip if snr_db is None else replace(clip, kind=kind, snr_db=snr_db)


def people_groups(pack: Pack, folder: Path | None, most_orders: int) -> tuple[PeerGroup, ...]:
    """People: the vocabulary is swapped for what they ask for, and ours where they ask for nothing in it.

    Args:
        folder: of orders (`listen.bench.orders`); None leaves them out.
        most_orders: how many of the test half.

    Raises:
        NoPeople: pocketsphinx-testdata is not installed.
        BadOrders: the folder is not as it should be.
    """
    asked = human.sets(pack.speech)
    groups = [_people("people", asked, pack, human.chatter(), human.KINDS)]
    if folder is not None:
        found = orders.orders(folder)
        some = orders.asked_for(found, "test", pack.speech)
        some = replace(some, clips=some.clips[:most_orders])
        foreign = orders.not_ours(found, "test")[:most_orders]
        groups.append(_people("orders", (some,), pack, foreign, (human.KITCHEN,)))
    return tuple(groups)


def _people(
    name: str, asked: Sequence[HumanSet], pack: Pack, nothing: Sequence[HumanClip], kinds: Sequence[str]
) -> PeerGroup:
    with_packs = [*((one.pack, one.clips) for one in asked), (pack, tuple(nothing))]
    return PeerGroup(name, tuple((of, human.at_levels(some, LEVELS_DB, kinds)) for of, some in with_packs))


# ---------------------------------------------------------------- hearing and counting


def sound(clip: PeerClip, folder: Path) -> Samples:
    """The samples of either kind of clip. shape = (n,), 16 kHz."""
    return human.sound(clip) if isinstance(clip, HumanClip) else clips_of.sound(clip, folder)


def measured(
    groups: Sequence[PeerGroup],
    rows: Sequence[System],
    folder: Path,
    file: Path,
    vosk_model: Path | None = None,
    any_code: bool = False,
) -> dict[str, Any]:
    """Counts by group, system and level, with the median processor time of an utterance in ms.

    The free text of the own engine comes out of the same hearing as its scores, and has the same time.
    """
    engines = list(dict.fromkeys(row.engine for row in rows))
    out: dict[str, Any] = {}
    for group in groups:
        found: dict[str, list[report.Result]] = {row.name: [] for row in rows}
        for pack, clips in group.parts:
            ears = [hearings.Ear(name, pack, vosk_model) for name in engines]
            heard = hearings.hear(clips, partial(sound, folder=folder), ears, file, 1, any_code)
            judge = systems.SystemJudge(pack)
            for name, some in report.results(heard, rows, _always(judge)).items():
                found[name] += some
        out[group.name] = counted(found, rows)
    return out


def _always(judge: systems.SystemJudge) -> Any:
    return lambda _: judge


def counted(found: Mapping[str, Sequence[report.Result]], rows: Sequence[System]) -> dict[str, Any]:
    """By system: what `listen.bench.report` counts at each level, and the processor's `ms` a clip."""
    made = report.study(found, rows, None, {})
    by_level = report.counts(made)
    cost = {name: system["cost"].get("processor ms median", 0.0) for name, system in made["systems"].items()}
    return {name: {"ms": round(cost[name]), "levels": levels} for name, levels in by_level.items()}


def table(made: Mapping[str, Any], missing: Mapping[str, str]) -> str:
    """The comparison as text, with Wilson's intervals of 95 %; last those that are not in it."""
    lines = [f"{'':34}{'right item':24}{'at once':24}{'wrong':24}{'answered unasked':24}{'ms':>6}"]
    for group, by_system in made.items():
        for name, one in by_system.items():
            for level, at in one["levels"].items():
                asked, nothing = at.get("requests", 0), at.get("chatter", 0)
                cells = [_share(at.get(key, 0), asked) for key in ("chosen", "right", "wrong")]
                cells.append(_share(at.get("answered", 0), nothing))
                shown = "".join(f"{cell:24}" for cell in cells)
                lines.append(f"{f'{group}, {level}, {name}':34}{shown}{one['ms']:>6}")
    return "\n".join([*lines, *(f"{name}: {why}" for name, why in missing.items())])


def _share(k: int, n: int) -> str:
    part = wilson(k, n)
    return f"{k}/{n} ({100 * part.low:.1f}-{100 * part.high:.1f} %)" if n else "-"
