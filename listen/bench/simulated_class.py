"""Does practice teach? A simulated class practises in several orders for equal time, tested a month later.

Takes topics, a plan and a seed; returns what is remembered after each order. The memory is not the
scheduler's: it is the activation model of Pavlik and Anderson (Cognitive Science 29 (2005) 559), ACT-R's
power law of practice and forgetting with a decay that grows with the activation at the time of practice, so
that crammed practice fades faster. Their parameters, fitted to people who learned foreign words and quoted
from memory, and the seconds a question takes are below. Every topic is a memory of its own; mixing up is not
simulated, and a guess is never right.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Literal, Protocol

import numpy as np

from listen.practice.facts import Facts
from listen.practice.schedule import Course, SessionSettings, rating
from listen.practice.session import Answered, PracticeSession
from listen.practice.today import SETTINGS as TODAY
from listen.practice.topics import Drill, Topic, curriculum, partners
from vocab.pack.schema import Pack

Order = Literal["scheduled", "today", "rotation", "random", "weekly quiz"]
"""scheduled: what is due, then what is new, for the whole time; today: a day's practice as it is offered,
which ends once nothing is due and a few new topics were begun; rotation, random: whatever was answered;
weekly quiz: a week's time in one sitting on its last day, in rotation."""
ORDERS: tuple[Order, ...] = ("scheduled", "today", "rotation", "random", "weekly quiz")
OTHERS: tuple[Order, ...] = ("random", "rotation", "weekly quiz")
"""What the scheduled order and today's practice are held against."""
DAYS_A_WEEK = 5

BEGIN = datetime(2024, 1, 8, 9, tzinfo=UTC)
LONGEST_S = 20.0
"""Nobody thinks longer than this about a question."""


@dataclass(frozen=True)
class Memory:
    """Parameters of the memory.

    decay: of a first encounter; decay_scale: growth of the decay with activation; threshold and noise: of
    recall (logistic); away: how fast time passes between sessions, against time in a session; latency_s:
    scale of the time to recall, base_s: what is added to it; topic_spread and trainee_spread: standard
    deviations of lasting differences in activation between topics and between trainees (set by hand).
    """

    decay: float = 0.177
    decay_scale: float = 0.217
    threshold: float = -0.704
    noise: float = 0.255
    away: float = 0.025
    latency_s: float = 1.29
    base_s: float = 0.6
    topic_spread: float = 0.25
    trainee_spread: float = 0.25


@dataclass(frozen=True)
class Times:
    """Seconds: to put a question, to read that it was right, to read an explanation, to give up."""

    question_s: float = 2.0
    right_s: float = 1.0
    wrong_s: float = 5.0
    give_up_s: float = 4.0


