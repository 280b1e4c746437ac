"""The story before "what comes next": what is heard, in which order, and how it sounds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fsrs import Card

from listen.practice import story
from listen.practice.facts import Facts
from listen.practice.judging import Judge
from listen.practice.order import MOST_HEARD, run_up
from listen.practice.questions import Questions
from listen.practice.rehearsal.levels import level
from listen.practice.rehearsal.script import Kind, overheard
from listen.practice.topics import Drill, Topic
from listen.practice.wordings import BY_LANGUAGE
from listen.speech import noise, voices
from tests.listen.practice.classroom import CLASS_TWO, ask, lexicon, pack, questions
from vocab.pack.load import shipped_names, shipped_pack
from vocab.requests.lexicon import Lexicon

MATRIX = Topic(Drill.NEXT, "matrix", CLASS_TWO)
RATE_HZ = 16_000


def known(days: float) -> Card:
    return Card(stability=days)


def telling(card: Card | None = None, seed: int = 0) -> story.Story:
    return story.told(
        questions(), ask(Drill.NEXT, "matrix", CLASS_TWO, seed), card, np.random.default_rng(seed)
    )


def test_the_story_asks_for_what_comes_before_in_the_order_of_the_steps() -> None:
    procedure = pack().procedure(CLASS_TWO)
    place = next(i for i, step in enumerate(procedure.steps) if step.id == "matrix")
    for seed in range(20):
        asked = run_up(pack(), procedure, place, np.random.default_rng(seed))
        at = 0
        for item in asked:
            at = next(i for i in range(at, place) if item in procedure.steps[i].items)
        assert all(one != other for one, other in zip(asked, asked[1:], strict=False))


def test_each_item_is_asked_for_once_in_turn_by_one_of_its_names() -> None:
    names = {item.id: [text.lower() for text in item.ways_to_say] for item in pack().items}
    for seed in range(20):
        question = ask(Drill.NEXT, "matrix", CLASS_TWO, seed)
        said = [one.said.lower() for one in telling(known(1), seed).lines]
        assert len(question.heard) == MOST_HEARD <= len(said)
        at = 0
        for item in question.heard:
            found = [i for i in range(at, len(said)) if any(name in said[i] for name in names[item])]
            assert found, (item, said)
            at = found[0] + 1


@pytest.mark.parametrize("name", shipped_names())
def test_every_next_topic_has_a_story_to_tell_and_four_to_six_choices(name: str) -> None:
    shipped = shipped_pack(name)
    asking = Questions(shipped, Facts())
    for procedure in shipped.procedures:
        laid = {slot.item for slot in shipped.tray(procedure.tray).slots}
        for step in procedure.steps[1:]:
            rng = np.random.default_rng(1)
            question = asking.ask(Topic(Drill.NEXT, step.id, procedure.id), rng)
            assert 1 <= len(question.heard) <= MOST_HEARD and set(question.heard) <= laid
            assert 4 <= len(question.offered) <= 6 and set(question.offered) & set(question.right)
            assert len(story.told(asking, question, None, rng).lines) >= len(question.heard)
            assert question.heard[-1] not in question.right or question.heard[-1] in step.items


def test_the_better_it_is_known_the_harder_it_is_to_hear() -> None:
    levels = [story.level_of(card) for card in (None, known(1), known(3), known(10), known(30))]
    assert [one.number for one in levels] == [2, 2, 3, 4, 5]
    noises = [one.noise_db for one in levels]
    assert noises == sorted((n for n in noises if n is not None), reverse=True)
    assert levels[-1].pause_s < levels[0].pause_s


def test_a_story_talks_as_the_rehearsal_does_and_nothing_falls_or_comes_back() -> None:
    kinds, said = set(), []
    for seed in range(40):
        question = ask(Drill.NEXT, "matrix", CLASS_TWO, seed)
        rng = np.random.default_rng(seed)
        for line in overheard(questions(), CLASS_TWO, question.heard, level(5), rng):
            kinds.add(line.kind)
            said.append(line.said)
    assert kinds == {Kind.REQUEST, Kind.CORRECTION, Kind.CHATTER}
    assert any("I'll take the" in text or "we can move on" in text for text in said)
    assert len(set(said)) > 100


def test_a_spanish_story_asks_for_the_same_in_spanish() -> None:
    spanish = shipped_pack("operativa_es")
    asking = Questions(spanish, Facts())
    procedure = spanish.procedures[0]
    question = asking.ask(Topic(Drill.NEXT, procedure.steps[3].id, procedure.id), np.random.default_rng(0))
    told = story.told(asking, question, None, np.random.default_rng(0))
    said, at = [line.said.lower() for line in told.lines], 0
    for item in question.heard:
        names = [way.lower() for way in spanish.item(item).ways_to_say]
        at = next(i for i in range(at, len(said)) if any(name in said[i] for name in names)) + 1


@pytest.mark.parametrize("language", BY_LANGUAGE)
def test_the_button_to_hear_it_again_says_what_is_understood_as_that(language: str) -> None:
    if language == "en":
        judge, question = Judge(questions(), lexicon()), ask(Drill.NEXT, "matrix", CLASS_TWO)
    else:
        spanish = shipped_pack("operativa_es")
        asking, procedure = Questions(spanish, Facts()), spanish.procedures[0]
        judge = Judge(asking, Lexicon(spanish))
        question = asking.ask(
            Topic(Drill.NEXT, procedure.steps[3].id, procedure.id), np.random.default_rng(0)
        )
    assert judge.text(question, BY_LANGUAGE[language].story_ask_again).repeat


needs_voice = pytest.mark.skipif(not voices.available(formant=True), reason="no voice is installed")


@needs_voice
def test_lines_are_as_loud_as_each_other_with_their_pauses_behind_them(tmp_path: Path) -> None:
    told = replace(telling(), level=replace(level(2), noise_db=None))
    sounds = [story.spoken(told, n, "en", [1, 2], tmp_path) for n in range(len(told.lines))]
    levels = []
    for line, sound in zip(told.lines, sounds, strict=True):
        assert sound is not None
        levels.append(noise.speech_level(sound).active_db)
        last = line is told.lines[-1]
        silent = np.flatnonzero(np.abs(sound) > 1e-4)[-1]
        assert (len(sound) - silent) / RATE_HZ >= (story.LAST_S if last else line.pause_s) - 0.05
    assert max(levels) - min(levels) < 3.0
    assert story.spoken(told, len(told.lines), "en", [1, 2], tmp_path) is None


@needs_voice
def test_a_story_is_the_same_when_heard_again_and_others_have_other_voices(tmp_path: Path) -> None:
    told = telling(known(10))
    one, same = (story.spoken(told, 0, "en", [5], tmp_path) for _ in range(2))
    assert one is not None and same is not None and np.array_equal(one, same)
    firsts = [story.spoken(told, 0, "en", [seed], tmp_path) for seed in range(6)]
    assert len({len(sound) for sound in firsts if sound is not None}) > 1


@needs_voice
def test_the_noise_lies_as_far_under_the_speech_as_the_level_says(tmp_path: Path) -> None:
    quiet = replace(telling(), level=replace(level(5), noise_db=None))
    loud = replace(quiet, level=level(5))
    speech, mixed = (story.spoken(one, 0, "en", [3], tmp_path) for one in (quiet, loud))
    assert speech is not None and mixed is not None and len(speech) == len(mixed)
    gain = float(speech @ mixed / (speech @ speech))  # the mixture may be turned down as a whole
    under = mixed - gain * speech
    snr_db = noise.speech_level(gain * speech).active_db - noise.level_db(under)
    assert abs(snr_db - 7.0) < 1.0


def test_where_nothing_speaks_there_is_no_sound(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(story, "can_speak", lambda language: False)
    assert story.spoken(telling(), 0, "en", [1], tmp_path) is None
