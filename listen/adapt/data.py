"""What the network is trained on: sentences, who says each one, and how each is to be written.

A pack and a seed give `TeachingUtterance`s, always the same ones. A fifth of the items is held out with all
their names, so that new names can be reported separately; no sentence and no voice of the benchmark's test
side is ever used. It makes no sound and knows nothing of the network.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import chain, count, islice, product
from pathlib import Path
from typing import Any, Literal

import numpy as np
from rapidfuzz import fuzz, process

from listen.bench.corpus import as_sentence, chatter, fits, side_of, with_letters
from listen.bench.natural import Filler, ways, written
from listen.speech import voices
from vocab.errors import TraycallError
from vocab.language.tokens import spoken_forms, written_forms
from vocab.pack.schema import Item, Name, Pack, Reprocessing

SEED = 8_008
HELD_OUT = 0.2
"""Share of the items that are never named in training."""
MOST_WRITTEN = 12

RIVALS = 30

Part = Literal["train", "known", "new", "general"]
"""What an utterance is for: training, or a check on taught names, held-out names or general English."""

WORDNET = Path("/usr/share/wordnet")
"""Debian's `wordnet-base`: nouns to ask for, and short example sentences of general English."""


class TextMissing(TraycallError):
    """The package with general English is not installed."""


@dataclass(frozen=True)
class TeachingUtterance:
    """Something said.

    written: ways to write it, of which the one that the untaught network hears best is taught; none
    if that network's own hearing is to be kept. rate: 1.2 is a fifth faster; pitch: semitones up;
    vocal_tract: length relative to the speaker's own.
    """

    text: str
    written: tuple[str, ...]
    item: str | None
    part: Part
    voice: str
    rate: float
    pitch: float
    vocal_tract: float
    rivals: tuple[str, ...] = ()
    """The same request, as written, for other items of the pack; taught items only if it is itself taught."""


@dataclass(frozen=True)
class Size:
    """How many utterances of each kind: names of the pack in its own phrasings, in natural sentences, other
    names, general English, pairs, orders; and of each kind of check."""

    names: int = 6_000
    natural: int = 9_000
    other_names: int = 10_000
    general: int = 6_000
    pairs: int = 800
    orders: int = 600
    check: int = 240

    def scaled(self, share: float) -> Size:
        """A part of it, at least one of each."""
        return Size(*(max(1, round(count * share)) for count in asdict(self).values()))


VOICES: tuple[tuple[str, float], ...] = (
    ("flite-slt", 0.29),
    ("flite-awb", 0.30),
    ("flite-kal16", 0.25),
    ("festival-slt-hts", 0.04),
    ("espeak-us-m3", 0.03),
    ("espeak-us-f2", 0.03),
    ("espeak-gb-m1", 0.03),
    ("espeak-rp-f3", 0.03),
    *((voice.id, 0.0063) for voice in voices.VOICES if voice.side == "teach"),
)
"""Voices of the tune and the teaching side, and how often each speaks, as parts of their sum."""

RATE, PITCH, VOCAL_TRACT = (0.85, 1.2), (-4.0, 4.0), (0.85, 1.18)


def held_out(pack: Pack, seed: int = SEED) -> frozenset[str]:
    """Ids of the items that training never names."""
    order = np.random.default_rng(seed).permutation(len(pack.items))
    return frozenset(pack.items[int(i)].id for i in order[: round(HELD_OUT * len(pack.items))])


def recipe(pack: Pack, size: Size, seed: int = SEED) -> tuple[TeachingUtterance, ...]:
    """Every utterance to be spoken, the checks last.

    Raises:
        TextMissing: there is no general English on this machine.
    """
    rng = np.random.default_rng(seed)
    kept = held_out(pack, seed)
    taught = [item for item in pack.items if item.id not in kept]
    new = [item for item in pack.items if item.id in kept]
    known = list(islice(_distinct(_named(pack, taught, taught, rng)), size.names + size.check))
    checks = {said.text for said in known[: size.check]}
    general = list(islice(_distinct(_general(new, rng)), size.general + size.check))
    named = _distinct(_named(pack, new, pack.items, rng))
    said = chain(
        (one for one in known[size.check :] if one.text not in checks),
        islice(_natural(pack, taught), size.natural),
        islice(_distinct(_other_names(pack, new, rng)), size.other_names),
        general[size.check :],
        islice(_distinct(_pairs(pack, taught, rng)), size.pairs),
        islice(_orders(pack, rng), size.orders),
        (replace(one, part="general") for one in general[: size.check]),
        (replace(one, part="known") for one in known[: size.check]),
        (replace(one, part="new") for one in islice(named, size.check)),
    )
    return tuple(_spoken(one, rng) for one in said)


