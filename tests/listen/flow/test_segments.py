"""Cutting into utterances: frame by frame with a scripted model, and real speech with the real one."""

from __future__ import annotations

import tracemalloc
import wave
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listen.audio import AudioError, file_blocks
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.segments import FRAME, FRAME_S, Segmenter, Utterance, utterances

PAD_S = 8 * FRAME_S
"""The default padding of 0.25 s in whole frames."""


def human(name: str) -> Samples:
    """A recording of a person speaking, as it lies inside the moonshine-voice wheel, at 16 kHz."""
    spec = find_spec("moonshine_voice")
    assert spec and spec.submodule_search_locations
    return np.concatenate(list(file_blocks(Path(spec.submodule_search_locations[0]) / "assets" / name)))


def silence(seconds: float) -> Samples:
    return np.zeros(round(seconds * SAMPLE_RATE_HZ), np.float32)


def whine(seconds: float, rms: float, seed: int = 1) -> Samples:
    """Made-up chair noise: suction as low-passed noise, a handpiece as three drifting overtones."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(round(seconds * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    suction = np.convolve(rng.normal(size=len(time_s)), np.exp(-np.arange(60) / 15), "same")
    phase = 2 * np.pi * np.cumsum(4_500 + 200 * np.sin(np.pi * time_s)) / SAMPLE_RATE_HZ
    handpiece = np.sin(phase / 4) + np.sin(phase / 2) + np.sin(phase)
    sound = suction / suction.std() + 0.8 * handpiece / handpiece.std()
    levelled: Samples = (rms * sound / sound.std()).astype(np.float32)
    return levelled


def in_blocks(sound: Samples, size: int) -> Iterator[Samples]:
    return (sound[i : i + size] for i in range(0, len(sound), size))


def cut(sound: Samples, segmenter: Segmenter | None = None, size: int = 8_000) -> list[Utterance]:
    return list(utterances(in_blocks(sound, size), segmenter or Segmenter()))


class Script:
    """Stands in for the model: '#' is speech (1.0), '+' half sure (0.2), '.' silence, one a frame."""

    def __init__(self, frames: str) -> None:
        self.frames = frames
        self.at = 0

    def speech_p(self, frame: Samples) -> float:
        assert frame.shape == (FRAME,)
        self.at += 1
        return {"#": 1.0, "+": 0.2, ".": 0.0}[self.frames[self.at - 1]]

    def reset(self) -> None:
        self.at = 0


def cut_script(frames: str, **options: float) -> list[tuple[int, int, int, int]]:
    """Each utterance as four frame numbers: speech from and to, samples from and to.

    The sound counts its own frames, so the samples tell where they were taken.
    """
    sound = np.repeat(np.arange(len(frames), dtype=np.float32), FRAME)
    defaults = {"endpoint_s": 4 * FRAME_S, "pad_s": 2 * FRAME_S, "shortest_s": 2 * FRAME_S}
    found = cut(sound, Segmenter(**{**defaults, **options}, voice=Script(frames)))
    return [
        (round(u.start_s / FRAME_S), round(u.end_s / FRAME_S), int(u.samples[0]), int(u.samples[-1]) + 1)
        for u in found
    ]


def test_speech_is_cut_out_with_padding() -> None:
    assert cut_script(".....###........") == [(5, 8, 3, 10)]


def test_two_utterances_need_the_endpoint_between_them() -> None:
    assert cut_script("..###...###.....") == [(2, 11, 0, 13)]
    assert cut_script("..###....###.....") == [(2, 5, 0, 7), (9, 12, 7, 14)]


def test_padding_is_never_shared() -> None:
    assert cut_script("###....###....", pad_s=4 * FRAME_S) == [(0, 3, 0, 7), (7, 10, 7, 14)]


def test_unsure_frames_keep_speech_alive_but_do_not_begin_it() -> None:
    assert cut_script("..++++......") == []
    assert cut_script("..#++++#......") == [(2, 8, 0, 10)]


def test_a_click_is_no_utterance() -> None:
    assert cut_script("....#......") == []
    assert cut_script("....#......###......") == [(11, 14, 9, 16)]


def test_speech_that_never_ends_is_cut_at_its_longest_pause() -> None:
    """1 s is 31 frames; in the first 31 the longest pause is frames 12 to 14."""
    frames = "#####." + "######" + "..." + "#" * 10 + "." + "#" * 12 + "....."
    assert cut_script(frames, longest_s=1) == [(0, 12, 0, 14), (15, 38, 14, 40)]


def test_speech_without_a_pause_is_cut_hard_and_nothing_is_lost() -> None:
    assert cut_script("." + "#" * 70 + ".....", longest_s=1) == [
        (1, 32, 0, 32),
        (32, 63, 32, 63),
        (63, 71, 63, 73),
    ]


def test_speech_at_the_end_of_the_sound_is_kept() -> None:
    assert cut_script("..###") == [(2, 5, 0, 5)]
    assert cut_script("..###.") == [(2, 5, 0, 6)]


def test_speaking_is_shown_while_it_lasts() -> None:
    segmenter = Segmenter(endpoint_s=4 * FRAME_S, shortest_s=2 * FRAME_S, voice=Script("..###....."))
    shown = ""
    for _ in range(10):
        segmenter.push(np.zeros(FRAME, np.float32))
        shown += "#" if segmenter.speaking else "."
    assert shown == "...#####.."


def test_the_answer_waits_no_longer_than_the_endpoint_delay() -> None:
    segmenter = Segmenter(endpoint_s=0.32, voice=Script("#" * 10 + "." * 20))
    ended_at = [i for i in range(30) if segmenter.push(np.zeros(FRAME, np.float32))]
    assert ended_at == [10 + 10 - 1]  # the tenth silent frame of 32 ms


def test_after_the_end_a_new_stream_begins_at_zero() -> None:
    segmenter = Segmenter(voice=Script("..####"))
    first, second = (cut(silence(6 * FRAME_S), segmenter) for _ in range(2))
    assert [u.start_s for u in first] == [u.start_s for u in second] == [2 * FRAME_S]


@settings(max_examples=60, deadline=None)
@given(
    st.text("##+..", max_size=150), st.lists(st.integers(0, 3_000), max_size=60), st.integers(0, FRAME - 1)
)
def test_block_sizes_never_matter(frames: str, sizes: list[int], rest: int) -> None:
    """Also: utterances come in order, share no sound and hold the sound of their time."""
    sound = np.arange(len(frames) * FRAME + rest, dtype=np.float32)
    endpoint_s, pad_s, longest_s = 0.1, 0.1, 1.0
    whole = Segmenter(endpoint_s, pad_s=pad_s, longest_s=longest_s, voice=Script(frames + "."))
    at_once = whole.push(sound) + whole.flush()
    pieces = Segmenter(endpoint_s, pad_s=pad_s, longest_s=longest_s, voice=Script(frames + "."))
    bounds = np.minimum(np.cumsum([0, *sizes]), len(sound)).tolist() + [len(sound)]
    blocks = (sound[a:b] for a, b in zip(bounds, bounds[1:], strict=False))
    in_pieces = list(utterances(blocks, pieces))
    assert [(u.start_s, u.end_s) for u in in_pieces] == [(u.start_s, u.end_s) for u in at_once]
    last = -1.0
    for one, other in zip(in_pieces, at_once, strict=True):
        np.testing.assert_array_equal(one.samples, other.samples)
        assert last < one.samples[0] <= one.start_s * SAMPLE_RATE_HZ
        assert one.end_s * SAMPLE_RATE_HZ <= one.samples[-1] + 1
        np.testing.assert_array_equal(np.diff(one.samples), 1)
        last = one.samples[-1]


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("endpoint_s", 0.01, "the endpoint delay is 0.01 s: set it between 0.1 and 5 s."),
        ("threshold", 1.5, "the speech threshold is 1.5: set it between 0.05 and 0.95."),
        ("longest_s", 600, "the longest utterance is 600 s: set it between 1 and 60 s."),
    ],
)
def test_a_senseless_setting_says_what_makes_sense(option: str, value: Any, told: str) -> None:
    with pytest.raises(AudioError) as caught:
        Segmenter(**{option: value})
    assert str(caught.value) == told


# From here on the packaged model listens. The speech is two recordings of people.


@pytest.mark.slow
@pytest.mark.parametrize("size", [160, 512, 7_001, 10_000_000])
def test_real_speech_is_cut_alike_in_any_blocks(size: int) -> None:
    sound = np.concatenate([silence(1), human("beckett.wav"), silence(1)])
    reference = cut(sound, size=8_000)
    found = cut(sound, size=size)
    assert [(u.start_s, u.end_s) for u in found] == [(u.start_s, u.end_s) for u in reference]
    for one, other in zip(found, reference, strict=True):
        np.testing.assert_array_equal(one.samples, other.samples)


def speech_only(sound: Samples) -> Samples:
    """Without the quiet at both ends: from the first to the last 20 ms within 25 dB of the loudest."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    loud = np.flatnonzero((power := np.square(frames).mean(axis=1)) > power.max() * 10**-2.5)
    return sound[loud[0] * 320 : (loud[-1] + 1) * 320]


