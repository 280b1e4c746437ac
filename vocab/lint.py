"""What is wrong or risky in a vocabulary, told as a dentist would meet it, with what would help.

Comes in: a pack that loads (shipped or composed of layers) and what was measured of its names, how often an
engine takes each for another item. Goes out: findings, the worst first. Where a name was not measured a
finding says that it goes by sound only. It never changes anything and never asks an engine itself.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from vocab.labels import LONGEST_NAME, name_problem, shown
from vocab.lint_sounds import Pair, Sounding, Sounds
from vocab.mixed_up import MixedUp
from vocab.phrases import forms_of
from vocab.schema import Item, Name, Pack
from vocab.spoken import is_number, spoken_forms, tokens, words
from vocab.tongue import read_numbers

HEARD_LANGUAGES = ("en",)
"""Languages that an engine of this program hears."""


MET_P = 0.05
"""Utterances that together give another item so much have met it."""
LONGEST_WORD = 30
"""Letters of a word that somebody may still say in one breath."""
NUMBER_COST = 2.6
"""Numbers up to this cost apart are a known trouble at the chair: fifty-six and fifty-seven are 2.5."""


class Severity(StrEnum):
    """How much a finding matters at the chair."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


_ORDER = (Severity.HIGH, Severity.MEDIUM, Severity.LOW)
_BY_SOUND = (
    (0.03, Severity.MEDIUM, "almost like"),
    (0.02, Severity.LOW, "much like"),
    (0.01, Severity.LOW, "somewhat like"),
)
"""By how often names that sound so near are mixed up; sound alone makes no finding grave."""
_BY_MEASURE = ((0.1, Severity.HIGH), (0.03, Severity.MEDIUM), (0.01, Severity.LOW))
"""What is mixed up less often than one time in thirty matters little, one time in a hundred not at all."""
MET_TWICE = 2.0
"""Utterances, all told, that must have been taken for the other: one alone makes no finding grave."""


class Kind(StrEnum):
    """What a finding is about."""

    SAME_NAME = "same name"
    SAME_SIZE = "same size"
    SHARED_ALONE = "shared with nobody"
    LATEX = "latex not kept apart"
    REQUEST_WORDS = "words of a request"
    NUMBER = "differs only in number"
    ENDING = "differs only in its ending"
    SOUND = "sounds alike"
    HEARD = "heard as another"
    NO_NOTE = "no look-alike note"
    UNSAYABLE = "cannot be said"
    SLOT_TWICE = "slot used twice"
    NOT_ON_TRAY = "not on the tray"
    UNUSED_TRAY = "tray without procedure"
    NO_ENGINE = "no engine"


@dataclass(frozen=True)
class Finding:
    """One risk. `names` and `items` (ids) say where; `p` is measured, None for by sound or by rule."""

    kind: Kind
    severity: Severity
    names: tuple[str, ...]
    items: tuple[str, ...]
    message: str
    help: str
    p: float | None = None

    def __str__(self) -> str:
        return f"{self.severity}: {self.message}. {self.help}."


NOTHING_MEASURED = MixedUp()
SOUND_ALIKE = (Kind.NUMBER, Kind.ENDING, Kind.SOUND, Kind.HEARD)
"""Kinds of findings about two items that may be mixed up."""


def lint(
    pack: Pack, sounds: Sounds | None = None, mixed_up: MixedUp = NOTHING_MEASURED
) -> tuple[Finding, ...]:
    """Every finding about a pack, the worst first."""
    sounds = sounds or Sounds(pack, cost=mixed_up.cost)
    sound = ((Kind.SOUND, pair) for pair in sounds.pairs() if not _is_one_name(pair))
    pairs = [*_numbers_and_endings(sounds), *sound]
    names = [(item, name) for item in pack.items for name in item.names]
    heard = [f for item, name in names for f in _heard(item.id, name.text, pack, sounds, mixed_up)]
    alike = [*_same_names(pack, sounds), *_worst_of_each([*_judged(pairs, mixed_up), *heard])]
    return _sorted(
        [
            *alike,
            *_without_note(pack, alike),
            *_shared(pack, sounds),
            *_sizes(pack, sounds),
            *_request_words(pack, names),
            *_unsayable(sounds, names),
            *_trays(pack),
            *_engine(pack),
        ]
    )


