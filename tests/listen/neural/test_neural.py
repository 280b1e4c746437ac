"""The embedded engine: its tokenizer and network against the published ones, its search by hand."""

from __future__ import annotations

import importlib.util
import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnxruntime
import pytest
import soundfile
from tokenizers import Tokenizer as PublishedTokenizer

from listen.engine import Samples
from listen.neural.cache import default_cache, graphs
from listen.neural.engine import at_level, plain
from listen.neural.grammar import START, TRIES, Grammar, Trie, build_grammar, names_of
from listen.neural.network import Network, empty_cache
from listen.neural.prior import trie_prior
from listen.neural.search import Scored, SearchSettings, search
from listen.neural.tokenizer import BEGIN, END, Tokenizer
from listen.neural.tree import ROOT, TokenTree
from listen.neural.weights import model_folder
from vocab.pack.load import shipped_pack


@pytest.fixture(scope="module")
def tokenizer() -> Tokenizer:
    return Tokenizer(model_folder() / "tokenizer.bin")


@pytest.fixture(scope="module")
def network() -> Network:
    return Network(graphs(model_folder(), default_cache(), adapter=None))


@pytest.fixture(scope="module")
def speech() -> Samples:
    """A man reading a line of a play, from the recordings inside the moonshine-voice wheel."""
    samples: Samples
    samples, rate_hz = soundfile.read(model_folder().parent / "beckett.wav", dtype="float32")
    assert rate_hz == 16_000
    return samples


def published_tokenizer() -> PublishedTokenizer:
    """The tokenizer.json that the model's makers publish, as packaged in useful-moonshine-onnx (PyPI)."""
    spec = importlib.util.find_spec("moonshine_onnx")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("useful-moonshine-onnx, which carries the published tokenizer, is not installed")
    return PublishedTokenizer.from_file(
        str(Path(spec.submodule_search_locations[0]) / "assets" / "tokenizer.json")
    )


def test_text_becomes_the_ids_of_the_published_tokenizer(tokenizer: Tokenizer) -> None:
    published = published_tokenizer()
    texts = [f"Could I have the {name}, please?" for name in names_of(shipped_pack())]
    for text in [*texts, "2x2s", "No, the Tofflemire!", "naïve ☃ 中文", "33 1/2"]:
        assert list(tokenizer.encode(text)) == published.encode(text, add_special_tokens=False).ids, text
        assert tokenizer.decode(tokenizer.encode(text)) == text


def test_a_sentence_put_together_from_its_parts_has_the_ids_of_the_whole(tokenizer: Tokenizer) -> None:
    published = published_tokenizer()
    for name in names_of(shipped_pack()):
        parts = (*tokenizer.encode(f"Hand me the {name}"), *tokenizer.encode_after_word(", please."))
        whole = published.encode(f"Hand me the {name}, please.", add_special_tokens=False).ids
        assert list(parts) == whole, name


def test_the_rebuilt_network_writes_what_the_packaged_one_writes(
    network: Network, tokenizer: Tokenizer, speech: Samples
) -> None:
    """Against the packaged `.ort` files run as they are; they compute in 8 bits, so within quantisation."""
    tree = TokenTree(network, network.listen(speech))
    node, tokens = ROOT, [BEGIN]
    while tokens[-1] != END and len(tokens) < 60:
        tokens.append(int(tree.log_p_next(node).argmax()))
        (node,) = tree.add([node], tokens[-1:])
    ours = np.stack([tree.log_p_next(place) for place in range(len(tokens) - 1)])
    theirs = packaged_log_p(speech, tokens[:-1])
    assert tokenizer.decode(tokens).startswith("Ever tried, ever failed")
    assert (theirs.argmax(axis=1) == ours.argmax(axis=1)).mean() > 0.95
    assert np.corrcoef(theirs.ravel(), ours.ravel())[0, 1] > 0.998


def packaged_log_p(samples: Samples, tokens: list[int]) -> np.ndarray:
    """Log-probabilities after each token by the packaged encoder and decoder, shape = (tokens, 32768)."""
    encoder, decoder = (
        onnxruntime.InferenceSession(str(model_folder() / name))
        for name in ("encoder_model.ort", "decoder_model_merged.ort")
    )
    mask = np.ones((1, len(samples)), np.int64)
    (hidden,) = encoder.run(None, {"input_values": samples[None], "attention_mask": mask})
    inputs = {
        "encoder_hidden_states": hidden,
        "encoder_attention_mask": mask,
        "input_ids": np.array([tokens]),
        "use_cache_branch": np.array([False]),
    }
    for layer, side, part in itertools.product(range(6), ("decoder", "encoder"), ("key", "value")):
        inputs[f"past_key_values.{layer}.{side}.{part}"] = np.zeros((1, 8, 0, 36), np.float32)
    logits = decoder.run(["logits"], inputs)[0][0].astype(np.float64)
    log_p: np.ndarray = logits - np.logaddexp.reduce(logits, axis=1, keepdims=True)
    return log_p


def test_a_branch_of_the_tree_scores_as_if_it_stood_alone(network: Network, speech: Samples) -> None:
    heard = network.listen(speech)
    one, two = [300, 301, 302], [400, 401, 402]
    together, alone = TokenTree(network, heard), TokenTree(network, heard)
    first = together.add([ROOT, ROOT], [one[0], two[0]])
    second = together.add(list(first), [one[1], two[1]])
    third = together.add(list(second), [one[2], two[2]])
    last = alone.add([ROOT, 1, 2], two)[-1]
    assert np.allclose(together.log_p_next(third[1]), alone.log_p_next(last), atol=1e-3)


