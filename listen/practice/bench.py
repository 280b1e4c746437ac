"""Measures the judge of spoken answers on synthesized trainees.

Comes in: questions and voices of one side. Goes out: spoken answers of every kind (right, a rival's name,
another item's name, giving up, asking again, something else) with what should come of them, and a table of
what did. `python -m listen.practice.bench` prints it. Nothing is fitted here.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

import numpy as np

from listen.bench import noise, voices
from listen.bench.figures import Share, wilson
from listen.engine import Samples
from listen.practice.answers import HEDGES, REPEAT, UNKNOWN
from listen.practice.judging import Judge, Judgement, Listened, Outcome, evidence
from listen.practice.questions import Question, Questions
from listen.practice.topics import Drill, Topic, curriculum
from vocab.spoken import spoken_forms

_T = TypeVar("_T")
Kind = Literal["right", "rival", "other item", "unknown", "repeat", "something else"]

KINDS: tuple[Kind, ...] = ("right", "rival", "other item", "unknown", "repeat", "something else")
SHARES = (0.5, 0.26, 0.09, 0.05, 0.05, 0.05)
"""How often each kind of answer is drawn."""
DRILLS = {
    Drill.NAME: 0.35,
    Drill.SLOT: 0.2,
    Drill.FACT: 0.15,
    Drill.APART: 0.15,
    Drill.NEXT: 0.1,
    Drill.FAULT: 0.05,
}
BEFORE = ("", "", "", "", "The ", "It's the ", "That's the ", "I'd say the ")
FOREIGN = ("That would be the ", "Hmm, the ", "Oh, that's called the ", "Let me see, the ")
"""Words before an answer that the grammar lacks."""
ELSE = (
    "Is this thing on?",
    "Could you turn that music down a little?",
    "What time do we have lunch today?",
    "My sister has the same shoes in green.",
    "I really should have slept more last night.",
    "Where did you put the car keys?",
    "It is raining again outside.",
    "Let's do one more after this and then go home.",
)
PROCEDURES = ("composite_class_two", "amalgam_class_two", "dam_placement")
SNRS_DB = (None, 20.0)
CHAIR = "chair"


@dataclass(frozen=True)
class Spoken:
    """One spoken answer and the outcome it deserves (None: anything but right)."""

    question: Question
    kind: Kind
    text: str
    voice: str
    snr_db: float | None


def answers(questions: Questions, side: voices.Side, count: int, seed: int = 5) -> Iterator[Spoken]:
    """The same answers for the same arguments; voices take turns."""
    rng = np.random.default_rng(seed)
    speaking = voices.available(side)
    topics: dict[Drill, list[Topic]] = {drill: [] for drill in DRILLS}
    for procedure in PROCEDURES:
        for topic in curriculum(questions.pack, questions.facts, procedure, DRILLS):
            topics[topic.drill].append(topic)
    drills, weights = list(DRILLS), np.array(list(DRILLS.values()))
    for number in range(count):
        drill = drills[int(rng.choice(len(drills), p=weights))]
        question = questions.ask(topics[drill][int(rng.integers(len(topics[drill])))], rng)
        kind = KINDS[int(rng.choice(len(KINDS), p=SHARES))]
        yield Spoken(
            question,
            kind,
            _said(questions, question, kind, rng),
            speaking[number % len(speaking)].id,
            SNRS_DB[int(rng.integers(len(SNRS_DB)))],
        )


def sound(spoken: Spoken, folder: Path) -> Samples:
    """The samples of an answer, 0.2 s of silence or noise around it."""
    samples = voices.cached(voices.voice(spoken.voice), spoken.text, folder)
    samples = noise.pad(samples, 0.2, 0.2)
    if spoken.snr_db is None:
        return samples
    rng = noise.generator_for(spoken.text, spoken.voice, CHAIR)
    return noise.mix(samples, noise.chair(len(samples), rng), spoken.snr_db).samples


def is_fair(spoken: Spoken, judgement: Judgement) -> bool:
    """Whether an answer got what it deserves."""
    match spoken.kind:
        case "right":
            return judgement.outcome is Outcome.RIGHT
        case "rival" | "other item" | "unknown":
            return judgement.outcome is Outcome.WRONG
        case "repeat":
            return judgement.outcome is Outcome.AGAIN
        case _:
            return judgement.outcome is not Outcome.RIGHT


def _said(questions: Questions, question: Question, kind: Kind, rng: np.random.Generator) -> str:
    match kind:
        case "right":
            choice = question.choice(_one(question.right, rng))
        case "unknown":
            return _sentence(_one(UNKNOWN, rng))
        case "repeat":
            return _sentence(_one(REPEAT, rng))
        case "something else":
            return _one(ELSE, rng)
        case _:
            wrong = [c for c in question.choices if c.id not in question.right]
            alike = [c for c in wrong if c.id in question.tells]
            known = {c.id for c in question.choices}
            outside = [i.id for i in questions.pack.items if i.id not in known]
            if kind == "other item" and question.items and outside:
                item = questions.pack.item(_one(outside, rng))
                names = [t for n in item.names for t in (n.text, *n.say)]
                return _answer(_one(names, rng), rng)
            choice = _one(alike if alike and rng.random() < 0.6 else wrong, rng)
    right_ways = {w for r in question.right for w in question.choice(r).ways}
    ways = [way for way in choice.ways if kind == "right" or way not in right_ways]
    return _answer(_one(ways, rng), rng)


def _answer(way: str, rng: np.random.Generator) -> str:
    forms = spoken_forms(way)
    form = forms[0] if rng.random() < 0.7 else _one(forms, rng)
    for short in re.findall(r"[A-Z]{2,}", way):
        form = re.sub(rf"\b{short}\b", " ".join(short), form, flags=re.IGNORECASE)
    form = re.sub(r"\bmm\b", "millimetres", form)
    draw = rng.random()
    opener = (
        _one(FOREIGN, rng) if draw < 0.08 else _one(HEDGES, rng) + " " if draw < 0.16 else _one(BEFORE, rng)
    )
    if form.startswith(("the ", "a ", "in ")):
        opener = ""
    return _sentence(opener + form)


def _one(options: Sequence[_T], rng: np.random.Generator) -> _T:
    return options[int(rng.integers(len(options)))]


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def report(judged: list[tuple[Spoken, Judgement]]) -> str:
    """Counts by kind of answer and the three figures of the goals, with intervals of 95 %."""
    lines = []
    for kind in KINDS:
        of_kind = [(s, j) for s, j in judged if s.kind == kind]
        counts = Counter(j.outcome for _, j in of_kind)
        fair = wilson(sum(is_fair(s, j) for s, j in of_kind), len(of_kind))
        tally = ", ".join(f"{counts[o]} {o}" for o in Outcome)
        lines.append(f"{kind:15} {len(of_kind):4}: {tally}; fair {_percent(fair)}")
    right = [j for s, j in judged if s.kind == "right"]
    wrong = [j for s, j in judged if s.kind in ("rival", "other item", "unknown")]
    clear = [*right, *wrong]
    rows = (
        ("right marked right", sum(j.outcome is Outcome.RIGHT for j in right), len(right)),
        ("right marked wrong", sum(j.outcome is Outcome.WRONG for j in right), len(right)),
        ("wrong marked right", sum(j.outcome is Outcome.RIGHT for j in wrong), len(wrong)),
        ("say again", sum(j.outcome is Outcome.AGAIN for j in clear), len(clear)),
    )
    lines += [f"{name:20} {k} of {n}: {_percent(wilson(k, n))}" for name, k, n in rows]
    return "\n".join(lines)


def fitted(heard: Sequence[tuple[Spoken, Listened]]) -> tuple[float, float, float]:
    """Bias and weights (evidence, free words) that tell answers from something else, by scikit-learn."""
    from sklearn.linear_model import LogisticRegression

    features = [evidence(listened.hearing) for _, listened in heard]
    model = LogisticRegression().fit(features, [spoken.kind != "something else" for spoken, _ in heard])
    return float(model.intercept_[0]), float(model.coef_[0][0]), float(model.coef_[0][1])


def _percent(share: Share) -> str:
    return f"{100 * share.value:.1f} % ({100 * share.low:.1f} to {100 * share.high:.1f})"


def main() -> None:
    """Measure and print."""
    from listen.neural.engine import NeuralEngine
    from listen.practice.facts import facts_beside
    from vocab.lexicon import Lexicon
    from vocab.load import shipped_pack

    parser = argparse.ArgumentParser(description="Measure the judge of spoken answers.")
    parser.add_argument("--side", choices=("tune", "test"), default="test")
    parser.add_argument("--answers", type=int, default=400)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--fit", action="store_true", help="print fitted weights too; for --side tune")
    parser.add_argument("--voices", type=Path, default=Path("answers_spoken"), help="where speech is kept")
    parser.add_argument("--out", type=Path, help="also write one JSON line an answer")
    given = parser.parse_args()
    pack = shipped_pack()
    questions = Questions(pack, facts_beside("operative", pack))
    judge = Judge(questions, Lexicon(pack), NeuralEngine)
    judged, heard = [], []
    out = given.out.open("w") if given.out else None
    for spoken in answers(questions, given.side, given.answers, given.seed):
        listened = judge.listen(spoken.question, sound(spoken, given.voices))
        judgement = judge.weigh(spoken.question, listened)
        heard.append((spoken, listened))
        judged.append((spoken, judgement))
        if out:
            row = {
                "drill": spoken.question.topic.drill,
                "kind": spoken.kind,
                "text": spoken.text,
                "voice": spoken.voice,
                "snr_db": spoken.snr_db,
                "right": spoken.question.right,
                "outcome": judgement.outcome,
                "choice": judgement.choice,
                "said": judgement.said,
                "p": round(judgement.p, 4),
            }
            print(json.dumps(row), file=out, flush=True)
    print(report(judged))
    if given.fit:
        print("bias {:.2f}, evidence {:.3f}, free words {:.3f}".format(*fitted(heard)))


if __name__ == "__main__":
    main()
