"""Clips of people speaking, with the vocabulary swapped for what they say, and of people asking for nothing.

Takes the recordings of Debian's `pocketsphinx-testdata` (cards, a digit string, a command for a robot; each
with its published transcription) and of the `moonshine-voice` wheel; returns clips, and a pack for each set.
No recording here is from a clinic: engine, readings and verdict are the same, the words are not.

An utterance of several words is taken whole. The pack of a set holds every string that its recordings say and
strings of the same shape drawn by seed, one item each, so that one of about `STRINGS` must be picked.
"""

from __future__ import annotations

import hashlib
import importlib.util
import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, astuple, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from rapidfuzz.distance import Levenshtein

from listen.audio import file_blocks
from listen.bench.clips import SEED, Babblers, in_noise, level_name
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.neural.cache import default_cache, graphs
from listen.neural.engine import at_level, plain
from listen.neural.network import Network
from listen.neural.tokenizer import END, Tokenizer
from listen.neural.tree import ROOT, TokenTree
from listen.neural.weights import ADAPTER, model_folder
from listen.segments import Segmenter, utterances
from listen.speech import noise
from listen.speech.voices import Side
from vocab.errors import TraycallError
from vocab.language.tokens import words
from vocab.pack.schema import Item, ItemClass, Name, Pack, Reprocessing, Speech

TESTDATA = Path("/usr/share/pocketsphinx/test/data")
STRINGS = 250
KINDS = ("high speed", "slow speed", "suction", "ultrasonic", "music", "chair")
KITCHEN, KITCHEN_FILE = "kitchen", "kitchen.flac"
"""Recorded noise: its file is in the folder above the recording's."""

COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
RANKS = ("ace", *COUNTS[1:], "jack", "queen", "king", "lady")
SUITS = ("clubs", "hearts", "diamonds", "spades")
DIGITS = {**dict(zip("123456789", COUNTS, strict=False)), "z": "zero", "o": "oh"}


class NoPeople(TraycallError):
    """The package with the recordings of people is not installed."""


@dataclass(frozen=True)
class HumanClip:
    """A stretch of a recording. `item` is the string's id in the pack of its set, None for chatter."""

    path: Path
    start_s: float
    end_s: float | None
    group: str
    text: str
    item: str | None
    kind: str | None = None
    snr_db: float | None = None
    side: Side = "test"

    @property
    def id(self) -> str:
        """A hash of everything that decides the sound, and of the answer."""
        key = "\x1f".join([self.path.name, *(str(part) for part in astuple(self)[1:])])
        return hashlib.sha256(key.encode()).hexdigest()[:16]

    @property
    def facts(self) -> dict[str, Any]:
        """What the records of a hearing say of this clip; who spoke is not published."""
        named = {"path": self.path.name, "voice": self.group, "speaker": self.group}
        return {**asdict(self), **named, "level": level_name(self.snr_db)}


@dataclass(frozen=True)
class HumanSet:
    """Recordings that ask for strings of one pack."""

    name: str
    pack: Pack
    clips: tuple[HumanClip, ...]


def sound(clip: HumanClip) -> Samples:
    """The stretch, in its noise. shape = (n,), 16 kHz."""
    samples = _whole(clip.path)
    end = None if clip.end_s is None else round(clip.end_s * SAMPLE_RATE_HZ)
    stretch = samples[round(clip.start_s * SAMPLE_RATE_HZ) : end]
    seed = (clip.path.name, str(clip.start_s))
    if clip.kind == KITCHEN and clip.snr_db is not None:
        recorded = _whole(clip.path.parents[1] / KITCHEN_FILE)
        first = int(noise.generator_for("noise", *seed, KITCHEN).integers(len(recorded)))
        behind = np.take(recorded, np.arange(first, first + len(stretch)), mode="wrap")
        return noise.mix(stretch, behind, clip.snr_db).samples
    return in_noise(stretch, clip.kind, clip.snr_db, seed, Babblers((), Path()))


