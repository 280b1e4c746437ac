"""`traycall practise rehearse`: a procedure heard from the loudspeaker and answered at the keyboard or aloud.

Options in, a rehearsal played at its own pace, its count and timeline out. `listen.practice.rehearsal`
decides what is said and what an act is worth; here are only the sound, the keys and the clock.
"""

from __future__ import annotations

import json
import time
import uuid
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from listen.commands.options import ChangesOption, DentistOption, StoreOption, VocabularyOption
from listen.commands.practise import Trainee, open_listener, open_practice
from listen.commands.say import say, tell
from vocab.errors import TraycallError

if TYPE_CHECKING:
    from listen.audio import Loudspeaker
    from listen.commands.keyboard import Keyboard, TypedLine
    from listen.engine import Samples
    from listen.practice.judging import Judge, Marking
    from listen.practice.played import Played
    from listen.practice.questions import Questions
    from listen.practice.rehearsal.outcomes import Where
    from listen.practice.rehearsal.running import Entry, Rehearsal
    from listen.practice.rehearsal.script import Line
    from listen.practice.rehearsal.sound import Talkers
    from listen.practice.rehearsal.typed import Typed
    from listen.practice.session import By
    from listen.practice.store import PracticeStore
    from listen.practice.voice import AnswerListener

TYPING_S = 8.0
"""Who has begun to type is waited for so long."""
STEP_S = 0.05
UNDERSTOOD_S = 0.5
"""Nobody has understood a line sooner; what was begun before was meant for an earlier one."""
READ_WORD_S = 0.36
"""A written line ends when it would have been spoken: so long a word."""
NOT_HEARD = (
    "Nothing is played: this is practice in reading. Hearing is not practised, so it does not count as a "
    "rehearsal; its answers about slots do count."
)


def rehearse(
    trainee: Trainee,
    procedure: Annotated[str, typer.Option("--procedure", metavar="ID", help="What to rehearse.")],
    minutes: Annotated[int, typer.Option(metavar="MINUTES", help="At most: 3, 5 or 10.")] = 5,
    level: Annotated[
        int | None,
        typer.Option(metavar="N", help="How hard, 1 to 5. [default: what the last ones came to]"),
    ] = None,
    begin: Annotated[str | None, typer.Option(metavar="STEP", help="The step to begin with.")] = None,
    voice: Annotated[bool, typer.Option("--voice", help="Answer by voice, with the slot's number.")] = False,
    silent: Annotated[bool, typer.Option("--silent", help="Read the lines instead of hearing them.")] = False,
    timeline: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the timeline there, too (JSON).")
    ] = None,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    seed: Annotated[int | None, typer.Option(metavar="N", min=0, help="Draw the same lines again.")] = None,
) -> None:
    """Hear a procedure as at the chair, and type the slot or the name of what is asked for, in time.

    It ends in a count and a timeline, kept with those of the browser. Ctrl-C ends it sooner.
    """
    import numpy as np

    from listen.commands.keyboard import keyboard
    from listen.practice.judging import AnswerEngines, Judge
    from listen.practice.questions import Questions
    from listen.practice.rehearsal.beginning import Wish, begun
    from listen.practice.rehearsal.timeline import played
    from listen.practice.rehearsal.typed import Typed
    from listen.practice.topics import PracticeError
    from vocab.files import data_folder
    from vocab.lint.findings import HEARD_LANGUAGES
    from vocab.requests.lexicon import Lexicon

    if timeline is not None and not timeline.absolute().parent.is_dir():
        raise TraycallError(f"{timeline} cannot be written: there is no folder {timeline.absolute().parent}.")
    with_ = open_practice(pack, layers, dentist, store)
    language = with_.pack.language
    if voice and language not in HEARD_LANGUAGES:
        raise PracticeError(
            f"no engine understands speech in the language {language}: leave --voice out and type the "
            "answers."
        )
    speaker = None if silent else _loudspeaker(language)
    questions, lexicon = Questions(with_.pack, with_.facts), Lexicon(with_.pack)
    judge = Judge(questions, lexicon, AnswerEngines() if voice else None)
    with_.store.add(trainee, datetime.now(UTC))
    rehearsal, talkers = begun(
        Wish(with_.pack.id, procedure, minutes, level, begin),
        questions,
        with_.store,
        trainee,
        np.random.default_rng(seed),
        data_folder() / "spoken",
        time.time(),
    )
    ears = open_listener() if voice else None
    with keyboard(time.monotonic) as keys:
        one = _Played(
            rehearsal,
            questions,
            judge,
            Typed(judge, lexicon, rehearsal.script.tray),
            keys,
            None if speaker is None else (speaker, talkers),
            ears,
            with_.store,
            trainee,
        )
        one.play()
        one.count()
    came = played(rehearsal, questions, one.token, datetime.fromtimestamp(rehearsal.started_s, UTC))
    _show(came, questions)
    if not silent and rehearsal.entries:
        number = with_.store.keep(trainee, came)
        say(f"\nKept as rehearsal {number} of {trainee}.")
    if timeline is not None:
        _write(came, timeline)


