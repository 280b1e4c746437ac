"""What is wrong or risky in a vocabulary, put the way a dentist would meet it, with a remedy.

Takes a pack that loads, shipped or composed of layers, and what an engine mistook a new name for. Gives
findings, worst first, each with one thing to do. It changes nothing and does not run an engine itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from vocab.language.by_language import read_numbers
from vocab.language.forms import forms_of
from vocab.language.tokens import tokens, words
from vocab.lint.similar_names import NameSounds, Pair
from vocab.pack.labels import LONGEST_NAME, name_problem, shown
from vocab.pack.references import normalised
from vocab.pack.schema import Item, Name, Pack

HEARD_LANGUAGES = ("en",)
"""Languages for which this program has an engine."""

MOST_RISKS = 10
"""At most this many pairs of items whose names sound alike are reported at once, the nearest ones."""
LONGEST_WORD = 30
"""Letters of the longest word that can still be said in one breath."""


class Severity(StrEnum):
    """How much a finding matters at the chair."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"

    @property
    def heading(self) -> str:
        """What stands above the findings that matter so much."""
        return {"high": "Put right first", "medium": "Worth a look", "low": "Minor"}[self]


_ORDER = (Severity.HIGH, Severity.MEDIUM, Severity.LOW)
_BY_SOUND = (
    (0.5, Severity.MEDIUM, "almost like"),
    (1.0, Severity.LOW, "much like"),
    (1.75, Severity.LOW, "somewhat like"),
)
"""By what their difference costs (see `vocab.lint.similar_names`); sound alone makes no finding severe."""
RISK_COST = 1.0
"""Names in use that differ by more are not reported as a risk of the whole vocabulary."""


class Kind(StrEnum):
    """What a finding is about."""

    SAME_NAME = "same name"
    SAME_SIZE = "same size"
    SHARED_ALONE = "shared with nobody"
    LATEX = "latex not kept apart"
    REQUEST_WORDS = "words of a request"
    SOUND = "sounds alike"
    HEARD = "heard as another"
    UNSAYABLE = "cannot be said"
    SLOT_TWICE = "slot used twice"
    NOT_ON_TRAY = "not on the tray"
    UNUSED_TRAY = "tray without procedure"
    NO_ENGINE = "no engine"


@dataclass(frozen=True)
class Finding:
    """One risk. `names` and `items` (ids) say where; `ask_back`: whether to always ask back for the two items
    is what helps."""

    kind: Kind
    severity: Severity
    names: tuple[str, ...]
    items: tuple[str, ...]
    message: str
    help: str
    ask_back: bool = False

    def __str__(self) -> str:
        return f"{self.severity}: {self.message}. {self.help}."


ASK_BACK = "Always ask which of the two is meant"
OTHER_NAME = "Choose a longer name, or one that sounds less like it"


def lint(pack: Pack, sounds: NameSounds | None = None) -> tuple[Finding, ...]:
    """Every finding about a pack, worst first; of names that sound alike, the worst `MOST_RISKS`."""
    sounds = sounds or NameSounds(pack)
    names = [(item, name) for item in pack.items for name in item.names]
    return _worst_first(
        [
            *_same_names(pack, sounds),
            *_risks(pack, sounds),
            *_shared(pack, sounds),
            *_sizes(pack, sounds),
            *_request_words(pack, names),
            *_unsayable(sounds, names),
            *_trays(pack),
            *_engine(pack),
        ]
    )


