"""A rehearsal in Spanish: what is said and told is Spanish throughout, and spoken by Spanish voices."""

from __future__ import annotations

import re
import string
from dataclasses import fields
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from listen.practice.choices import FETCH
from listen.practice.facts import Facts
from listen.practice.judging import Judge, Outcome
from listen.practice.questions import Questions
from listen.practice.rehearsal import sound
from listen.practice.rehearsal.languages import LINES, NAMES, WORDINGS
from listen.practice.rehearsal.levels import level
from listen.practice.rehearsal.lines import Manner, worded
from listen.practice.rehearsal.outcomes import Came, Where
from listen.practice.rehearsal.running import Rehearsal
from listen.practice.rehearsal.script import Kind, Script, write
from listen.practice.rehearsal.sound import SPANISH_VOICES, Talkers, can_speak, is_rule_made
from listen.practice.rehearsal.timeline import played, told
from listen.speech import noise, replies, voices
from tests.listen.practice.classroom import NOON
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon
from vocab.requests.understand import understand

PACK = shipped_pack("operativa_es")
QUESTIONS = Questions(PACK, Facts())
ENGLISH = re.compile(
    r"\b(the|which|what|slot|please|or|is|it|next|and|could|hand|need|right|wrong|not|within|fell|tray|fetch|on)\b",
    re.I,
)


@cache
def script(number: int, seed: int, procedure: str = "amalgama") -> Script:
    return write(QUESTIONS, procedure, level(number), np.random.default_rng(seed), 10)


def through(made: Script) -> Rehearsal:
    """One in which every second line is met, and everything is counted as fallen."""
    judge, on, now_s = Judge(QUESTIONS, Lexicon(PACK)), Rehearsal(made, PACK, 0.0), 0.0
    while (line := on.line) is not None:
        now_s += 5.0
        if on.number % 2:
            on.silence(now_s)
        else:
            at = line.question.right[0] if line.asks and on.number % 4 else made.tray.slots[0].at
            on.act(judge.touch(line.question, at), now_s, 1.2, "touch")
    on.count(dict.fromkeys(on.to_count(), Where.FELL), now_s)
    return on


def test_every_language_says_and_tells_all_that_english_does() -> None:
    def gaps(text: str) -> set[str | None]:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}

    assert LINES.keys() == WORDINGS.keys() == NAMES.keys() >= {"en", "es"}
    for language, some in LINES.items():
        for field in fields(some):
            if field.name not in ("plain", "chatter", "drops"):
                assert all(text.count("{}") == 1 for text in getattr(some, field.name)), (
                    language,
                    field.name,
                )
        assert len(some.chatter) >= 15 and len(some.every) == len(set(some.every))
    for said in WORDINGS.values():
        assert said.places.keys() == set(Where) and said.came.keys() == set(Came)
        assert len(set(said.places.values())) == len(Where) and said.fetch.id == FETCH.id
        for field in fields(said):
            one, other = getattr(WORDINGS["en"], field.name), getattr(said, field.name)
            if isinstance(one, str) and field.name not in ("item", "called"):
                assert gaps(one) == gaps(other), field.name


def test_what_is_said_and_told_is_spanish() -> None:
    kinds = set()
    for number in (1, 3, 5):
        on = through(script(number, number))
        timeline = played(on, QUESTIONS, "token", NOON).timeline
        assert timeline["language"] == "es"
        for entry in on.entries:
            kinds.add((entry.line.kind, entry.came))
            for text in (entry.line.said, told(entry, QUESTIONS)):
                assert not ENGLISH.search(text) and "{" not in text, text
        for one in timeline["count"]:
            assert one["answered"] == "se cayó" and not ENGLISH.search(" ".join(one["truth"]))
    assert {kind for kind, _ in kinds} == set(Kind) and {came for _, came in kinds} >= {
        Came.RIGHT, Came.WRONG, Came.SLOW, Came.ALARM, Came.LEFT, Came.TAKEN_BACK,
    }  # fmt: skip


def test_what_is_told_has_an_article_and_the_usual_name_beside_another() -> None:
    on = through(script(5, 5))
    some = [e for e in on.entries if e.came is Came.RIGHT and e.line.kind is not Kind.DROP]
    assert some
    for entry in some:
        text = told(entry, QUESTIONS)
        called, usual = entry.line.question.asked_name or "", QUESTIONS.called(entry.line.item or "")
        name = called if called == usual else f"{called} ({usual})"
        assert re.fullmatch(rf"(el|la|los|las) {re.escape(name)}, .+: correcto, 1\.2 s", text), text


def test_plain_requests_are_understood_as_requests_for_just_that_item() -> None:
    """Of all that begins a request in the pack, those that fit any name."""
    lexicon = Lexicon(PACK)
    for sentence in LINES["es"].requests(Manner.PLAIN, True, PACK):
        for item in ("espejo_bucal", "sonda_periodontal", "explorador"):
            usual = PACK.item(item).name.text
            heard = understand(worded(sentence, usual, usual, "es"), lexicon, PACK.speech)
            assert [request.candidates[0].item for request in heard] == [item], sentence


def test_what_fell_is_asked_for_again_in_the_gender_of_its_name() -> None:
    seen = set()
    for seed in range(12):
        for line in script(5, seed).lines:
            if line.kind is Kind.DROP:
                found = re.search(r"\b[Oo]tr(o|a|os|as)\b", line.said)
                assert found
                seen.add(found.group(1))
    assert {"o", "a"} <= seen


@pytest.mark.parametrize("said", ["una unidad estéril", "una esteril", "uno estéril"])
def test_one_from_outside_the_tray_may_be_typed(said: str) -> None:
    line = next(
        line
        for seed in range(12)
        for line in script(5, seed).lines
        if line.kind is Kind.DROP and line.question.right == (FETCH.id,)
    )
    assert Judge(QUESTIONS, Lexicon(PACK)).text(line.question, said).outcome is Outcome.RIGHT


def test_several_spanish_voices_speak_at_one_level(tmp_path: Path) -> None:
    if replies.voice_name("es") != replies.SPARE:
        pytest.skip("no Spanish voice of espeak-ng is installed, or a better one: apt install espeak-ng")
    talkers = Talkers(3, "es", np.random.default_rng(1), tmp_path)
    assert set(talkers.names) <= {voice.id for voice in SPANISH_VOICES} and len(set(talkers.names)) == 3
    spoken = [
        talkers.said("¿Me das la sonda periodontal, por favor?", talker, 1, None) for talker in range(3)
    ]
    for one, other in zip(spoken, spoken[1:], strict=False):
        assert one is not None and other is not None and not np.array_equal(one, other)
        assert noise.speech_level(one).active_db == pytest.approx(sound.SPEECH_DB, abs=0.5)


def test_a_voice_of_the_system_speaks_before_rule_made_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(replies, "voice_name", lambda language="en": replies.OWN)
    assert can_speak("es") and not is_rule_made("es")
    assert Talkers(2, "es", np.random.default_rng(1), Path("nowhere")).names == (replies.OWN,)
    monkeypatch.setattr(replies, "voice_name", lambda language="en": replies.SPARE)
    assert can_speak("es") and is_rule_made("es")
    monkeypatch.setattr(replies, "voice_name", lambda language="en": None)
    assert not can_speak("es")


def test_spanish_voices_take_part_in_no_figure() -> None:
    assert not {voice.id for voice in SPANISH_VOICES} & {voice.id for voice in voices.VOICES}
    assert all(voice.formant for voice in SPANISH_VOICES)
