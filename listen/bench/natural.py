"""Natural speech: ways of asking for an item and of mentioning one, with the gaps filled from a pack.

A pack and a side come in; sentences and clips go out with what each asks for, and how well they were
understood, typed or heard. The ways stand in `ways/teach.tsv`,
`tune.tsv` and `test.tsv`, each written by different hands, and no way stands on two sides. A line has four
columns: label, manner, what fits the gap, and the sentence.

Labels: `ask` (with `=2` and so on where a number is wanted), `refuse`, `back`, `fell`, `out` (none left, one
missing), `mention`. Gaps: {a} is what the label is about ({as} in the plural), {b} is wanted too, {x} is
named but not wanted.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from listen.bench import clips as clips_of
from listen.bench.clips import Clip, NoVoices
from listen.bench.corpus import LONG_U, VOWELS, with_letters
from listen.bench.systems import SystemOutcome
from listen.shares import wilson
from listen.speech import noise, voices
from listen.speech.voices import Kind, Side
from vocab.errors import TraycallError
from vocab.language.tokens import spoken_forms
from vocab.pack.schema import Item, Name, Pack, Reprocessing

Part = Literal["teach", "tune", "test"]
LABELS = ("ask", "refuse", "back", "fell", "out", "mention")
GAP = re.compile(r"\{(a|as|b|x)\}")
_SEED, _TURN_HEARD = 1_501, 3


class BadWays(TraycallError):
    """A line of a file of ways cannot be read; the text names file and line."""


@dataclass(frozen=True)
class Way:
    """One way of saying something; `number` is its line. quantity: how many are wanted, where it is said."""

    part: Part
    number: int
    label: str
    quantity: int | None
    manner: str
    fits: str
    sentence: str


@dataclass(frozen=True)
class FilledWay:
    """A way with its gaps filled.

    text: as it is spoken; items: of each gap, `a`, `b` and `x`; names: as the pack writes them.
    """

    way: Way
    text: str
    items: dict[str, str]
    names: dict[str, str]

    @property
    def wanted(self) -> tuple[str, ...]:
        """The items asked for."""
        return tuple(self.items[gap] for gap in ("a", "b") if gap in self.items) if self.asks else ()

    @property
    def asks(self) -> bool:
        """Whether something is asked for."""
        return self.way.label == "ask"


@cache
def ways(part: Part) -> tuple[Way, ...]:
    """The ways of one side, in written order.

    Raises:
        BadWays: a line is damaged.
    """
    text = files("listen.bench").joinpath("ways", f"{part}.tsv").read_text(encoding="utf-8")
    return tuple(_way(part, number, line) for number, line in enumerate(text.splitlines(), 1))


def _way(part: Part, number: int, line: str) -> Way:
    columns = line.split("\t")
    if len(columns) != 4:
        raise BadWays(f"ways/{part}.tsv, line {number}: {len(columns)} columns instead of 4.")
    label, _, many = columns[0].partition("=")
    if label not in LABELS or columns[2] not in ("tool", "stuff", "any") or not GAP.search(columns[3]):
        raise BadWays(f"ways/{part}.tsv, line {number}: label, fit or gap is none that is known.")
    return Way(part, number, label, int(many) if many else None, columns[1], columns[2], columns[3])


class Filler:
    """Puts names of a pack into the gaps.

    A name that several items share is left out, since no single answer would be right.

    Args:
        only: ids of the items that may be named; all when None.
    """

    def __init__(self, pack: Pack, only: Iterable[str] | None = None) -> None:
        kept = None if only is None else set(only)
        owners = Counter(form for item in pack.items for form in {f for n in item.names for f in _forms(n)})
        own = [
            (item, name, form)
            for item in pack.items
            if kept is None or item.id in kept
            for name in item.names
            for form in _forms(name)[:1]
            if owners[form] == 1 and not name.shared
        ]
        self._names = {
            kind: [one for one in own if kind == "any" or _is_tool(one[0]) == (kind == "tool")]
            for kind in ("tool", "stuff", "any")
        }

    def said(self, way: Way, turn: int = 0) -> FilledWay:
        """The way with names drawn for it; another `turn` draws others."""
        rng = noise.generator_for("natural", str(_SEED), way.part, str(way.number), str(turn))
        text, items, names = way.sentence, dict[str, str](), dict[str, str]()
        for gap in dict.fromkeys(GAP.findall(text)):
            before = text[: text.index(f"{{{gap}}}")].lower().split()
            item, name, form = self._drawn(way.fits, gap, before[-1] if before else "", items, rng)
            key = "a" if gap == "as" else gap
            items[key], names[key] = item.id, name.text
            text = _filled(text, gap, with_letters(form, name.text))
        return FilledWay(way, _capitals(text), items, names)

    def _drawn(
        self, kind: str, gap: str, before: str, taken: dict[str, str], rng: np.random.Generator
    ) -> tuple[Item, Name, str]:
        among = [self._names[kind][int(place)] for place in rng.permutation(len(self._names[kind]))]
        free = [one for one in among if one[0].id not in taken.values()]
        return next((one for one in free if _stands_after(before, gap, *one)), free[0])


def _stands_after(before: str, gap: str, item: Item, name: Name, form: str) -> bool:
    """Whether people would say this name after this word, and in the plural where that is asked for."""
    mass = item.reprocessing is Reprocessing.MULTI_DOSE
    many = form.endswith("s") and not form.endswith("ss")
    if before in ("a", "an", "one", "another", "single"):
        return not (many or mass)
    if before in ("some", "any", "more", "enough"):
        return many or mass
    return not (gap == "as" and mass)


def _filled(text: str, gap: str, name: str) -> str:
    """The first such gap filled, with "a" or "an" before it as the name begins, and a plural where asked."""
    mark = f"{{{gap}}}"
    at = text.index(mark)
    if gap == "as" and not name.endswith("s"):
        name += "s"
    before = text[:at]
    vowel = name[0].lower() in VOWELS and not name.startswith(LONG_U)
    before = re.sub(r"\b([Aa])n? $", r"\1n " if vowel else r"\1 ", before)
    return before + name + text[at + len(mark) :].replace(mark, name)


def written(way: Way, names: Mapping[str, str]) -> str:
    """The way with these names in its gaps, as they are."""
    text = way.sentence
    for gap in dict.fromkeys(GAP.findall(text)):
        text = _filled(text, gap, names["a" if gap == "as" else gap])
    return _capitals(text)


def _capitals(text: str) -> str:
    return re.sub(r"(?:^|(?<=[.?!] ))[a-z]", lambda found: found[0].upper(), text)


def _is_tool(item: Item) -> bool:
    return item.reprocessing is Reprocessing.STERILISE


def _forms(name: Name) -> tuple[str, ...]:
    return tuple(dict.fromkeys(form for text in name.ways_to_say for form in spoken_forms(text)))


# ---------------------------------------------------------------- clips


@dataclass(frozen=True)
class NaturalClip:
    """Something said by a voice in some noise."""

    said: FilledWay
    clip: Clip


def clips(
    pack: Pack,
    side: Side,
    levels_db: Sequence[float | None],
    most: int = 0,
    speaker: str | None = None,
    kind: Kind = "recorded",
) -> tuple[NaturalClip, ...]:
    """Every way of a side, each said once by one voice of that side, at every level.

    Args:
        most: how many ways; all when 0.
        speaker: only this one's voices, of whichever kind.

    Raises:
        NoVoices: no such voice of this side can speak here.
    """
    speaking = voices.speaking(side, kind, speaker)
    if not speaking:
        raise NoVoices(f"no such voice of the {side} side is installed; see DEVELOPERS.md")
    filler, all_ways = Filler(pack), ways(side)
    order = noise.generator_for("natural clips", side).permutation(len(all_ways))
    said = [filler.said(all_ways[int(place)]) for place in order[: most or len(order)]]
    return tuple(
        NaturalClip(one, _clip(one, speaking[place % len(speaking)].id, snr_db))
        for snr_db in levels_db
        for place, one in enumerate(said)
    )


def texts(pack: Pack, side: Side) -> frozenset[str]:
    """Every way of a side, as `clips` has it said."""
    filler = Filler(pack)
    return frozenset(filler.said(way).text for way in ways(side))


def teaching_clips(
    pack: Pack, most: int, without: str, levels_db: Sequence[float | None]
) -> tuple[NaturalClip, ...]:
    """Ways of the teaching side, each said once by a recorded voice of the tune side, at one of the levels.

    Args:
        without: the speaker who is left out, as fitting is done on that one.
    """
    speaking = [v for v in voices.available("tune") if v.speaker != without]
    if not speaking:
        raise NoVoices("no recorded voice of the tune side is installed; see DEVELOPERS.md")
    filler, rng = Filler(pack), np.random.default_rng(_SEED)
    made = []
    for place in rng.permutation(len(ways("teach")))[:most]:
        said = filler.said(ways("teach")[int(place)], _TURN_HEARD)
        voice, level = (int(rng.integers(len(among))) for among in (speaking, levels_db))
        made.append(NaturalClip(said, _clip(said, speaking[voice].id, levels_db[level])))
    return tuple(made)


def _clip(said: FilledWay, voice: str, snr_db: float | None) -> Clip:
    kinds = clips_of.KINDS
    kind = kinds[int(noise.generator_for("clip", said.text, voice).integers(len(kinds)))]
    item = said.wanted[0] if said.wanted else None
    shown = None if snr_db is None else kind
    return Clip(said.text, item, voice, 1.0, 0.0, 1.0, shown, snr_db, room=False, muffle="open")


# ---------------------------------------------------------------- how it went


@dataclass(frozen=True)
class NaturalScore:
    """What came of the ways of one level.

    Of the requests: `offered`, the wanted items answered or among what was offered; `at_once`, answered and
    nothing else (or offered, where an item is always checked); `wrong`, an item answered that was not wanted.
    Of what is told or refused, and of mentions: `lit`, an item answered; `asked`, a check.
    """

    level: str
    requests: int
    offered: int
    at_once: int
    wrong: int
    told: int
    told_lit: int
    mentions: int
    mentions_lit: int
    mentions_asked: int


@dataclass(frozen=True)
class WayOutcome:
    """One way and what was done: items answered, and offered by a check."""

    level: str
    label: str
    wanted: tuple[str, ...]
    named: tuple[str, ...]
    offered: tuple[str, ...]


def answered(level: str, said: FilledWay, outcome: SystemOutcome) -> WayOutcome:
    """What an outcome did with something said."""
    return WayOutcome(level, said.way.label, said.wanted, outcome.named, outcome.offered)


def score(level: str, answers: Sequence[WayOutcome], pack: Pack) -> NaturalScore:
    """Count what came of one level."""
    asks = [one for one in answers if one.label == "ask"]
    told = [one for one in answers if one.label not in ("ask", "mention")]
    mentions = [one for one in answers if one.label == "mention"]
    return NaturalScore(
        level,
        len(asks),
        sum(_is_offered(one) for one in asks),
        sum(_is_at_once(one, pack) for one in asks),
        sum(bool(set(one.named) - set(one.wanted)) for one in asks),
        len(told),
        sum(bool(one.named) for one in told),
        len(mentions),
        sum(bool(one.named) for one in mentions),
        sum(bool(one.offered) and not one.named for one in mentions),
    )


def _is_offered(one: WayOutcome) -> bool:
    return set(one.wanted) <= {*one.named, *one.offered}


def _is_at_once(one: WayOutcome, pack: Pack) -> bool:
    checked = {item for item in one.wanted if pack.item(item).always_check}
    left = set(one.wanted) - checked
    return set(one.named) == left and checked <= set(one.offered) and (bool(checked) or not one.offered)


def counts(scores: Sequence[NaturalScore]) -> dict[str, dict[str, int]]:
    """What is kept for the model card: the numbers of each level."""
    return {one.level: {key: n for key, n in vars(one).items() if key != "level"} for one in scores}


def table(scores: Sequence[NaturalScore]) -> str:
    """The figures as lines of text, with intervals of 95 % (Wilson)."""
    head = (
        f"{'':8}{'requests: offered right':26}{'right at once':26}{'wrong item':22}"
        f"{'told, item lit':20}{'mentions: answered':24}{'asked about':22}"
    )
    return "\n".join([head, *(_line(one) for one in scores)])


def _line(one: NaturalScore) -> str:
    def share(k: int, n: int, width: int) -> str:
        part = wilson(k, n)
        shown = f"{k}/{n} {100 * part.value:.1f} % ({100 * part.low:.1f}-{100 * part.high:.1f})" if n else "-"
        return f"{shown:{width}}"

    return (
        f"{one.level:8}{share(one.offered, one.requests, 26)}{share(one.at_once, one.requests, 26)}"
        f"{share(one.wrong, one.requests, 22)}{share(one.told_lit, one.told, 20)}"
        f"{share(one.mentions_lit, one.mentions, 24)}{share(one.mentions_asked, one.mentions, 22)}"
    )
