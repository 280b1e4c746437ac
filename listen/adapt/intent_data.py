"""What the judge of intent is taught with: natural sentences, everyday words, and our own phrasings.

Comes in: a pack. Goes out: examples with marked names, always the same ones, of the teaching side only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files

import numpy as np

from listen.adapt.intent import Example
from listen.bench.corpus import requests
from listen.bench.natural import GAP, ways
from vocab.intent import OTHER, TARGET
from vocab.schema import Pack
from vocab.spoken import spoken_forms

OWN = 1_500
"""Requests in the pack's own phrasings."""
SEED = 31


def examples(pack: Pack) -> tuple[Example, ...]:
    """Everything that is taught."""
    return (*_natural(), *_everyday(), *_own(pack))


def _natural() -> Iterator[Example]:
    for way in ways("teach"):
        for gap in dict.fromkeys(GAP.findall(way.sentence)):
            label = {"b": way.label, "x": "refuse"}.get(gap, way.label)
            yield Example(marked(way.sentence, gap), label)


def marked(sentence: str, gap: str) -> str:
    """The sentence with one gap marked as the name in question."""
    return GAP.sub(lambda found: TARGET if found[1] == gap else OTHER, sentence)


def _everyday() -> Iterator[Example]:
    text = files("listen.bench").joinpath("ways", "everyday.tsv").read_text(encoding="utf-8")
    for line in text.splitlines():
        label, sentence = line.split("\t")
        yield Example(re.sub(r"\[[^]]+\]", TARGET, sentence), label)


def _own(pack: Pack) -> Iterator[Example]:
    rng = np.random.default_rng(SEED)
    made = requests(pack, "tune", rng)
    for place in rng.permutation(len(made))[:OWN]:
        one = made[int(place)]
        for form in spoken_forms(one.name):
            text, found = re.subn(rf"\b{re.escape(form)}\b", TARGET, one.text, flags=re.IGNORECASE)
            if found == 1:
                yield Example(text, "ask")
                break
    speech = pack.speech
    for before in (*speech.name_refusals, *speech.refusals):
        yield Example(f"{before} {TARGET}.".capitalize().replace(TARGET.capitalize(), TARGET), "refuse")
    for before in speech.corrections:
        yield Example(f"{before} {TARGET}, please.", "ask")
