"""Measures the judge of spoken answers on made-up trainees.

Takes the voices of one side; returns made-up answers with what the judge heard of each, and a table of how
they were marked. `listen.bench.judge_fit` fits the judge's weights from the same hearings, of tuning voices
only. What was heard is kept, so that a run can be stopped and resumed.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import signal
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from functools import cache
from pathlib import Path

from listen.bench import hearings, natural_answers, systems
from listen.bench.clips import level_name
from listen.bench.spoken_answers import KINDS, MadeAnswer, answers, sound
from listen.neural.weights import ADAPTER
from listen.practice.answers import answers_pack
from listen.practice.facts import facts_beside
from listen.practice.judging import AnswerHearing, Judge, Listened, Marking, Outcome
from listen.practice.questions import Questions
from listen.shares import Share, wilson
from listen.speech.voices import Side
from vocab.pack.load import shipped_pack
from vocab.requests.lexicon import Lexicon

CLEAR = ("right", "rival", "other item", "unknown")
"""Kinds that a person would mark without asking again."""
TYPED = "typed"
"""Stands for a level where answers are typed."""


def hear(
    asked: Sequence[MadeAnswer], folder: Path, file: Path, jobs: int, adapter: Path = ADAPTER
) -> list[Listened]:
    """What the judge makes of each answer before it weighs it; what is heard is written to `file` as soon as
    it is known.

    Args:
        folder: where spoken sentences are kept; file: JSON lines; jobs: processes at a time; adapter: what
            the engine was taught.
    """
    taught = hashlib.sha256(adapter.read_bytes()).hexdigest()
    asked_for = answers_pack(_questions().all_ways).model_dump_json()
    mark = hearings.mark_of(
        shipped_pack().model_dump_json() + asked_for + taught, systems.ENGINE_CODE["neural"]
    )
    kept = {r["id"]: r for r in hearings.read(file) if r["mark"] == mark}
    todo = list({spoken.id: spoken for spoken in asked if spoken.id not in kept}.values())
    file.parent.mkdir(parents=True, exist_ok=True)
    with hearings.progress() as bar, file.open("a", encoding="utf-8") as lines:
        task = bar.add_task("hear", total=len(todo))
        for spoken, record in _heard(todo, folder, jobs, adapter):
            kept[spoken.id] = {"id": spoken.id, "mark": mark, **spoken.facts, **record}
            lines.write(json.dumps(kept[spoken.id]) + "\n")
            lines.flush()
            bar.advance(task)
    judge = _reading()
    return [judge.understand(spoken.question, _hearing(kept[spoken.id])) for spoken in asked]


def _hearing(record: hearings.Record) -> AnswerHearing:
    names = record["names"]
    return AnswerHearing(hearings.hearing_of(record), names and hearings.hearing_of({"hearing": names}))


def _heard(
    todo: Sequence[MadeAnswer], folder: Path, jobs: int, adapter: Path
) -> Iterator[tuple[MadeAnswer, hearings.Record]]:
    if not todo:
        return
    spawn = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(jobs, len(todo)), spawn, _leave_stopping_to_the_caller)
    try:
        waiting = {pool.submit(_hear_one, spoken, folder, adapter): spoken for spoken in todo}
        for future in as_completed(waiting):
            yield waiting.pop(future), future.result()
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_stopping_to_the_caller() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@cache
def _questions() -> Questions:
    pack = shipped_pack()
    return Questions(pack, facts_beside("operative", pack))


@cache
def _reading() -> Judge:
    """Reads and weighs, and hears nothing."""
    return Judge(_questions(), Lexicon(_questions().pack))


@cache
def _judge(adapter: Path) -> Judge:
    from listen.neural.engine import NeuralEngine

    engine = NeuralEngine(answers_pack(_questions().all_ways), adapter=adapter, threads=1)
    return Judge(_questions(), Lexicon(_questions().pack), lambda _: engine)


def _hear_one(spoken: MadeAnswer, folder: Path, adapter: Path) -> hearings.Record:
    heard = _judge(adapter).hear(spoken.question, sound(spoken, folder))
    return {"hearing": hearings.kept(heard.own), "names": heard.names and hearings.kept(heard.names)}


# ---------------------------------------------------------------- the report


def is_fair(spoken: MadeAnswer, judgement: Marking) -> bool:
    """Whether an answer got what it deserves."""
    match spoken.kind:
        case "right":
            return judgement.outcome is Outcome.RIGHT
        case "rival" | "other item" | "unknown":
            return judgement.outcome is Outcome.WRONG
        case "repeat" | "undecided":
            return judgement.outcome is Outcome.AGAIN
        case _:
            return judgement.outcome is not Outcome.RIGHT


def report(judged: Sequence[tuple[MadeAnswer, Marking]]) -> str:
    """Counts by kind of answer and the figures that the goals are about, with intervals of 95 %."""
    lines = []
    for kind in KINDS:
        of_kind = [(s, j) for s, j in judged if s.kind == kind]
        if not of_kind:
            continue
        marks = Counter(j.outcome for _, j in of_kind)
        fair = wilson(sum(is_fair(s, j) for s, j in of_kind), len(of_kind))
        tally = ", ".join(f"{marks[o]} {o}" for o in Outcome)
        lines.append(f"{kind:15} {len(of_kind):4}: {tally}; fair {_percent(fair)}")
    lines += [
        f"{name.replace('_', ' '):20} {one['k']} of {one['n']}: {_percent(wilson(one['k'], one['n']))}"
        for name, one in counts(judged).items()
    ]
    for name, of_part in counts_by_part(judged).items():
        told = (f"{what.replace('_', ' ')} {one['k']} of {one['n']}" for what, one in of_part.items())
        lines.append(f"{name}: {', '.join(told)}")
    return "\n".join(lines)


def counts(judged: Sequence[tuple[MadeAnswer, Marking]]) -> dict[str, dict[str, int]]:
    """What the goals are about, and the model card keeps: `k` of `n` answers each."""
    right = [j.outcome for s, j in judged if s.kind == "right"]
    clear = [j.outcome for s, j in judged if s.kind in CLEAR]
    wrong = [j.outcome for s, j in judged if s.kind in CLEAR and s.kind != "right"]
    rows = (
        ("right_marked_right", right, Outcome.RIGHT),
        ("right_marked_wrong", right, Outcome.WRONG),
        ("wrong_marked_right", wrong, Outcome.RIGHT),
        ("asked_again", clear, Outcome.AGAIN),
    )
    return {name: {"k": some.count(outcome), "n": len(some)} for name, some, outcome in rows}


def counts_by_part(judged: Sequence[tuple[MadeAnswer, Marking]]) -> dict[str, dict[str, dict[str, int]]]:
    """The same for each level, for each drill, and for "all" of them."""
    parts = {"all": list(judged)}
    for part in (level, drill):
        for name in dict.fromkeys(part(spoken) for spoken, _ in judged):
            parts[name] = [one for one in judged if part(one[0]) == name]
    return {name: counts(some) for name, some in parts.items()}


def _percent(share: Share) -> str:
    return f"{100 * share.value:.1f} % ({100 * share.low:.1f} to {100 * share.high:.1f})"


def heard(
    side: Side, number: int, seed: int, speaker: str | None, adapter: Path | None, jobs: int, folder: Path
) -> list[tuple[MadeAnswer, Listened]]:
    """Spoken answers of one side, and what the judge makes of each before it weighs it.

    Args:
        speaker: only this person's voices; adapter: what the engine was taught, the shipped one when None;
            folder: for speech and hearings.
    """
    asked = list(answers(_questions(), side, number, seed, speaker))
    return _all_heard(asked, side, adapter, jobs, folder)


def heard_naturally(
    side: Side, levels_db: Sequence[float | None], turns: int, adapter: Path | None, jobs: int, folder: Path
) -> list[tuple[MadeAnswer, Listened]]:
    """The same in people's own words: every way of a side, the levels in turn; each turn with other names."""
    asked = list(natural_answers.answers(_questions(), side, levels_db, turns))
    return _all_heard(asked, side, adapter, jobs, folder)