def lint_name(
    text: str, item_id: str, pack: Pack, sounds: Sounds, mixed_up: MixedUp = NOTHING_MEASURED
) -> tuple[Finding, ...]:
    """What a new name of an item would bring; quick enough to ask at every key that is pressed.

    The item may be one that the pack does not have yet. A text without words brings nothing.
    """
    if not text.strip():
        return ()
    if problem := name_problem(text):
        why, _, help_ = problem.partition("; ")
        message = f'"{shown(text, LONGEST_NAME)}" {why}'
        return (Finding(Kind.UNSAYABLE, Severity.HIGH, (text,), (item_id,), message, help_.capitalize()),)
    name, called = Name(text=text), {item.id: item for item in pack.items}
    here = called[item_id].name.text if item_id in called else "the new item"
    held = [s.item for s in sounds.by_key.get(sounds.key(text), ()) if s.item != item_id]
    if held and sounds.key(text):
        owners = tuple(dict.fromkeys((item_id, *held)))
        said = [here, *(called[item].name.text for item in owners[1:])]
        alike = [_same_name(text, said, owners)]
    else:
        near = [(Kind.SOUND, pair) for pair in sounds.near(item_id, name)]
        heard = _heard(item_id, text, pack, sounds, mixed_up)
        alike = _worst_of_each([*_judged(near, mixed_up), *heard])
    found = [*alike, *_without_note(pack, alike)]
    found += _request_words(pack, [(called.get(item_id, pack.items[0]), name)])
    found += _unsayable(sounds, [(called.get(item_id, pack.items[0]), name)])
    return _sorted(found)


def _sorted(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda f: (_ORDER.index(f.severity), -(f.p or 0.0))))


# --- names against names ----------------------------------------------------------------------------


def _same_names(pack: Pack, sounds: Sounds) -> Iterator[Finding]:
    called = {item.id: item.name.text for item in pack.items}
    for key, held in sounds.by_key.items():
        items = tuple(dict.fromkeys(sounding.item for sounding in held))
        if key and len(items) > 1 and not all(sounding.name.shared for sounding in held):
            yield _same_name(held[0].text, [called[item] for item in items], items)


def _same_name(text: str, owners: Sequence[str], items: tuple[str, ...]) -> Finding:
    return Finding(
        Kind.SAME_NAME,
        Severity.HIGH,
        (text,),
        items,
        f'"{text}" would mean {" and ".join(owners)} alike: whoever says it is asked back every time',
        "Let it mean one of them and give the other a name that tells more, or mark it as shared",
    )


def _shared(pack: Pack, sounds: Sounds) -> Iterator[Finding]:
    """Names marked as shared that nobody else has, and items that differ in latex and are not kept apart."""
    known, apart = {item.id: item for item in pack.items}, {frozenset(pair) for pair in pack.wide_margin}
    told: set[frozenset[str]] = set()
    for held in sounds.by_key.values():
        items = tuple(dict.fromkeys(sounding.item for sounding in held))
        for sounding in held if len(items) == 1 else ():
            if sounding.name.shared and sounding.text == sounding.name.text:
                yield Finding(
                    Kind.SHARED_ALONE,
                    Severity.LOW,
                    (sounding.text,),
                    items,
                    f'"{sounding.text}" is marked as shared, but only {known[items[0]].name.text} has it',
                    "Take the mark away, or give the name to the other item too",
                )
        for one, other in itertools.combinations(items, 2):
            pair = frozenset((one, other))
            if known[one].latex != known[other].latex and pair not in apart | told:
                told.add(pair)
                yield Finding(
                    Kind.LATEX,
                    Severity.HIGH,
                    (held[0].text,),
                    (one, other),
                    f'"{held[0].text}" means {known[one].name.text} and {known[other].name.text}, of which '
                    "one holds latex: they may be taken for one another",
                    "Add the two to wide_margin",
                )


