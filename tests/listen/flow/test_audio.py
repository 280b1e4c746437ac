"""Sound from files and the microphone, against soundfile's writer, scipy's resampler and sox."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tracemalloc
import warnings
import wave
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from scipy.signal import firwin, resample_poly

from listen.audio import (
    AudioError,
    Level,
    Loudspeaker,
    file_blocks,
    level,
    microphone_blocks,
    microphone_problem,
)
from listen.engine import SAMPLE_RATE_HZ, Samples
from tests.listen.flow.fake_sounddevice import FakeSounddevice, install
from vocab.errors import TraycallError


def human(name: str) -> Path:
    """A recording of a person speaking, as it lies inside the moonshine-voice wheel."""
    spec = find_spec("moonshine_voice")
    assert spec and spec.submodule_search_locations
    return Path(spec.submodule_search_locations[0]) / "assets" / name


def played(path: Path, block_s: float = 0.5) -> Samples:
    """The whole file; a warning would fail the test."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return np.concatenate(list(file_blocks(path, block_s)))


def read(path: Path) -> tuple[Samples, int]:
    """The samples and their rate as soundfile reads them."""
    sound, rate_hz = soundfile.read(path, dtype="float32")
    return np.asarray(sound, np.float32), rate_hz


def tone(rate_hz: int, seconds: float = 1.0, hz: float = 440.0) -> Samples:
    return (0.5 * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz)).astype(np.float32)


def residual_db(ours: Samples, reference: Samples) -> float:
    """Energy of the difference relative to the reference."""
    count = min(len(ours), len(reference))
    error = np.mean(np.square(ours[:count].astype(np.float64) - reference[:count]))
    return float(10 * np.log10(error / np.mean(np.square(reference, dtype=np.float64)) + 1e-20))


def problem(path: Path) -> str:
    with pytest.raises(AudioError) as caught:
        list(file_blocks(path))
    assert isinstance(caught.value, TraycallError)
    return str(caught.value)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_a_wav_of_any_rate_and_width_is_heard_at_16_khz(tmp_path: Path, rate_hz: int, subtype: str) -> None:
    """Reference: the tone itself, computed at 16 kHz.

    Tolerance: 8 bits cut down to whole steps of 1/128 cost (1/128)^2 / 3, which is -37.9 dB of the
    tone's 0.125 and -37 dB with some room; all other widths -60 dB.
    """
    soundfile.write(tmp_path / "tone.wav", tone(rate_hz), rate_hz, subtype=subtype)
    heard = played(tmp_path / "tone.wav")
    assert heard.dtype == np.float32
    assert abs(len(heard) - 16_000) <= 1
    assert residual_db(heard[800:-800], tone(16_000)[800:-800]) < (-37 if subtype == "PCM_U8" else -60)


@pytest.mark.parametrize(
    ("suffix", "subtype"), [("flac", "PCM_16"), ("flac", "PCM_24"), ("ogg", "VORBIS"), ("ogg", "OPUS")]
)
def test_flac_and_ogg_are_heard(tmp_path: Path, suffix: str, subtype: str) -> None:
    path = tmp_path / f"tone.{suffix}"
    soundfile.write(path, tone(48_000, 2), 48_000, subtype=subtype)
    heard = played(path)
    assert abs(len(heard) - 32_000) <= 1
    assert residual_db(heard[1600:-1600], tone(16_000, 2)[1600:-1600]) < -25  # the Ogg codecs lose some


@pytest.mark.parametrize("channels", [2, 3])
def test_channels_are_averaged(tmp_path: Path, channels: int) -> None:
    sound = np.zeros((16_000, channels), np.float32)
    sound[:, 0] = tone(16_000)
    soundfile.write(tmp_path / "some.wav", sound, 16_000, subtype="FLOAT")
    np.testing.assert_allclose(played(tmp_path / "some.wav"), tone(16_000) / channels, atol=1e-6)