@pytest.mark.parametrize("snr_db", [None, 10, 5])
def test_the_first_sound_of_human_speech_is_inside_the_utterance(snr_db: int | None) -> None:
    """Where it begins and ends is known, as silence or chair noise was put around it.

    Tolerance: the model's mark may be 0.25 s late (the padding makes up for that), and 0.15 s early.
    """
    speech = speech_only(human("beckett.wav")[: 9 * SAMPLE_RATE_HZ])  # then something is put down
    sound = np.concatenate([silence(1.5), speech, silence(1.5)])
    if snr_db is not None:
        rms = float(np.sqrt(np.mean(np.square(speech)))) * 10 ** (-snr_db / 20)
        sound = sound + whine(len(sound) / SAMPLE_RATE_HZ, rms)[: len(sound)]
    found = cut(sound)
    assert found
    assert -0.15 < found[0].start_s - 1.5 < 0.25
    assert abs(found[-1].end_s - (len(sound) / SAMPLE_RATE_HZ - 1.5)) < 0.4
    before = found[0].start_s - PAD_S
    np.testing.assert_array_equal(found[0].samples[:FRAME], sound[round(before * SAMPLE_RATE_HZ) :][:FRAME])


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["silence", "hum", "hiss", "chair"])
def test_sound_without_a_voice_holds_no_utterance(kind: str) -> None:
    time_s = np.arange(20 * SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ
    sound = {
        "silence": silence(20),
        "hum": (0.3 * np.sin(2 * np.pi * 50 * time_s)).astype(np.float32),
        "hiss": np.random.default_rng(1).normal(0, 0.05, len(time_s)).astype(np.float32),
        "chair": whine(20, 0.1),
    }[kind]
    assert cut(sound) == []


@pytest.mark.parametrize("short_s", [0.15, 0.25])
def test_a_word_as_short_as_etch_survives(short_s: float) -> None:
    """Pieces cut from the loudest parts of human speech, each alone in silence; 9 of 10 must be heard."""
    speech = human("two_cities.wav")
    size = round(short_s * SAMPLE_RATE_HZ)
    pieces = speech[: len(speech) // size * size].reshape(-1, size)
    loudest = pieces[np.argsort(np.square(pieces).mean(axis=1))[-10:]]
    heard = [cut(np.concatenate([silence(0.8), piece, silence(0.8)])) for piece in loudest]
    assert sum(len(found) == 1 for found in heard) >= 9


def test_a_longer_endpoint_joins_what_a_shorter_one_cuts() -> None:
    speech = speech_only(human("beckett.wav"))[: 2 * SAMPLE_RATE_HZ]
    sound = np.concatenate([silence(1), speech, silence(1.2), speech, silence(2.5)])
    short, long = cut(sound, Segmenter(endpoint_s=0.5)), cut(sound, Segmenter(endpoint_s=2.0))
    assert len(long) == 1
    assert len(short) > 1
    assert long[0].start_s == short[0].start_s and long[0].end_s == short[-1].end_s


def test_long_human_speech_is_cut_within_the_limit() -> None:
    """44 s of reading, in which pauses are filled up by a longer endpoint."""
    found = cut(human("two_cities.wav"), Segmenter(endpoint_s=2.0, longest_s=5.0))
    assert all(u.end_s - u.start_s <= 5.0 for u in found)
    assert sum(u.end_s - u.start_s for u in found) > 0.7 * 44


@pytest.mark.slow
def test_requests_are_found_where_they_are_in_minutes_of_stillness() -> None:
    speech = speech_only(human("beckett.wav"))[: 2 * SAMPLE_RATE_HZ]
    minute = np.concatenate([silence(30), speech, silence(28)])
    starts_s = [u.start_s for u in cut(np.concatenate([minute, minute]))]
    for expected_s in (30, 90):
        assert any(abs(start_s - expected_s) < 0.25 for start_s in starts_s)
    assert all(30 - 0.25 < start_s % 60 < 32 for start_s in starts_s)


class Loudness:
    """A model that takes every loud frame for speech: quick enough for an hour."""

    def speech_p(self, frame: Samples) -> float:
        return float(np.abs(frame).max() > 0.05)

    def reset(self) -> None:
        pass


@pytest.mark.slow
def test_an_hour_is_cut_in_little_memory(tmp_path: Path) -> None:
    """A second of tone at the end of each minute, in 8-bit WAV of 8 kHz; the hour is 230 MB of samples.

    The packaged model, which needs about a minute for this hour, is replaced.
    """
    path = tmp_path / "hour.wav"
    tone = (128 + 60 * np.sin(2 * np.pi * 300 * np.arange(8_000) / 8_000)).astype(np.uint8).tobytes()
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(1)
        file.setframerate(8_000)
        for _ in range(60):
            file.writeframes(bytes([128]) * (59 * 8_000) + tone)
    segmenter = Segmenter(voice=Loudness())
    tracemalloc.start()
    try:
        times_s = [(u.start_s, u.end_s) for u in utterances(file_blocks(path), segmenter)]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 4_000_000
    np.testing.assert_allclose(times_s, [(60 * m + 59, 60 * m + 60) for m in range(60)], atol=0.05)
