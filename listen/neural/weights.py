"""The model's weights, read from the two `.ort` files of the `moonshine-voice` wheel.

Given the folder with `encoder_model.ort`, `decoder_model_merged.ort` and `tokenizer.bin`, it returns float32
arrays by layer name ("decoder.layers.0.self_attn.q_proj"), dequantised where the file holds 8-bit matrices
(weight = scale * (stored - zero point), ONNX DynamicQuantizeLinear). Matrices are shaped (in, out). An
adapter (`adapter.npz`, made by `listen.adapt`) is added to them on request. It never runs the model.
"""

from __future__ import annotations

import hashlib
import importlib.util
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

from vocab.errors import TraycallError

Array = NDArray[np.float32]

_MODEL_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
ADAPTER = Path(__file__).with_name("adapter.npz")
"""Low-rank additions that teach the model the clinic's words and noise; the base model works without it."""

_DTYPES = {1: np.float32, 2: np.uint8, 3: np.int8}


class ModelMissing(TraycallError):
    """The wheel that carries the model is not installed, or not the version that carries it."""


class AdapterMismatch(TraycallError):
    """The adapter was made for other weights, or is not an adapter."""


@dataclass(frozen=True)
class Adapter:
    """Low-rank additions to some weights.

    base: `fingerprint` of the model they were made for; scale: how much of them is added; factors: by layer
    name two matrices (m, rank) and (rank, k) for a weight of shape (m, ...) with m * k elements; held_out:
    items whose names were kept out of the teaching, so that new names can be reported separately.
    """

    base: str
    scale: float
    factors: Mapping[str, tuple[Array, Array]]
    held_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Node:
    op: str
    name: str
    inputs: tuple[str, ...]


def model_folder() -> Path:
    """Where the installed `moonshine-voice` wheel keeps its English tiny model.

    Raises:
        ModelMissing: the wheel is absent, or is a version without the model inside.
    """
    spec = importlib.util.find_spec("moonshine_voice")
    if spec is None or not spec.submodule_search_locations:
        raise ModelMissing("the embedded engine's model is missing: pip install moonshine-voice==0.0.73")
    folder = Path(spec.submodule_search_locations[0]) / "assets" / "tiny-en"
    absent = [name for name in _MODEL_FILES if not (folder / name).is_file()]
    if absent:
        raise ModelMissing(
            f"the installed moonshine-voice has no {', '.join(absent)} inside (later versions download "
            "their model instead): pip install moonshine-voice==0.0.73"
        )
    return folder


def read_weights(folder: Path) -> dict[str, Array]:
    """Every weight of encoder and decoder as float32, by layer name."""
    return {
        **_read_file(folder / "encoder_model.ort", "encoder."),
        **_read_file(folder / "decoder_model_merged.ort", "decoder."),
    }


def read_adapter(path: Path) -> Adapter:
    """What `write_adapter` wrote.

    Raises:
        AdapterMismatch: the file is something else.
    """
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            base, scale = str(stored["base"]), float(stored["scale"])
            held_out = tuple(str(item) for item in stored["held_out"])
            names = sorted(name.removesuffix("/down") for name in stored.files if name.endswith("/down"))
            factors = {
                name: (stored[f"{name}/down"].astype(np.float32), stored[f"{name}/up"].astype(np.float32))
                for name in names
            }
    except (OSError, EOFError, KeyError, ValueError, zipfile.BadZipFile) as error:
        raise AdapterMismatch(
            f"{path} is not an adapter ({error}): install traycall again, or make one with: "
            "python -m listen.adapt train"
        ) from error
    return Adapter(base, scale, factors, held_out)


def write_adapter(adapter: Adapter, path: Path) -> None:
    """Store an adapter, its factors in half precision."""
    factors = {
        f"{name}/{part}": array.astype(np.float16)
        for name, pair in adapter.factors.items()
        for part, array in zip(("down", "up"), pair, strict=True)
    }
    facts = {
        "base": np.array(adapter.base),
        "scale": np.array(adapter.scale),
        "held_out": np.array(adapter.held_out, dtype=str),
    }
    np.savez_compressed(path, allow_pickle=False, **facts, **factors)