@dataclass(frozen=True)
class ClassPlan:
    """Days and minutes of the sessions, and the days from the last one to the test."""

    days: tuple[int, ...] = (0, 1, 2, 3, 4, 7, 8, 9, 10, 11)
    minutes: float = 10.0
    test_days: float = 30.0
    trainees: int = 20

    @classmethod
    def of_weeks(cls, weeks: int, minutes: float, trainees: int) -> ClassPlan:
        """Monday to Friday for so many weeks."""
        days = tuple(7 * week + day for week in range(weeks) for day in range(DAYS_A_WEEK))
        return cls(days, minutes, trainees=trainees)

    def once_a_week(self) -> ClassPlan:
        """The same time, each week's in one sitting on the last of its days."""
        weeks = Counter(day // 7 for day in self.days)
        last = tuple(max(day for day in self.days if day // 7 == week) for week in weeks)
        return replace(self, days=last, minutes=self.minutes * len(self.days) / len(weeks))


@dataclass(frozen=True)
class OrderResult:
    """One order, by trainee: topics remembered at the test (expected number), of all requests the share whose
    place is remembered, questions asked, minutes practised."""

    order: Order
    remembered: tuple[float, ...]
    requests: tuple[float, ...]
    questions: tuple[int, ...]
    minutes: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Topics remembered, over all trainees."""
        return float(np.mean(self.remembered))


class Learner:
    """One simulated trainee's memory of topics. Times are seconds that pass slowly between sessions."""

    def __init__(self, topics: Sequence[str], memory: Memory, rng: np.random.Generator) -> None:
        self.memory = memory
        own = rng.normal(0.0, memory.trainee_spread)
        self._bias = {topic: own + rng.normal(0.0, memory.topic_spread) for topic in topics}
        self._met: dict[str, list[tuple[float, float]]] = {topic: [] for topic in topics}

    def activation(self, topic: str, at_s: float) -> float:
        """Activation at a time; minus infinity before the first encounter."""
        met = self._met[topic]
        if not met:
            return -math.inf
        return self._bias[topic] + math.log(sum(max(1.0, at_s - t) ** -d for t, d in met))

    def recall_p(self, topic: str, at_s: float) -> float:
        """The probability of recall."""
        activation = self.activation(topic, at_s)
        if activation == -math.inf:
            return 0.0
        return 1.0 / (1.0 + math.exp((self.memory.threshold - activation) / self.memory.noise))

    def response_s(self, topic: str, at_s: float) -> float:
        """Time to recall."""
        return self.memory.latency_s * math.exp(-self.activation(topic, at_s)) + self.memory.base_s

    def meet(self, topic: str, at_s: float) -> None:
        """Practise once: recalled, or read in the explanation."""
        activation = self.activation(topic, at_s)
        crammed = 0.0 if activation == -math.inf else math.exp(activation)
        self._met[topic].append((at_s, self.memory.decay_scale * crammed + self.memory.decay))


def simulate(
    topics: Sequence[Topic],
    course: Course,
    use: Mapping[str, float],
    plan: ClassPlan | None = None,
    seed: int = 0,
    memory: Memory | None = None,
    costs: Times | None = None,
    orders: Sequence[Order] = ORDERS,
) -> tuple[OrderResult, ...]:
    """The same class in each order: same differences between topics and trainees, same practice time.

    Args:
        topics: what is learned; rotation goes through them in this order.
        course: the same topics, as the scheduled order gets them.
        use: how often the place in a topic is asked for, by the topic's key.
    """
    plan, memory, costs = plan or ClassPlan(), memory or Memory(), costs or Times()
    keys = tuple(topic.key for topic in topics)
    results = []
    for order in orders:
        remembered, requests, questions, minutes = [], [], [], []
        own_plan = plan.once_a_week() if order == "weekly quiz" else plan
        for number in range(plan.trainees):
            rng = np.random.default_rng((seed, number))
            learner = Learner(keys, memory, rng)
            pick = _Blind(keys, order, rng) if order in OTHERS else _Scheduled(course, plan, order)
            asked, spent_s, end_s = _practise(learner, pick, own_plan, costs, rng)
            test_s = end_s + plan.test_days * 86_400 * memory.away
            held = {key: learner.recall_p(key, test_s) for key in keys}
            remembered.append(sum(held.values()))
            requests.append(sum(held[key] * often for key, often in use.items()) / sum(use.values()))
            questions.append(asked)
            minutes.append(spent_s / 60)
        results.append(
            OrderResult(order, tuple(remembered), tuple(requests), tuple(questions), tuple(minutes))
        )
    return tuple(results)


def single_topics(
    pack: Pack, facts: Facts, procedure_id: str | None
) -> tuple[tuple[Topic, ...], Course, dict[str, float]]:
    """What one procedure, or with None the whole field, asks to be remembered one by one: names, slots, steps
    and facts, but not where kits stand; the course through it; how often each slot is asked for in one go
    through the procedures."""
    drills = (Drill.NAME, Drill.SLOT, Drill.NEXT, Drill.FACT)
    chosen = [pack.procedure(procedure_id)] if procedure_id else pack.procedures
    every = (t for one in chosen for t in curriculum(pack, facts, one.id, drills))
    topics = tuple(dict.fromkeys(t for t in every if t.drill is not Drill.SLOT or t.items))
    use = dict.fromkeys((topic.key for topic in topics if topic.drill is Drill.SLOT), 0.0)
    for procedure in chosen:
        for step in procedure.steps:
            for item, weight in step.items.items():
                key = Topic(Drill.SLOT, item, procedure.tray).key
                if key in use:  # what lies on no tray has no slot
                    use[key] += step.requests * weight / sum(step.items.values())
    return topics, Course(topics, partners(pack)), use


def table(results: Sequence[OrderResult], topics: int, seed: int) -> str:
    """The orders side by side, and what the scheduled ones gain, as lines of text.

    Args:
        topics: how many there were; seed: of the intervals.
    """
    lines = [
        f"{'order':12}{'remembered after 30 days':>26}{'requests':>10}{'minutes':>9}{'questions':>11}",
    ]
    for one in results:
        remembered = f"{one.mean:.1f} of {topics}"
        minutes, questions = round(np.mean(one.minutes)), round(np.mean(one.questions))
        lines.append(
            f"{one.order:12}{remembered:>26}{np.mean(one.requests):>10.0%}{minutes:>9}{questions:>11}"
        )
    for over in OTHERS:
        low, high = gain_interval(results, np.random.default_rng(seed), over)
        lines.append(f"scheduled against {over}: {gain(results, over):.2f} ({low:.2f} to {high:.2f})")
    return "\n".join(lines)


def counts(results: Sequence[OrderResult], topics: int, seed: int) -> dict[str, object]:
    """The same figures as plain values, rounded as they are reported."""
    return {
        "topics": topics,
        "orders": {
            one.order: {
                "remembered": round(one.mean, 1),
                "requests": round(float(np.mean(one.requests)), 3),
                "minutes": round(float(np.mean(one.minutes))),
                "questions": round(float(np.mean(one.questions))),
            }
            for one in results
        },
        "gain": {
            over: {
                name: round(figure, 2)
                for name, figure in zip(
                    ("times", "low", "high"),
                    (
                        gain(results, over),
                        *gain_interval(results, np.random.default_rng(seed), over),
                    ),
                    strict=True,
                )
            }
            for over in OTHERS
        },
    }


def gain(results: Sequence[OrderResult], over: Order = "random") -> float:
    """Topics remembered in the scheduled order, as a multiple of another one that took the same time."""
    means = {result.order: result.mean for result in results}
    return means["scheduled"] / means[over]


def gain_interval(
    results: Sequence[OrderResult], rng: np.random.Generator, over: Order = "random", draws: int = 2000
) -> tuple[float, float]:
    """95 % interval of `gain`, trainees resampled with replacement (the same ones in both orders)."""
    of = {result.order: np.array(result.remembered) for result in results}
    picks = rng.integers(len(of[over]), size=(draws, len(of[over])))
    ratios = of["scheduled"][picks].mean(axis=1) / of[over][picks].mean(axis=1)
    low, high = np.percentile(ratios, [2.5, 97.5])
    return float(low), float(high)


class _TopicOrder(Protocol):
    """Chooses what to ask, None once a day's practice is over, and is told the result."""

    def choose(self, now: datetime) -> str | None: ...

    def tell(self, key: str, right: bool, response_s: float, now: datetime) -> None: ...


class _Blind:
    """Fixed rotation (a weekly quiz, too) or random order: answers change nothing."""

    def __init__(self, keys: Sequence[str], order: Order, rng: np.random.Generator) -> None:
        self._keys, self._order, self._rng, self._turn = keys, order, rng, 0

    def choose(self, now: datetime) -> str:
        if self._order == "random":
            return self._keys[int(self._rng.integers(len(self._keys)))]
        self._turn += 1
        return self._keys[(self._turn - 1) % len(self._keys)]

    def tell(self, key: str, right: bool, response_s: float, now: datetime) -> None:
        pass


class _Scheduled:
    """The real course, and one real session a day."""

    def __init__(self, course: Course, plan: ClassPlan, order: Order) -> None:
        self._course = course
        offered = TODAY if order == "today" else SessionSettings()
        # The plan ends a day, not the session's own clock.
        self._settings = replace(offered, length=timedelta(minutes=2 * plan.minutes))
        self._session = PracticeSession(course, {}, BEGIN, self._settings)
        self._day = BEGIN.date()

    def choose(self, now: datetime) -> str | None:
        if now.date() != self._day:
            self._session = PracticeSession(self._course, self._session.deck, now, self._settings)
            self._day = now.date()
        topic = self._session.next(now)
        return topic.key if topic else None

    def tell(self, key: str, right: bool, response_s: float, now: datetime) -> None:
        topic = Topic.read(key)
        given = int(rating(topic.drill, right, response_s, False, self._session.card(topic) is None))
        self._session.take(Answered("", now, key, right, None, None, "", response_s, False, given, "touch"))


def _practise(
    learner: Learner, order: _TopicOrder, plan: ClassPlan, costs: Times, rng: np.random.Generator
) -> tuple[int, float, float]:
    """Run all sessions of one trainee; returns the number of questions, the seconds they took and the
    memory's time at the end."""
    memory_s, total_s, asked, last_day, spent_s = 0.0, 0.0, 0, plan.days[0], 0.0
    for day in plan.days:
        memory_s += max(0.0, (day - last_day) * 86_400 - spent_s) * learner.memory.away
        last_day, spent_s = day, 0.0
        while spent_s < plan.minutes * 60:
            now = BEGIN + timedelta(days=day, seconds=spent_s)
            key = order.choose(now)
            if key is None:
                break
            at_s = memory_s + spent_s + costs.question_s
            right = bool(rng.random() < learner.recall_p(key, at_s))
            response_s = min(learner.response_s(key, at_s), LONGEST_S) if right else costs.give_up_s
            learner.meet(key, at_s + response_s)
            spent_s += costs.question_s + response_s + (costs.right_s if right else costs.wrong_s)
            order.tell(key, right, response_s, now)
            asked += 1
        memory_s, total_s = memory_s + spent_s, total_s + spent_s
    return asked, total_s, memory_s
