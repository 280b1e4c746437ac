"""What a new name would be mixed up with, as the engine hears it.

It takes a pack, a name for one of its items and the engine in use. This machine's voices say the name and its
nearest neighbours in chair noise, to the engine with the name known, and the module gives what they were
taken for, and findings about that for `vocab.lint.findings.lint_name`. Nothing is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from listen.engine import Samples
from listen.readings import Calibration, Reader, Readings
from vocab.errors import TraycallError
from vocab.language.pronounce import Pronouncer
from vocab.language.tokens import spoken_forms, words
from vocab.lint.findings import HEARD_LANGUAGES, OTHER_NAME, Finding, Kind, Severity
from vocab.lint.similar_names import NameSounds
from vocab.pack.labels import LONGEST_NAME, name_problem, shown
from vocab.pack.references import normalised
from vocab.pack.schema import Name, Pack
from vocab.requests.lexicon import Lexicon

if TYPE_CHECKING:
    from listen.neural.engine import NeuralEngine
    from listen.speech.voices import Voice

VOICES = 3
"""How many people say a name, where that many voices are installed."""
LEVELS_DB = (10.0, 5.0)
"""Levels of speech over chair noise."""
NEIGHBOURS = 4
"""How many near names of other items are said as well."""
LEAST_SHARE = 0.05
"""Share of a name's utterances; what is taken for another name less often is not reported."""
SEVERE = 2.0
"""Utterances in all that must be taken for the other name to be severe: one alone may be an accident."""
SENTENCES = ("Can I have the {}, please.", "Pass me the {}.", "I need the {}.")


class CannotTry(TraycallError):
    """Nothing on this machine can say a name, or hear it."""


@dataclass(frozen=True)
class Mixup:
    """A name that was said `times` times, and another item's name that was heard.

    items: whose name was said, and whose was heard; mass: the other item's summed probability.
    """

    said: str
    heard: str
    items: tuple[str, str]
    times: int
    mass: float


class NamesInText:
    """Finds the names of a pack in sentences."""

    def __init__(self, pack: Pack) -> None:
        self._usual = pack.called
        self._forms = {
            item.id: [
                (words(form), name.text)
                for name in item.names
                for text in name.ways_to_say
                for form in spoken_forms(text)
            ]
            for item in pack.items
        }

    def called(self, text: str, item: str) -> str:
        """The longest name of the item that a sentence holds, or its usual name where there is none."""
        said = words(text)
        found = [
            (len(form), name)
            for form, name in self._forms[item]
            if any(said[at : at + len(form)] == form for at in range(len(said) - len(form) + 1))
        ]
        return max(found)[1] if found else self._usual[item]


def taken_for(said: str, item: str, heard: Sequence[Readings], names: NamesInText) -> tuple[Mixup, ...]:
    """The other items that utterances of a name may have asked for."""
    mass: dict[str, float] = {}
    called: dict[str, str] = {}
    for way in (way for readings in heard for way in readings.ways if len(way.requests) == 1):
        for candidate in way.requests[0].candidates:
            other = candidate.item
            if other != item:
                mass[other] = mass.get(other, 0.0) + way.p * candidate.p
                called.setdefault(other, names.called(way.text, other))
    return tuple(Mixup(said, called[other], (item, other), len(heard), p) for other, p in mass.items())


def findings(mixups: Sequence[Mixup]) -> tuple[Finding, ...]:
    """What to report about what names were taken for, worst first."""
    told = []
    for mixup in sorted(mixups, key=lambda mixup: -mixup.mass / mixup.times):
        share = mixup.mass / mixup.times
        if share >= LEAST_SHARE:
            often = f"about 1 time in {round(1 / share)}" if share < 2 / 3 else "nearly every time"
            tried_so = f'said {mixup.times} times in chair noise, "{mixup.said}"'
            message = f'{tried_so} would be taken for "{mixup.heard}" {often}'
            severity = Severity.HIGH if mixup.mass >= SEVERE else Severity.MEDIUM
            names = (mixup.said, mixup.heard)
            told.append(Finding(Kind.HEARD, severity, names, mixup.items, message, OTHER_NAME))
    return tuple(told)


def tried(
    pack: Pack,
    item: str,
    text: str,
    engine: NeuralEngine,
    calibration: Calibration,
    pronouncer: Pronouncer,
    folder: Path,
) -> tuple[Mixup, ...]:
    """Say a name and its nearest neighbours, with the name known to the engine: what it was taken for, and
    which of them were taken for its item.

    Args:
        item: an id that the pack lacks means a new item; pronouncer: shared, as it caches; folder: where
            spoken sentences are kept.

    Raises:
        CannotTry: no speech program is installed, no engine hears the pack's language, or the text is not a
            name.
    """
    check_name(text)
    if pack.language not in HEARD_LANGUAGES:
        raise CannotTry(f"no engine understands speech in the language {pack.language}")
    known = with_name(pack, item, Name(text=text))
    hears = engine.renewed(known, keep=False)
    reader = Reader(known, Lexicon(known, pronouncer), calibration)
    names = NamesInText(known)

    def said(name: str, owner: str) -> tuple[Mixup, ...]:
        heard = [reader.of_hearing(hears.hear(sound), {}) for sound in utterances(name, folder)]
        return taken_for(name, owner, heard, names)

    mine = said(text, item)
    near = NameSounds(pack, pronouncer).near(item, Name(text=text))
    neighbours = list(dict.fromkeys((pair.other.name.text, pair.other.item) for pair in near))[:NEIGHBOURS]
    theirs = (mixup for one in neighbours for mixup in said(*one) if mixup.items[1] == item)
    return (*mine, *theirs)


def check_name(text: str) -> None:
    """Raises `CannotTry` for what cannot be a name."""
    problem = name_problem(text)
    if problem is None and not normalised(text):
        problem = "has no letters or digits; write it in words"
    if problem:
        raise CannotTry(f"the name {shown(text, LONGEST_NAME)!r} {problem}")


def utterances(text: str, folder: Path) -> Iterator[Samples]:
    """A name said by some voices in chair noise, shapes = (n,); each voice says its own sentence."""
    from listen.speech import noise, voices

    speaking = _speakers()
    if not speaking:
        raise CannotTry("no speech program is installed to say names with; try: apt install espeak-ng")
    for voice, sentence in zip(speaking, SENTENCES, strict=False):
        clean = noise.pad(voices.cached(voice, sentence.format(spoken_forms(text)[0]), folder), 0.25, 0.25)
        for level_db in LEVELS_DB:
            rng = noise.generator_for("mixing", text, voice.id, level_db)
            yield noise.mix(clean, noise.chair(len(clean), rng), level_db).samples


def _speakers() -> Sequence[Voice]:
    """One voice each of some speakers: recorded ones first, and first those not used to train the engine."""
    from listen.speech import voices

    by_speaker = {voice.speaker: voice for voice in reversed(voices.available(formant=True))}
    return sorted(by_speaker.values(), key=lambda v: (v.formant, v.side != "test"))[:VOICES]


def with_name(pack: Pack, item: str, name: Name) -> Pack:
    """The pack with one more name of an item, or with a new item of that name."""
    if item not in pack.by_id:
        new = pack.items[0].model_copy(update={"id": item, "name": name, "synonyms": ()})
        return pack.model_copy(update={"items": (*pack.items, new)})
    items = tuple(
        known.model_copy(update={"synonyms": (*known.synonyms, name)}) if known.id == item else known
        for known in pack.items
    )
    return pack.model_copy(update={"items": items})
