"""What a language lists for talk at the chair and in drills: timers, returns, choices and answers.

Only the shapes of the tables; `vocab.language.english` and `vocab.language.spanish` fill them, and
`vocab.language.by_language` chooses. Where a table holds templates, their grammar is that of
`vocab.language.forms.Templates`; words stand alone, in lower case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class TimerWords:
    """How timers are started, stopped and asked about.

    forms: templates by what is wanted ("start", "stop", "tell"), N being a timer's name; briefly: whole
    questions that can mean a timer or something else ("how long"); aliases: other words for those in timers'
    names; timer: words that mean nothing but a timer; singular: its plurals; every: "all"; dropped: articles,
    hesitations and the like, which also do not count in names; skipped: words that change nothing.
    """

    forms: Mapping[str, tuple[str, ...]]
    briefly: tuple[str, ...]
    aliases: Mapping[str, str]
    timer: frozenset[str]
    singular: Mapping[str, str]
    every: frozenset[str]
    dropped: frozenset[str]
    skipped: frozenset[str]


@dataclass(frozen=True)
class TimerReplies:
    """What is replied about timers, as texts to be formatted.

    none_running: with {name} where one was named; one_running: the same without; stopped, started, left,
    over: of {names} or {name} with {seconds}; which: of {first} and {last}; which_of_all, known: the
    question with an example, and the {names} that have a time; no_time: for {name}; cautions: by timer, or
    by what its name begins with, given where the step has none of its own (common practice, no source).
    """

    none_running: str
    one_running: str
    stopped: str
    started: str
    left: str
    over: str
    which: str
    which_of_all: str
    known: str
    no_time: str
    cautions: Mapping[str, str]


@dataclass(frozen=True)
class ReturnWords:
    """How it is told what became of an item.

    forms: templates by kind of event ("returned", "dropped" ...), N being names or a pointer; auxiliaries are
    left out of them; all_of: templates for the last piece of N; alone: by kind, what is complete without a
    name if nothing else is said; undo: takes back the last event; please: templates of a courtesy after N;
    orders: only a form that begins with one of these may end so; pointers: "it"; joiners: "and"; dropped:
    articles that are left out everywhere; articles: those left out only before a name; endings, openers:
    words that change nothing at the end or start of a sentence; contracted: words for which others stand;
    subjects: who did it, before a form; auxiliaries: between a name and the end of a form; questions: first
    words of a question; not_here: words that make a sentence a denial, a request or talk about somebody's own
    things; every: "both"; more: before a name, one more of it; more_after: the same after it.

    misheard: words of the forms that an engine writes badly; as_written: words that only sound like those;
    wipe: the order to wipe something; wipe_it, wipe_one: the whole order.
    """

    forms: Mapping[str, tuple[str, ...]]
    all_of: tuple[str, ...]
    alone: Mapping[str, tuple[str, ...]]
    undo: tuple[str, ...]
    please: tuple[str, ...]
    orders: frozenset[str]
    pointers: tuple[str, ...]
    joiners: frozenset[str]
    dropped: frozenset[str]
    articles: frozenset[str]
    endings: frozenset[str]
    openers: frozenset[str]
    contracted: Mapping[str, str]
    subjects: frozenset[str]
    auxiliaries: frozenset[str]
    questions: frozenset[str]
    not_here: frozenset[str]
    every: frozenset[str]
    more: frozenset[str]
    more_after: frozenset[str]
    misheard: tuple[str, ...]
    as_written: frozenset[str]
    wipe: str
    wipe_it: str
    wipe_one: str


@dataclass(frozen=True)
class ChoiceWords:
    """How one of several offered items is chosen.

    places: templates by place ("1", "2", "3", "last", "middle", "right"), once the words in `frame` are gone;
    one: whole ways of saying the first where its number is also such a word; yes, none: whole answers.
    """

    places: Mapping[str, tuple[str, ...]]
    one: tuple[str, ...]
    frame: frozenset[str]
    yes: tuple[str, ...]
    none: tuple[str, ...]


@dataclass(frozen=True)
class AnswerWords:
    """What stands around an answer in a drill.

    hesitations: said while looking for an answer; frames: before an answer; hedges: the same with doubt;
    usual: the frames that follow a hesitation most; placed: those before a place; articles, places, about:
    right before the answer; doubts: after it, with doubt; endings: other words after it; unknown: "I don't
    know"; repeat: "say that again"; please: may follow that; between: stands between an item and its slot.

    In free words: doubtful, at_a_loss, once_more: words anywhere that show doubt, that give up, that ask for
    the question again; denied: right before what is not the answer; landmarks: right before what only says
    where or when; joining: between two things that are both named; taken_back: somewhere after what is no
    longer the answer; assured: the same words where they change nothing ("no doubt"); one: the word that is
    a number or stands for a thing ("the one beside it"); before_one, after_one: words beside it by which it
    is no number.

    units, unit_words: of values, as they are compared; small_words: left out of values; spelled: signs and
    abbreviations with the words for them; thousands: the marks between groups of three digits; thousand,
    joined, to: the words "thousand", "and" and "to" in numbers.
    """

    hesitations: tuple[str, ...]
    frames: tuple[str, ...]
    hedges: tuple[str, ...]
    usual: tuple[str, ...]
    placed: tuple[str, ...]
    articles: tuple[str, ...]
    places: tuple[str, ...]
    about: tuple[str, ...]
    doubts: tuple[str, ...]
    endings: tuple[str, ...]
    unknown: tuple[str, ...]
    repeat: tuple[str, ...]
    please: tuple[str, ...]
    between: tuple[str, ...]
    doubtful: tuple[str, ...]
    at_a_loss: tuple[str, ...]
    once_more: tuple[str, ...]
    denied: tuple[str, ...]
    landmarks: tuple[str, ...]
    joining: tuple[str, ...]
    taken_back: tuple[str, ...]
    assured: tuple[str, ...]
    one: str
    before_one: frozenset[str]
    after_one: frozenset[str]
    units: Mapping[str, str]
    unit_words: frozenset[str]
    small_words: frozenset[str]
    spelled: Mapping[str, str]
    thousands: str
    thousand: str
    joined: str
    to: str


@dataclass(frozen=True)
class CountWords:
    """How a row or a kit is counted aloud: "bur kit complete, one 330 missing".

    whole: after the name of a row or a kit; but: before what differs; gone: after it; joiners: "and";
    dropped: words that mean nothing here; kit: the word in a kit's name that may be left out.
    """

    whole: tuple[str, ...]
    but: tuple[str, ...]
    gone: tuple[str, ...]
    joiners: frozenset[str]
    dropped: frozenset[str]
    kit: str


@dataclass(frozen=True)
class TypedWords:
    """What stands in typed requests beside a name; words in lower case, Spanish ones without accents.

    short: what people type for a longer word; openings: the same for the first word; orders: verbs of which
    the thing behind them is the one wanted; articles: before a name; behind: words that may begin the reason
    for which a name is asked for; purpose: those of them that say what a thing is for; so: phrases before
    what a reason leads to; joining: words that begin a second thing; telling: words behind a name that tell
    of it; denials: words of a sentence that asks for nothing it names; small: words that are in no name that
    is merely misspelled; vague: words for a thing without a name; after_vague: what a description goes on
    with.
    """

    short: Mapping[str, str]
    openings: Mapping[str, str]
    orders: frozenset[str]
    articles: frozenset[str]
    behind: frozenset[str]
    purpose: frozenset[str]
    so: tuple[str, ...]
    joining: frozenset[str]
    telling: frozenset[str]
    denials: frozenset[str]
    small: frozenset[str]
    vague: frozenset[str]
    after_vague: frozenset[str]


@dataclass(frozen=True)
class Tables:
    """Everything above in one language."""

    timers: TimerWords
    timer_replies: TimerReplies
    returns: ReturnWords
    choices: ChoiceWords
    answers: AnswerWords
    counts: CountWords
    typed: TypedWords