def _all_heard(
    asked: Sequence[MadeAnswer], side: Side, adapter: Path | None, jobs: int, folder: Path
) -> list[tuple[MadeAnswer, Listened]]:
    listened = hear(asked, folder / "spoken", folder / f"{side}.jsonl", jobs, adapter or ADAPTER)
    return list(zip(asked, listened, strict=True))


def typed(side: Side, turns: int) -> list[tuple[MadeAnswer, Marking]]:
    """Answers in people's own words as they are typed, and how each is marked."""
    made = natural_answers.filled(_questions(), side, turns)
    asked = [MadeAnswer(one.question, one.kind, one.text, TYPED, None) for one in made]
    return [(one, _reading().text(one.question, one.text)) for one in asked]


def once_more(
    judged: Sequence[tuple[MadeAnswer, Marking]], side: Side, adapter: Path | None, jobs: int, folder: Path
) -> list[tuple[MadeAnswer, Marking]]:
    """The same, those that were asked again marked by what is heard when they are said a second time, by the
    same voice, slower and in other noise; what was heard first counts with it."""
    unclear = [
        (spoken, marking)
        for spoken, marking in judged
        if marking.outcome is Outcome.AGAIN and not marking.repeat and spoken.kind in CLEAR
    ]
    asked = [replace(spoken, again=True) for spoken, _ in unclear]
    judge = _reading()
    settled = {
        spoken.id: (spoken, judge.weigh(spoken.question, listened, marking.likely))
        for (spoken, marking), (_, listened) in zip(
            unclear, _all_heard(asked, side, adapter, jobs, folder), strict=True
        )
    }
    return [settled.get(spoken.id, (spoken, marking)) for spoken, marking in judged]


def level(spoken: MadeAnswer) -> str:
    """How it reached the judge: "quiet", "10 dB", or typed."""
    return TYPED if spoken.voice == TYPED else level_name(spoken.snr_db)


def drill(spoken: MadeAnswer) -> str:
    """What was asked for: "name", "slot"."""
    return str(spoken.question.topic.drill)


def judged(heard: Sequence[tuple[MadeAnswer, Listened]]) -> list[tuple[MadeAnswer, Marking]]:
    """How each answer is marked."""
    judge = _reading()
    return [(spoken, judge.weigh(spoken.question, listened)) for spoken, listened in heard]


def mistakes(judged: Sequence[tuple[MadeAnswer, Marking]]) -> str:
    """The answers that were not judged fairly, as lines of text."""
    return "\n".join(
        f"{spoken.kind}: {spoken.voice}, {spoken.text!r} as {judgement.said!r}: {judgement.outcome}"
        for spoken, judgement in judged
        if not is_fair(spoken, judgement)
    )
