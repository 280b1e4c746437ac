"""The adapter: how it is added to the model, and that what it is taught with leaves out what is measured."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from listen.adapt import data
from listen.adapt.data import Size, TeachingUtterance, held_out, recipe, without_speaker
from listen.bench.corpus import chatter, requests, side_of
from listen.neural import cache
from listen.neural.weights import (
    ADAPTER,
    Adapter,
    AdapterMismatch,
    Array,
    fingerprint,
    merged,
    model_folder,
    read_adapter,
    read_weights,
    write_adapter,
)
from listen.speech import voices
from vocab.errors import TraycallError
from vocab.language.tokens import spoken_forms, written_forms
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack

pytestmark = pytest.mark.slow

BASE = "0123456789abcdef"


def weights() -> dict[str, Array]:
    return {
        "encoder.conv2": np.ones((2, 2, 3), np.float32),
        "decoder.layers.0.mlp.fc1": np.ones((2, 3), np.float32),
        "decoder.norm": np.ones(3, np.float32),
    }


def adapter(scale: float = 0.5) -> Adapter:
    """One column times one row for each; their products can be checked by hand."""
    column = np.array([[1.0], [2.0]], np.float32)
    return Adapter(
        BASE,
        scale,
        {
            "encoder.conv2": (column, np.arange(6, dtype=np.float32)[None]),
            "decoder.layers.0.mlp.fc1": (column, np.array([[10.0, 20.0, 30.0]], np.float32)),
        },
        ("mirror", "wedge"),
    )


def test_the_products_of_the_factors_are_added_to_their_layers_and_to_no_other() -> None:
    taught = merged(weights(), adapter(scale=0.5), BASE)
    assert taught["decoder.layers.0.mlp.fc1"].tolist() == [[6.0, 11.0, 16.0], [11.0, 21.0, 31.0]]
    assert taught["encoder.conv2"].tolist() == [
        [[1.0, 1.5, 2.0], [2.5, 3.0, 3.5]],
        [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]],
    ]
    assert taught["decoder.norm"].tolist() == [1.0, 1.0, 1.0]


def test_an_adapter_added_by_nothing_leaves_the_model_as_it_comes() -> None:
    taught = merged(weights(), adapter(scale=0.0), BASE)
    for name, base in weights().items():
        np.testing.assert_array_equal(taught[name], base)


def test_an_adapter_is_kept_in_half_precision(tmp_path: Path) -> None:
    path = tmp_path / "adapter.npz"
    made = adapter(scale=0.75)
    thirds = {name: (down / np.float32(3), up) for name, (down, up) in made.factors.items()}
    write_adapter(replace(made, factors=thirds), path)
    again = read_adapter(path)
    assert (again.base, again.scale, again.held_out) == (BASE, 0.75, made.held_out)
    assert set(again.factors) == set(thirds)
    for name, pair in thirds.items():
        for was, kept in zip(pair, again.factors[name], strict=True):
            np.testing.assert_allclose(kept, was, rtol=2**-11)


def test_an_adapter_for_another_model_is_refused_with_what_to_do() -> None:
    with pytest.raises(
        AdapterMismatch, match="made for the model 0123456789abcdef.*moonshine-voice=="
    ) as refused:
        merged(weights(), adapter(), "another")
    assert isinstance(refused.value, TraycallError)


def test_an_adapter_with_a_layer_of_another_shape_is_refused() -> None:
    other = {**weights(), "encoder.conv2": np.ones((2, 2, 4), np.float32)}
    with pytest.raises(AdapterMismatch, match=r"encoder\.conv2"):
        merged(other, adapter(), BASE)


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x03\x04cut off"])
def test_a_broken_adapter_is_refused_with_what_to_do(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "adapter.npz"
    path.write_bytes(content)
    with pytest.raises(AdapterMismatch, match="listen.adapt train"):
        read_adapter(path)


class _Model:
    """A folder with the model's three files and a stand-in for its reader and writer."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder
        for name in ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"):
            (folder / name).write_bytes(name.encode())
        self.written: list[Mapping[str, Array]] = []
        monkeypatch.setattr(cache, "read_weights", lambda _: weights())
        monkeypatch.setattr(cache, "write_graphs", lambda given, _: self.written.append(given))


