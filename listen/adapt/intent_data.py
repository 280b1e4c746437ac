"""What the intent judge is trained on: natural sentences, everyday words, and the pack's own phrasings.

A pack gives examples with marked names, always the same ones, from the teaching side only.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np

from listen.bench.corpus import requests
from listen.bench.natural import GAP, FilledWay, Part, Way, ways
from listen.engine import Hearing
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Pack
from vocab.requests.intent import OTHER, TARGET
from vocab.requests.lexicon import Lexicon
from vocab.requests.sentence import marked as with_marks
from vocab.requests.understand import names_within

OWN = 1_500
"""Requests in the pack's own phrasings."""
SEED = 31
MOST_HEARD, WITHIN = 6, 8.0
"""How many sentences of one hearing are learnt from, and how far below the best (nats) they may be."""


@dataclass(frozen=True)
class IntentExample:
    """A sentence with the marks `TARGET` (this name) and `OTHER` in place of names, and the right label."""

    text: str
    label: str
    weight: float = 1.0


def save(examples: Sequence[IntentExample], path: Path) -> None:
    """One JSON object a line."""
    path.write_text("".join(json.dumps(asdict(one)) + "\n" for one in examples), encoding="utf-8")


def load(path: Path) -> tuple[IntentExample, ...]:
    """What `save` wrote."""
    return tuple(IntentExample(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines())


def examples(pack: Pack) -> tuple[IntentExample, ...]:
    """Everything that is taught."""
    return (*_of_ways("teach"), *_everyday(), *_own(pack))


def _of_ways(part: Part) -> Iterator[IntentExample]:
    for way in ways(part):
        for gap in dict.fromkeys(GAP.findall(way.sentence)):
            yield IntentExample(marked(way.sentence, gap), _label(way, gap))


def _label(way: Way, gap: str) -> str:
    """What is asked of the name in a gap: {x} is named but not wanted."""
    return "refuse" if gap == "x" else way.label


def marked(sentence: str, gap: str) -> str:
    """The sentence with one gap marked as the name in question."""
    return GAP.sub(lambda found: TARGET if found[1] == gap else OTHER, sentence)


def tuning() -> tuple[IntentExample, ...]:
    """The natural sentences of the tune side, on which the judge's probabilities are calibrated."""
    return tuple(_of_ways("tune"))


def heard(heard_as: Iterable[tuple[FilledWay, Hearing]], pack: Pack) -> Iterator[IntentExample]:
    """What the engine made of natural sentences: the right name in what it wrote keeps its label; a name that
    nobody said is labelled a mention."""
    lexicon, seen = Lexicon(pack), set[tuple[str, str]]()
    for said, hearing in heard_as:
        labels = {item: _label(said.way, gap) for gap, item in said.items.items()}
        for place, one in enumerate(hearing.spliced[:MOST_HEARD]):
            if one.log_p < hearing.spliced[0].log_p - WITHIN:
                break
            text, named = names_within(one.text, lexicon, pack.speech)
            for number, name in enumerate(named):
                right = [labels[c.item] for c in name.request.candidates if c.item in labels]
                if not right and place:
                    continue
                label, marked_text = right[0] if right else "mention", with_marks(text, named, number)
                if (marked_text, label) not in seen:
                    seen.add((marked_text, label))
                    yield IntentExample(marked_text, label, 1.0 if right and not place else 0.5)


def _everyday() -> Iterator[IntentExample]:
    text = files("listen.bench").joinpath("ways", "everyday.tsv").read_text(encoding="utf-8")
    for line in text.splitlines():
        label, sentence = line.split("\t")
        yield IntentExample(re.sub(r"\[[^]]+\]", TARGET, sentence), label)


def _own(pack: Pack) -> Iterator[IntentExample]:
    rng = np.random.default_rng(SEED)
    made = requests(pack, "tune", rng)
    for place in rng.permutation(len(made))[:OWN]:
        one = made[int(place)]
        for form in spoken_forms(one.name):
            text, found = re.subn(rf"\b{re.escape(form)}\b", TARGET, one.text, flags=re.IGNORECASE)
            if found == 1:
                yield IntentExample(text, "ask")
                break
    speech = pack.speech
    for before in (*speech.name_refusals, *speech.refusals):
        yield IntentExample(f"{before} {TARGET}.".capitalize().replace(TARGET.capitalize(), TARGET), "refuse")
    for before in speech.corrections:
        yield IntentExample(f"{before} {TARGET}, please.", "ask")
