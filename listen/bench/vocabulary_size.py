"""What a big vocabulary costs: loading, the search tree, a look-up, the engine's time for an utterance.

Takes a pack and numbers of names; returns one row per size. A smaller vocabulary is part of the pack, a
bigger one is the pack plus made-up items whose names are pairs of the pack's own words, so that they are as
long and as like each other as real ones. The same sound is heard at every size. `big_pack` and `step_times_s`
time the procedure model.
"""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path
from typing import TypeVar

import numpy as np
import yaml

from listen.bench.clips import cut
from listen.engine import Samples
from listen.neural.engine import NeuralEngine
from listen.neural.grammar import build_grammar
from listen.neural.tokenizer import Tokenizer
from listen.neural.weights import model_folder
from vocab.pack.load import DRAWINGS, SHIPPED, load_pack
from vocab.pack.schema import Pack
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import Lexicon

_T = TypeVar("_T")
NAMES_AN_ITEM = 6
LOOKUPS = 200
SEED = 31


@dataclass(frozen=True)
class SizeRow:
    """One size. tree_s: making the search tree; start_s: the engine's first start, with its tables, and a
    later one; lookup_ms, hear_ms: median and 95th percentile."""

    names: int
    load_s: float
    tree_s: float
    start_s: tuple[float, float]
    lookup_ms: tuple[float, float]
    hear_ms: tuple[float, float]


def written(pack: Pack, names: int, folder: Path) -> Path:
    """Write the pack's shipped files, but no drawings, to a new folder, with made-up items to reach this many
    names."""
    with as_file(files("vocab").joinpath(SHIPPED, pack.id)) as shipped:
        shutil.copytree(shipped, folder, ignore=shutil.ignore_patterns(DRAWINGS))
    missing = names - sum(len(item.names) for item in pack.items)
    made = list(_made_up(pack, missing)) if missing > 0 else []
    items = [
        {
            "id": f"made_up_{at}",
            "name": some[0],
            "synonyms": some[1:],
            "class": "examination",
            "purpose": "Stands for an item of a bigger clinic.",
            "look": "It is not made.",
            "handing": "It is not handed.",
            "reprocessing": "clean and heat-sterilise",
        }
        for at, some in enumerate(made[i : i + NAMES_AN_ITEM] for i in range(0, len(made), NAMES_AN_ITEM))
    ]
    text = yaml.safe_dump({"items": items}, sort_keys=False) if items else ""
    (folder / "items_made_up.yaml").write_text(text or "items: []\n", encoding="utf-8")
    return folder


def _made_up(pack: Pack, count: int) -> Iterator[str]:
    """Names that the pack does not have, each once."""
    own = {name.text.lower() for item in pack.items for name in item.names}
    words = sorted({word for name in own for word in name.split() if word.isalpha() and len(word) > 2})
    rng = np.random.default_rng(SEED)
    while count > 0:
        name = " ".join(str(word) for word in rng.choice(words, 2, replace=False))
        if name not in own:
            own.add(name)
            count -= 1
            yield name


def measured(pack: Pack, names: int, folder: Path, sounds: Sequence[Samples]) -> SizeRow:
    """One size, measured in an empty folder."""
    files_of = written(pack, names, folder / "pack")
    whole, load_s = _timed(lambda: load_pack(files_of))
    whole = cut(whole, names) if names < sum(len(item.names) for item in pack.items) else whole
    tokenizer = Tokenizer(model_folder() / "tokenizer.bin")
    _, tree_s = _timed(lambda: build_grammar(whole, tokenizer))
    NeuralEngine(cut(pack, NAMES_AN_ITEM), cache=folder / "cache")  # makes the model's graphs beforehand
    engine, first_s = _timed(lambda: NeuralEngine(whole, cache=folder / "cache"))
    engine, later_s = _timed(lambda: NeuralEngine(whole, cache=folder / "cache"))
    hear = [_timed(lambda sound=sound: engine.hear(sound))[1] for sound in sounds]  # type: ignore[misc]
    lexicon = Lexicon(whole)
    lexicon.prepare()
    said = [name.text.lower() for item in whole.items for name in item.names]
    rng = np.random.default_rng(SEED)
    asked = [said[int(i)][1:].split() for i in rng.integers(len(said), size=LOOKUPS)]
    find = [_timed(lambda words=words: lexicon.find(tuple(words)))[1] for words in asked]  # type: ignore[misc]
    return SizeRow(
        len(said), load_s, tree_s, (first_s, later_s), _middle_and_late(find), _middle_and_late(hear)
    )


def table(rows: Sequence[SizeRow]) -> str:
    """The sizes as Markdown."""
    head = "| names | load s | tree s | first / later start s | look-up ms, median / 95th | utterance ms |"
    lines = [
        f"| {r.names} | {r.load_s:.2f} | {r.tree_s:.2f} | {r.start_s[0]:.1f} / {r.start_s[1]:.1f} "
        f"| {r.lookup_ms[0]:.1f} / {r.lookup_ms[1]:.1f} | {r.hear_ms[0]:.0f} / {r.hear_ms[1]:.0f} |"
        for r in rows
    ]
    return "\n".join([head, "|" + " --- |" * 6, *lines])


def _timed(do: Callable[[], _T]) -> tuple[_T, float]:
    began = time.perf_counter()
    return do(), time.perf_counter() - began


def _middle_and_late(seconds: Sequence[float]) -> tuple[float, float]:
    ms = 1000 * np.array(seconds)
    return float(np.median(ms)), float(np.percentile(ms, 95))


STEPS, ITEMS_OF_A_STEP = 12, 8


def big_pack(rng: np.random.Generator, items: int = 500, procedures: int = 20) -> Pack:
    """A pack of nonsense items with one tray and procedures of twelve steps."""
    ids = [f"item_{i}" for i in range(items)]
    described = {
        "class": "examination",
        "purpose": "To be timed.",
        "look": "None.",
        "reprocessing": "clean and heat-sterilise",
    }

    def steps() -> list[dict[str, object]]:
        return [
            {
                "id": f"step_{s}",
                "name": f"Step {s}",
                "items": {ids[int(i)]: 1 for i in rng.choice(items, ITEMS_OF_A_STEP, replace=False)},
                "requests": 3,
            }
            for s in range(STEPS)
        ]

    return Pack.model_validate(
        {
            "id": "big",
            "name": "Big",
            "language": "en",
            "version": "1",
            "items": [{**described, "id": i, "name": i.replace("_", " ")} for i in ids],
            "trays": [
                {
                    "id": "all",
                    "name": "All",
                    "rows": [{"name": "row", "slots": [{"at": n, "item": i} for n, i in enumerate(ids, 1)]}],
                }
            ],
            "procedures": [
                {"id": f"procedure_{p}", "name": f"Procedure {p}", "tray": "all", "steps": steps()}
                for p in range(procedures)
            ],
            "speech": {"cues": ["the"], "endings": ["please"]},
        }
    )


def step_times_s(
    pack: Pack, rng: np.random.Generator, clock: Callable[[], float], steps: int = 200
) -> list[float]:
    """Seconds for each of `steps` requests when the procedure is unknown."""
    model = ProcedureModel(pack)
    belief = model.start()
    times_s = []
    for _ in range(steps):
        item = model.items[int(rng.integers(len(model.items)))]
        began_s = clock()
        belief = model.after(belief, item)
        model.next_items(belief)
        times_s.append(clock() - began_s)
    return times_s