def test_the_search_finds_every_phrasing_with_its_exact_score(
    network: Network, tokenizer: Tokenizer, speech: Samples
) -> None:
    """A grammar of three sentences, wide enough that nothing is pruned, against scoring each by itself."""
    grammar = tiny_grammar(tokenizer, ("Ever tried", "Ever failed", "Try again"))
    heard = network.listen(speech)
    found = search(network, heard, grammar, SearchSettings(width=1000, margin=1e9, hopeless=1e9))
    texts = {tokenizer.decode(s.tokens): s.log_p for s in found.phrasings}
    assert set(texts) == {"Ever tried.", "Ever failed.", "Try again."}
    for text, log_p in texts.items():
        assert log_p == pytest.approx(score_alone(network, heard, tokenizer.encode(text)), abs=1e-2)
    assert tokenizer.decode(found.free.tokens).startswith("Ever tried, ever failed")


def tiny_grammar(tokenizer: Tokenizer, sentences: tuple[str, ...]) -> Grammar:
    tries = {name: Trie() for name in TRIES}
    for sentence in sentences:
        tries["sentence"].add(tokenizer.encode(sentence))
    tries["ending"].add(tokenizer.encode_after_word("."))
    return Grammar(tries)


def score_alone(network: Network, heard: object, tokens: tuple[int, ...]) -> float:
    count = len(tokens) + 1
    extension = network.extend(
        heard,  # type: ignore[arg-type]
        np.array([BEGIN, *tokens]),
        np.arange(count),
        np.tril(np.ones((count, count), bool)),
        empty_cache(),
        empty_cache(),
    )
    return float(sum(extension.log_p[i, token] for i, token in enumerate((*tokens, END))))


def test_the_prior_table_equals_scoring_each_name_on_silence(network: Network, tokenizer: Tokenizer) -> None:
    silence = network.listen(np.zeros(16_000, np.float32))
    trie = Trie()
    names = ["mirror", "mouth mirror", "matrix band", "2x2"]
    leaves = [trie.add(tokenizer.encode(name)) for name in names]
    context = tokenizer.encode("Can I have the")
    table = trie_prior(network, silence, trie, context)
    parent = {child: p for p, _, child in trie.edges(trie.children[0].values())}
    for name, leaf in zip(names, leaves, strict=True):
        total, node = 0.0, leaf
        while node:
            total += float(table[node])
            node = parent[node]
        tree = TokenTree(network, silence)
        chain = (*context, *tokenizer.encode(name))
        tree.add(list(range(len(chain))), chain)
        alone = sum(float(tree.log_p_next(len(context) + i)[t]) for i, t in enumerate(tokenizer.encode(name)))
        assert total == pytest.approx(alone, abs=1e-2)


def test_the_grammar_accepts_requests_and_nothing_else(tokenizer: Tokenizer) -> None:
    grammar = build_grammar(shipped_pack(), tokenizer)
    for text in (
        "Could I have the pickups, please?",
        "Mouth mirror.",
        "Mirror and the explorer, please.",
        "Hand me two cotton rolls.",
        "No, the condenser.",
        "Rinse, please.",
        "Not yet.",
        "The 330 bur.",
    ):
        assert accepts(grammar, tokenizer.encode(text)), text
    for text in ("Could I have the newspaper?", "Mirror mirror", "Please.", "The light contact is there."):
        assert not accepts(grammar, tokenizer.encode(text)), text


def accepts(grammar: Grammar, tokens: tuple[int, ...]) -> bool:
    state = START
    for token in tokens:
        arcs = grammar.arcs(state)
        found = np.flatnonzero(arcs.tokens == token)
        if not len(found):
            return False
        state = int(arcs.states[found[0]])
    return grammar.arcs(state).may_end


def test_a_rare_name_said_once_is_not_favoured_as_two(tokenizer: Tokenizer) -> None:
    grammar = build_grammar(shipped_pack(), tokenizer)
    grammar.set_bias({name: np.ones(len(trie.children), np.float32) for name, trie in grammar.tries.items()})
    name = tokenizer.encode("The wedge puller")
    joiner, second = tokenizer.encode_after_word(" and"), tokenizer.encode("wedge puller")
    biases = list(walked(grammar, (*name, *joiner, *second)))
    assert all(nats == 1.0 for nats in biases[: len(name) + len(joiner)])
    assert all(nats == 0.0 for nats in biases[len(name) + len(joiner) :])


def walked(grammar: Grammar, tokens: tuple[int, ...]) -> Iterator[float]:
    state = START
    for token in tokens:
        arcs = grammar.arcs(state)
        at = int(np.flatnonzero(arcs.tokens == token)[0])
        yield float(arcs.bias[at])
        state = int(arcs.states[at])


def test_score_is_log_probability_with_the_bias_added() -> None:
    assert Scored((1,), -5.0, 3.0).score == -2.0


def test_level_is_evened_out_and_silence_left_alone() -> None:
    tone = np.sin(np.arange(16_000) / 8).astype(np.float32)
    assert np.allclose(at_level(tone * 0.01), at_level(tone * 0.5), atol=1e-4)
    assert not at_level(np.zeros(1000, np.float32)).any()


def test_plain_text_keeps_what_names_are_made_of() -> None:
    assert (
        plain("The shepherd's hook, 2x2s, 1/4 round - please?")
        == "the shepherd's hook 2x2s 1/4 round - please"
    )