def _sizes(pack: Pack, sounds: Sounds) -> Iterator[Finding]:
    """Two variants of an item with a name that is said alike, so that the wrong one may be shown."""
    for item in pack.items:
        said: dict[tuple[str, ...], str] = {}
        for name, variant in item.variant_name_pairs:
            for text in (name.text, *name.say):
                other = said.setdefault(sounds.key(text), variant)
                if other != variant:
                    yield Finding(
                        Kind.SAME_SIZE,
                        Severity.HIGH,
                        (text,),
                        (item.id,),
                        f'"{text}" would mean {item.name.text} {other} and {variant} alike',
                        "Give one of them another name",
                    )


def _numbers_and_endings(sounds: Sounds) -> Iterator[tuple[Kind, Pair]]:
    """Names that are equal but for one spoken word of a number, or but for the end of a word."""
    by_shape: defaultdict[tuple[str, ...], list[Sounding]] = defaultdict(list)
    by_stem: defaultdict[tuple[str, ...], list[Sounding]] = defaultdict(list)
    for sounding in sounds.all:
        if any(is_number(word) for word in sounding.key):
            by_shape[tuple("#" if is_number(word) else word for word in sounding.key)].append(sounding)
        else:
            by_stem[tuple(_without_ending(word) for word in sounding.key)].append(sounding)
    for kind, groups in ((Kind.NUMBER, by_shape), (Kind.ENDING, by_stem)):
        for group in groups.values():
            for one, other in itertools.combinations(group, 2):
                if one.item == other.item or one.key == other.key:
                    continue
                if kind is Kind.ENDING or _one_word_apart(one.text, other.text):
                    yield kind, Pair(one, other, sounds.cost(one.text, other.text))


def _is_one_name(pair: Pair) -> bool:
    """Whether it is a name that both items have; `_same_names` tells of it where that is not meant so."""
    return pair.one.key == pair.other.key


def _one_word_apart(one: str, other: str) -> bool:
    """Whether the usual ways of saying two texts differ in one word; "thirty" is no slip for "seven"."""
    a, b = spoken_forms(one)[0].split(), spoken_forms(other)[0].split()
    return len(a) == len(b) and sum(x != y for x, y in zip(a, b, strict=True)) == 1


def _worst_of_each(found: Iterable[Finding]) -> list[Finding]:
    """One finding for each two items: their worst pair of names, and how many more there are."""
    by_items: defaultdict[frozenset[str], list[Finding]] = defaultdict(list)
    for finding in found:
        by_items[frozenset(finding.items)].append(finding)
    worst = []
    for findings in by_items.values():
        first = min(findings, key=lambda f: (_ORDER.index(f.severity), -(f.p or 0.0)))
        more = len({frozenset(f.names) for f in findings}) - 1
        if more:
            also = f"{first.message}; {more} more pair{'' if more == 1 else 's'} of their names likewise"
            first = replace(first, message=also)
        worst.append(first)
    return worst


def _judged(pairs: Iterable[tuple[Kind, Pair]], mixed_up: MixedUp) -> Iterator[Finding]:
    """Names that sound alike: as they were measured, and by sound where no utterance met the other."""
    for kind, pair in pairs:
        met: list[tuple[float, float, Sounding, Sounding]] = []
        unmet: list[float] = []
        times = 0
        for said, taken in ((pair.one, pair.other), (pair.other, pair.one)):
            trial = mixed_up.trial(said.name.text)
            p = mixed_up.p(said.name.text, taken.item, pair.cost)
            if trial is not None and trial.mass(taken.item) >= MET_P:
                met.append((p, trial.mass(taken.item), said, taken))
            elif trial is not None:
                times += trial.times
                unmet.append(p)
        if met:
            p, mass, said, taken = max(met, key=lambda way: way[0])
            finding = _measured(kind, p, mass, (said.text, taken.text), (said.item, taken.item))
        else:
            finding = _by_sound(kind, pair, max(unmet, default=mixed_up.chance.p(pair.cost)), times)
        if finding is not None:
            yield finding


