"""How well spoken words about an item are understood: "mirror back", "that one fell", "wipe it".

Takes a pack and a side; makes sentences that tell what became of an item, and returns what a chair's session,
through the code behind `traycall screen`, made of each hearing of one. A few items are out, and the item that
is told of was asked for last. Requests and chatter are heard in the same state; they must tell of nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import count
from pathlib import Path
from typing import Any, Literal

import numpy as np

from listen import shares as figures
from listen.bench.clips import Clip, ClipPlan, clips
from listen.bench.corpus import as_sentence, side_of, with_letters
from listen.bench.hearings import Record, hearing_of, progress
from listen.bench.natural import GAP, Filler, ways
from listen.bench.report import percent, table
from listen.chair import Chair
from listen.chairside.events import EventKind
from listen.live.sessions import Sessions
from listen.live.settings import ServerSettings
from listen.speech import voices
from listen.speech.voices import Side
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Item, ItemClass, Name, Pack, Reprocessing

PROCEDURE = "composite_class_two"
OUT = ("gauze_square", "high_volume_tip", "mouth_mirror")
"""Items that are already out when a sentence is heard."""
EACH = 6
"""Items for each form; sentences of the other side are left out, those without a name are on both."""
SEED = 31

TOLD: Mapping[EventKind, tuple[str, ...]] = {
    EventKind.RETURNED: (
        "N back",
        "the N is back",
        "N coming back",
        "I'm done with the N",
        "take the N back",
        "you can have the N back",
        "here's the N back",
        "that one is back",
    ),
    EventKind.DROPPED: (
        "I dropped the N",
        "the N fell",
        "the N fell on the floor",
        "the N is on the floor",
        "the N is contaminated",
        "that one fell",
        "I dropped it",
        "it fell on the floor",
    ),
    EventKind.WIPED: ("wipe the N", "wipe the N please", "I wiped the N", "the N is wiped", "wipe that one"),
    EventKind.CORRECTED: ("undo that", "scratch that", "undo"),
}
"""How people tell what became of an instrument; N is its name. Common practice, no source."""
TOLD_OF_MATERIAL: Mapping[EventKind, tuple[str, ...]] = {
    EventKind.USED_UP: ("the N is empty", "we're out of N", "that was the last N", "the N is all gone"),
    EventKind.ADDED: ("I opened a new N", "new N on the tray", "I added N to the tray"),
}
NATURAL = {"back": EventKind.RETURNED, "fell": EventKind.DROPPED}
"""The ways of `listen.bench.natural` that tell of an item, by label."""
_INSTRUMENTS = (ItemClass.EXAMINATION, ItemClass.HAND_CUTTING, ItemClass.PLACING)

_TELLING = frozenset((*TOLD, *TOLD_OF_MATERIAL, EventKind.PASSED))


@dataclass(frozen=True)
class ToldLine:
    """A sentence and what it tells: `kind` of `item`; no kind for a request or chatter. natural: in the words
    of `listen.bench.natural`, where chatter mentions an item that is out."""

    text: str
    kind: EventKind | None
    item: str | None
    natural: bool = False


def lines(pack: Pack, side: Side) -> tuple[ToldLine, ...]:
    """The sentences of this side; "it" is the last item that was asked for."""
    rng = np.random.default_rng(SEED)
    tray = {slot.item for slot in pack.tray(pack.procedure(PROCEDURE).tray).slots}
    known = [item for item in pack.items if item.id in tray and not item.always_check]
    instruments = [
        i
        for i in known
        if i.item_class in _INSTRUMENTS and i.reprocessing is Reprocessing.STERILISE and i.id not in OUT
    ]
    materials = [i for i in known if i.reprocessing is Reprocessing.MULTI_DOSE]
    made: dict[str, ToldLine] = {}
    for told, items in ((TOLD, instruments), (TOLD_OF_MATERIAL, materials)):
        for kind, forms in told.items():
            for form in forms:
                for at in rng.permutation(len(items))[:EACH]:
                    item = items[int(at)]
                    text = _sentence(form, _name(item, pack, rng))
                    about = None if kind is EventKind.CORRECTED else item.id
                    if "N" not in form or side_of(text) == side:
                        made.setdefault(text, ToldLine(text, kind, about))
    return tuple(made.values())


def natural_lines(pack: Pack, side: Side, mentions: int) -> tuple[ToldLine, ...]:
    """Natural sentences that tell that an item came back or fell, and some that mention one that is out."""
    tray = {slot.item for slot in pack.tray(pack.procedure(PROCEDURE).tray).slots} - set(OUT)
    told = Filler(pack, [item for item in tray if not pack.item(item).always_check])
    mentioned = Filler(pack, OUT)
    made = []
    for way in ways(side):
        if way.label in NATURAL:
            said = told.said(way)
            made.append(ToldLine(said.text, NATURAL[way.label], said.items["a"], natural=True))
        elif way.label == "mention" and mentions and GAP.findall(way.sentence) == ["a"]:
            made.append(ToldLine(mentioned.said(way).text, None, None, natural=True))
            mentions -= 1
    return tuple(made)


def _name(item: Item, pack: Pack, rng: np.random.Generator) -> Name:
    """The preferred name or, equally often, the first synonym, if no other item has that name."""
    others = {name.text.lower() for other in pack.items if other is not item for name in other.names}
    names = [name for name in item.names[:2] if name.text.lower() not in others]
    return names[int(rng.integers(len(names)))] if names else item.name


def _sentence(form: str, name: Name) -> str:
    """The form with the name as it is spoken; plural names take "are"."""
    said = spoken_forms(name.text)[0]
    if said.endswith("s") and not said.endswith("ss"):
        form = form.replace("N is", "N are")
    return with_letters(as_sentence(form.replace("N", said)), name.text)


def clips_of(
    pack: Pack, side: Side, levels_db: Sequence[float | None], others: int
) -> tuple[tuple[Clip, ...], dict[str, ToldLine]]:
    """Every sentence by every speaker of the side at every level, with `others` requests and as much chatter;
    and the lines by text."""
    plan = ClipPlan(side, others, others, tuple(levels_db))
    foils = clips(pack, plan)
    told = (*lines(pack, side), *natural_lines(pack, side, others))
    speakers = {voice.speaker: voice.id for voice in reversed(voices.available(side))}
    made: list[Clip] = []
    for level in levels_db:
        for place, line in enumerate(told):
            kind = None if level is None else plan.kinds[place % len(plan.kinds)]
            made += [
                Clip(line.text, None, v, 1.0, 0.0, 1.0, kind, level, False, "open") for v in speakers.values()
            ]
    by_text = {clip.text: ToldLine(clip.text, None, clip.item) for clip in foils}
    return (*made, *foils), by_text | {line.text: line for line in told}


# ---------------------------------------------------------------- what a session makes of it

Kind = Literal["right", "not", "wrong"]
Told = tuple[EventKind, str | None]


@dataclass(frozen=True)
class ToldResult:
    """The result of one hearing. right: exactly what was told was noted (nothing, for a request or chatter);
    not: nothing was noted; wrong: anything else, including a sentence taken for a request."""

    record: Record
    line: ToldLine
    noted: tuple[Told, ...]
    kind: Kind


def results(
    records: Sequence[Record], by_text: Mapping[str, ToldLine], chair: Chair, data: Path
) -> list[ToldResult]:
    """What a session makes of each hearing. `data` is an empty folder for the log."""
    minutes = count(0.0, 60.0)  # far enough apart that nothing said before counts
    running = Sessions(lambda: chair, ServerSettings(data, clock=lambda: next(minutes)), _no_engine)
    with progress() as bar:
        out = [
            _result(record, by_text[record["text"]], running)
            for record in bar.track(records, description="take it as told")
        ]
    running.log.close()
    return out


def _result(record: Record, line: ToldLine, running: Sessions) -> ToldResult:
    chair_session = running.open(PROCEDURE, None)
    last = line.item if line.kind is not None else None
    for item in (*OUT, *([last] if last else ())):
        chair_session.request(item)
    if line.kind is EventKind.WIPED and last:
        chair_session.touch(EventKind.RETURNED, last)
    before = len(chair_session.state.events)
    chair_session.hear(hearing_of(record))
    noted = tuple((e.kind, e.item) for e in chair_session.state.events[before:])
    return ToldResult(record, line, noted, kind_of(line, noted))


def kind_of(line: ToldLine, noted: Sequence[Told]) -> Kind:
    """Compare what was noted with what was told."""
    told = [one for one in noted if one[0] in _TELLING]
    if line.kind is None:
        return "wrong" if told else "right"
    if told == [(line.kind, line.item)] and all(kind is not EventKind.ASKED for kind, _ in noted):
        return "right"
    return "wrong" if told or noted else "not"


def _no_engine() -> Any:
    raise AssertionError("nothing is heard here; it has been heard already")


# ---------------------------------------------------------------- counting and writing


def study(found: Sequence[ToldResult]) -> dict[str, Any]:
    """Counts at each level, by what was told and by speaker, and the mistakes."""
    levels = dict.fromkeys(r.record["level"] for r in found)
    return {
        level: {
            what: _counts([r for r in found if r.record["level"] == level and is_one(r)])
            for what, is_one in _groups(found)
        }
        for level in levels
    } | {"mistakes": [_mistake(r) for r in found if r.kind != "right"]}


def _groups(found: Sequence[ToldResult]) -> Iterator[tuple[str, Callable[[ToldResult], bool]]]:
    """What is counted together."""
    yield "told", lambda r: r.line.kind is not None and not r.line.natural
    for kind in (*TOLD, *TOLD_OF_MATERIAL):
        yield f"told: {kind.value.replace('_', ' ')}", lambda r, kind=kind: r.line.kind is kind  # type: ignore[misc]
    for speaker in sorted({r.record["speaker"] for r in found}):
        yield (
            f"told by {speaker}",
            lambda r, speaker=speaker: r.line.kind is not None and r.record["speaker"] == speaker,  # type: ignore[misc]
        )
    yield "told in natural words", lambda r: r.line.kind is not None and r.line.natural
    yield "requests", lambda r: r.line.kind is None and r.line.item is not None
    yield "chatter", lambda r: r.line.kind is None and r.line.item is None and not r.line.natural
    yield "natural mentions of what is out", lambda r: r.line.kind is None and r.line.natural


def _counts(some: Sequence[ToldResult]) -> dict[str, Any]:
    kinds = [r.kind for r in some]
    shares = {kind: figures.wilson(kinds.count(kind), len(kinds)) for kind in ("right", "not", "wrong")}
    return {
        kind: {**asdict(share), "share": share.value if share.n else None} for kind, share in shares.items()
    }


def _mistake(r: ToldResult) -> dict[str, Any]:
    phrasings = r.record["hearing"]["phrasings"]
    return {
        **{key: r.record[key] for key in ("level", "speaker", "text")},
        "kind": r.kind,
        "told": r.line.kind.value if r.line.kind else None,
        "item": r.line.item,
        "noted": [[kind.value, item] for kind, item in r.noted],
        "free text": r.record["hearing"]["free_text"],
        "phrasing": phrasings[0][0] if phrasings else "",
        "evidence": r.record["hearing"]["log_p_best"] - r.record["hearing"]["log_p_free"],
    }


def counts(made: dict[str, Any]) -> dict[str, Any]:
    """What is kept of a study for the model card: all that was told and all foils, by level."""
    return {
        level: {
            what: {"n": found["right"]["n"], "right": found["right"]["k"], "wrong": found["wrong"]["k"]}
            for what, found in groups.items()
            if not what.startswith(("told: ", "told by "))
        }
        for level, groups in made.items()
        if level != "mistakes"
    }


def write(made: dict[str, Any], folder: Path) -> str:
    """Write told.json and told.md; returns the text."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "told.json").write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    rows = [
        [level, what, *(percent(counts[kind]) for kind in ("right", "not", "wrong"))]
        for level, groups in made.items()
        if level != "mistakes"
        for what, counts in groups.items()
        if counts["right"]["n"]
    ]
    title, head = "What became of an item, told by voice", ["level", "what", "right", "not", "wrong"]
    note = (
        "Told: what became of an item. Right: just that was noted; not: nothing was; wrong: something else, "
        "or it was taken for a request. Requests and chatter are right where nothing was noted as told; "
        "whether a request was answered is not looked at. Intervals are Wilson's, 95 %; a sentence by three "
        "speakers is no three sentences."
    )
    text = f"{table(title, head, rows)}\n\n{note}\n"
    (folder / "told.md").write_text(text, encoding="utf-8")
    return text
