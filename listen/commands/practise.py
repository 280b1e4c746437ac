"""The command line of practice: options in, calls to the library, text out.

Mounted as `traycall practise`. Answers go to standard output, hints and errors to standard error. Whatever
takes long to import is imported by the command that needs it.
"""

from __future__ import annotations

import json
import sys
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from listen.commands.options import ChangesOption, DentistOption, StoreOption, VocabularyOption
from listen.commands.say import counted, say, tell
from vocab.errors import TraycallError

if TYPE_CHECKING:
    from listen.practice.ability import Chance
    from listen.practice.desk import Desk, Reply
    from listen.practice.facts import Facts
    from listen.practice.questions import Question
    from listen.practice.store import PracticeStore
    from listen.practice.topics import Topic
    from listen.practice.trays_here import TraysHere
    from listen.practice.voice import AnswerListener
    from listen.practice.wordings import Wordings
    from vocab.pack.schema import Pack

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help=(
        "Practise names, slots, order and numbers; see progress; sign off. No trainee's code is asked "
        "for here: anyone who can open the store's file counts as its lead."
    ),
)

Trainee = Annotated[str, typer.Option("--trainee", metavar="NAME", help="A display name.")]
ProcedureId = Annotated[
    str | None, typer.Option("--procedure", metavar="ID", help="Practise for this procedure and its tray.")
]
Drills = Annotated[
    list[str] | None,
    typer.Option(
        "--drill",
        metavar="DRILL",
        help="slot, name, next, lay, fault, fact, apart or pass; may be given again.",
    ),
]
AsCsv = Annotated[bool, typer.Option("--csv", help="Print CSV.")]
Since = Annotated[
    str | None, typer.Option("--since", metavar="YYYY-MM-DD", help="Only answers from this day on.")
]

DRILLS = {
    "slot": "find the slot",
    "name": "say the name",
    "apart": "tell look-alikes apart",
    "next": "say what comes next",
    "lay": "lay the tray",
    "fault": "find what is wrong",
    "fact": "know the numbers",
    "pass": "know how it is passed",
}
"""What is practised, by the name of the drill."""
WAIT_S = 12.0
"""Seconds that a spoken answer is waited for."""

make_listener: Callable[[], AnswerListener] | None = None
"""Set by whoever has another microphone than this machine's; None opens that one."""


@dataclass(frozen=True)
class _Drilling:
    """What every drill needs."""

    pack: Pack
    facts: Facts
    store: PracticeStore
    trays: TraysHere

    def topics(self, procedure: str | None, drills: list[Any] | None = None) -> tuple[Topic, ...]:
        """Everything that is practised here."""
        from listen.practice.topics import PracticeError, curriculum
        from listen.practice.trays_here import WAITING

        every = curriculum(self.pack, self.facts, procedure, drills)
        found = tuple(filter(self.trays.practised, every))
        if not found:
            raise PracticeError(WAITING)
        return found


@app.command(short_help="Practise for some minutes.")
def drill(
    trainee: Trainee,
    procedure: ProcedureId = None,
    drills: Drills = None,
    minutes: Annotated[float, typer.Option(metavar="MINUTES", min=0.5, max=120, help="How long.")] = 10.0,
    voice: Annotated[bool, typer.Option("--voice", help="Answer by voice.")] = False,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    seed: Annotated[
        int | None, typer.Option(metavar="N", min=0, help="Draw the same questions again.")
    ] = None,
) -> None:
    """Practise: type or say the answer; "I don't know" and "say that again" are answers too.

    Speed counts where the answer is spoken.
    """
    import numpy as np

    from listen.practice.desk import Desk
    from listen.practice.judging import AnswerEngines, Judge
    from listen.practice.questions import Questions
    from listen.practice.schedule import Course, SessionSettings
    from listen.practice.topics import PracticeError, partners
    from vocab.lint.findings import HEARD_LANGUAGES
    from vocab.requests.lexicon import Lexicon

    drilling = open_practice(pack, layers, dentist, store)
    if voice and drilling.pack.language not in HEARD_LANGUAGES:
        raise PracticeError(
            f"no engine understands speech in the language {drilling.pack.language}: leave "
            "--voice out and type the answers."
        )
    topics = drilling.topics(procedure, _drills(drills))
    questions = Questions(drilling.pack, drilling.facts)
    judge = Judge(questions, Lexicon(drilling.pack), AnswerEngines() if voice else None)
    drilling.store.add(trainee, _now())
    if not all(map(drilling.trays.counts, topics)):
        tell(
            "Places are asked as the tray came; they count towards being ready once the clinic has confirmed "
            "how it lies here."
        )
    desk = Desk(
        questions,
        judge,
        drilling.store,
        trainee,
        Course(topics, partners(drilling.pack)),
        _now(),
        np.random.default_rng(seed),
        SessionSettings(length=timedelta(minutes=minutes)),
    )
    listener = open_listener() if voice else None
    while (question := desk.next(_now())) is not None:
        reply = _ask_by_voice(desk, question, listener) if listener else _ask_by_text(desk, question)
        if reply is None:
            break
        _show_reply(reply, desk.words)
    score = desk.words.score.format(right=desk.session.right, asked=desk.session.asked)
    say(f"\n{score} See `traycall practise progress`.")


