"""The network as two ONNX graphs shaped for scoring a whole tree of continuations at once.

`write_graphs` writes weights, given by layer name, as graphs into a folder once; `Network` runs them:
`listen` turns audio into the decoder's view of it, and `extend` turns many token nodes into
log-probabilities of what follows each. The published decoder keeps one cache per hypothesis; here all nodes
of a search share one cache and an attention mask says which of them are ancestors, so hypotheses cost no
copies. It never chooses a token.

Architecture (published PyTorch class `MoonshineForConditionalGeneration`, tiny): hidden 288, 6 + 6
layers, 8 heads of 36, rotary over the first 32 of each head (interleaved pairs, base 10,000),
intermediate 1152, gated SiLU in the decoder, GELU in the encoder, tied embeddings.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import onnxruntime
from numpy.typing import NDArray
from onnx import ModelProto, NodeProto, TensorProto, helper, numpy_helper, save

from listen.engine import SAMPLE_RATE_HZ, Samples

Array = NDArray[np.float32]

HIDDEN, LAYERS, HEADS, HEAD = 288, 6, 8, 36
_ROTARY, _ROTARY_BASE = 32, 10_000.0
_LAYER_NORM_EPSILON = 1e-5
_OPSET, _IR = 18, 9
_ENCODER, _DECODER, _EMBEDDING = "encoder.onnx", "decoder.onnx", "embedding.npy"
LONGEST_S = 30.0
"""Longer audio than this is not heard in one piece."""
SHORTEST_SAMPLES = 2_048
"""Fewer samples than this give the encoder nothing to look at; shorter audio is padded with zeros."""
_LONGEST_TOKENS = 256
NO_ANCESTOR = np.float32(-1e9)


@dataclass(frozen=True)
class Encoded:
    """One utterance as the decoder sees it: keys and values of every layer over T frames.

    keys: shape = (6, 8, 36, T); values: shape = (6, 8, T, 36).
    """

    keys: Array
    values: Array


@dataclass(frozen=True)
class Extension:
    """What `extend` found for N nodes.

    log_p: shape = (N, 32768), log-probability of each next token; keys, values: shape =
    (6, 8, N, 36), to be appended to the cache.
    """

    log_p: Array
    keys: Array
    values: Array


class Network:
    """Encoder and decoder as two onnxruntime sessions over float32 weights.

    Args:
        folder: what `write_graphs` wrote.
        threads: processor cores used by one call.
    """

    def __init__(self, folder: Path, threads: int = 2) -> None:
        self._embedding = np.load(folder / _EMBEDDING, mmap_mode="r")
        self._cos, self._sin = rotary_table(max(_LONGEST_TOKENS, int(LONGEST_S * 42) + 1))
        self._encoder = _session(folder / _ENCODER, threads)
        self._decoder = _session(folder / _DECODER, threads)

    def listen(self, samples: Samples) -> Encoded:
        """Encode an utterance.

        Args:
            samples: shape = (n,), float32 at 16 kHz, at most `LONGEST_S` long.
        """
        if len(samples) > LONGEST_S * SAMPLE_RATE_HZ:
            raise ValueError(
                f"at most {LONGEST_S:g} s can be heard in one piece, got "
                f"{len(samples) / SAMPLE_RATE_HZ:.1f} s"
            )
        if len(samples) < SHORTEST_SAMPLES:
            samples = np.pad(samples, (0, SHORTEST_SAMPLES - len(samples)))
        frames = _frames(len(samples))
        keys, values = self._encoder.run(
            None,
            {
                "samples": samples[None, None, :],
                "cos": self._cos[:frames],
                "sin": self._sin[:frames],
            },
        )
        return Encoded(keys, values)

    def extend(
        self,
        heard: Encoded,
        tokens: NDArray[np.int64],
        depths: NDArray[np.int64],
        visible: NDArray[np.bool_],
        keys: Array,
        values: Array,
    ) -> Extension:
        """Run the decoder over N new nodes of a search tree.

        Args:
            tokens: shape = (N,), the token of each node.
            depths: shape = (N,), its place in its own sequence, 0 for the begin mark.
            visible: shape = (N, P + N), True where a node may look: its ancestors and itself.
            keys, values: shape = (6, 8, P, 36), the cache of the P nodes that came before.
        """
        log_p, new_keys, new_values = self._decoder.run(
            None,
            {
                "embedded": np.asarray(self._embedding[tokens]),
                "cos": self._cos[depths],
                "sin": self._sin[depths],
                "mask": np.where(visible, np.float32(0), NO_ANCESTOR),
                "past_keys": keys,
                "past_values": values,
                "heard_keys": heard.keys,
                "heard_values": heard.values,
            },
        )
        return Extension(log_p, new_keys, new_values)


def write_graphs(weights: Mapping[str, Array], folder: Path) -> None:
    """Write both graphs and the embedding of some weights (about 145 MB); `folder` must exist."""
    for name, graph in ((_ENCODER, _encoder_graph), (_DECODER, _decoder_graph)):
        save(
            graph(weights),
            str(folder / name),
            save_as_external_data=True,
            location=f"{name}.weights",
            size_threshold=1024,
        )
    np.save(folder / _EMBEDDING, np.ascontiguousarray(weights["decoder.proj_out"].T))


def empty_cache() -> Array:
    """A cache without nodes, shape = (6, 8, 0, 36)."""
    return np.zeros((LAYERS, HEADS, 0, HEAD), np.float32)


def _frames(samples: int) -> int:
    return (((samples - 127) // 64 + 1 - 7) // 3 + 1 - 3) // 2 + 1


def rotary_table(length: int) -> tuple[Array, Array]:
    """Cosines and sines by position, each shape = (length, 32), pairs of neighbours share an angle."""
    frequency = _ROTARY_BASE ** (-np.arange(0, _ROTARY, 2) / _ROTARY)
    angle = np.repeat(np.arange(length)[:, None] * frequency, 2, axis=1)
    return np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)


def _session(model: Path, threads: int) -> onnxruntime.InferenceSession:
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.enable_cpu_mem_arena = False
    options.enable_mem_pattern = False  # every search has its own shapes; plans for them would pile up
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


class _Graph:
    """Collects nodes and constants; each method returns the name of its result."""

    def __init__(self, weights: Mapping[str, Array]) -> None:
        self._weights = weights
        self._nodes: list[NodeProto] = []
        self._constants: dict[str, TensorProto] = {}
        self._count = itertools.count()

    def weight(self, name: str) -> str:
        return self.constant(name, self._weights[name])

    def constant(self, name: str, array: NDArray[Any]) -> str:
        if name not in self._constants:
            self._constants[name] = numpy_helper.from_array(np.asarray(array, order="C"), name)
        return name

    def ints(self, *values: int) -> str:
        return self.constant("ints_" + "_".join(map(str, values)), np.array(values, np.int64))

    def number(self, value: float) -> str:
        return self.constant(f"number_{value}", np.array(value, np.float32))

    def op(self, kind: str, *inputs: str, **attributes: Any) -> str:
        output = f"{kind}_{next(self._count)}"
        self._nodes.append(helper.make_node(kind, list(inputs), [output], **attributes))
        return output

    def split(self, value: str, sizes: tuple[int, ...], axis: int) -> list[str]:
        outputs = [f"Split_{next(self._count)}" for _ in sizes]
        self._nodes.append(helper.make_node("Split", [value, self.ints(*sizes)], outputs, axis=axis))
        return outputs

    def linear(self, value: str, name: str) -> str:
        product = self.op("MatMul", value, self.weight(name))
        bias = f"{name}.bias"
        return self.op("Add", product, self.weight(bias)) if bias in self._weights else product

    def norm(self, value: str, name: str) -> str:
        return self.op("LayerNormalization", value, self.weight(name), axis=-1, epsilon=_LAYER_NORM_EPSILON)

    def heads(self, value: str) -> str:
        """(N, 288) -> (8, N, 36)."""
        return self.op("Transpose", self.op("Reshape", value, self.ints(-1, HEADS, HEAD)), perm=[1, 0, 2])

    def merge_heads(self, value: str) -> str:
        """(8, N, 36) -> (N, 288)."""
        return self.op("Reshape", self.op("Transpose", value, perm=[1, 0, 2]), self.ints(-1, HIDDEN))

    def rotate(self, value: str) -> str:
        """Rotary position on the first 32 of 36: value * cos + rotated * sin, with (x0, x1) -> (-x1, x0)."""
        turned, kept = self.split(value, (_ROTARY, HEAD - _ROTARY), axis=-1)
        swap = np.zeros((_ROTARY, _ROTARY), np.float32)
        swap[np.arange(1, _ROTARY, 2), np.arange(0, _ROTARY, 2)] = -1
        swap[np.arange(0, _ROTARY, 2), np.arange(1, _ROTARY, 2)] = 1
        rotated = self.op("MatMul", turned, self.constant("swap", swap))
        summed = self.op("Add", self.op("Mul", turned, "cos"), self.op("Mul", rotated, "sin"))
        return self.op("Concat", summed, kept, axis=-1)

    def attend(self, queries: str, keys_transposed: str, values: str, mask: str | None) -> str:
        scale = self.number(HEAD**-0.5)
        scores = self.op("Mul", self.op("MatMul", queries, keys_transposed), scale)
        if mask is not None:
            scores = self.op("Add", scores, mask)
        return self.merge_heads(self.op("MatMul", self.op("Softmax", scores, axis=-1), values))

    def stack(self, values: list[str]) -> str:
        return self.op("Concat", *(self.op("Unsqueeze", v, self.ints(0)) for v in values), axis=0)

    def layer_of(self, stacked: str, layer: int) -> str:
        return self.op("Gather", stacked, self.constant(f"layer_{layer}", np.array(layer, np.int64)), axis=0)

    def model(self, inputs: Mapping[str, list[str | int | None]], outputs: Mapping[str, str]) -> ModelProto:
        """The finished graph; `outputs` maps the public name to the inner one."""
        for public, inner in outputs.items():
            self._nodes.append(helper.make_node("Identity", [inner], [public]))
        graph = helper.make_graph(
            self._nodes,
            "traycall",
            [helper.make_tensor_value_info(n, TensorProto.FLOAT, s) for n, s in inputs.items()],
            [helper.make_tensor_value_info(n, TensorProto.FLOAT, None) for n in outputs],
            list(self._constants.values()),
        )
        opsets = [helper.make_opsetid("", _OPSET)]
        return helper.make_model(graph, opset_imports=opsets, ir_version=_IR)


def _encoder_graph(weights: Mapping[str, Array]) -> ModelProto:
    g = _Graph(weights)
    x = g.op("Tanh", g.op("Conv", "samples", g.weight("encoder.conv1"), strides=[64]))
    flat = g.op("Reshape", x, g.ints(0, 1, -1))
    one, zero = g.constant("one", np.ones(1, np.float32)), g.constant("zero", np.zeros(1, np.float32))
    level = g.op("InstanceNormalization", flat, one, zero, epsilon=_LAYER_NORM_EPSILON)
    x = g.op("Reshape", level, g.op("Shape", x))
    for part, kind in (("weight", "Mul"), ("bias", "Add")):
        name = f"encoder.groupnorm.{part}"
        x = g.op(kind, x, g.constant(name, weights[name].reshape(HIDDEN, 1)))
    for name, stride in (("encoder.conv2", 3), ("encoder.conv3", 2)):
        x = _gelu(g, g.op("Conv", x, g.weight(name), g.weight(f"{name}.bias"), strides=[stride]))
    x = g.op("Transpose", g.op("Squeeze", x, g.ints(0)), perm=[1, 0])
    for layer in range(LAYERS):
        name = f"encoder.layers.{layer}"
        y = g.norm(x, f"{name}.input_layernorm")
        queries, keys, values = (g.heads(g.linear(y, f"{name}.self_attn.{p}_proj")) for p in "qkv")
        keys = g.op("Transpose", g.rotate(keys), perm=[0, 2, 1])
        y = g.attend(g.rotate(queries), keys, values, mask=None)
        x = g.op("Add", x, g.linear(y, f"{name}.self_attn.o_proj"))
        y = g.norm(x, f"{name}.post_attention_layernorm")
        y = _gelu(g, g.linear(y, f"{name}.mlp.fc1"))
        x = g.op("Add", x, g.linear(y, f"{name}.mlp.fc2"))
    x = g.norm(x, "encoder.layer_norm")
    heard_keys, heard_values = [], []
    for layer in range(LAYERS):
        name = f"decoder.layers.{layer}.encoder_attn"
        heard_keys.append(g.op("Transpose", g.heads(g.linear(x, f"{name}.k_proj")), perm=[0, 2, 1]))
        heard_values.append(g.heads(g.linear(x, f"{name}.v_proj")))
    return g.model(
        {"samples": [1, 1, "n"], "cos": ["t", _ROTARY], "sin": ["t", _ROTARY]},
        {"keys": g.stack(heard_keys), "values": g.stack(heard_values)},
    )


def _decoder_graph(weights: Mapping[str, Array]) -> ModelProto:
    g = _Graph(weights)
    x = "embedded"
    new_keys, new_values = [], []
    for layer in range(LAYERS):
        name = f"decoder.layers.{layer}"
        y = g.norm(x, f"{name}.input_layernorm")
        queries, keys, values = (g.heads(g.linear(y, f"{name}.self_attn.{p}_proj")) for p in "qkv")
        keys = g.rotate(keys)
        new_keys.append(keys)
        new_values.append(values)
        keys = g.op("Concat", g.layer_of("past_keys", layer), keys, axis=1)
        values = g.op("Concat", g.layer_of("past_values", layer), values, axis=1)
        y = g.attend(g.rotate(queries), g.op("Transpose", keys, perm=[0, 2, 1]), values, "mask")
        x = g.op("Add", x, g.linear(y, f"{name}.self_attn.o_proj"))
        y = g.norm(x, f"{name}.post_attention_layernorm")
        queries = g.heads(g.linear(y, f"{name}.encoder_attn.q_proj"))
        heard_keys, heard_values = (g.layer_of(f"heard_{part}", layer) for part in ("keys", "values"))
        y = g.attend(queries, heard_keys, heard_values, mask=None)
        x = g.op("Add", x, g.linear(y, f"{name}.encoder_attn.o_proj"))
        y = g.norm(x, f"{name}.final_layernorm")
        y, gate = g.split(g.linear(y, f"{name}.mlp.fc1"), (4 * HIDDEN, 4 * HIDDEN), axis=-1)
        y = g.op("Mul", y, g.op("Mul", gate, g.op("Sigmoid", gate)))
        x = g.op("Add", x, g.linear(y, f"{name}.mlp.fc2"))
    logits = g.linear(g.norm(x, "decoder.norm"), "decoder.proj_out")
    cache: list[str | int | None] = [LAYERS, HEADS, "p", HEAD]
    return g.model(
        {
            "embedded": ["n", HIDDEN],
            "cos": ["n", _ROTARY],
            "sin": ["n", _ROTARY],
            "mask": ["n", "m"],
            "past_keys": cache,
            "past_values": cache,
            "heard_keys": [LAYERS, HEADS, HEAD, "t"],
            "heard_values": [LAYERS, HEADS, "t", HEAD],
        },
        {
            "log_p": g.op("LogSoftmax", logits, axis=-1),
            "keys": g.stack(new_keys),
            "values": g.stack(new_values),
        },
    )


def _gelu(g: _Graph, value: str) -> str:
    """0.5 x (1 + erf(x / sqrt 2))."""
    erf = g.op("Erf", g.op("Mul", value, g.number(0.5**0.5)))
    return g.op("Mul", g.op("Mul", value, g.number(0.5)), g.op("Add", erf, g.number(1.0)))
