"""Every way of asking for every name, as one token automaton that all cues share.

It builds from a pack a `Grammar`, whose states say which tokens may follow and when a phrasing is complete.
The tree of names exists once per spelling case and is entered from every cue, so names and cues add up
instead of multiplying. It never sees sound.

    begin -> cue -> name -> ending -> end        "Could I have the pickups, please?"
    begin -> Name -> ending -> end               "Pickups."
    begin -> cue -> name -> joiner -> name ...   "Mirror and explorer, please."
    begin -> sentence -> ending -> end           "Rinse, please."  "Not yet."
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from listen.neural.tokenizer import Tokenizer
from vocab.language.tokens import written_forms
from vocab.pack.schema import Pack, Speech

_ARTICLES = ("the", "a", "an", "some")
_STOPS = (".", "?", "!", "")
_SHORT_CUE = 3
"""Words of a cue that may stand between a refused name and the one asked for."""


class Trie:
    """A prefix tree over token ids; leaves are marks on nodes, numbered from the root 0."""

    def __init__(self) -> None:
        self.children: list[dict[int, int]] = [{}]
        self.leaves: set[int] = set()

    def add(self, tokens: Iterable[int]) -> int:
        """Add one sequence and return its last node, marked as a leaf."""
        node = 0
        for token in tokens:
            following = self.children[node].get(token)
            if following is None:
                following = len(self.children)
                self.children[node][token] = following
                self.children.append({})
            node = following
        self.leaves.add(node)
        return node

    def edges(self, first: Iterable[int]) -> Iterator[tuple[int, int, int]]:
        """(parent, token, child) within the subtrees of some of the root's children, parents first."""
        chosen = set(first)
        queue = [(0, token, child) for token, child in self.children[0].items() if child in chosen]
        for parent, token, child in queue:
            yield parent, token, child
            queue += [(child, t, c) for t, c in self.children[child].items()]

    def below(self, node: int) -> int:
        """Number of nodes in the subtree of `node`, itself included."""
        return 1 + sum(self.below(child) for child in self.children[node].values())


@dataclass(frozen=True)
class Arcs:
    """What may follow a state: token, next state and bias of each arc.

    tokens, states: shape = (k,), int64; bias: shape = (k,), float32, nats added to the token's
    log-probability; may_end: whether the utterance may stop here.
    """

    tokens: NDArray[np.int64]
    states: NDArray[np.int64]
    bias: NDArray[np.float32]
    may_end: bool


class _TrieNode(NamedTuple):
    """A node within one of the tries; `pair` is set once a name was joined: no further name may follow, and
    the second gets no bias, or a rare one said once would be heard twice."""

    trie: str
    node: int
    pair: bool = False


START = 0
"""The state before the first token."""

_FIRST_TRIES = ("opener", "capital name", "sentence")
_AFTER_LEAF = {
    "opener": ("name",),
    "name": ("joiner", "ending"),
    "capital name": ("joiner", "ending"),
    "joiner": ("name",),
    "sentence": ("ending",),
    "ending": (),
}
TRIES = tuple(_AFTER_LEAF)


class Grammar:
    """The automaton. States are sets of places, numbered as they are first reached (0 = `START`)."""

    def __init__(self, tries: Mapping[str, Trie]) -> None:
        self.tries = tries
        self._bias = {name: np.zeros(len(trie.children), np.float32) for name, trie in tries.items()}
        self._numbers: dict[frozenset[_TrieNode], int] = {}
        self._places: list[frozenset[_TrieNode]] = []
        self._arcs: dict[int, Arcs] = {}
        self._number(frozenset(_TrieNode(name, 0) for name in _FIRST_TRIES))

    def set_bias(self, bias: Mapping[str, NDArray[np.float32]]) -> None:
        """Give trie nodes the nats to add to the token that leads to them, shape = (nodes,) per trie; a
        trie that is not named keeps what it had, none at first."""
        self._bias.update(bias)
        self._arcs.clear()

    def bias_of(self, name: str, tokens: Iterable[int]) -> float:
        """Nats that a trie adds to these tokens from its root on; none beyond what it holds."""
        total, node = 0.0, 0
        for token in tokens:
            following = self.tries[name].children[node].get(token)
            if following is None:
                break
            node = following
            total += float(self._bias[name][node])
        return total

    def among(self, kept: Mapping[str, Iterable[Sequence[int]]]) -> Grammar:
        """The same automaton with the named tries cut down to these token sequences; biases stay.

        Raises:
            KeyError: a sequence that the trie does not hold.
        """
        tries, bias = dict(self.tries), dict(self._bias)
        for name, sequences in kept.items():
            small = tries[name] = Trie()
            for tokens in sequences:
                small.add(tokens)
            bias[name] = np.zeros(len(small.children), np.float32)
            place = {0: 0}
            for parent, token, child in small.edges(small.children[0].values()):
                place[child] = self.tries[name].children[place[parent]][token]
                bias[name][child] = self._bias[name][place[child]]
        grammar = Grammar(tries)
        grammar.set_bias(bias)
        return grammar

    def arcs(self, state: int) -> Arcs:
        """What may follow a state."""
        if state not in self._arcs:
            self._arcs[state] = self._find_arcs(self._places[state])
        return self._arcs[state]

    def _find_arcs(self, places: frozenset[_TrieNode]) -> Arcs:
        following: dict[int, set[_TrieNode]] = {}
        bias: dict[int, float] = {}
        for place in places:
            for token, child in self.tries[place.trie].children[place.node].items():
                following.setdefault(token, set()).update(self._arrive(place, child))
                nats = 0.0 if place.pair and place.trie == "name" else float(self._bias[place.trie][child])
                bias[token] = max(bias.get(token, nats), nats)
        may_end = any(p.trie == "ending" and p.node in self.tries["ending"].leaves for p in places)
        return Arcs(
            np.array(list(following), np.int64),
            np.array([self._number(frozenset(f)) for f in following.values()], np.int64),
            np.array(list(bias.values()), np.float32),
            may_end,
        )

    def _arrive(self, place: _TrieNode, child: int) -> Iterator[_TrieNode]:
        trie = self.tries[place.trie]
        yield _TrieNode(place.trie, child, place.pair)
        if child in trie.leaves:
            for following in _AFTER_LEAF[place.trie]:
                if not (following == "joiner" and place.pair):
                    yield _TrieNode(following, 0, place.pair or place.trie == "joiner")

    def _number(self, places: frozenset[_TrieNode]) -> int:
        if places not in self._numbers:
            self._numbers[places] = len(self._places)
            self._places.append(places)
        return self._numbers[places]