def merged(weights: Mapping[str, Array], adapter: Adapter, base: str) -> dict[str, Array]:
    """The weights with the adapter added: W + scale * A @ B.

    Args:
        base: `fingerprint` of the model that the weights came from.

    Raises:
        AdapterMismatch: the adapter was made for other weights.
    """
    check_base(adapter, base)
    added = dict(weights)
    for name, (down, up) in adapter.factors.items():
        if name not in weights or len(down) * up.shape[1] != weights[name].size:
            raise AdapterMismatch(
                f"the adapter changes a matrix {name!r} that the model does not have in this shape"
            )
        added[name] = weights[name] + np.float32(adapter.scale) * (down @ up).reshape(weights[name].shape)
    return added


def check_base(adapter: Adapter, base: str) -> None:
    """Check that an adapter was made for the model with this `fingerprint`.

    Raises:
        AdapterMismatch: it was not, or the model's files are damaged.
    """
    if adapter.base != base:
        raise AdapterMismatch(
            f"the adapter was made for the model {adapter.base}, but the installed one is {base}, another or "
            "a damaged one: pip install --force-reinstall moonshine-voice==0.0.73, or delete "
            "listen/neural/adapter.npz to use the model as it comes"
        )


def fingerprint(folder: Path) -> str:
    """Sixteen hex digits of the SHA-256 over the model's files."""
    digest = hashlib.sha256()
    for name in _MODEL_FILES:
        digest.update((folder / name).read_bytes())
    return digest.hexdigest()[:16]


def _read_file(path: Path, prefix: str) -> dict[str, Array]:
    graph = InferenceSession.GetRootAs(path.read_bytes(), 0).Model().Graph()
    stored: dict[str, NDArray[Any]] = {}
    nodes: list[_Node] = []
    for part in _with_subgraphs(graph):
        stored.update(_initializers(part))
        nodes.extend(_nodes(part))
    weights: dict[str, Array] = {}
    for node in nodes:
        layer = _layer_name(node.name)
        if layer is None:
            continue
        for role, array in _weights_of(node, stored):
            if array.ndim == 0:
                continue
            weights[f"{prefix}{layer}{role}"] = array
    return weights


def _weights_of(node: _Node, stored: dict[str, NDArray[Any]]) -> Iterator[tuple[str, Array]]:
    held = [name for name in node.inputs if name in stored]
    quantised = next((name for name in held if name.endswith("_quantized")), None)
    if quantised is not None:
        scale = stored[quantised.removesuffix("quantized") + "scale"]
        zero = stored[quantised.removesuffix("quantized") + "zero_point"]
        yield "", ((stored[quantised].astype(np.float32) - np.float32(zero)) * scale).astype(np.float32)
    for name in held:
        if name.endswith("bias") or ".bias_" in name:
            yield ".bias", stored[name]
        elif "weight" in name and name != quantised:
            yield "", stored[name]
        elif node.name.startswith("/groupnorm/"):
            if node.op == "Mul":
                yield ".weight", stored[name].reshape(-1)
            elif node.op == "Add":
                yield ".bias", stored[name].reshape(-1)


def _layer_name(node_name: str) -> str | None:
    """ "/model/decoder/layers.0/mlp/fc1/MatMul_quant" -> "layers.0.mlp.fc1"."""
    if node_name == "SkipLayerNormalization":
        return "layer_norm"
    found = re.fullmatch(r"/(?:model/decoder/)?(.+?)/[A-Za-z0-9_]+", node_name)
    return found.group(1).replace("/", ".") if found else None


def _with_subgraphs(graph: Any) -> Iterator[Any]:
    yield graph
    for i in range(graph.NodesLength()):
        node = graph.Nodes(i)
        for j in range(node.AttributesLength()):
            inner = node.Attributes(j).G()
            if inner is not None:
                yield from _with_subgraphs(inner)


def _initializers(graph: Any) -> Iterator[tuple[str, NDArray[Any]]]:
    for i in range(graph.InitializersLength()):
        tensor = graph.Initializers(i)
        dtype = _DTYPES.get(tensor.DataType())
        if dtype is not None and tensor.RawDataLength():
            shape = [tensor.Dims(j) for j in range(tensor.DimsLength())]
            yield tensor.Name().decode(), tensor.RawDataAsNumpy().view(dtype).reshape(shape)


def _nodes(graph: Any) -> Iterator[_Node]:
    for i in range(graph.NodesLength()):
        node = graph.Nodes(i)
        inputs = tuple(node.Inputs(j).decode() for j in range(node.InputsLength()))
        yield _Node(node.OpType().decode(), node.Name().decode(), inputs)