@pytest.fixture
def model(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> _Model:
    folder = tmp_path / "model"
    folder.mkdir()
    return _Model(folder, monkeypatch)


def test_without_an_adapter_the_model_hears_as_it_comes(model: _Model, tmp_path: Path) -> None:
    made = cache.graphs(model.folder, tmp_path, None)
    assert made.name.endswith(fingerprint(model.folder))
    np.testing.assert_equal(dict(model.written[0]), weights())


def test_another_adapter_gets_graphs_of_its_own(model: _Model, tmp_path: Path) -> None:
    """The tables of the vocabulary are kept by the name of the graphs, so they follow."""
    made, path = set(), tmp_path / "adapter.npz"
    for scale in (0.25, 0.5):
        write_adapter(replace(adapter(scale), base=fingerprint(model.folder)), path)
        made |= {cache.graphs(model.folder, tmp_path, path), cache.graphs(model.folder, tmp_path, path)}
    made.add(cache.graphs(model.folder, tmp_path, None))
    assert len(made) == len(model.written) == 3
    assert [float(w["decoder.layers.0.mlp.fc1"][1, 2]) for w in model.written] == [16.0, 31.0, 1.0]


def test_graphs_are_not_made_with_an_adapter_of_another_model(model: _Model, tmp_path: Path) -> None:
    write_adapter(adapter(), tmp_path / "adapter.npz")
    with pytest.raises(AdapterMismatch):
        cache.graphs(model.folder, tmp_path, tmp_path / "adapter.npz")
    assert model.written == []


@pytest.mark.skipif(not ADAPTER.is_file(), reason="no adapter is shipped")
def test_the_shipped_adapter_is_small_and_fits_the_model() -> None:
    shipped = read_adapter(ADAPTER)
    base = read_weights(model_folder())
    taught = merged(base, shipped, fingerprint(model_folder()))
    for name, (down, up) in shipped.factors.items():
        assert down.shape[1] == up.shape[0] <= 48
        assert not np.array_equal(taught[name], base[name])
    assert ADAPTER.stat().st_size < 8_000_000
    np.testing.assert_array_equal(taught["decoder.proj_out"], base["decoder.proj_out"])


# ---------------------------------------------------------------- what it is taught with

NOUN = "{word} n 1 1 @ 1 1 00000001  \n"
"""A line of WordNet's index.noun (wndb(5WN)): one sense, one pointer, and one sense met in texts."""
DATA = '00000001 04 n 01 thing 0 000 | something; "{text}"  \n'


@pytest.fixture(scope="module")
def pack() -> Pack:
    return shipped_pack()


@pytest.fixture(scope="module")
def english(tmp_path_factory: pytest.TempPathFactory, pack: Pack) -> Iterator[None]:
    """A few nouns and sentences in WordNet's format; one sentence says a held-out name."""
    folder = tmp_path_factory.mktemp("wordnet")
    words = ["river", "paper", "letter", "window", "engine", "forest"]
    taboo = spoken_forms(pack.item(min(held_out(pack))).name.text)[0]
    (folder / "index.noun").write_text(
        "  1 a licence\n" + "".join(NOUN.format(word=word) for word in [*words, "paper_river"])
    )
    texts = [
        "the letter lay by the window",
        f"we looked for the {taboo} all day",
        "he walked along the river",
    ]
    for name in ("noun", "verb", "adj", "adv"):
        (folder / f"data.{name}").write_text("".join(DATA.format(text=text) for text in texts))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(data, "WORDNET", folder)
        yield


@pytest.fixture(scope="module")
def said(english: None, pack: Pack) -> tuple[TeachingUtterance, ...]:
    return recipe(
        pack, Size(names=1_500, natural=0, other_names=200, general=200, pairs=150, orders=100, check=60)
    )


def taught(said: tuple[TeachingUtterance, ...]) -> list[TeachingUtterance]:
    return [one for one in said if one.part == "train"]


def test_no_sentence_of_the_benchmarks_test_side_is_ever_said(
    said: tuple[TeachingUtterance, ...], pack: Pack
) -> None:
    tested = {r.text for seed in range(3) for r in requests(pack, "test", np.random.default_rng(seed), 4)}
    tested |= set(chatter("test"))
    assert len(tested) > 3_000
    both = tested & {one.text for one in said}
    assert not both
    assert all(side_of(one.text) == "tune" for one in said if one.text in chatter())


def test_no_voice_of_the_test_side_speaks_and_every_style_that_teaches_does(
    said: tuple[TeachingUtterance, ...],
) -> None:
    spoken = {voices.voice(one.voice) for one in taught(said)}
    assert {voice.side for voice in spoken} == {voices.voice(name).side for name, _ in data.VOICES}
    assert {voice.side for voice in spoken} == {"teach", "tune"}
    assert spoken >= {voice for voice in voices.VOICES if voice.side == "teach"}
    styles = [one for one in said if voices.voice(one.voice).kind == "style"]
    assert len(styles) / len(said) == pytest.approx(0.086, abs=0.025)


def test_held_out_items_are_never_named_in_training(said: tuple[TeachingUtterance, ...], pack: Pack) -> None:
    kept = held_out(pack)
    assert len(kept) == round(0.2 * len(pack.items))
    assert {one.item for one in taught(said)} & kept == set()
    names = {form for i in kept for name in pack.item(i).names for form in spoken_forms(name.text)}
    for one in taught(said):
        if one.item is None and not one.written:
            assert not any(f" {name} " in f" {one.text.lower().rstrip('.')} " for name in names), one.text
    new = [one for one in said if one.part == "new"]
    assert len(new) == 60
    assert {one.item for one in new} <= kept


def test_letters_read_out_alike_are_on_one_side(pack: Pack) -> None:
    """ "gi" and "g i" are two spellings of one sound, and a hash of the words puts them on two sides."""
    assert {side_of("gi"), side_of("g i")} == {"tune", "test"}
    item, way = next((i, name) for i in pack.items for name in i.names if name.text == "GI")
    rngs = [np.random.default_rng(seed) for seed in range(300)]
    made = [
        data._request(pack, item, way, text, ["wedge"], rng) for rng in rngs for text in (way.text, *way.say)
    ]
    texts = {one.text.partition(",")[0].rstrip(".") for one in made if one is not None}
    assert len(texts) > 5
    assert "G I" not in texts


def test_what_is_checked_is_not_taught(said: tuple[TeachingUtterance, ...]) -> None:
    known = {one.text for one in said if one.part == "known"}
    assert len(known) == 60
    assert not known & {one.text for one in taught(said)}
    for one in said:
        if one.part in ("known", "new"):
            assert len(set(one.rivals)) == data.RIVALS
            assert not set(one.rivals) & set(one.written)


def test_the_same_seed_says_the_same_and_another_holds_out_others(
    said: tuple[TeachingUtterance, ...], english: None, pack: Pack, tmp_path: Path
) -> None:
    size = Size(names=50, natural=30, other_names=20, general=20, pairs=5, orders=5, check=5)
    first = recipe(pack, size)
    assert first == recipe(pack, size) != recipe(pack, size, seed=1)
    named = {
        item.id: {form.lower() for name in item.names for form in spoken_forms(name.text)}
        for item in pack.items
    }
    natural = first[50:80]
    assert all(one.item not in held_out(pack) and one.rivals for one in natural if one.item)
    assert sum(any(form in one.text.lower() for form in named[one.item or ""]) for one in natural) > 20
    assert held_out(pack, 1) != held_out(pack)
    data.save(first, tmp_path / "recipe.jsonl")
    assert data.load(tmp_path / "recipe.jsonl") == first


def test_requests_are_taught_as_the_engines_grammar_spells_them(
    said: tuple[TeachingUtterance, ...], pack: Pack
) -> None:
    """A capital first, the name as it may be written, a stop that the sentence has."""
    asked = [one for one in taught(said) if one.item is not None]
    assert len(asked) == 1_500
    for one in asked:
        assert one.item is not None
        names = [t for name in pack.item(one.item).names for t in (name.text, *name.say)]
        forms = {form for name in names for form in written_forms(name)}
        for written in one.written:
            assert written[0] == written[0].upper() and written[-1] in ".?"
            assert any(form in written.lower() for form in forms), written


def test_a_speaker_can_be_left_out_and_heard_alone(said: tuple[TeachingUtterance, ...]) -> None:
    parted = without_speaker(said, "awb")
    heard = {one.part: set[str]() for one in parted}
    for one in parted:
        heard[one.part].add(voices.voice(one.voice).speaker)
    assert "awb" not in heard["train"] and len(heard["train"]) > 3
    assert heard["known"] == heard["new"] == heard["general"] == {"awb"}
    styles = {voice.speaker for voice in voices.VOICES if voice.side == "teach"}
    assert styles < heard["train"]
    for who in ("rms", "af_nova"):
        with pytest.raises(TraycallError, match=who):
            without_speaker(said, who)


def test_without_general_english_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pack: Pack
) -> None:
    monkeypatch.setattr(data, "WORDNET", tmp_path / "nowhere")
    with pytest.raises(TraycallError, match="apt install wordnet-base"):
        recipe(pack, Size(1, 1, 1, 1, 1, 1, 1))


# ---------------------------------------------------------------- the rebuilt network


def test_the_rebuilt_network_equals_the_engines_on_real_sound(tmp_path: Path) -> None:
    """The reference is the engine's own network, itself checked against the published one in test_neural."""
    pytest.importorskip("torch", reason="torch, which only training needs, is not installed")
    from typer.testing import CliRunner

    from listen.adapt.__main__ import app

    recording = Path(__file__).parents[3] / "recordings_demo" / "audio" / "001.flac"
    done = CliRunner().invoke(app, ["check", str(recording), "--work", str(tmp_path)])
    assert done.exit_code == 0, done.output
    assert float(done.output.split()[-1]) < 1e-3
