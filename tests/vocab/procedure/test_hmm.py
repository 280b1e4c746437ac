"""The arithmetic of the hidden chain is that of hmmlearn (CategoricalHMM) and of counting every path."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM  # type: ignore[import-untyped]

from vocab.procedure.hmm import Array, best_path, expected_moves, forward, moved, normalised, smoothed


def random_chain(seed: int, states: int, symbols: int) -> tuple[Array, Array, Array]:
    rng = np.random.default_rng(seed)
    start = rng.dirichlet(np.ones(states))
    move = rng.dirichlet(np.full(states, 0.5), size=states)
    emit = rng.dirichlet(np.full(symbols, 0.5), size=states)
    return start, move, emit


def hmm_of(start: Array, move: Array, emit: Array) -> CategoricalHMM:
    model = CategoricalHMM(n_components=len(start), n_features=emit.shape[1])
    model.startprob_, model.transmat_, model.emissionprob_ = start, move, emit
    return model


@pytest.mark.parametrize("seed", range(8))
def test_posteriors_likelihood_and_best_path_equal_hmmlearn(seed: int) -> None:
    start, move, emit = random_chain(seed, states=3 + seed, symbols=6)
    symbols = np.random.default_rng(100 + seed).integers(6, size=40)
    log_seen = np.log(emit[:, symbols]).T
    hmm, column = hmm_of(start, move, emit), symbols[:, None]
    chain = (np.log(start), np.log(move), log_seen)
    assert forward(*chain)[1] == pytest.approx(hmm.score(column), abs=1e-9)
    np.testing.assert_allclose(smoothed(*chain), hmm.predict_proba(column), atol=1e-9)
    assert best_path(*chain) == list(hmm.decode(column)[1])


@pytest.mark.parametrize("seed", range(4))
def test_the_filter_is_the_posterior_of_what_came_so_far(seed: int) -> None:
    start, move, emit = random_chain(seed, states=4, symbols=5)
    symbols = np.random.default_rng(200 + seed).integers(5, size=12)
    log_p, _ = forward(np.log(start), np.log(move), np.log(emit[:, symbols]).T)
    hmm = hmm_of(start, move, emit)
    for t in range(len(symbols)):
        now = hmm.predict_proba(symbols[: t + 1, None])[-1]
        np.testing.assert_allclose(np.exp(normalised(log_p[t])), now, atol=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_every_answer_equals_counting_all_paths(seed: int) -> None:
    start, move, emit = random_chain(seed, states=3, symbols=4)
    symbols = np.random.default_rng(300 + seed).integers(4, size=5)
    steps, moves = np.zeros((5, 3)), np.zeros((3, 3))
    total = 0.0
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    for path in itertools.product(range(3), repeat=5):
        p = start[path[0]] * emit[path[0], symbols[0]]
        for t in range(1, 5):
            p *= move[path[t - 1], path[t]] * emit[path[t], symbols[t]]
        total += p
        best = max(best, (p, path))
        for t, s in enumerate(path):
            steps[t, s] += p
        for a, b in itertools.pairwise(path):
            moves[a, b] += p
    chain = (np.log(start), np.log(move), np.log(emit[:, symbols]).T)
    assert forward(*chain)[1] == pytest.approx(np.log(total))
    np.testing.assert_allclose(smoothed(*chain), steps / total)
    np.testing.assert_allclose(expected_moves(*chain), moves / total)
    assert best_path(*chain) == list(best[1])


def test_a_step_thought_impossible_for_long_comes_back() -> None:
    # Two chains that never meet; the first is 2,000 nats behind, far below what a float can hold.
    log_p, move = np.array([-2000.0, 0.0]), np.eye(2)
    with np.errstate(divide="ignore"):
        log_move = np.log(move)
    assert moved(log_p, log_move, move) == pytest.approx([-2000.0, 0.0])


def test_impossible_stays_impossible_without_a_warning() -> None:
    nothing = np.full(2, -np.inf)
    with np.errstate(all="raise"):
        assert np.all(moved(nothing, np.log(np.full((2, 2), 0.5)), np.full((2, 2), 0.5)) == -np.inf)
        certain = moved(np.array([0.0, -np.inf]), np.array([[0.0, -np.inf]] * 2), np.array([[1.0, 0.0]] * 2))
    assert list(certain) == [0.0, -np.inf]


def test_nothing_seen_gives_an_empty_answer() -> None:
    chain = (np.log([0.5, 0.5]), np.log(np.full((2, 2), 0.5)), np.zeros((0, 2)))
    assert forward(*chain)[1] == 0.0
    assert best_path(*chain) == []
    assert smoothed(*chain).shape == (0, 2)