def test_speech_is_resampled_as_scipy_does() -> None:
    """Reference: scipy.signal.resample_poly, 48 to 16 kHz, by a long filter up to 7.6 kHz.

    Tolerance -60 dB below 6.5 kHz; above, each chooses where to roll off towards 8 kHz.
    """
    sound, rate_hz = read(human("two_cities.wav"))
    assert rate_hz == 48_000
    reference = resample_poly(sound, 1, 3, window=firwin(2401, 7_600, fs=48_000, window=("kaiser", 12.0)))
    heard = played(human("two_cities.wav"))
    assert len(heard) == len(reference)
    low = firwin(255, 6_500, fs=16_000, window=("kaiser", 12.0))
    assert residual_db(np.convolve(heard, low, "same"), np.convolve(reference, low, "same")) < -60


@pytest.mark.skipif(shutil.which("sox") is None, reason="sox, the reference, is not installed")
@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 44_100])
def test_speech_is_resampled_as_sox_does(tmp_path: Path, rate_hz: int) -> None:
    """Reference: sox `rate -v`, from a file of the given rate to 16 kHz. Tolerance -50 dB; level 0.05 dB."""
    source, wanted = tmp_path / "source.wav", tmp_path / "wanted.wav"
    make = f"sox -V1 {human('two_cities.wav')} -b 24 {source} gain -3 rate -v {rate_hz}"
    subprocess.run(make.split(), check=True)
    subprocess.run(f"sox -V1 {source} -b 24 {wanted} rate -v 16000".split(), check=True)
    reference, _ = read(wanted)
    heard = played(source)
    assert abs(len(heard) - len(reference)) <= 1
    assert residual_db(heard, reference) < -50
    assert level(heard).rms_db == pytest.approx(level(reference).rms_db, abs=0.05)


@pytest.mark.parametrize("block_s", [0.001, 0.013, 0.1, 7.0])
def test_the_block_size_does_not_change_the_sound(block_s: float) -> None:
    whole = played(human("two_cities.wav"), 100.0)
    np.testing.assert_allclose(played(human("two_cities.wav"), block_s), whole, atol=1e-6)


def test_samples_beyond_full_scale_are_held_to_it(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "loud.wav", 3 * tone(44_100), 44_100, subtype="FLOAT")
    assert np.abs(played(tmp_path / "loud.wav")).max() == 1.0


def test_a_missing_file_is_named() -> None:
    assert problem(Path("nowhere.wav")) == "nowhere.wav does not exist: check the name and the folder."


def test_a_folder_is_no_sound_file(tmp_path: Path) -> None:
    assert problem(tmp_path) == f"{tmp_path} is a folder: name the sound files in it."


def test_an_empty_file_is_called_empty(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    path.touch()
    assert problem(path) == f"{path} is empty (0 bytes): record or copy it again."


@pytest.mark.parametrize("name", ["notes.wav", "notes.txt", "notes.flac", "notes.raw"])
def test_what_is_no_sound_says_what_to_give(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(b"Mirror, explorer, probe.\n" * 100)
    assert "is not sound traycall can read: give a WAV, FLAC or Ogg file" in problem(path)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no permission bits to take away")
def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    path = tmp_path / "private.wav"
    soundfile.write(path, tone(16_000), 16_000)
    path.chmod(0)
    try:
        path.open("rb").close()
    except PermissionError:
        assert "check its permissions" in problem(path)
    else:
        pytest.skip("this user may read everything")


@pytest.mark.parametrize("length", [4, 20, 40])
def test_a_wav_cut_off_in_its_header_is_called_damaged(tmp_path: Path, length: int) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, tone(16_000), 16_000)
    path.write_bytes(path.read_bytes()[:length])
    assert problem(path) == f"{path} is damaged or cut off in its header: record or copy it again."


@pytest.mark.parametrize("promised", [0, 16_000])
def test_a_file_without_samples_holds_no_sound(tmp_path: Path, promised: int) -> None:
    path = tmp_path / "none.wav"
    soundfile.write(path, tone(16_000)[:promised], 16_000)
    path.write_bytes(path.read_bytes()[:44])
    assert problem(path) == f"{path} holds no sound (0 samples): record or copy it again."


def test_a_cut_off_wav_plays_what_is_there_and_tells(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, tone(16_000, 2), 16_000, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: 44 + 2 * 8_000 + 1])
    told: list[str] = []
    heard = np.concatenate(list(file_blocks(path, warn=told.append)))
    np.testing.assert_allclose(heard, tone(16_000, 2)[:8_000], atol=1e-4)
    assert told == [f"{path} breaks off after 0.5 of 2.0 s: only that much was heard."]
    with pytest.warns(UserWarning, match="breaks off"):
        list(file_blocks(path))