def _loudspeaker(language: str) -> Loudspeaker:
    from listen.audio import AudioError, Loudspeaker
    from listen.practice.rehearsal.sound import can_speak, no_voice

    read_it = "Or read the lines, with --silent."
    if not can_speak(language):
        raise TraycallError(f"{no_voice(language)} {read_it}")
    try:
        return Loudspeaker()
    except AudioError as error:
        raise AudioError(f"{error} {read_it}") from None


class _Ended(Exception):
    """Somebody has typed that it is over."""


@dataclass(frozen=True)
class _Act:
    """began_s: on the monotonic clock; store: whether it shows that one knows the slot."""

    marking: Marking
    began_s: float
    by: By
    store: bool


class _Played:
    """One rehearsal in real time.

    Args:
        sound: the loudspeaker and who speaks; None where the lines are read.
        ears: where answers are spoken; None where they are typed.
    """

    def __init__(
        self,
        rehearsal: Rehearsal,
        questions: Questions,
        judge: Judge,
        typed: Typed,
        keys: Keyboard,
        sound: tuple[Loudspeaker, Talkers] | None,
        ears: AnswerListener | None,
        store: PracticeStore,
        trainee: str,
    ) -> None:
        from listen.practice.rehearsal.languages import wordings

        self._on, self._questions, self._judge, self._typed = rehearsal, questions, judge, typed
        self._keys, self._sound, self._ears = keys, sound, ears
        self._store, self._trainee = store, trainee
        self._said = wordings(questions.pack.language)
        self._began_s = time.monotonic()
        self.token = uuid.uuid4().hex

    def play(self) -> None:
        """All lines, each in its time; Ctrl-C, the end of the input and "end" stop it."""
        from listen.practice.rehearsal.levels import MOST_PAUSE_S

        script = self._on.script
        say(f"{script.procedure.name}")
        say(f"Rehearsal, level {script.level.number} ({script.level.name.lower()}). {script.level.told}")
        if self._sound is None:
            tell(NOT_HEARD)
        if self._ears is None:
            say(f"{self._said.how}\n{self._places()}")
        ahead = ThreadPoolExecutor(1, "rehearsal-voice")
        try:
            coming = self._spoken(ahead, 1)
            while (line := self._on.line) is not None:
                sound, coming = coming, self._spoken(ahead, self._on.number + 1)
                entry = self._line(line, None if sound is None else sound.result())
                self._wait(min(MOST_PAUSE_S, entry.line.pause_s))
        except (KeyboardInterrupt, EOFError, _Ended):
            print()
            self._on.stop(self._now_s)
        finally:
            if self._sound is not None:
                self._sound[0].stop()
            ahead.shutdown(wait=False, cancel_futures=True)

    def count(self) -> None:
        """Ask where things are, and take the count; what is not answered is not right."""
        where: dict[str, Where] = {}
        items = self._on.to_count()
        if items:
            places = self._said.places
            say(f"\n{self._said.count}\n{self._said.count_note}")
            say("   ".join(f"{n} {text}" for n, text in enumerate(places.values(), 1)))
            choices = {str(n): place for n, place in enumerate(places, 1)}
            choices |= {text: place for place, text in places.items()}
            try:
                for item in items:
                    where |= self._asked_where(item, choices)
            except (KeyboardInterrupt, EOFError):
                print()
        self._on.count(where, self._now_s)

    # --- one line ---------------------------------------------------------------------------------------

    def _line(self, line: Line, sound: Samples | None) -> Entry:
        """Say it, take what is done about it, and tell what came of it."""
        self._keys.forget()
        if self._sound is not None and sound is None:
            return self._on.unheard(self._now_s)
        print(f"\n{self._on.number}/{len(self._on.script.lines)} ", end="", flush=True)
        understood_s = time.monotonic() + UNDERSTOOD_S
        while True:  # said once, and again where that is wanted
            act = self._say(line, sound)
            ended_s = waits_s = time.monotonic()
            while True:
                act = act or self._done(line, waits_s)
                if act is None:
                    return self._told(self._on.silence(self._now_s))
                if act.began_s >= understood_s:
                    response_s = max(0.0, act.began_s - ended_s)
                    entry = self._on.act(act.marking, self._now_s, response_s, act.by)
                    if entry is not None:
                        return self._told(entry, act.store)
                    if self._is_said_again(act.marking):
                        break
                    say(self._said.unclear)
                    waits_s = time.monotonic()
                act = None

    def _say(self, line: Line, sound: Samples | None) -> _Act | None:
        """Play it, or write it, and wait until it is over; what was done meanwhile."""
        if self._sound is None or sound is None:
            say(f"“{line.said}”")
            until_s = time.monotonic() + READ_WORD_S * len(line.said.split())
            return self._key(line, lambda: time.monotonic() >= until_s)
        speaker = self._sound[0]
        speaker.play(sound)
        act = self._key(line, lambda: not speaker.sounding)
        speaker.stop()
        return act

    def _done(self, line: Line, from_s: float) -> _Act | None:
        """What is done within the time of the line."""
        if self._ears is None:
            return self._key(line, lambda: time.monotonic() >= from_s + line.wait_s)
        spoken = self._ears.answer(line.wait_s)
        if spoken is None:
            return None
        return _Act(self._judge.speech(line.question, spoken.samples), spoken.start_s, "voice", store=True)

    def _key(self, line: Line, until: Callable[[], bool]) -> _Act | None:
        typed = self._typed_line(until)
        if typed is None:
            return None
        meant = self._typed.meant(line, typed.text)
        return _Act(meant.marking, typed.began_s, "text", meant.placed)

    def _typed_line(self, until: Callable[[], bool]) -> TypedLine | None:
        """A line that says something; raises `_Ended` for one that ends it. None where answers are spoken."""
        while self._ears is not None and not until():
            time.sleep(STEP_S)
        while self._ears is None:
            typed = self._keys.line(until, TYPING_S)
            if typed is None:
                return None
            if self._typed.ends(typed.text):
                raise _Ended
            if typed.text.strip():
                return typed
        return None

    def _wait(self, seconds: float) -> None:
        """A pause; what is typed in it counts for nothing."""
        until_s = time.monotonic() + seconds
        while time.monotonic() < until_s:
            self._typed_line(lambda: time.monotonic() >= until_s)

    # --- parts ------------------------------------------------------------------------------------------

    @property
    def _now_s(self) -> float:
        """On the clock of the rehearsal, which never goes back."""
        return self._on.started_s + time.monotonic() - self._began_s

    @staticmethod
    def _is_said_again(marking: Marking) -> bool:
        """Whether an act that closed nothing was a wish, or meant for what this line was taking back."""
        from listen.practice.judging import Outcome

        return marking.repeat or marking.outcome is not Outcome.AGAIN

    def _spoken(self, ahead: ThreadPoolExecutor, number: int) -> Future[Samples | None] | None:
        """A line's sound, made while the one before is played."""
        lines = self._on.script.lines
        if self._sound is None or number > len(lines):
            return None
        line, noise_db = lines[number - 1], self._on.script.level.noise_db
        return ahead.submit(self._sound[1].said, line.said, line.talker, number, noise_db)

    def _told(self, entry: Entry, store: bool = True) -> Entry:
        """Tell what came of a line, and keep it as an answer about its slot."""
        from listen.practice.rehearsal.outcomes import Came
        from listen.practice.rehearsal.timeline import stored, told

        if entry.by is None:
            print()  # nobody has pressed Enter
        if entry.came not in (Came.LEFT, Came.TAKEN_BACK):
            text = told(entry, self._questions)
            say(f"{text[:1].upper()}{text[1:]}")
        answer = stored(entry, datetime.now(UTC), f"{self.token}-{entry.number}") if store else None
        if answer is not None:
            self._store.record(self._trainee, answer)
        return entry

    def _places(self) -> str:
        """Where things may lie: every address of the tray, numbers that follow each other in one."""
        found: dict[str, list[str]] = {}
        for slot in self._on.script.tray.slots:
            where, space, number = slot.at.rpartition(" ")
            numbered = number.isdigit()
            found.setdefault(f"{where}{space}" if numbered else slot.at, []).extend([number] * numbered)
        return ", ".join(
            where if not ats else where + "–".join(dict.fromkeys((ats[0], ats[-1])))
            for where, ats in found.items()
        )

    def _asked_where(self, item: str, choices: dict[str, Where]) -> dict[str, Where]:
        while True:
            print(f"{self._questions.called(item)}: ", end="", flush=True)
            typed = self._keys.line(lambda: False, TYPING_S)
            if typed is None or not typed.text.strip():
                return {}
            if typed.text.strip().lower() in choices:
                return {item: choices[typed.text.strip().lower()]}