def _heard(item_id: str, text: str, pack: Pack, sounds: Sounds, mixed_up: MixedUp) -> Iterator[Finding]:
    """What a name was taken for when it was said, however little it sounds like it."""
    trial = mixed_up.trial(text)
    if trial is None:
        return
    sharing = {sounding.item for sounding in sounds.by_key.get(sounds.key(text), ())}
    known = {item.id for item in pack.items} - {item_id} - sharing
    for item, taken in trial.taken.items():
        if item not in known or taken.mass < MET_P:
            continue
        _, cost = sounds.nearest(text, item)
        p = mixed_up.p(text, item, cost)
        finding = _measured(Kind.HEARD, p, taken.mass, (text, taken.said), (item_id, item))
        if finding is not None:
            yield finding


def _by_sound(kind: Kind, pair: Pair, p: float, times: int) -> Finding | None:
    """What the sound says; `times` the names were said and not taken for one another."""
    severity, like = next(((s, words_) for least, s, words_ in _BY_SOUND if p >= least), (None, ""))
    one, other = pair.one.text, pair.other.text
    if kind is not Kind.SOUND:
        part = "one word of the number" if kind is Kind.NUMBER else "the ending"
        near = kind is Kind.ENDING or pair.cost <= NUMBER_COST
        severity = severity or (Severity.MEDIUM if near else Severity.LOW)
        message = f'"{one}" and "{other}" differ only in {part}, which noise swallows first'
    elif severity is None:
        return None
    else:
        message = f'"{one}" sounds {like} "{other}"; whoever says one may be given the other'
    items = (pair.one.item, pair.other.item)
    how = f"not met when said {times} times" if times else "not measured"
    return Finding(kind, severity, (one, other), items, f"{message} (by sound, {how})", _HELP)


def _measured(
    kind: Kind, p: float, mass: float, names: tuple[str, str], items: tuple[str, str]
) -> Finding | None:
    severity = next((severity for least, severity in _BY_MEASURE if p >= least), None)
    if severity is None:
        return None
    if severity is Severity.HIGH and mass < MET_TWICE:
        severity = Severity.MEDIUM
    said, taken = names
    message = (
        f'said in chair noise, "{said}" would be taken for "{taken}" about 1 time in {max(1, round(1 / p))}'
    )
    return Finding(kind, severity, names, items, message, _HELP, p)


_HELP = "Say a longer name for one of them, or mark the pair so that the tool asks back"