@lru_cache(maxsize=4)
def _whole(path: Path) -> Samples:
    if path.suffix == ".raw":
        raw, _ = soundfile.read(
            path, dtype="float32", samplerate=SAMPLE_RATE_HZ, channels=1, format="RAW", subtype="PCM_16"
        )
        return np.asarray(raw, np.float32)
    return np.concatenate(list(file_blocks(path)))


def at_levels(
    clips: Iterable[HumanClip], levels_db: Sequence[float | None], kinds: Sequence[str] = KINDS
) -> tuple[HumanClip, ...]:
    """Each clip at every level, each in one kind of noise (babble left out: there are no other voices)."""
    every = tuple(clips)
    return tuple(
        clip if level is None else replace(clip, kind=kinds[i % len(kinds)], snr_db=level)
        for level in levels_db
        for i, clip in enumerate(every)
    )


# ---------------------------------------------------------------- what people say


def sets(speech: Speech, folder: Path = TESTDATA) -> tuple[HumanSet, ...]:
    """Cards, digits and commands.

    Two more recordings of the package (numbers.raw, something.raw) come without a transcription and are left
    out, and so are the digit strings that come as features only (.mfc).

    Args:
        speech: its cues and endings may stand around a string, as around any name.

    Raises:
        NoPeople: the package is not installed.
    """
    if not (folder / "cards" / "cards.transcription").is_file():
        raise NoPeople(
            f"there are no recordings of people in {folder}; get them with: apt install pocketsphinx-testdata"
        )
    cards = [(folder / "cards" / f"{name}.wav", text) for name, text in _cards(folder)]
    digits = [
        (file, " ".join(DIGITS[c] for c in file.stem.split(".")[-1]))
        for file in sorted((folder / "tidigits").glob("*.raw"))
    ]
    commands = [(folder / "goforward.raw", "go forward ten meters")]  # the first <move> of goforward.gram
    return (
        _set("cards", cards, _card_shape, speech),
        _set("digits", digits, lambda text: [list(DIGITS.values())] * len(text.split()), speech),
        _set(
            "commands",
            commands,
            lambda _: [["go"], ["forward", "backward"], COUNTS, ["meter", "meters"]],
            speech,
        ),
    )


def _cards(folder: Path) -> Iterator[tuple[str, str]]:
    """File name and words: "<s> ten of clubs  </s> (001)"."""
    for line in (folder / "cards" / "cards.transcription").read_text("utf-8").splitlines():
        text, _, name = line.partition("</s>")
        yield name.strip(" ()"), " ".join(text.replace("<s>", "").split())


def _card_shape(text: str) -> list[Sequence[str]]:
    return [RANKS if word in RANKS else SUITS if word in SUITS else [word] for word in text.split()]


def _set(name: str, said: Sequence[tuple[Path, str]], shape: Any, speech: Speech) -> HumanSet:
    texts = list(dict.fromkeys(text for _, text in said))
    every = _with_others(texts, [shape(text) for text in texts])
    ids = {text: f"s{number:03d}" for number, text in enumerate(every)}
    clips = tuple(HumanClip(path, 0.0, None, name, text, ids[text]) for path, text in said)
    strings = {item: (text,) for text, item in ids.items()}
    return HumanSet(name, strings_pack(name, strings, speech), clips)


def _with_others(texts: Sequence[str], shapes: Sequence[Sequence[Sequence[str]]]) -> list[str]:
    """The strings that are said, then others of the same shapes in turn, none read as the same words."""
    rng = np.random.default_rng(SEED)
    out = {words(text): text for text in texts}
    pools = [_drawn(shape, rng) for shape in shapes]
    for pool in itertools.cycle(pools):
        if len(out) >= STRINGS or not any(pools):
            break
        while pool:
            text = pool.pop()
            if words(text) not in out:
                out[words(text)] = text
                break
    return list(out.values())


