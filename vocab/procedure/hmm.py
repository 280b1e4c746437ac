"""Hidden Markov model arithmetic over steps: forward, smoothed, most likely path, expected moves.

Functions take log-probabilities of the first step (S,), of the moves (S, S; rows sum to 1) and of the
observations (T, S; log p(seen at t | step, everything seen before t)), and return arrays of the same kinds.
The module knows nothing of items or procedures. It works in float64 because its results are compared with
other software.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

SAFE = 1e-280
"""Sums below this may have lost terms to underflow and are computed again in log space."""


def log_sum(log_p: Array, axis: int | None = None) -> Array:
    """log of the sum of exp along `axis` (all of it if None); -inf where everything is -inf."""
    top = np.max(log_p, axis=axis, keepdims=True)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        total = np.log(np.sum(np.exp(log_p - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis) if axis is not None else total.reshape(()))


def normalised(log_p: Array) -> Array:
    """`log_p` (S,) shifted so that it sums to 1."""
    return log_p - log_sum(log_p)


def moved(log_p: Array, log_move: Array, move: Array) -> Array:
    """log p of the step after one move, shape (S,); `move` is exp(log_move), passed in to save computing it.

    One matrix product relative to the likeliest step; columns so unlikely that terms could have
    underflowed are summed again in log space, so that a step once thought impossible can come back.
    """
    top = np.max(log_p)
    if not np.isfinite(top):
        return np.full_like(log_p, -np.inf)
    total = np.exp(log_p - top) @ move
    lost = np.flatnonzero(total < SAFE)
    with np.errstate(divide="ignore"):
        out = np.asarray(np.log(total) + top)
    if lost.size:
        out[lost] = log_sum(log_p[:, None] + log_move[:, lost], axis=0)
    return out


def forward(log_start: Array, log_move: Array, log_seen: Array) -> tuple[Array, float]:
    """Joint log p(step at t, seen up to t), shape (T, S), and the log-likelihood of all that was seen."""
    move = np.exp(log_move)
    log_p = np.empty_like(log_seen)
    for t, seen in enumerate(log_seen):
        log_p[t] = seen + (log_start if t == 0 else moved(log_p[t - 1], log_move, move))
    return log_p, float(log_sum(log_p[-1])) if len(log_p) else 0.0


def backward(log_move: Array, log_seen: Array) -> Array:
    """log p(seen after t | step at t), shape (T, S)."""
    back, log_p = log_move.T, np.zeros_like(log_seen)
    move = np.exp(back)
    for t in range(len(log_seen) - 2, -1, -1):
        log_p[t] = moved(log_p[t + 1] + log_seen[t + 1], back, move)
    return log_p


def smoothed(log_start: Array, log_move: Array, log_seen: Array) -> Array:
    """p(step at t | all that was seen), shape (T, S), rows sum to 1."""
    log_p = forward(log_start, log_move, log_seen)[0] + backward(log_move, log_seen)
    return np.exp(log_p - log_sum(log_p, axis=1)[:, None])


def expected_moves(log_start: Array, log_move: Array, log_seen: Array) -> Array:
    """Expected number of each move given all that was seen, shape (S, S); sums to T - 1."""
    log_p, log_likelihood = forward(log_start, log_move, log_seen)
    log_after = backward(log_move, log_seen) + log_seen
    total = np.zeros_like(log_move)
    for t in range(1, len(log_seen)):
        total += np.exp(log_p[t - 1][:, None] + log_move + log_after[t][None, :] - log_likelihood)
    return total


def best_path(log_start: Array, log_move: Array, log_seen: Array) -> list[int]:
    """The most likely whole path (Viterbi), one state per observation; the lower state wins a tie."""
    if not len(log_seen):
        return []
    log_best, came_from = log_start + log_seen[0], []
    for seen in log_seen[1:]:
        reach = log_best[:, None] + log_move
        came_from.append(np.argmax(reach, axis=0))
        log_best = np.max(reach, axis=0) + seen
    path = [int(np.argmax(log_best))]
    for source in reversed(came_from):
        path.append(int(source[path[-1]]))
    return path[::-1]