def _ask_by_text(desk: Desk, question: Question) -> Reply | None:
    """A line says when an answer ends, not when it starts, so typed answers have no response time."""
    _show_question(desk, question)
    print("> ", end="", flush=True)
    line = sys.stdin.readline()
    return desk.by_text(line.strip(), _now(), uuid.uuid4().hex, None) if line else None


def _ask_by_voice(desk: Desk, question: Question, listener: AnswerListener) -> Reply | None:
    from listen.practice.session import response_time

    _show_question(desk, question)
    end_s = time.monotonic()
    spoken = listener.answer(WAIT_S)
    if spoken is None:
        return desk.by_silence()
    waited_s = response_time(end_s, spoken.start_s)
    return desk.by_voice(spoken.samples, _now(), uuid.uuid4().hex, waited_s)


def _show_question(desk: Desk, question: Question) -> None:
    if desk.laying is not None and desk.laying.laid:
        print("\n" + desk.words.still_open.format(count=len(desk.laying.open)))
        return
    if desk.story is not None:  # a terminal plays nothing: the story is read
        say(f"\n{desk.story.procedure}")
        for line in desk.story.lines:
            say(f"  {line.said}")
        say(question.spoken)
    else:
        say(f"\n{question.prompt}")
    names = {choice.id: choice.shown for choice in question.choices}
    if question.topic.drill == "fault":
        for place in question.scene:
            print(f"  {place.at:>3}  {names.get(place.item, place.item) if place.item else '-'}")
    elif question.topic.drill == "lay":
        print("  " + desk.words.slots.format(slots=", ".join(place.at for place in question.scene)))
    elif question.topic.drill in ("apart", "pass"):
        for number, choice in enumerate(question.choices, 1):
            say(f"  {number}  {question.looks.get(choice.id, choice.shown)}")
    elif question.offered and not question.items:
        print("  " + " / ".join(choice.shown for choice in question.choices))


def _show_reply(reply: Reply, said: Wordings) -> None:
    word = {"right": said.right, "wrong": said.wrong, "say again": ""}[reply.judgement.outcome]
    text = " ".join(part for part in (word, reply.explain) if part)
    if text:
        say(text)