def _show(came: Played, questions: Questions) -> None:
    """The figures, and each line with what came of it."""
    from listen.practice.rehearsal.languages import wordings
    from listen.practice.rehearsal.outcomes import Came

    said, lines = wordings(questions.pack.language), came.timeline["lines"]
    within = "–" if came.median_s is None else f"{came.median_s:.1f} s"
    figures: list[tuple[str, str]] = [
        (said.came[Came.RIGHT], said.of.format(some=came.right, all=came.requests)),
        (said.came[Came.WRONG], str(came.wrong)),
        (said.came[Came.SLOW], str(came.slow)),
        (said.alarms, str(came.false_alarms)),
        (said.half_within, within),
        (said.the_count, said.of.format(some=came.counted_right, all=came.counted)),
    ]
    say("\n" + "; ".join(f"{label}: {figure}" for label, figure in figures))
    for one in came.timeline["count"]:
        where = said.and_one.join(one["truth"])
        if not one["right"]:
            where = said.you_said.format(where=where, answered=one["answered"] or said.nothing)
        say(f"  {one['name']}: {where}")
    if lines:
        say(f"\n{said.line_by_line}")
    for one in lines:
        quiet = one["kind"] == "note" and one["came"] == Came.LEFT
        word = said.to_remember if quiet else said.came[Came(one["came"])]
        took = "" if one["response_s"] is None else f", {one['response_s']:.1f} s"
        at = int(one["at_s"])
        say(f"  {at // 60}:{at % 60:02d}  {one['said']}\n        {word}{took}")


def _write(came: Played, file: Path) -> None:
    from vocab.files import write_atomically

    text = json.dumps(dict[str, Any](came.timeline), indent=1, ensure_ascii=False)
    try:
        write_atomically(file, f"{text}\n".encode(), private=True)
    except OSError as error:
        raise TraycallError(f"{file} cannot be written: {error.strerror}.") from None
