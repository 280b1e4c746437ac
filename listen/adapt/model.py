"""The network in PyTorch, as functions of its weights, and the low-rank addition that is trained.

It takes the weights by layer name, as `listen.neural.weights.read_weights` returns them, and batches of
sound and tokens of different lengths, and computes what `listen.neural.network.Network` computes, with
gradients. It mirrors the graphs there line by line and never chooses a token.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager

import torch
from torch import Tensor
from torch.nn import functional as F

from listen.neural.network import HEAD, HEADS, HIDDEN, LAYERS, SHORTEST_SAMPLES, rotary_table
from listen.neural.tokenizer import BEGIN
from listen.neural.weights import Array

Weights = Mapping[str, Tensor]
_ROTARY = 32
_EPSILON = 1e-5

ENCODER_RANK, DECODER_RANK = 48, 16


def as_tensors(weights: Mapping[str, Array], device: torch.device) -> dict[str, Tensor]:
    """The weights as float32 tensors; the tied embedding appears once."""
    return {
        name: torch.tensor(array, device=device)
        for name, array in weights.items()
        if name != "decoder.embed_tokens"
    }


# ---------------------------------------------------------------- what is trained


def new_factors(weights: Weights, seed: int) -> dict[str, tuple[Tensor, Tensor]]:
    """Two factors for every matrix and convolution but the embedding; their product starts at zero.

    A weight of shape (m, ...) counts as a matrix (m, k); its factors have shapes (m, rank) and (rank, k).
    """
    made = torch.Generator().manual_seed(seed)
    factors: dict[str, tuple[Tensor, Tensor]] = {}
    for name, weight in weights.items():
        if weight.ndim < 2 or name == "decoder.proj_out":
            continue
        rows, columns = len(weight), weight[0].numel()
        rank = min(ENCODER_RANK if name.startswith("encoder.") else DECODER_RANK, rows, columns)
        down = torch.randn(rows, rank, generator=made) * rows**-0.5
        up = torch.zeros(rank, columns)
        factors[name] = (down.to(weight.device).requires_grad_(), up.to(weight.device).requires_grad_())
    return factors


def merged(weights: Weights, factors: Mapping[str, tuple[Tensor, Tensor]], scale: float = 1.0) -> Weights:
    """The weights with the addition: W + scale * A @ B."""
    added = {
        name: weights[name] + scale * (down @ up).view(weights[name].shape)
        for name, (down, up) in factors.items()
    }
    return {**weights, **added}


# ---------------------------------------------------------------- encoder


def frames_of(samples: Tensor) -> tuple[Tensor, Tensor]:
    """Frames that so many samples make, shape = (n,): after the first convolution, and after the last."""
    first = (samples - 127) // 64 + 1
    return first, ((first - 7) // 3 + 1 - 3) // 2 + 1


def listen(weights: Weights, samples: Tensor, lengths: Tensor) -> tuple[Tensor, Tensor]:
    """Encode a batch of utterances.

    Args:
        samples: shape = (n, longest), float32, zeros after each one's end.
        lengths: shape = (n,), samples of each; at least `SHORTEST_SAMPLES`.

    Returns:
        The encoder's output, shape = (n, t, 288), and which frames are sound, shape = (n, t), bool.
    """
    if int(lengths.min()) < SHORTEST_SAMPLES:
        raise ValueError(f"an utterance has fewer than {SHORTEST_SAMPLES} samples; pad it with zeros")
    first, last = frames_of(lengths)
    with _exact(samples):
        # The first convolution has one channel: as a product of windows it is several times faster.
        x = torch.tanh(samples.unfold(1, 127, 64) @ weights["encoder.conv1"][:, 0].T).transpose(1, 2)
        x = _instance_norm(x, first)
        x = x * weights["encoder.groupnorm.weight"][:, None] + weights["encoder.groupnorm.bias"][:, None]
        for name, stride in (("encoder.conv2", 3), ("encoder.conv3", 2)):
            x = F.gelu(F.conv1d(x, weights[name], weights[f"{name}.bias"], stride=stride))
    x = x.transpose(1, 2)
    sound = torch.arange(x.shape[1], device=x.device) < last[:, None]
    cos, sin = _rotary(x.shape[1], x)
    for layer in range(LAYERS):
        name = f"encoder.layers.{layer}"
        y = _norm(x, weights[f"{name}.input_layernorm"])
        q, k, v = (_heads(_linear(weights, y, f"{name}.self_attn.{p}_proj")) for p in "qkv")
        y = _attend(_rotate(q, cos, sin), _rotate(k, cos, sin), v, sound[:, None, None])
        x = x + _linear(weights, y, f"{name}.self_attn.o_proj")
        y = _norm(x, weights[f"{name}.post_attention_layernorm"])
        y = F.gelu(_linear(weights, y, f"{name}.mlp.fc1"))
        x = x + _linear(weights, y, f"{name}.mlp.fc2")
    return _norm(x, weights["encoder.layer_norm"]), sound


# ---------------------------------------------------------------- decoder


def follow(weights: Weights, heard: Tensor, sound: Tensor, tokens: Tensor) -> Tensor:
    """The decoder's output after the begin mark and after each token.

    Args:
        heard, sound: what `listen` gave.
        tokens: shape = (n, k), padded at the end with any token.

    Returns:
        shape = (n, k + 1, 288); `log_p_next` makes log-probabilities of the next token from it.
    """
    begin = tokens.new_full((len(tokens), 1), BEGIN)
    x = F.embedding(torch.cat([begin, tokens], dim=1), weights["decoder.proj_out"].T)
    cos, sin = _rotary(x.shape[1], x)
    for layer in range(LAYERS):
        name = f"decoder.layers.{layer}"
        y = _norm(x, weights[f"{name}.input_layernorm"])
        q, k, v = (_heads(_linear(weights, y, f"{name}.self_attn.{p}_proj")) for p in "qkv")
        y = _attend(_rotate(q, cos, sin), _rotate(k, cos, sin), v, None)
        x = x + _linear(weights, y, f"{name}.self_attn.o_proj")
        y = _norm(x, weights[f"{name}.post_attention_layernorm"])
        q = _heads(_linear(weights, y, f"{name}.encoder_attn.q_proj"))
        k, v = (_heads(_linear(weights, heard, f"{name}.encoder_attn.{p}_proj")) for p in "kv")
        x = x + _linear(weights, _attend(q, k, v, sound[:, None, None]), f"{name}.encoder_attn.o_proj")
        y = _norm(x, weights[f"{name}.final_layernorm"])
        y, gate = _linear(weights, y, f"{name}.mlp.fc1").chunk(2, dim=-1)
        x = x + _linear(weights, y * F.silu(gate), f"{name}.mlp.fc2")
    return _norm(x, weights["decoder.norm"])


def log_p_next(weights: Weights, followed: Tensor) -> Tensor:
    """Log-probability of each next token, shape = (..., 32768), float32."""
    with _exact(followed):
        return F.log_softmax(followed.float() @ weights["decoder.proj_out"], dim=-1)


# ---------------------------------------------------------------- building blocks


def _exact(like: Tensor) -> AbstractContextManager[None]:
    """Sound itself is not rounded to half precision."""
    return torch.autocast(like.device.type, enabled=False)


def _instance_norm(x: Tensor, frames: Tensor) -> Tensor:
    """Each utterance to mean 0 and variance 1 over its own frames and all channels. x: (n, 288, t)."""
    own = (torch.arange(x.shape[2], device=x.device) < frames[:, None])[:, None]
    count = frames[:, None, None] * x.shape[1]
    mean = (x * own).sum((1, 2), keepdim=True) / count
    variance = ((x - mean).square() * own).sum((1, 2), keepdim=True) / count
    return (x - mean) * torch.rsqrt(variance + _EPSILON)


def _norm(x: Tensor, gain: Tensor) -> Tensor:
    return F.layer_norm(x, (HIDDEN,), gain, eps=_EPSILON)


def _linear(weights: Weights, x: Tensor, name: str) -> Tensor:
    return F.linear(x, weights[name].T, weights.get(f"{name}.bias"))


def _heads(x: Tensor) -> Tensor:
    """(n, t, 288) -> (n, 8, t, 36)."""
    return x.unflatten(-1, (HEADS, HEAD)).transpose(1, 2)


def _attend(q: Tensor, k: Tensor, v: Tensor, visible: Tensor | None) -> Tensor:
    """Attention over what is visible, or over what came before if `visible` is None. -> (n, t, 288)."""
    y = F.scaled_dot_product_attention(q, k, v, attn_mask=visible, is_causal=visible is None)
    return y.transpose(1, 2).flatten(2)


def _rotary(length: int, like: Tensor) -> tuple[Tensor, Tensor]:
    cos, sin = rotary_table(length)
    return torch.from_numpy(cos).to(like.device), torch.from_numpy(sin).to(like.device)


def _rotate(x: Tensor, cos: Tensor, sin: Tensor) -> Tensor:
    turned, kept = x[..., :_ROTARY].float(), x[..., _ROTARY:]
    swapped = torch.stack([-turned[..., 1::2], turned[..., ::2]], dim=-1).flatten(-2)
    return torch.cat([(turned * cos + swapped * sin).to(x.dtype), kept], dim=-1)