def without_speaker(said: Iterable[TeachingUtterance], speaker: str) -> tuple[TeachingUtterance, ...]:
    """The same, taught without one person's voice and checked on that voice alone."""
    own = [v.id for v in voices.VOICES if v.speaker == speaker and v.side == "tune"]
    if not own:
        raise TraycallError(f"no voice of the tune side belongs to a speaker {speaker!r}")
    return tuple(
        one if one.part == "train" else replace(one, voice=own[0])
        for one in said
        if one.part != "train" or voices.voice(one.voice).speaker != speaker
    )


def save(said: Sequence[TeachingUtterance], path: Path) -> None:
    """One JSON object a line."""
    path.write_text("".join(json.dumps(asdict(one)) + "\n" for one in said), encoding="utf-8")


def load(path: Path) -> tuple[TeachingUtterance, ...]:
    """What `save` wrote."""
    rows: list[dict[str, Any]] = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    for row in rows:
        row.update(written=tuple(row["written"]), rivals=tuple(row["rivals"]))
    return tuple(TeachingUtterance(**row) for row in rows)


# ---------------------------------------------------------------- requests of the pack


@dataclass(frozen=True)
class _TeachingText:
    """Words without a voice; fields as in `TeachingUtterance`."""

    text: str
    written: tuple[str, ...] = ()
    item: str | None = None
    part: Part = "train"
    rivals: tuple[str, ...] = ()


def _named(
    pack: Pack, items: Sequence[Item], among: Sequence[Item], rng: np.random.Generator
) -> Iterator[_TeachingText]:
    """Requests for each name in turn, again and again in other words, without end; `among` are the rivals."""
    names = [(item, way, text) for item in items for way in item.names for text in way.ways_to_say]
    rivals = {item.id: _names_of_others(item, among) for item in items}
    while True:
        for i in rng.permutation(len(names)):
            made = _request(pack, *names[int(i)], rivals[names[int(i)][0].id], rng)
            if made is not None:
                yield made


def _request(
    pack: Pack, item: Item, way: Name, name: str, others: Sequence[str], rng: np.random.Generator
) -> _TeachingText | None:
    """One request in words of the tune side; None where the draw fell on the other side.

    `name` is the way itself or one of its `say`; `others` are names of other items.
    """
    forms = spoken_forms(name)
    form = forms[0] if rng.random() < 0.7 else forms[int(rng.integers(len(forms)))]
    mass = item.reprocessing is Reprocessing.MULTI_DOSE
    cue = _opener(pack, form, mass, rng)
    head = f"{cue} {form}".strip()
    # "gi" and "g i" are read out alike, so every form that is read out so must be on this side.
    heads = {f"{cue} {other}".strip() for text in way.ways_to_say for other in spoken_forms(text)}
    aloud = as_sentence(with_letters(head, way.text))
    alike = (other for other in heads if as_sentence(with_letters(other, way.text)) == aloud)
    if any(side_of(other) != "tune" for other in alike):
        return None
    ending = _ending(pack, rng)
    text = as_sentence(with_letters(f"{head}, {ending}" if ending else head, way.text))
    written = _written(cue, written_forms(name), ending)
    said = (_written(cue, written_forms(other)[:1], ending)[0] for other in _rivals(name, others, rng))
    rivals = dict.fromkeys(islice((other for other in said if other not in written), 2 * RIVALS))
    return _TeachingText(text, written, item.id, rivals=tuple(islice(rivals, RIVALS)))


def _names_of_others(item: Item, among: Sequence[Item]) -> list[str]:
    """What other items are called and this one is not."""
    own = {way.text.lower() for way in item.names}
    names = [way.text for other in among if other.id != item.id for way in other.names]
    return [text for text in dict.fromkeys(names) if text.lower() not in own]