def _without_note(pack: Pack, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Pairs that are easily mixed up and have no sentence that tells them apart."""
    noted = {frozenset((item.id, alike.item)) for item in pack.items for alike in item.confused_with}
    called = {item.id: item.name.text for item in pack.items}
    seen: set[frozenset[str]] = set()
    for finding in findings:
        pair = frozenset(finding.items)
        if len(pair) != 2 or pair in noted or pair in seen:
            continue
        if finding.severity is Severity.LOW or finding.kind is Kind.SAME_NAME:
            continue
        seen.add(pair)
        one, other = (called.get(item, item.replace("_", " ")) for item in finding.items)
        yield Finding(
            Kind.NO_NOTE,
            Severity.LOW,
            finding.names,
            finding.items,
            f"nothing tells a trainee how {one} and {other} differ, though their names are easily mixed up",
            "Add a look-alike note to one of them",
        )


# --- single names -----------------------------------------------------------------------------------


def _request_words(pack: Pack, names: Iterable[tuple[Item, Name]]) -> Iterator[Finding]:
    """Names that are also words for asking, for an action or for a refusal."""
    forms = forms_of(pack.speech, pack.language)
    groups = (
        ("an order to do something", forms.actions),
        ("an end of an instrument", forms.ends),
        ("a size", forms.sizes),
        ("a refusal", forms.refusals),
        ("a request for the last thing again", forms.repeats),
        ("a courtesy", forms.endings),
    )
    for item, name in names:
        for text in dict.fromkeys((name.text, *name.say)):
            said = tokens(read_numbers(text, pack.language))
            for what, phrases in groups:
                if said and phrases.whole(said) is not None:
                    yield Finding(
                        Kind.REQUEST_WORDS,
                        Severity.HIGH,
                        (text,),
                        (item.id,),
                        f'"{text}" is also {what}; said alone it could not be told which is meant',
                        "Choose another name, or add a word to it",
                    )


def _unsayable(sounds: Sounds, names: Iterable[tuple[Item, Name]]) -> Iterator[Finding]:
    for item, name in names:
        for text in dict.fromkeys((name.text, *name.say)):
            phones = sounds.phones(text)
            strange = "".join(sorted({c for c in text if c.isalpha() and ord(c) > 0x24F}))
            if not phones:
                why, help_ = "holds nothing that can be said", "Write it in words"
            elif strange:
                why, help_ = (
                    f"holds letters ({strange}) that no engine knows",
                    "Add how it is said in plain letters",
                )
            elif max(len(word) for word in words(text)) > LONGEST_WORD:
                why, help_ = "holds a word too long for the engines", "Split the word or add how it is said"
            else:
                continue
            yield Finding(
                Kind.UNSAYABLE,
                Severity.MEDIUM,
                (text,),
                (item.id,),
                f'"{text}" {why}: it can be typed, but whoever says it is not understood',
                help_,
            )


# --- trays, procedures, engines ---------------------------------------------------------------------


def _trays(pack: Pack) -> Iterator[Finding]:
    called = {item.id: item.name.text for item in pack.items}
    for tray in pack.trays:
        spoken: dict[tuple[str, ...], str] = {}
        lying: dict[tuple[str, str], str] = {}
        for slot in tray.slots:
            key = words(slot.at)
            if key in spoken:
                yield Finding(
                    Kind.SLOT_TWICE,
                    Severity.HIGH,
                    (),
                    (slot.item,),
                    f'on the tray {tray.name} the slots "{spoken[key]}" and "{slot.at}" are said alike: '
                    "a trainee who is told the slot may reach into the wrong one",
                    "Give one of them another address",
                )
            spoken.setdefault(key, slot.at)
            sizes = [(slot.item, variant) for variant in slot.variants or ("",)]
            before = next((lying[size] for size in sizes if size in lying), None)
            if before is not None:
                yield Finding(
                    Kind.SLOT_TWICE,
                    Severity.LOW,
                    (),
                    (slot.item,),
                    f"on the tray {tray.name} {called.get(slot.item, slot.item)} lies in slot "
                    f"{before} and in slot {slot.at}; only the first is ever named",
                    "Clear one of them, or say how many lie in the first",
                )
            for size in sizes:
                lying.setdefault(size, slot.at)
        if all(procedure.tray != tray.id for procedure in pack.procedures):
            yield Finding(
                Kind.UNUSED_TRAY,
                Severity.LOW,
                (),
                (),
                f"no procedure uses the tray {tray.name}: what comes next is never foretold on it",
                "Add a procedure for it, or leave the tray out",
            )
    laid = {tray.id: {slot.item for slot in tray.slots} for tray in pack.trays}
    for procedure in pack.procedures:
        asked = (*(item for step in procedure.steps for item in step.items), *procedure.any_time)
        for item in dict.fromkeys(asked):
            if item not in laid.get(procedure.tray, set()):
                yield Finding(
                    Kind.NOT_ON_TRAY,
                    Severity.HIGH,
                    (),
                    (item,),
                    f"{procedure.name} asks for {called.get(item, item)}, which has no slot on its tray: "
                    "a trainee hears the name and finds nothing",
                    "Give it a slot or take it out of the steps",
                )


def _engine(pack: Pack) -> Iterator[Finding]:
    if pack.language not in HEARD_LANGUAGES:
        yield Finding(
            Kind.NO_ENGINE,
            Severity.LOW,
            (),
            (),
            f"no engine of this program hears the language {pack.language}: what is typed is understood, "
            "what is said is not, and sounds are judged as an English speaker would read them",
            "Use the pack for look-up and practice by text",
        )


def _without_ending(word: str) -> str:
    for ending in ("ing", "ant", "ent", "er", "or", "ed", "ly", "y"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word