def test_a_cut_off_flac_plays_what_is_there_and_tells(tmp_path: Path) -> None:
    path = tmp_path / "cut.flac"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, 32_000).astype(np.float32)
    soundfile.write(path, noise, 16_000, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    told: list[str] = []
    heard = np.concatenate(list(file_blocks(path, 0.4, told.append)))
    assert 12_000 < len(heard) < 16_500
    np.testing.assert_allclose(heard, noise[: len(heard)], atol=1e-4)
    assert len(told) == 1 and "breaks off after" in told[0] and "of 2.0 s" in told[0]


@pytest.mark.parametrize("subtype", ["VORBIS", "OPUS"])
def test_a_cut_off_ogg_plays_what_is_there_and_tells(tmp_path: Path, subtype: str) -> None:
    path = tmp_path / "cut.ogg"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, 48_000 * 10).astype(np.float32)
    soundfile.write(path, noise, 48_000, format="OGG", subtype=subtype)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    told: list[str] = []
    seconds = sum(map(len, file_blocks(path, warn=told.append))) / 16_000
    assert 2 < seconds < 8
    assert len(told) == 1 and f"{path} is damaged or cut off near {seconds:.1f} s" in told[0]


@pytest.mark.parametrize("declared", [0xFFFF_FFFF, 0x7FFF_F000])
def test_a_wav_written_to_a_pipe_is_whole(tmp_path: Path, declared: int) -> None:
    """A program that cannot seek back leaves a huge length: ffmpeg all ones, sox 0x7FFFF000 (as seen)."""
    path = tmp_path / "piped.wav"
    soundfile.write(path, tone(16_000), 16_000, subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[40:44] = declared.to_bytes(4, "little")
    path.write_bytes(content)
    assert len(played(path)) == 16_000


def test_a_flac_of_unknown_length_is_whole(tmp_path: Path) -> None:
    """The FLAC format lets the total number of samples be 0 for unknown (RFC 9639, 8.2)."""
    path = tmp_path / "piped.flac"
    soundfile.write(path, tone(16_000), 16_000, subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[21] &= 0xF0  # STREAMINFO: 36 bits of total samples, the last of them in bytes 22 to 25
    content[22:26] = bytes(4)
    path.write_bytes(content)
    assert len(played(path)) == 16_000


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_are_refused_with_their_time(tmp_path: Path, bad: float) -> None:
    path = tmp_path / "nan.wav"
    sound = np.stack([tone(8_000, 3), tone(8_000, 3)], axis=1)
    sound[10_000, 1] = bad
    soundfile.write(path, sound, 8_000, subtype="FLOAT")
    assert f"{path} has samples that are not numbers (NaN or infinite), the first at 1.250 s" in problem(path)


def test_a_senseless_sample_rate_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "slow.wav"
    soundfile.write(path, tone(16_000), 100)
    assert "gives its rate as 100 samples a second; 1000 to 768000 make sense" in problem(path)


def test_a_silent_file_is_sound_and_its_level_tells(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silent.wav", np.zeros(16_000), 16_000)
    heard = played(tmp_path / "silent.wav")
    assert level(heard) == Level(-120.0, -120.0, 0.0)
    assert level(heard).warning == "silent: is the microphone muted?"
    assert level(heard[:0]) == level(heard)


def test_an_hour_long_file_is_played_in_little_memory(tmp_path: Path) -> None:
    """One hour at 8 kHz is 230 MB of float samples at 16 kHz; at most 3 MB may be held at once."""
    path = tmp_path / "hour.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(1)
        file.setframerate(8_000)
        minute = bytes([128]) * (8_000 * 60)
        for _ in range(60):
            file.writeframes(minute)
    tracemalloc.start()
    try:
        samples = sum(map(len, file_blocks(path)))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert abs(samples - 3600 * 16_000) <= 1
    assert peak < 3_000_000


def test_level_of_a_sine_is_3_db_below_its_peak() -> None:
    """Arithmetic: a sine of amplitude 0.5 has peak -6.02 dB and RMS -9.03 dB of full scale."""
    measured = level(tone(16_000))
    assert measured.peak_db == pytest.approx(-6.02, abs=0.01)
    assert measured.rms_db == pytest.approx(-9.03, abs=0.01)
    assert measured.clipped_share == 0
    assert measured.warning is None


def test_clipped_speech_is_called_clipped_and_whispers_quiet() -> None:
    speech = played(human("beckett.wav"))
    speech = speech / np.abs(speech).max()
    assert level(speech * 0.5).warning is None
    assert "clipped" in (level(np.clip(speech * 8, -1, 1)).warning or "")
    assert "very quiet" in (level(speech * 0.003).warning or "")


def test_a_clipped_8_khz_file_is_still_called_clipped(tmp_path: Path) -> None:
    speech = played(human("beckett.wav"))
    soundfile.write(tmp_path / "loud.wav", np.clip(speech[::2] * 20, -1, 1), 8_000)
    assert "clipped" in (level(played(tmp_path / "loud.wav")).warning or "")


# The microphone.


def test_the_microphone_is_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = install(monkeypatch, FakeSounddevice({(16_000.0, 1)}))
    assert microphone_problem() is None
    with microphone_blocks() as blocks:
        fake.streams[0].deliver(tone(16_000)[:800])
        np.testing.assert_allclose(next(blocks), tone(16_000)[:800])
        assert blocks.name == "Headset" and blocks.dropped == 0
    assert fake.streams[0].closed


@pytest.mark.parametrize("channels", [1, 2])
def test_a_device_that_refuses_16_khz_is_resampled(monkeypatch: pytest.MonkeyPatch, channels: int) -> None:
    fake = install(monkeypatch, FakeSounddevice({(44_100.0, channels)}))
    with microphone_blocks("Head") as blocks:
        assert blocks.rate_hz == 44_100
        for start in range(0, 44_100, 2_205):
            fake.streams[0].deliver(tone(44_100)[start : start + 2_205])
        heard: list[Samples] = []
        while sum(map(len, heard)) < 15_000:
            heard.append(next(blocks))
    sound = np.concatenate(heard)
    assert residual_db(sound[800:], tone(16_000)[800:]) < -60


def test_sound_nobody_takes_is_dropped_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = install(monkeypatch, FakeSounddevice({(16_000.0, 1)}))
    with microphone_blocks() as blocks:
        for _ in range(1_000):  # 32 s in blocks of 0.032 s; 30 s are kept
            fake.streams[0].deliver(tone(16_000)[: fake.streams[0].blocksize])
        lost = blocks.dropped
        assert lost == 1_000 - round(30 / 0.032)
        next(blocks)
        fake.streams[0].deliver(tone(16_000)[:512], overflow=True)
        assert blocks.dropped == lost + 1


def test_a_microphone_that_is_unplugged_ends_with_a_message(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = install(monkeypatch, FakeSounddevice({(16_000.0, 1)}))
    with microphone_blocks() as blocks:
        fake.streams[0].active = False
        with pytest.raises(AudioError, match=r"the microphone \(Headset\) stopped: is it still plugged in"):
            next(blocks)


def test_no_microphone_at_all_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeSounddevice(set(), default=None, inputs=0))
    assert microphone_problem() == (
        "no microphone is connected: plug one in, or give traycall sound files instead."
    )
    with pytest.raises(AudioError, match="no microphone is connected"), microphone_blocks():
        pass


def test_the_wrong_device_lists_the_right_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeSounddevice(set(), default=None))
    assert microphone_problem() == "no default microphone is set: choose one of 1 Headset."
    assert microphone_problem("Lapel") == "no single microphone matches 'Lapel': choose one of 1 Headset."
    assert microphone_problem(0) == "no single microphone matches 0: choose one of 1 Headset."


def test_a_microphone_in_use_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeSounddevice(set()))
    with (
        pytest.raises(AudioError, match=r"\(Headset\) will not open .*close other programs"),
        microphone_blocks(),
    ):
        pass


@pytest.mark.parametrize(
    ("failure", "told"),
    [
        (OSError("PortAudio library not found"), "apt install libportaudio2"),
        (ModuleNotFoundError("No module named 'sounddevice'"), "pip install sounddevice"),
    ],
)
def test_missing_portaudio_says_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch, failure: Exception, told: str
) -> None:
    def fail(name: str) -> None:
        raise failure

    monkeypatch.setattr("listen.audio.importlib.import_module", fail)
    assert told in (microphone_problem() or "")