def build_grammar(pack: Pack, tokenizer: Tokenizer) -> Grammar:
    """The automaton of a pack's names, cues, joiners, sentences and endings."""
    tries = {name: Trie() for name in TRIES}
    for trie, sequences in name_tokens(names_of(pack), tokenizer).items():
        for tokens in sequences:
            tries[trie].add(tokens)
    for cue in _openers(pack.speech):
        tries["opener"].add(tokenizer.encode(_capital(cue)))
    for sentence in _sentences(pack.speech):
        tries["sentence"].add(tokenizer.encode(_capital(sentence)))
    for joiner in _joiners(pack.speech):
        tries["joiner"].add(tokenizer.encode_after_word(joiner))
    for ending in _endings(pack.speech):
        tries["ending"].add(tokenizer.encode_after_word(ending))
    return Grammar(tries)


def name_tokens(names: Iterable[str], tokenizer: Tokenizer) -> dict[str, list[tuple[int, ...]]]:
    """The token sequences of names in the tries that hold them: inside a sentence and at its start."""
    forms = [form for name in names for form in written_forms(name)]
    return {
        "name": [tokenizer.encode(form) for form in forms],
        "capital name": [tokenizer.encode(_capital(form)) for form in forms],
    }


def names_of(pack: Pack) -> tuple[str, ...]:
    """Every text by which an item may be called, spoken variants included, without repeats."""
    return tuple(dict.fromkeys(text for item in pack.items for text in item.ways_to_say))


def _openers(speech: Speech) -> Iterator[str]:
    quantities = [form for forms in speech.quantities.values() for form in forms]
    sizes = [form for forms in speech.sizes.values() for form in forms if not form.endswith("one")]
    for cue in speech.cues:
        yield cue
        lead, _, last = cue.rpartition(" ")
        for amount in quantities if last in _ARTICLES else ():
            yield f"{lead} {amount}".strip()
    yield from quantities
    yield from sizes
    for correction in speech.corrections:
        first, _, rest = correction.partition(" ")
        yield correction
        yield f"{first}, {rest}" if rest else f"{first},"
    yield from speech.name_refusals


def _sentences(speech: Speech) -> Iterator[str]:
    for forms in (*speech.actions.values(), *speech.ends.values(), *speech.sizes.values()):
        yield from forms
    yield from speech.refusals
    yield from speech.repeats
    yield from speech.not_ours
    yield from speech.sharps_injury


def _joiners(speech: Speech) -> Iterator[str]:
    for joiner in speech.joiners:
        yield f" {joiner}"
        yield f", {joiner}"
    yield from (", the", ",")
    for cue in speech.cues:  # "never mind the wedge, give me the ring"
        if len(cue.split()) == _SHORT_CUE and cue.endswith(" the"):
            yield f", {cue}"
    yield ", just the"


def _endings(speech: Speech) -> Iterator[str]:
    for stop in _STOPS:
        yield stop
        for ending in speech.endings:
            yield f", {ending}{stop}"
            yield f" {ending}{stop}"


def _capital(text: str) -> str:
    words = [_I.get(word, word) for word in text.split(" ")]
    return " ".join(words)[:1].upper() + " ".join(words)[1:]


_I = {"i": "I", "i'll": "I'll", "i'd": "I'd", "i'm": "I'm", "i've": "I've"}