def _natural(pack: Pack, items: Sequence[Item]) -> Iterator[_TeachingText]:
    """Every sentence of the teaching side, asking or mentioning, again and again with other names of these
    items; the rivals are the same sentence with names of the others."""
    filler = Filler(pack, [item.id for item in items])
    others = {item.id: _names_of_others(item, items) for item in items}
    for turn in count():
        for way in ways("teach"):
            said = filler.said(way, turn)
            rng = np.random.default_rng([SEED, turn, way.number])
            forms = {gap: written_forms(name)[:4] for gap, name in said.names.items()}
            spelt = (written(way, dict(zip(forms, one, strict=True))) for one in product(*forms.values()))
            names = {gap: of_gap[0] for gap, of_gap in forms.items()}
            rivals = (
                written(way, {**names, "a": written_forms(other)[0]})
                for other in islice(_rivals(said.names["a"], others[said.items["a"]], rng), RIVALS)
            )
            texts = tuple(dict.fromkeys(islice(spelt, MOST_WRITTEN)))
            unlike = tuple(rival for rival in dict.fromkeys(rivals) if rival not in texts)
            yield _TeachingText(said.text, texts, said.items["a"], rivals=unlike)


def _rivals(name: str, names: Sequence[str], rng: np.random.Generator) -> Iterator[str]:
    """Names of other items, the half of `RIVALS` spelt most alike before those drawn at random."""
    alike = [text for text, _, _ in process.extract(name, names, scorer=fuzz.ratio, limit=RIVALS // 2)]
    drawn = (names[int(i)] for i in rng.permutation(len(names)))
    return chain(alike, drawn)


def _opener(pack: Pack, form: str, mass: bool, rng: np.random.Generator) -> str:
    """A cue; sometimes nothing, an amount, a size, a correction or a refusal before the name."""
    speech, draw = pack.speech, rng.random()
    if draw < 0.15:
        return ""
    if draw < 0.8:
        return _one_of([cue for cue in speech.cues if fits(cue, form, mass)] or ["the"], rng)
    if draw < 0.9:
        return _one_of([*speech.corrections, *speech.name_refusals], rng)
    amounts = [f for forms in (*speech.quantities.values(), *speech.sizes.values()) for f in forms]
    return _one_of([amount for amount in amounts if not amount.endswith("one")], rng)


def _written(cue: str, names: Sequence[str], ending: str) -> tuple[str, ...]:
    """As the engine's grammar spells it, with the stop that such a sentence has."""
    stop = "?" if cue.split(" ")[0] in ("can", "could", "may", "would") else "."
    ends = (f", {ending}{stop}", f" {ending}{stop}") if ending else (stop,)
    made = (_capital(f"{cue} {name}".strip()) + end for name, end in product(names, ends))
    return tuple(dict.fromkeys(islice(made, MOST_WRITTEN)))


def _pairs(pack: Pack, items: Sequence[Item], rng: np.random.Generator) -> Iterator[_TeachingText]:
    """Requests for two things."""
    while True:
        first, second = (items[int(i)] for i in rng.integers(len(items), size=2))
        one, two = (_one_of([name.text for name in item.names], rng) for item in (first, second))
        form, after = spoken_forms(one)[0], spoken_forms(two)[0]
        cue = _one_of(["", *(c for c in pack.speech.cues if fits(c, form, False))], rng)
        joiner, ending = _one_of(pack.speech.joiners, rng), _ending(pack, rng)
        said = f"{cue} {form} {joiner} {after}".strip()
        if side_of(f"{cue} {form}".strip()) != "tune" or side_of(said) != "tune":
            continue
        written = [
            f"{a}{comma} {joiner} {b}"
            for a, b, comma in product(written_forms(one)[:2], written_forms(two)[:2], ("", ","))
        ]
        text = as_sentence(f"{said}, {ending}" if ending else said)
        yield _TeachingText(text, _written(cue, written, ending))


def _orders(pack: Pack, rng: np.random.Generator) -> Iterator[_TeachingText]:
    """Sentences of the pack that name nothing: actions, ends, sizes, refusals."""
    speech = pack.speech
    grouped = (*speech.actions.values(), *speech.ends.values(), *speech.sizes.values())
    orders = [*chain.from_iterable(grouped), *speech.refusals, *speech.repeats]
    orders = [order for order in orders if side_of(order) == "tune"]
    while True:
        order, ending = _one_of(orders, rng), _ending(pack, rng)
        text = as_sentence(f"{order}, {ending}" if ending else order)
        yield _TeachingText(text, _written("", [order], ending))


# ---------------------------------------------------------------- names and sentences from elsewhere

OTHER_TRADES = """
whisk, rolling pin, ladle, colander, paring knife, bread knife, cutting board, garlic press, potato peeler,
pastry brush, baking tray, cooling rack, measuring cup, pepper mill, lemon squeezer, salad spinner, kettle,
saucepan, oven glove, cheese grater, nutcracker, corkscrew, tin opener, sieve, melon baller, piping bag,
claw hammer, tenon saw, coping saw, block plane, spokeshave, wood chisel, marking gauge, try square, awl,
spirit level, tape measure, nail set, wood rasp, bench vice, cordless drill, countersink, router, dowel jig,
sanding block, glue pot, mitre box, crowbar, pliers, side cutters, adjustable wrench, socket set, allen key,
seam ripper, pinking shears, thimble, bobbin, tailor's chalk, pin cushion, darning needle, crochet hook,
embroidery hoop, tape, zipper foot, bias binding, knitting needles, button thread, tracing wheel, steam iron,
trowel, secateurs, hedge shears, dibber, watering can, hand fork, garden hose, rake, hoe, lopper, spade,
pruning saw, seed tray, garden twine, wheelbarrow, leaf blower, potting mix, bulb planter, edging iron,
pipette, beaker, petri dish, test tube rack, bunsen burner, centrifuge tube, stirring rod, volumetric flask,
filter paper, crucible tongs, microscope slide, cover slip, hot plate, wash bottle, burette, safety goggles,
soldering iron, wire stripper, multimeter, heat shrink, breadboard, oscilloscope probe, hex driver, desolder
pump, lens cap, tripod, light meter, softbox, memory card, battery pack, cable release, lens cloth, stapler,
hole punch, paper clip, ruler, highlighter, envelope, sticky notes, glue stick, folder, ballpoint pen, eraser,
stethoscope, tourniquet, blood pressure cuff, otoscope, reflex hammer, bandage roll, thermometer, splint,
tuning fork, tongue depressor, penlight, cotton bandage, paint roller, masking tape, putty, drop cloth,
paint scraper, wallpaper brush, sandpaper, step ladder, caulking gun, spanner, grease gun, torque wrench,
jack, spark plug, oil filter, funnel, tyre lever, bike pump, chain tool, guitar pick, capo, drumstick,
metronome
"""
"""Tools of other trades, from memory."""

_ONSETS = "b,bl,br,d,dr,f,fl,g,gl,gr,h,j,k,kl,kr,l,m,n,p,pl,pr,r,s,sk,sl,sp,st,t,tr,v,w,z"
_VOWELS = "a,e,i,o,u,ai,ee,oa,ou"
_CODAS = ",b,d,ft,g,k,l,m,n,nt,p,r,rn,s,sk,t,x,zle"
"""How the syllables of made-up words begin, go on and sometimes end."""


def _other_names(pack: Pack, new: Sequence[Item], rng: np.random.Generator) -> Iterator[_TeachingText]:
    """Requests in the pack's cues for what it does not have; no name of a held-out item is said."""
    own = {form for item in pack.items for name in item.names for form in spoken_forms(name.text)}
    tools = [tool for tool in " ".join(OTHER_TRADES.split()).split(", ") if tool not in own]
    nouns = [noun for noun in _nouns() if noun not in own]
    forbidden = _whole_names(new)
    while True:
        draw = rng.random()
        name = _one_of(tools, rng) if draw < 0.3 else _one_of(nouns, rng) if draw < 0.9 else _nonsense(rng)
        cue = _one_of(["", *(c for c in pack.speech.cues if fits(c, name, False))], rng)
        head, ending = f"{cue} {name}".strip(), _ending(pack, rng)
        if side_of(head) == "tune" and not forbidden.search(head):
            # Nobody can say how a made-up word is written; there the network's own hearing is kept.
            written = () if draw >= 0.9 else _written(cue, [name], ending)
            yield _TeachingText(as_sentence(f"{head}, {ending}" if ending else head), written)


def _nonsense(rng: np.random.Generator) -> str:
    begin, middle, end = (sounds.split(",") for sounds in (_ONSETS, _VOWELS, _CODAS))
    return "".join(
        _one_of(begin, rng) + _one_of(middle, rng) + (_one_of(end, rng) if rng.random() < 0.6 else "")
        for _ in range(int(rng.integers(1, 4)))
    )


def _general(new: Sequence[Item], rng: np.random.Generator) -> Iterator[_TeachingText]:
    """General English and clinic talk of the tune side, which the network is to go on hearing as it does."""
    forbidden = _whole_names(new)
    talk = [line for line in chatter("tune") if not forbidden.search(line.lower())]
    sentences = [line for line in _examples() if not forbidden.search(line.lower())]
    while True:
        line = _one_of(talk, rng) if rng.random() < 0.15 else _one_of(sentences, rng)
        yield _TeachingText(line)


def _whole_names(items: Sequence[Item]) -> re.Pattern[str]:
    """Finds any spoken name of some items as whole words."""
    forms = {form for item in items for name in item.names for form in spoken_forms(name.text)}
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, sorted(forms, key=len, reverse=True)))})\b")


