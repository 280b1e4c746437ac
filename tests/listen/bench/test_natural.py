"""The benchmark of natural speech: its ways can be read, its sides share nothing, and counting is right."""

import re

import pytest
from rapidfuzz import fuzz, process

from listen.bench.natural import (
    LABELS,
    BadWays,
    Filler,
    WayOutcome,
    _way,
    clips,
    counts,
    score,
    table,
    texts,
    ways,
    written,
)
from listen.neural.splice import NamesBySound
from listen.neural.tokenizer import Tokenizer
from listen.neural.weights import model_folder
from listen.speech import voices
from vocab.language.pronounce import Pronouncer
from vocab.language.tokens import spoken_forms
from vocab.pack.load import shipped_pack

PACK = shipped_pack()


def test_there_are_enough_ways_of_each_kind() -> None:
    """Six hundred of asking and of mentioning, a third each for teaching, tuning and testing (our aim)."""
    for part in ("teach", "tune", "test"):
        labels = [way.label for way in ways(part)]
        assert set(labels) == set(LABELS)
        assert labels.count("mention") >= 200 and len(labels) - labels.count("mention") >= 200
    kinds = {way.manner for way in ways("test") if way.label == "mention"}
    assert len(kinds) >= 12


def test_no_way_stands_on_two_sides() -> None:
    plain = {
        part: [re.sub(r"[^a-z{} ]", "", w.sentence.lower()) for w in ways(part)]
        for part in ("teach", "tune", "test")
    }
    for one, other in (("tune", "test"), ("teach", "test"), ("teach", "tune")):
        assert not set(plain[one]) & set(plain[other])
    near = process.cdist(plain["test"], plain["teach"], scorer=fuzz.ratio, score_cutoff=97)
    assert (near > 0).sum() <= 3


def test_gaps_are_filled_with_names_that_fit() -> None:
    filler = Filler(PACK)
    for way in ways("test")[::9]:
        said = filler.said(way)
        assert "{" not in said.text and said == filler.said(way)
        forms = [form.lower() for name in said.names.values() for form in spoken_forms(name)]
        assert any(re.sub(r"[^a-z]", "", form) in re.sub(r"[^a-z]", "", said.text.lower()) for form in forms)
        assert "{" not in written(way, said.names)
        assert said.wanted == () or way.label == "ask"


def test_whoever_speaks_the_same_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "_what_is_missing", lambda _: None)
    for speaker in ("awb", "af_kore"):
        made = clips(PACK, "tune", (None,), speaker=speaker)
        assert {one.clip.text for one in made} == texts(PACK, "tune")


@pytest.mark.parametrize(
    "line", ["ask\tpolite\tThe {a}.", "wish\tcurt\tany\tThe {a}.", "ask\tcurt\tany\tNo gap."]
)
def test_a_damaged_line_is_named(line: str) -> None:
    with pytest.raises(BadWays, match="line 7"):
        _way("test", 7, line)


def test_what_came_of_them_is_counted() -> None:
    checked = next(item.id for item in PACK.items if item.always_check)
    rows = [
        WayOutcome("quiet", "ask", ("etchant",), ("etchant",), ()),
        WayOutcome("quiet", "ask", ("etchant",), (), ("primer", "etchant")),
        WayOutcome("quiet", "ask", ("etchant",), ("primer",), ()),
        WayOutcome("quiet", "ask", (checked,), (), (checked,)),
        WayOutcome("quiet", "fell", (), ("etchant",), ()),
        WayOutcome("quiet", "mention", (), (), ("etchant",)),
        WayOutcome("quiet", "mention", (), (), ()),
    ]
    found = score("quiet", rows, PACK)
    assert (found.requests, found.offered, found.at_once, found.wrong) == (4, 3, 2, 1)
    assert (found.told, found.told_lit, found.mentions, found.mentions_lit, found.mentions_asked) == (
        1,
        1,
        2,
        0,
        1,
    )
    assert "3/4 75.0 %" in table([found])
    assert counts([found])["quiet"]["offered"] == 3 and set(counts([found])) == {"quiet"}


def test_a_name_is_put_where_it_sounds_alike_and_a_favoured_one_always() -> None:
    tokenizer = Tokenizer(model_folder() / "tokenizer.bin")
    names = NamesBySound(["perio probe", "etchant", "curing light"], Pronouncer())
    free = tokenizer.encode("So I will take the period probe now, thanks.")
    found = names.splices(free, [], tokenizer, 4)
    assert found[0].text == "So I will take the perio probe now, thanks."
    assert tokenizer.decode(found[0].tokens).startswith("So I will take the perio probe now")
    favoured = names.splices(free, ["could i have the curing light"], tokenizer, 4)
    assert "curing light" in favoured[0].text.lower()
    assert names.splices((), [], tokenizer, 4) == ()


def test_a_second_name_is_put_beside_a_first_and_leaves_it_alone() -> None:
    tokenizer = Tokenizer(model_folder() / "tokenizer.bin")
    names = NamesBySound(["perio probe", "etchant", "curing light"], Pronouncer())
    (first,) = names.splices(tokenizer.encode("The edge and, no, the period probe."), [], tokenizer, 1)
    start, end = first.at
    assert first.text[start:end] == "perio probe"
    second = names.splices(tokenizer.encode(first.text), [], tokenizer, 4, first.at)
    assert second[0].text == "The etchant, no, the perio probe."
    assert all("perio probe" in one.text for one in second)


def test_a_number_is_found_together_with_the_place_before_it() -> None:
    tokenizer = Tokenizer(model_folder() / "tokenizer.bin")
    free = tokenizer.encode("It's intent like every day.")
    alone, placed = NamesBySound(["10", "3"], Pronouncer()), NamesBySound(["10", "3"], Pronouncer(), ["in"])
    assert "It's in ten like every day." not in {one.text for one in alone.splices(free, [], tokenizer, 8)}
    found = {one.text: one for one in placed.splices(free, [], tokenizer, 8)}
    assert tokenizer.decode(found["It's in ten like every day."].name) == "ten"