def lint_name(
    text: str, item_id: str, pack: Pack, sounds: NameSounds, heard: Sequence[Finding] = ()
) -> tuple[Finding, ...]:
    """The findings a new name of an item would cause; quick enough to run at every key press.

    The item may be one that the pack does not have yet. A text without words gives none.

    Args:
        heard: what an engine took the name for, worst first; reported instead of findings by sound.
    """
    if not text.strip():
        return ()
    if problem := name_problem(text):
        why, _, help_ = problem.partition("; ")
        message = f'"{shown(text, LONGEST_NAME)}" {why}'
        return (Finding(Kind.UNSAYABLE, Severity.HIGH, (text,), (item_id,), message, help_.capitalize()),)
    name, called = Name(text=text), pack.by_id
    here = called[item_id].name.text if item_id in called else "the new item"
    held = [s.item for s in sounds.by_key.get(sounds.key(text), ()) if s.item != item_id]
    if held and sounds.key(text):
        owners = tuple(dict.fromkeys((item_id, *held)))
        said = [here, *(called[item].name.text for item in owners[1:])]
        found = [_same_name(text, said, owners)]
    else:
        others = {item.id: item.name.text for item in pack.items if item.id != item_id}
        alike = [finding for pair in sounds.near(item_id, name) for finding in _alike(pair, others)]
        found = _one_for_each_two([*heard, *alike])
    found += _request_words(pack, [(called.get(item_id, pack.items[0]), name)])
    found += _unsayable(sounds, [(called.get(item_id, pack.items[0]), name)])
    return _worst_first(found)


def _worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """By severity; those of one severity stay in their order."""
    return tuple(sorted(findings, key=lambda finding: _ORDER.index(finding.severity)))


# --- names against names ----------------------------------------------------------------------------


def _same_names(pack: Pack, sounds: NameSounds) -> Iterator[Finding]:
    called = pack.called
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
        f'"{text}" would mean both {" and ".join(owners)}: anyone who says it is always asked which one',
        "Make it mean one of them and give the other a more specific name, or mark it as shared",
    )


def _shared(pack: Pack, sounds: NameSounds) -> Iterator[Finding]:
    """Names marked as shared that no other item has; items that differ in latex and are not kept apart."""
    known, apart = pack.by_id, _asked_back(pack)
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
                    "Remove the mark, or give the name to the other item too",
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
                    "one contains latex: it may be taken for the other",
                    ASK_BACK,
                    ask_back=True,
                )


def _sizes(pack: Pack, sounds: NameSounds) -> Iterator[Finding]:
    """Two variants of an item with names that sound the same, so that the wrong one may be shown."""
    for item in pack.items:
        said: dict[tuple[str, ...], str] = {}
        for name, variant in item.variant_name_pairs:
            for text in name.ways_to_say:
                other = said.setdefault(sounds.key(text), variant)
                if other != variant:
                    yield Finding(
                        Kind.SAME_SIZE,
                        Severity.HIGH,
                        (text,),
                        (item.id,),
                        f'"{text}" would mean both {item.name.text} {other} and {variant}',
                        "Give one of them another name",
                    )


def _risks(pack: Pack, sounds: NameSounds) -> list[Finding]:
    """The nearest names of items that are laid or used together and are not yet always asked about."""
    places = [{slot.item for slot in tray.slots} for tray in pack.trays]
    places += [{*p.any_time, *(item for step in p.steps for item in step.items)} for p in pack.procedures]
    called, apart = pack.called, _asked_back(pack)
    holders = {key: {sounding.item for sounding in held} for key, held in sounds.by_key.items()}
    found = []
    for pair in sounds.pairs():
        items = {pair.one.item, pair.other.item}
        if pair.cost > RISK_COST or items in apart or not any(items <= place for place in places):
            continue
        if items <= holders[pair.one.key] or items <= holders[pair.other.key]:
            continue  # both items hold one of the names, which is asked back anyway
        found += [replace(finding, help=ASK_BACK, ask_back=True) for finding in _alike(pair, called)]
    return _one_for_each_two(found)[:MOST_RISKS]


def _asked_back(pack: Pack) -> set[frozenset[str]]:
    return {frozenset(pair) for pair in pack.wide_margin}


def _one_for_each_two(found: Iterable[Finding]) -> list[Finding]:
    """The first finding about each pair of items."""
    first: dict[frozenset[str], Finding] = {}
    for finding in found:
        first.setdefault(frozenset(finding.items), finding)
    return list(first.values())


