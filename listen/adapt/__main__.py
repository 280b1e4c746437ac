"""`python -m listen.adapt`: make the adapter, and check that the rebuilt network equals the engine's.

Options in, calls to this package, files and one table out. Teaching wants a GPU (some ten minutes); without
one it runs the same steps slowly.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import soundfile
import torch
import typer

from listen.adapt import data, intent, intent_data, sound, train
from listen.adapt.model import as_tensors, follow, listen, log_p_next, merged
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.neural.network import HIDDEN, Network, write_graphs
from listen.neural.tokenizer import END, Tokenizer
from listen.neural.tree import TokenTree
from listen.neural.weights import (
    Adapter,
    Array,
    fingerprint,
    model_folder,
    read_adapter,
    read_weights,
    write_adapter,
)
from vocab.errors import TraycallError
from vocab.requests.intent import Intent, Pieces

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=(
        "Teaches the embedded engine's network the names of a pack and the noise of the chair. Needs: pip "
        "install -e '.[adapt,bench]'; python -m listen.bench voices; apt install flite festival "
        "festvox-us-slt-hts espeak-ng wordnet-base."
    ),
)


@app.command()
def recipe(
    out: Annotated[Path, typer.Argument(help="Where the sentences are written, one JSON object a line.")],
    share: Annotated[float, typer.Option(help="Part of the full number of sentences.")] = 1.0,
    seed: Annotated[int, typer.Option(help="Decides sentences, voices and held-out items.")] = data.SEED,
) -> None:
    """Write what will be said, for a machine that has no pack and no WordNet."""
    said = _recipe(share, seed)
    data.save(said, out)
    print(f"{len(said)} utterances in {out}")


@app.command(name="train")
def make(
    out: Annotated[Path, typer.Argument(help="Folder for adapter.npz and the table of the check.")],
    recipe: Annotated[Path | None, typer.Option(help="What `recipe` wrote. [default: made now]")] = None,
    steps: Annotated[int, typer.Option(help="Steps at most.")] = train.TrainSettings.steps,
    seconds: Annotated[
        float, typer.Option(help="Seconds of teaching at most.")
    ] = train.TrainSettings.seconds,
    batch: Annotated[int, typer.Option(help="Utterances a step.")] = train.TrainSettings.batch,
    rate: Annotated[float, typer.Option(help="Peak step size.")] = train.TrainSettings.rate,
    silent: Annotated[float, typer.Option(help="Share of mere noise.")] = train.TrainSettings.silent,
    keep: Annotated[float, typer.Option(help="Weight of staying as it was.")] = train.TrainSettings.keep,
    likeness: Annotated[
        float, typer.Option(help="Weight of encoding noisy sound like clear sound.")
    ] = train.TrainSettings.likeness,
    rivalry: Annotated[
        float, typer.Option(help="Weight of scoring better than a rival.")
    ] = train.TrainSettings.rivalry,
    without: Annotated[str | None, typer.Option(help="Leave out this speaker and check on it alone.")] = None,
    pieces: Annotated[int, typer.Option(help="Pieces of 10 s of each kind of noise.")] = 60,
    jobs: Annotated[int, typer.Option(help="Cores that speak and make noise.")] = os.cpu_count() or 1,
    scales: Annotated[str, typer.Option(help="Shares of the addition to check.")] = "0.5,0.75,1",
) -> None:
    """Speak, teach, check, and write the adapter."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.set_float32_matmul_precision("high")
    torch.backends.cudnn.allow_tf32 = True
    settings = train.TrainSettings(steps, seconds, batch, rate, silent, keep, likeness, rivalry)
    said = data.load(recipe) if recipe else _recipe(1.0, data.SEED)
    if without is not None:
        said = data.without_speaker(said, without)
    clock = _Clock()
    spoken = sound.speak_all(said, jobs)
    kept = [i for i, one in enumerate(spoken) if len(one)]
    said, spoken = tuple(said[i] for i in kept), [spoken[i] for i in kept]
    hours = sum(map(len, spoken)) / SAMPLE_RATE_HZ / 3_600
    clock.tell(f"{len(kept)} utterances spoken, {hours:.1f} hours")
    noises = sound.noise_pool(said, spoken, pieces, jobs)
    clock.tell(f"noises made: {', '.join(noises)}")
    folder = model_folder()
    tokenizer = Tokenizer(folder / "tokenizer.bin")
    weights = as_tensors(read_weights(folder), device)
    speech = sound.gathered(said, spoken, device)
    around = sound.Surroundings(noises, device, settings.seed)
    texts = train.targets(weights, said, speech, around, tokenizer)
    clock.tell("what to write is chosen")
    for one, tokens in list(zip(said, texts, strict=True))[:: max(1, len(said) // 25)]:
        print(f"  {one.text} -> {tokenizer.decode(tokens)}")
    others = train.rivals(weights, said, speech, texts, around, tokenizer)
    clock.tell("rivals are chosen")
    factors = train.teach(weights, said, speech, texts, others, around, settings)
    clock.tell("taught")
    out.mkdir(parents=True, exist_ok=True)
    arrays = {name: (down.cpu().numpy(), up.cpu().numpy()) for name, (down, up) in factors.items()}
    new = tuple(sorted({one.item for one in said if one.part == "new" and one.item}))
    write_adapter(Adapter(fingerprint(folder), 1.0, arrays, new), out / "adapter.npz")
    lines = []
    for scale in (0.0, *map(float, scales.split(","))):
        around = sound.Surroundings(noises, device, settings.seed, check=True)
        taught = merged(weights, factors, scale)
        for line in train.check(taught, said, speech, texts, around, tokenizer):
            lines.append((scale, line))
            print(f"scale {scale:4.2f}  {_row(line)}", flush=True)
    clock.tell("checked")
    table = "".join(
        f"{scale}\t{c.part}\t{c.level_db}\t{c.right:.4f}\t{c.nats:.4f}\t{c.count}\n" for scale, c in lines
    )
    (out / "check.tsv").write_text("scale\tpart\tlevel_db\tright\tnats\tcount\n" + table, encoding="utf-8")


@app.command("intent-base")
def intent_base(
    published: Annotated[Path, typer.Argument(help="Folder with model.safetensors and tokenizer.json.")],
    out: Annotated[Path, typer.Argument(help="Folder for base.npz and pieces.txt.")],
) -> None:
    """Cut the published sentence encoder to its commonest word pieces."""
    intent.cut_base(published, out)


@app.command("intent-examples")
def intent_examples(
    out: Annotated[Path, typer.Argument(help="Folder for teach.jsonl and tune.jsonl.")],
    adapter: Annotated[Path, typer.Option(help="Taught without the speaker who is left out.")],
    without: Annotated[str, typer.Option(help="The speaker on whom fitting is done.")] = "awb",
    heard: Annotated[int, typer.Option(min=0, help="Ways of the teaching side that are also heard.")] = 4_200,
    keep: Annotated[Path, typer.Option(help="Folder for spoken sentences and hearings.")] = Path("intent"),
    jobs: Annotated[int, typer.Option(help="Processes that hear.")] = os.cpu_count() or 1,
) -> None:
    """Write what the judge of intent is taught with, written and heard, and what it is made honest on."""
    from listen.bench import clips, hearings, natural
    from vocab.pack.load import shipped_pack

    pack = shipped_pack()
    todo = natural.teaching_clips(pack, heard, without, (None, 10.0, 10.0, 5.0, 5.0))
    ear = hearings.Ear("neural", pack, adapter=adapter)
    plain = [one.clip for one in todo]
    hear = partial(clips.sound, folder=keep)
    records = hearings.hear(plain, hear, [ear], keep / "hearings.jsonl", jobs) if plain else []
    pairs = [(one.said, hearings.hearing_of(r)) for one, r in zip(todo, records, strict=True)]
    out.mkdir(parents=True, exist_ok=True)
    taught = (*intent_data.examples(pack), *intent_data.heard(pairs, pack))
    intent_data.save(taught, out / "teach.jsonl")
    intent_data.save(intent_data.tuning(), out / "tune.jsonl")
    print(f"{len(taught)} examples in {out}")


@app.command("intent")
def intent_(
    folder: Annotated[Path, typer.Argument(help="What `intent-base` and `intent-examples` wrote.")],
    out: Annotated[Path, typer.Argument(help="Folder for model.onnx, pieces.txt and intent.json.")],
    epochs: Annotated[
        int, typer.Option(help="Times that every example is seen.")
    ] = intent.IntentSettings.epochs,
    rate: Annotated[float, typer.Option(help="Peak step size.")] = intent.IntentSettings.rate,
    seed: Annotated[int, typer.Option(help="Decides their order.")] = intent.IntentSettings.seed,
) -> None:
    """Teach the judge of intent (a minute on a GPU) and write the file that `vocab.requests.intent` runs."""
    pieces = Pieces(folder / "pieces.txt")
    settings = intent.IntentSettings(epochs=epochs, rate=rate, seed=seed)
    with np.load(folder / "base.npz") as stored:
        base = dict(stored)
    model = intent.teach(base, pieces, intent_data.load(folder / "teach.jsonl"), settings)
    out.mkdir(parents=True, exist_ok=True)
    intent.export(model, out / "float.onnx")
    intent.in_8_bits(out / "float.onnx", out / "model.onnx")
    (out / "float.onnx").unlink()
    (out / "pieces.txt").write_bytes((folder / "pieces.txt").read_bytes())
    (out / "intent.json").write_text('{"scale": 1, "shift": [0, 0, 0, 0, 0, 0]}\n', encoding="utf-8")
    tune = intent_data.load(folder / "tune.jsonl")
    made = Intent(out).scores([one.text for one in tune])
    by, shifts = intent.honest(made, [one.label for one in tune])
    fitted = {"scale": round(by, 4), "shift": [round(shift, 4) for shift in shifts]}
    (out / "intent.json").write_text(json.dumps(fitted) + "\n", encoding="utf-8")


@app.command()
def scale(
    adapter: Annotated[Path, typer.Argument(help="What `train` wrote.")],
    share: Annotated[float, typer.Argument(help="How much of it is added to the base: 0.5 is half way.")],
    out: Annotated[Path, typer.Argument(help="Where the scaled one is written.")],
) -> None:
    """Interpolate between the base and the taught network."""
    write_adapter(replace(read_adapter(adapter), scale=share), out)


@app.command()
def check(
    recording: Annotated[Path, typer.Argument(help="A recording of speech, 16 kHz.")],
    work: Annotated[Path, typer.Option(help="Folder for the engine's graphs (145 MB).")],
) -> None:
    """Compare the rebuilt network with the engine's on real sound; fails above 0.001."""
    samples, _ = soundfile.read(recording, dtype="float32")
    weights = read_weights(model_folder())
    work.mkdir(parents=True, exist_ok=True)
    write_graphs(weights, work)
    apart = _difference(weights, Network(work), samples)
    print(f"largest difference {apart:.2g}")
    if apart > 1e-3:
        raise typer.Exit(1)


def _recipe(share: float, seed: int) -> tuple[data.TeachingUtterance, ...]:
    from vocab.pack.load import shipped_pack  # a machine that is given a recipe needs no pack

    return data.recipe(shipped_pack(), data.Size().scaled(share), seed)


def _difference(weights: Mapping[str, Array], network: Network, samples: Samples) -> float:
    """Between keys, and between log-probabilities along what the network hears, of both networks."""
    heard = network.listen(samples)
    tree, tokens = TokenTree(network, heard), list[int]()
    while len(tokens) < 40 and (best := int(tree.log_p_next(len(tokens)).argmax())) != END:
        tree.add([len(tokens)], [best])
        tokens.append(best)
    rebuilt = as_tensors(weights, torch.device("cpu"))
    with torch.no_grad():
        encoded, sound_at = listen(rebuilt, torch.tensor(samples)[None], torch.tensor([len(samples)]))
        log_p = log_p_next(rebuilt, follow(rebuilt, encoded, sound_at, torch.tensor([tokens])))[0]
        keys = encoded[0] @ rebuilt["decoder.layers.0.encoder_attn.k_proj"]
    ours = heard.keys[0].reshape(HIDDEN, -1).T
    engines = np.stack([tree.log_p_next(node) for node in range(len(tokens) + 1)])
    return float(max(np.abs(keys.numpy() - ours).max(), np.abs(log_p.numpy() - engines).max()))


class _Clock:
    """Says how long each stage took."""

    def __init__(self) -> None:
        self._since = time.monotonic()

    def tell(self, what: str) -> None:
        now = time.monotonic()
        print(f"[{now - self._since:.0f} s] {what}", flush=True)
        self._since = now


def _row(line: train.Checked) -> str:
    level = "quiet" if line.level_db is None else f"{line.level_db:g} dB"
    figures = f"right {100 * line.right:5.1f} %  {line.nats:.3f} nats a token"
    return f"{line.part:8} {level:6} {figures}  of {line.count}"


def main(arguments: Sequence[str] | None = None) -> Any:
    """Run the commands; what a person can put right ends with one message and exit code 2."""
    try:
        return app(arguments)
    except TraycallError as error:
        print(f"listen.adapt: {error}", file=sys.stderr)
        raise SystemExit(2) from None


if __name__ == "__main__":
    main()