@app.command(short_help="Show how far a trainee is.")
def progress(
    trainee: Trainee,
    procedure: ProcedureId = None,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """Show what is known, how fast, what is mixed up, and what will be left."""
    from listen.commands import show
    from listen.practice.fields import belongs
    from listen.practice.progress import progress as measured

    drilling = open_practice(pack, layers, dentist, store)
    topics = drilling.topics(procedure)
    given = (review.answer for review in drilling.store.reviews(trainee))
    answers = [one for one in given if belongs(one.topic, drilling.pack, drilling.facts)]
    found = measured(topics, drilling.store.deck(trainee), answers, _now())
    rows = [
        (DRILLS[s.drill], f"{s.known} of {s.topics}", str(s.asked), _seconds(s.response_s))
        for s in found.standings
    ]
    show.out(show.listing(("to practise", "known", "asked so far", "time to answer"), rows, (1, 2, 3)))
    if found.mixed:
        names = drilling.pack.called
        pairs = [
            (names.get(pair.right, pair.right), names.get(pair.answered, pair.answered), str(pair.count))
            for pair in found.mixed[:5]
        ]
        say("")
        show.out(show.listing(("mixed up most", "answered instead", "times"), pairs, (2,)))
    asked = sum(s.asked for s in found.standings)
    ahead = ", ".join(
        f"{expected:.0f} in {counted(days, 'day')}" for days, expected in found.forecast if days
    )
    say(f"\nOf the {asked} asked so far, about so many will be remembered without practice: {ahead}.")
    say(f"Due now: {found.due[0]}; tomorrow: {found.due[1]}.")


@app.command("class", short_help="Show all trainees.")
def overview(store: StoreOption = None, as_csv: AsCsv = False) -> None:
    """One line a trainee: what was right, time to answer, topics known and due."""
    from listen.practice.reports import class_overview

    found = class_overview(_store(store).tallies.trainees(_now()))
    rows = [
        (
            row.trainee,
            _of(row.right, row.firsts),
            _seconds(row.response_s),
            f"{row.known} of {row.asked}",
            str(row.due),
            "" if row.last is None else f"{row.last:%Y-%m-%d}",
            row.code,
        )
        for row in found
    ]
    heads = ("trainee", "right at first", "time to answer", "known", "due now", "last practised", "code")
    _rows(found, heads, rows, (2, 3, 4), as_csv)
    if found and not as_csv:
        say("\nRight at first: the first answer to a topic on a day. Known: of the topics asked so far.")


@app.command(short_help="List the hardest items and names.")
def hardest(
    names: Annotated[bool, typer.Option("--names", help="Names of requests instead of items.")] = False,
    most: Annotated[int, typer.Option(metavar="N", min=1, help="How many.")] = 20,
    since: Since = None,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    as_csv: AsCsv = False,
) -> None:
    """The items (or names) that are most surely hard: not known often, and asked often enough to tell."""
    from listen.practice.reports import hardest_items, hardest_names

    drilling = open_practice(pack, layers, dentist, store)
    tallies, day = drilling.store.tallies, _day(since)
    found = (
        hardest_names(tallies.names(day), drilling.pack)
        if names
        else hardest_items(tallies.items(day), drilling.pack)
    )[:most]
    called = drilling.pack.called
    rows = [
        (row.name, called[row.item] if names else "", _of(row.wrong, row.firsts), str(row.trainees))
        for row in found
    ]
    _rows(found, ("name" if names else "item", "item", "not known at first", "trainees"), rows, (3,), as_csv)


@app.command(short_help="List the names that nobody knows.")
def unknown(
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    fewest: Annotated[int, typer.Option(metavar="N", min=1, help="Asked at least this often.")] = 3,
    as_csv: AsCsv = False,
) -> None:
    """Names in requests that no trainee found the slot of when last asked."""
    from listen.practice.reports import names_nobody_knows

    drilling = open_practice(pack, layers, dentist, store)
    found = names_nobody_knows(drilling.store.tallies.requests(), drilling.pack, fewest)
    called = drilling.pack.called
    rows = [(row.name, called[row.item], str(row.asked), str(row.trainees)) for row in found]
    _rows(found, ("name", "item", "times asked", "trainees"), rows, (2, 3), as_csv)


@app.command(short_help="Show what is mixed up with what.")
def confusions(
    out: Annotated[Path, typer.Argument(metavar="FILE", help="FILE.html")],
    since: Since = None,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """Write a table of the items that are mixed up most, to open in a browser and to print from there."""
    from listen.practice.matrix import write_confusion
    from listen.practice.reports import confusion

    drilling = open_practice(pack, layers, dentist, store)
    write_confusion(
        confusion(drilling.store.tallies.confusions(_day(since)), drilling.pack), drilling.pack, out
    )
    print(out)


@app.command(short_help="Estimate how able trainees are and how hard topics.")
def ability(
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    as_csv: AsCsv = False,
) -> None:
    """Estimate what trainees know and how hard topics are, though not everybody was asked everything.

    With --csv: difficulty and ability on one scale (logits of the Rasch model), with standard errors.
    """
    from listen.commands import show
    from listen.practice.ability import of_topics, of_trainees, rasch
    from listen.practice.fields import belongs

    drilling = open_practice(pack, layers, dentist, store)
    given = drilling.store.tallies.latest_firsts()
    found = rasch(
        {one: right for one, right in given.items() if belongs(one[1], drilling.pack, drilling.facts)}
    )
    if as_csv:
        _rows([*found.trainees, *found.items], (), (), (), as_csv)
        return
    trainees = [(one.who, _tenths(one), str(one.answers)) for one in of_trainees(found)]
    show.out(show.listing(("trainee", "knows, of 10 topics", "answers"), trainees, (2,)))
    say("")
    topics = [
        (_topic(one.who, drilling.pack, drilling.facts), _tenths(one), str(one.answers))
        for one in of_topics(found)
    ]
    show.out(show.listing(("topic", "known by, of 10 trainees", "answers"), topics, (2,)))
    say("\nIn brackets: between which numbers it lies, as far as so few answers can tell.")


@app.command(short_help="Note what you saw a trainee do.")
def observe(
    trainee: Trainee,
    observer: Annotated[str, typer.Option("--by", metavar="NAME", help="Who watched.")],
    point: Annotated[
        str | None, typer.Argument(metavar="POINT", help="What to type for it; leave out to list them.")
    ] = None,
    failed: Annotated[bool, typer.Option("--not-yet", help="It was not right yet.")] = False,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
) -> None:
    """Tick a point of the checklist for passing, count and sharps handling."""
    from listen.commands import show
    from listen.practice.facts import facts_beside
    from listen.practice.fields import point_of
    from listen.practice.store import Observed
    from listen.practice.topics import PracticeError
    from vocab.errors import nearest
    from vocab.pack.load import open_pack

    opened = open_pack(pack)
    known = {p.id: p for p in facts_beside(pack, opened).checklist}
    if point is None:
        rows = [(p.text, p.group, p.id) for p in known.values()]
        show.out(show.listing(("what to see", "about", "type"), rows))
        return
    if point not in known:
        raise PracticeError(f"no point is called {point!r}{nearest(point, known)}; leave it out to see all.")
    _store(store).observe(trainee, Observed(point_of(opened.id, point), not failed, observer, _now()))
    say(f"{trainee}: {known[point].text} {'not yet' if failed else 'seen'}")


@app.command(short_help="Write a sign-off sheet.")
def signoff(
    trainee: Trainee,
    procedure: Annotated[str, typer.Option("--procedure", metavar="ID", help="For which procedure.")],
    out: Annotated[Path, typer.Argument(metavar="FILE", help="FILE.pdf")],
    known: Annotated[
        float, typer.Option(metavar="SHARE", min=0, max=1, help="Share of topics known, at least.")
    ] = 0.9,
    right: Annotated[
        float, typer.Option(metavar="SHARE", min=0, max=1, help="Share right, lower end, at least.")
    ] = 0.85,
    seconds: Annotated[
        float, typer.Option(metavar="SECONDS", min=0.1, help="Median time to answer, at most.")
    ] = 4.0,
    answers: Annotated[int, typer.Option(metavar="N", min=1, help="First answers, at least.")] = 50,
    since: Since = None,
    day: Annotated[str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="[default: today]")] = None,
    store: StoreOption = None,
    pack: VocabularyOption = "operative",
    layers: ChangesOption = None,
    dentist: DentistOption = None,
) -> None:
    """Write the sheet (PDF) with the figures, your thresholds and what was watched; a person signs it."""
    from listen.practice.fields import observed_in
    from listen.practice.signoff import PLACES_LEFT_OUT, Thresholds, sign_off, write_sheet

    drilling = open_practice(pack, layers, dentist, store)
    every = drilling.topics(procedure)
    topics = tuple(filter(drilling.trays.counts, every))
    course = drilling.pack.procedure(procedure).name
    sheet = sign_off(
        trainee,
        course if len(topics) == len(every) else f"{course}, {PLACES_LEFT_OUT}",
        topics,
        drilling.store.deck(trainee),
        drilling.store.reviews(trainee),
        drilling.facts.checklist,
        observed_in(drilling.pack.id, drilling.store.observations(trainee), unsaid=True),
        Thresholds(known, right, seconds, answers, _day(since)),
        _day(day) or _now().date(),
    )
    write_sheet(sheet, out)
    say(f"{out}: {'all requirements are met' if sheet.met else 'NOT all requirements are met'}")


@app.command(short_help="Write out, or delete, one trainee's data.")
def export(
    trainee: Trainee,
    out: Annotated[Path | None, typer.Argument(metavar="FILE", help="[default: print]")] = None,
    remove: Annotated[bool, typer.Option("--delete", help="Delete everything once it is written.")] = False,
    store: StoreOption = None,
) -> None:
    """Everything that is kept about one trainee as JSON; with --delete nothing of it stays.

    What is deleted is what was written: no answer comes in between, and where it cannot be written nothing is
    deleted.
    """
    from vocab.files import write_atomically

    def keep(kept: dict[str, Any]) -> None:
        text = json.dumps(kept, indent=1, ensure_ascii=False)
        if out is None:
            print(text, flush=True)
            return
        try:
            write_atomically(out, f"{text}\n".encode(), private=True)
        except OSError as error:
            raise TraycallError(f"{out} cannot be written: {error.strerror}. Nothing was deleted.") from None

    if remove:
        _store(store).remove(trainee, keep)
        tell(f"everything about {trainee} is deleted")
    else:
        keep(_store(store).export(trainee))


@app.command("import", short_help="Take in exported data.")
def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="FILE.json or FILE.csv, as exported.")],
    store: StoreOption = None,
) -> None:
    """Take in one trainee or a class, all of it or nothing; nobody who is there already is overwritten.

    Each trainee chooses a new code at the next practice in the browser.
    """
    from listen.practice.transfer import read

    try:
        data = file.read_bytes()
    except OSError as error:
        raise TraycallError(f"{file} cannot be read: {error.strerror}. Nothing was taken in.") from None
    say(f"taken in: {', '.join(_store(store).take_in(read(data), _now()))}")