def _nouns() -> list[str]:
    """Lower-case nouns that texts are known to use, and pairs of such words that make one noun."""
    rows = [line.split() for line in _wordnet("index.noun") if not line.startswith(" ")]
    # lemma, part of speech, senses, pointers, ..., senses, senses seen in texts, one offset for each sense
    used = {row[0] for row in rows if int(row[-1 - int(row[2])]) > 0 and re.fullmatch("[a-z]{3,12}", row[0])}
    pairs = (row[0].split("_") for row in rows if row[0].count("_") == 1)
    return sorted(used) + sorted(" ".join(pair) for pair in pairs if used.issuperset(pair))


def _examples() -> list[str]:
    """Short example sentences, written as whole sentences."""
    found = (
        text
        for name in ("data.noun", "data.verb", "data.adj", "data.adv")
        for line in _wordnet(name)
        if not line.startswith("  ")
        for text in re.findall(r'"([^"]+)"', line.partition("|")[2])
    )
    plain = (text for text in found if re.fullmatch(r"[A-Za-z][A-Za-z', ]+", text))
    return [as_sentence(text) for text in plain if 4 <= len(text.split()) <= 13]


def _wordnet(name: str) -> list[str]:
    if not (WORDNET / name).is_file():
        raise TextMissing("teaching needs general English; install it with: apt install wordnet-base")
    return (WORDNET / name).read_text(encoding="utf-8", errors="replace").splitlines()