def _drawn(shape: Sequence[Sequence[str]], rng: np.random.Generator) -> list[str]:
    """Strings of this shape in random order: all of them, or twice as many as could be needed."""
    count = int(np.prod([len(choices) for choices in shape], dtype=float))
    if count <= 2 * STRINGS:
        every = [" ".join(parts) for parts in itertools.product(*shape)]
        return [every[int(i)] for i in rng.permutation(len(every))]
    made = (
        " ".join(choices[int(rng.integers(len(choices)))] for choices in shape) for _ in range(2 * STRINGS)
    )
    return list(dict.fromkeys(made))


def strings_pack(name: str, strings: Mapping[str, Sequence[str]], speech: Speech) -> Pack:
    """A pack of strings to be told apart; `strings` has the wordings of each item, by its id."""
    items = tuple(
        Item.model_validate(
            {
                "id": item,
                "name": Name(text=texts[0]),
                "synonyms": [Name(text=text) for text in texts[1:]],
                "class": ItemClass.CONSUMABLE,
                "purpose": "a string to be told from others",
                "look": "none",
                "reprocessing": Reprocessing.SINGLE_USE,
            }
        )
        for item, texts in strings.items()
    )
    around = Speech(cues=speech.cues, endings=speech.endings)
    return Pack(id=name, name=name, language="en", version="1", items=items, speech=around)


# ---------------------------------------------------------------- people who ask for nothing


def chatter(more: Sequence[Path] = (), folder: Path = TESTDATA) -> tuple[HumanClip, ...]:
    """Prose read aloud and talk, cut into utterances as the tool does it; all that is installed, plus
    `more`."""
    files = sorted((folder / "librivox").glob("*.wav"))
    found = importlib.util.find_spec("moonshine_voice")
    for place in (found.submodule_search_locations or []) if found else []:
        files += [Path(place) / "assets" / name for name in ("two_cities.wav", "beckett.wav")]
    return tuple(
        HumanClip(
            file,
            utterance.start_s,
            utterance.end_s,
            "chatter",
            f"{file.stem} {utterance.start_s:.1f} s",
            None,
        )
        for file in (*files, *more)
        if file.is_file()
        for utterance in utterances(file_blocks(file), Segmenter())
    )


# ---------------------------------------------------------------- general English

_LONGEST = 120
"""The number of tokens after which a decode that does not end is cut."""


@dataclass(frozen=True)
class WordErrors:
    """Words wrong, missing or extra, and the number of words in the published transcription."""

    errors: int
    words: int

    @property
    def share(self) -> float:
        return self.errors / self.words


def word_errors(taught: bool, folder: Path = TESTDATA) -> WordErrors:
    """Word errors of the model on prose read aloud, decoded greedily without any grammar.

    Args:
        taught: whether to use the shipped adapter.
    """
    model = model_folder()
    network = Network(graphs(model, default_cache(), ADAPTER if taught else None))
    tokenizer = Tokenizer(model / "tokenizer.bin")
    errors = count = 0
    for line in (folder / "librivox" / "transcription").read_text("utf-8").splitlines():
        said, _, name = line.removeprefix("<s> ").partition(" </s> ")
        asked = said.split()
        samples = _whole(folder / "librivox" / f"{name.strip('()')}.wav")
        errors += Levenshtein.distance(asked, plain(_written(network, tokenizer, samples)).split())
        count += len(asked)
    return WordErrors(errors, count)


def _written(network: Network, tokenizer: Tokenizer, samples: Samples) -> str:
    tree, node, tokens = TokenTree(network, network.listen(at_level(samples))), ROOT, list[int]()
    while len(tokens) < _LONGEST and (token := int(tree.log_p_next(node).argmax())) != END:
        tokens.append(token)
        (node,) = tree.add([node], [token])
    return tokenizer.decode(tokens)