@app.command("reset-code", short_help="Take a trainee's own code away.")
def reset_code(trainee: Trainee, store: StoreOption = None) -> None:
    """Take away a code that was forgotten; the next practice in the browser begins with choosing one."""
    say(f"{_store(store).reset_code(trainee)} has no code now and chooses one at the next practice.")


# --- parts --------------------------------------------------------------------------------------------


def open_practice(pack: str, layers: Path | None, dentist: str | None, store: str | None) -> _Drilling:
    """A vocabulary with its changes, and the store."""
    from listen.practice.facts import facts_in_use
    from listen.practice.trays_here import TraysHere
    from vocab.layers import open_vocabulary

    composed = open_vocabulary(pack, layers, dentist).composed()
    loaded, trays = composed.pack, TraysHere.of(composed.settings, composed.pack)
    return _Drilling(loaded, facts_in_use(pack, loaded), _store(store), trays)


def _store(url: str | None) -> PracticeStore:
    from listen.practice.store import PracticeStore, default_url

    return PracticeStore(url or default_url())


def _drills(names: Sequence[str] | None) -> list[Any] | None:
    from listen.practice.topics import Drill, PracticeError

    for name in names or ():
        if name not in tuple(Drill):
            raise PracticeError(f"no drill is called {name!r}; there are: {', '.join(Drill)}.")
    return [Drill(name) for name in names] if names else None