def _alike(pair: Pair, called: Mapping[str, str]) -> Iterator[Finding]:
    """A finding if two names sound alike; `called` maps items to usual names, added where they differ."""
    severity, like = next(((s, words_) for most, s, words_ in _BY_SOUND if pair.cost <= most), (None, ""))
    if severity is None:
        return
    texts = (pair.one.text, pair.other.text)
    items = (pair.one.item, pair.other.item)
    one, other = (_with_item(text, called.get(item, text)) for text, item in zip(texts, items, strict=True))
    message = f"{one} sounds {like} {other}; anyone who says one may be given the other"
    yield Finding(Kind.SOUND, severity, texts, items, message, OTHER_NAME)


def _with_item(text: str, called: str) -> str:
    return f'"{text}"' if normalised(text) == normalised(called) else f'"{text}" ({called})'


# --- single names -----------------------------------------------------------------------------------


def _request_words(pack: Pack, names: Iterable[tuple[Item, Name]]) -> Iterator[Finding]:
    """Names that are also words for asking, for an action or for a refusal."""
    forms = forms_of(pack.speech, pack.language)
    groups = (
        ("a command", forms.actions),
        ("an end of an instrument", forms.ends),
        ("a size", forms.sizes),
        ("a refusal", forms.refusals),
        ("a request for the last thing again", forms.repeats),
        ("a polite phrase", forms.endings),
    )
    for item, name in names:
        for text in dict.fromkeys(name.ways_to_say):
            said = tokens(read_numbers(text, pack.language))
            for what, phrases in groups:
                if said and phrases.whole(said) is not None:
                    yield Finding(
                        Kind.REQUEST_WORDS,
                        Severity.HIGH,
                        (text,),
                        (item.id,),
                        f'"{text}" is also {what}; said alone, it is unclear which is meant',
                        "Choose another name, or add a word to it",
                    )


def _unsayable(sounds: NameSounds, names: Iterable[tuple[Item, Name]]) -> Iterator[Finding]:
    for item, name in names:
        for text in dict.fromkeys(name.ways_to_say):
            phones = sounds.phones(text)
            strange = "".join(sorted({c for c in text if c.isalpha() and ord(c) > 0x24F}))
            if not phones:
                why, help_ = "has nothing that can be said", "Write it in words"
            elif strange:
                why, help_ = (
                    f"has letters ({strange}) that no engine knows",
                    "Add how it is said in plain letters",
                )
            elif max(len(word) for word in words(text)) > LONGEST_WORD:
                why, help_ = "has a word too long for the engines", "Split the word or add how it is said"
            else:
                continue
            yield Finding(
                Kind.UNSAYABLE,
                Severity.MEDIUM,
                (text,),
                (item.id,),
                f'"{text}" {why}: it can be typed, but is not understood when said',
                help_,
            )


# --- trays, procedures, engines ---------------------------------------------------------------------


def _trays(pack: Pack) -> Iterator[Finding]:
    called = pack.called
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
                    f'on the tray {tray.name} the slots "{spoken[key]}" and "{slot.at}" sound alike: '
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
                    f"on the tray {tray.name} {called.get(slot.item, slot.item)} is in slot "
                    f"{before} and in slot {slot.at}; only the first is ever named",
                    "Clear one of them, or say how many are in the first",
                )
            for size in sizes:
                lying.setdefault(size, slot.at)
        if all(procedure.tray != tray.id for procedure in pack.procedures):
            yield Finding(
                Kind.UNUSED_TRAY,
                Severity.LOW,
                (),
                (),
                f"no procedure uses the tray {tray.name}: what comes next is never predicted for it",
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
            f"no engine understands speech in the language {pack.language}: typed requests are understood, "
            "spoken ones are not, and sounds are judged as an English speaker would read them",
            "Use the vocabulary for look-up and practice by text",
        )
