"""A rehearsal in the terminal: heard from a loudspeaker, typed at a pseudo-terminal, counted and kept."""

from __future__ import annotations

import json
import os
import select
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner, Result

from listen.commands import practise
from listen.commands.main import _Commands
from listen.commands.rehearse import rehearse
from listen.practice.choices import FETCH
from listen.practice.facts import Facts
from listen.practice.judging import Judge, Marking, Outcome
from listen.practice.questions import Question, Questions
from listen.practice.rehearsal import sound
from listen.practice.rehearsal.levels import level
from listen.practice.rehearsal.script import Kind, Line, Script, write
from listen.practice.rehearsal.typed import Typed
from listen.practice.store import PracticeStore, sqlite_url
from listen.practice.voice import SpokenAnswer
from listen.speech import noise
from tests.listen.flow.fake_sounddevice import FakeSounddevice, install
from tests.listen.practice.classroom import CLASS_TWO, lexicon, pack, questions
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
START = "import sys; from listen.commands.main import main; sys.argv[0] = 'traycall'; main()"


# --- at a real terminal ---------------------------------------------------------------------------------


class Terminal:
    """The command in a process of its own, on a pseudo-terminal."""

    def __init__(self, folder: Path, *words: str) -> None:
        import pty

        self.sounds, self.shown, modules = folder / "sounds", "", folder / "modules"
        self.sounds.mkdir()
        modules.mkdir()
        shutil.copy(HERE / "stand_in_sound.py", modules / "sounddevice.py")
        self.store = folder / "practice.sqlite"
        environment = {
            **os.environ,
            "PYTHONPATH": f"{modules}{os.pathsep}{ROOT}",
            "SOUND_OUT": str(self.sounds),
            "XDG_DATA_HOME": str(folder / "data"),
            "TERM": "xterm",
        }
        command = [sys.executable, "-c", START, "practise", "rehearse", "--store", sqlite_url(self.store)]
        self.process, self._file = pty.fork()
        if self.process == 0:
            signal.signal(signal.SIGINT, signal.SIG_DFL)  # tests in the background ignore it
            os.execve(sys.executable, [*command, *words], environment)

    def until(self, seen: Callable[[], bool], what: str) -> None:
        """Read what is shown until something is so."""
        patience = time.monotonic() + 120.0
        while not seen():
            assert time.monotonic() < patience, f"{what} never came:\n{self.shown}"
            if select.select([self._file], [], [], 0.05)[0]:
                try:
                    self.shown += os.read(self._file, 4096).decode(errors="replace").replace("\r\n", "\n")
                except OSError:  # it has ended
                    assert seen(), f"{what} never came:\n{self.shown}"

    def shows(self, text: str) -> None:
        self.until(lambda: text in self.shown, text)

    def heard(self, number: int) -> None:
        """Wait until so many sounds are over."""
        self.until(lambda: (self.sounds / f"{number:03d}.over").exists(), f"the end of line {number}")

    def type(self, text: str) -> None:
        os.write(self._file, text.encode())

    def ended(self) -> int:
        """Wait for the end; its exit status."""
        while True:
            try:
                given = os.read(self._file, 4096)
            except OSError:
                break
            if not given:
                break
            self.shown += given.decode(errors="replace").replace("\r\n", "\n")
        process, self.process = self.process, 0
        return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])

    def close(self) -> None:
        """End it, should it still run."""
        if self.process:
            os.kill(self.process, signal.SIGKILL)
            os.waitpid(self.process, 0)
        os.close(self._file)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Opens one with these words; it ends with the test."""
    with ExitStack() as opened:

        def start(*words: str) -> Terminal:
            one = Terminal(tmp_path, *words)
            opened.callback(one.close)
            return one

        yield start


def written(number: int, seed: int) -> Script:
    """The script of an examination that the command draws with this seed."""
    return write(questions(), "examination", level(number), np.random.default_rng(seed), 3)


def asking_at_once() -> tuple[int, Script]:
    """A calm one whose first four lines all ask for something, and its seed."""
    drawn = ((seed, written(1, seed)) for seed in range(100))
    return next(one for one in drawn if all(line.asks for line in one[1].lines[:4]))


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
def test_a_rehearsal_is_heard_typed_ended_and_kept(tmp_path: Path, terminal: Callable[..., Terminal]) -> None:
    if not sound.can_speak("en"):
        pytest.skip("no voice is installed: apt install flite espeak-ng")
    seed, made = asking_at_once()
    file = tmp_path / "timeline.json"
    words = ["--trainee", "Ann", "--procedure", "examination", "--level", "1", "--minutes", "3"]
    one = terminal(*words, "--seed", str(seed), "--timeline", str(file))
    one.heard(1)
    one.type(f"{made.lines[0].question.right[0]}\r")
    one.shows(": right, ")
    one.heard(2)
    one.type(f"{made.lines[1].question.asked_name}\r")
    one.until(lambda: one.shown.count(": right, ") == 2, "a second right one")
    one.heard(3)
    wrong = next(slot.at for slot in made.tray.slots if slot.at not in made.lines[2].question.right)
    one.type(f"{wrong}\r")
    one.shows(f"not slot {wrong}.")
    one.shows(f"4/{len(made.lines)}")
    one.type("\x03")
    one.shows("The count: where is it now?")
    items = 0
    while "Line by line" not in one.shown:
        one.until(lambda: one.shown.endswith(": ") or "Line by line" in one.shown, "an item of the count")
        if one.shown.endswith(": "):
            items += 1
            one.shown += " "
            one.type("1\r")
    assert one.ended() == 0

    with_store = PracticeStore(sqlite_url(one.store))
    ((_, kept),) = with_store.rehearsals("Ann")
    reviews = [review.answer for review in with_store.reviews("Ann")]
    with_store.close()
    assert (kept.requests, kept.right, kept.wrong, kept.level) == (3, 2, 1, 1) and kept.counted == items > 0
    assert json.loads(file.read_text("utf-8")) == kept.timeline
    assert [line["said"] for line in kept.timeline["lines"]] == [line.said for line in made.lines[:3]]
    assert all(line["said"] in one.shown.replace("\n  ", " ") for line in kept.timeline["lines"])
    # the second was answered by its name, which tells nothing of its slot
    assert [answer.topic.split(":")[2] for answer in reviews] == [made.lines[0].item, made.lines[2].item]
    assert made.lines[0].said not in one.shown.partition("Line by line")[0]

    for number in (1, 2, 3):
        samples, rate_hz = soundfile.read(one.sounds / f"{number:03d}.wav", dtype="float32", always_2d=True)
        assert rate_hz == 16_000
        assert noise.speech_level(samples[:, 0]).active_db == pytest.approx(sound.SPEECH_DB, abs=0.7)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
def test_read_instead_of_heard_it_says_so_and_is_no_rehearsal(
    tmp_path: Path, terminal: Callable[..., Terminal]
) -> None:
    made = written(5, 2)
    file = tmp_path / "timeline.json"
    words = ["--trainee", "Ann", "--procedure", "examination", "--level", "5", "--minutes", "3"]
    one = terminal(*words, "--seed", "2", "--silent", "--timeline", str(file))
    one.shows("Hearing is not practised")
    one.until(lambda: made.lines[0].said in one.shown.replace("\n", " "), "the first line")
    one.until(lambda: f"3/{len(made.lines)}" in one.shown, "the third line")
    one.type("end\r")
    one.until(lambda: "the count" in one.shown, "the count")
    one.until(lambda: "Line by line" in one.shown or one.shown.endswith(": "), "the timeline, or the count")
    if "Line by line" not in one.shown:
        one.type("\x04")
    assert one.ended() == 0 and list(one.sounds.iterdir()) == []
    assert [line["said"] for line in json.loads(file.read_text("utf-8"))["lines"]] == [
        line.said for line in made.lines[:2]
    ]
    with_store = PracticeStore(sqlite_url(one.store))
    assert with_store.rehearsals("Ann") == ()
    with_store.close()


# --- in this process ------------------------------------------------------------------------------------


@pytest.fixture
def run(tmp_path: Path) -> Iterator[Callable[..., Result]]:
    app = typer.Typer(cls=_Commands, pretty_exceptions_enable=False)
    app.callback()(lambda: None)
    app.command("rehearse")(rehearse)

    def invoke(*words: str) -> Result:
        place = ["--store", sqlite_url(tmp_path / "practice.sqlite"), "--trainee", "Ann"]
        return CliRunner().invoke(app, ["rehearse", *words, *place], input="")

    yield invoke


def test_without_a_loudspeaker_it_says_what_to_do(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sound, "can_speak", lambda language: True)
    install(monkeypatch, FakeSounddevice(set(), default=None, outputs=0))
    result = run("--procedure", "examination")
    assert result.exit_code == 2 and "no loudspeaker or headphones" in result.stderr
    assert "--silent" in result.stderr


def test_without_a_voice_it_says_what_to_do(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sound, "can_speak", lambda language: False)
    result = run("--procedure", "amalgama", "--vocabulary", "operativa_es")
    assert result.exit_code == 2 and "Spanish" in result.stderr and "--silent" in result.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--procedure", "nothing"], "no procedure is called 'nothing'"),
        (["--procedure", "examination", "--minutes", "4"], "3, 5, 10 minutes"),
        (["--procedure", "examination", "--level", "7"], "level 1 to 5"),
        (["--procedure", "examination", "--begin", "lunch"], "no step 'lunch'"),
        (["--procedure", "examination", "--timeline", "nowhere/at/all.json"], "there is no folder"),
        (["--procedure", "amalgama", "--vocabulary", "operativa_es", "--voice"], "no engine understands"),
    ],
)
def test_what_cannot_be_rehearsed_is_refused(
    run: Callable[..., Result], words: list[str], told: str, tmp_path: Path
) -> None:
    result = run(*words, "--silent")
    assert result.exit_code == 2 and told in " ".join(result.stderr.split())


def test_slots_are_said_aloud(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    class Listener:
        left = 3

        def answer(self, wait_s: float) -> SpokenAnswer:
            if not self.left:
                raise KeyboardInterrupt
            self.left -= 1
            return SpokenAnswer(np.zeros(1600, np.float32), time.monotonic() + 1.0)

    def heard(judge: Judge, question: Question, samples: object) -> Marking:
        return judge.touch(question, question.right[0] if question.right else "1")

    monkeypatch.setattr(practise, "make_listener", Listener)
    monkeypatch.setattr(Judge, "speech", heard)
    monkeypatch.setattr("listen.practice.rehearsal.levels.MOST_PAUSE_S", 0.0)
    words = ["--procedure", "examination", "--level", "1", "--minutes", "3", "--voice", "--silent"]
    result = run(*words, "--seed", str(asking_at_once()[0]))
    assert result.exit_code == 0 and result.stdout.count(": right, ") == 3
    with_store = PracticeStore(sqlite_url(tmp_path / "practice.sqlite"))
    answers = [review.answer for review in with_store.reviews("Ann")]
    with_store.close()
    assert len(answers) == 3 and all(answer.by == "voice" and answer.response_s for answer in answers)


# --- what is typed --------------------------------------------------------------------------------------


def line_of(kind: Kind, right: tuple[str, ...] | None = None) -> Line:
    for seed in range(40):
        for line in write(questions(), CLASS_TWO, level(5), np.random.default_rng(seed), 10).lines:
            if line.kind is kind and not line.taken_back and right in (None, line.question.right):
                return line
    raise AssertionError(f"no {kind} in 40 scripts")


@pytest.fixture(scope="module")
def typed() -> Typed:
    return Typed(Judge(questions(), lexicon()), lexicon(), pack().tray(pack().procedure(CLASS_TWO).tray))


def test_a_slot_and_a_name_are_answers_and_only_the_slot_shows_that_it_is_known(typed: Typed) -> None:
    line = line_of(Kind.REQUEST)
    by_slot = typed.meant(line, line.question.right[0])
    by_name = typed.meant(line, f"the {pack().item(line.item or '').name.text}")
    assert by_slot.marking.outcome is by_name.marking.outcome is Outcome.RIGHT
    assert by_slot.placed and not by_name.placed
    other = next(i for i in ("mouth_mirror", "explorer_shepherd") if i != line.item)
    wrong = typed.meant(line, pack().item(other).name.text)
    assert wrong.marking.outcome is Outcome.WRONG and wrong.marking.choice not in (None, *line.question.right)
    assert typed.meant(line, "the thingummy").marking.outcome is Outcome.AGAIN
    assert typed.meant(line, "say that again").marking.repeat


@pytest.mark.parametrize("said", ["back", "Put it back", "back {}", "{} back", "{}"])
def test_what_is_given_back_goes_back(typed: Typed, said: str) -> None:
    line = line_of(Kind.BACK)
    for place in (line.question.right[0], pack().item(line.item or "").name.text):
        assert typed.meant(line, said.format(place)).marking.outcome is Outcome.RIGHT
    assert typed.meant(line_of(Kind.REQUEST), "back").marking.outcome is Outcome.WRONG


def test_what_the_tray_has_no_other_of_is_fetched(typed: Typed) -> None:
    line = line_of(Kind.DROP, (FETCH.id,))
    assert typed.meant(line, "fetch").marking.outcome is Outcome.RIGHT
    assert typed.meant(line, "a sterile one").marking.outcome is Outcome.RIGHT
    assert typed.meant(line, pack().item(line.item or "").name.text).marking.outcome is Outcome.WRONG


def test_it_is_ended_in_the_language_of_the_vocabulary(typed: Typed) -> None:
    assert typed.ends("End") and not typed.ends("fin") and not typed.ends("7")
    spanish = shipped_pack("operativa_es")
    names, asks = Lexicon(spanish), Questions(spanish, Facts())
    there = Typed(Judge(asks, names), names, spanish.tray("amalgama"))
    line = write(asks, "amalgama", level(1), np.random.default_rng(1), 3).lines[0]
    assert there.ends("fin")
    assert there.meant(line, spanish.item(line.item or "").name.text).marking.outcome is Outcome.RIGHT
    assert there.meant(line, "repite").marking.repeat