def open_listener() -> AnswerListener:
    """This machine's microphone, or whose `make_listener` gives."""
    from listen.audio import AudioError, microphone_blocks, microphone_problem
    from listen.practice.voice import StreamListener

    if make_listener is not None:
        return make_listener()
    problem = microphone_problem()
    if problem:
        raise AudioError(problem)
    return StreamListener(microphone_blocks, time.monotonic)


def _now() -> datetime:
    return datetime.now(UTC)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise TraycallError(f"{text!r} is not a date; write it like 2025-03-31.") from None


def _rows(
    found: Sequence[Any],
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    numbers: Sequence[int],
    as_csv: bool,
) -> None:
    """What was found, as CSV with every figure, or as a list for people."""
    from listen.commands import show
    from listen.practice.reports import csv_text

    if as_csv:
        print(csv_text(found), end="")
    else:
        show.out(show.listing(heads, rows, numbers))


def _of(share: float, answers: int) -> str:
    """ "3 of 4 (75 %)"."""
    return f"{round(share * answers)} of {answers} ({share * 100:.0f} %)" if answers else "none yet"


def _seconds(value: float | None) -> str:
    return "" if value is None else f"{value:.1f} s"


def _tenths(one: Chance) -> str:
    return f"{one.p * 10:.0f} ({one.low * 10:.0f} to {one.high * 10:.0f})"


def _topic(key: str, pack: Pack, facts: Facts) -> str:
    """A topic in words; one that is no longer there by what is known of it."""
    from listen.practice.naming import topic_label
    from listen.practice.topics import Topic

    return f"{topic_label(key, pack, facts)} ({DRILLS[Topic.read(key).drill]})"