@pytest.mark.parametrize("accepts", [(16_000.0, 1), (44_100.0, 1), (44_100.0, 2)])
def test_a_loudspeaker_plays_the_whole_sound_at_a_rate_that_it_takes(
    monkeypatch: pytest.MonkeyPatch, accepts: tuple[float, int]
) -> None:
    fake = install(monkeypatch, FakeSounddevice({accepts}))
    tone = np.asarray(0.4 * np.sin(np.arange(SAMPLE_RATE_HZ) * 0.2), np.float32)
    speaker = Loudspeaker()
    speaker.play(tone)
    (sound,) = fake.sounds
    assert (sound.rate_hz, sound.channels) == accepts and not speaker.sounding
    played = soxr.resample(sound.played[:, 0], sound.rate_hz, SAMPLE_RATE_HZ)
    assert len(tone) <= len(played) < len(tone) + SAMPLE_RATE_HZ // 20
    assert np.max(np.abs(played[2000:14_000] - tone[2000:14_000])) < 0.01
    assert np.all(sound.played[:, 0] == sound.played[:, -1])


def test_a_sound_that_is_stopped_no_longer_sounds(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = install(monkeypatch, FakeSounddevice({(16_000.0, 1)}))
    speaker = Loudspeaker()
    speaker.play(np.zeros(100, np.float32))
    fake.sounds[0].active = True
    assert speaker.sounding
    speaker.stop()
    assert not speaker.sounding and not fake.sounds[0].active


def test_a_machine_without_a_loudspeaker_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    install(monkeypatch, FakeSounddevice(set(), default=None, outputs=0))
    with pytest.raises(AudioError, match="no loudspeaker or headphones are connected"):
        Loudspeaker()
    install(monkeypatch, FakeSounddevice(set()))
    with pytest.raises(AudioError, match=r"loudspeaker \(Headset\) will not open .*in use"):
        Loudspeaker().play(np.zeros(100, np.float32))


def test_asking_the_real_machine_for_its_microphone_never_breaks() -> None:
    told = microphone_problem()
    assert told is None or "microphone" in told


def test_errors_print_as_plain_text() -> None:
    out = io.StringIO()
    try:
        file_blocks("nowhere.wav")
    except AudioError as error:
        print(error, file=out)
    assert "\n" not in out.getvalue().strip()