# ---------------------------------------------------------------- building blocks


def _spoken(said: _TeachingText, rng: np.random.Generator) -> TeachingUtterance:
    """Give words a voice, drawn for them alone."""
    ids, shares = zip(*VOICES, strict=True)
    voice = str(rng.choice(ids, p=np.array(shares) / sum(shares)))
    rate, pitch, tract = (round(float(rng.uniform(*between)), 3) for between in (RATE, PITCH, VOCAL_TRACT))
    return TeachingUtterance(
        said.text, said.written, said.item, said.part, voice, rate, pitch, tract, said.rivals
    )


def _distinct(made: Iterator[_TeachingText], patience: int = 2_000) -> Iterator[_TeachingText]:
    """No text twice until the words run out; after that repeats, in other voices."""
    seen: set[str] = set()
    again = 0
    for one in made:
        again = 0 if one.text not in seen else again + 1
        if again == 0 or again > patience:
            seen.add(one.text)
            yield one


def _ending(pack: Pack, rng: np.random.Generator) -> str:
    return _one_of(pack.speech.endings, rng) if rng.random() < 0.4 else ""


def _capital(text: str) -> str:
    said = " ".join("I" + word[1:] if word.split("'")[0] == "i" else word for word in text.split(" "))
    return said[:1].upper() + said[1:]


def _one_of(choices: Sequence[str], rng: np.random.Generator) -> str:
    return choices[int(rng.integers(len(choices)))]
