"""Does practice teach? A simulated class practises in three orders for equal time, tested a month later.

Takes topics, a plan and a seed; returns what is remembered after each order. The memory is not the
scheduler's: it is the activation model of Pavlik and Anderson (Cognitive Science 29 (2005) 559), ACT-R's
power law of practice and forgetting with a decay that grows with the activation at the time of practice, so
that crammed practice fades faster. Their parameters, quoted from memory, and the seconds a question takes are
below. Every topic is a memory of its own; mixing up is not simulated, and a guess is never right.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal, Protocol

import numpy as np

from listen.practice.facts import Facts
from listen.practice.schedule import Course, SessionSettings, rating
from listen.practice.session import Answered, PracticeSession
from listen.practice.topics import Drill, Topic, curriculum, partners
from vocab.pack.schema import Pack

Order = Literal["scheduled", "rotation", "random"]
ORDERS: tuple[Order, ...] = ("scheduled", "rotation", "random")

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

    @property
    def total_minutes(self) -> float:
        """Practice time of one trainee."""
        return len(self.days) * self.minutes


@dataclass(frozen=True)
class OrderResult:
    """One order: topics remembered at the test by each trainee (expected number), questions asked by each."""

    order: Order
    remembered: tuple[float, ...]
    questions: tuple[int, ...]

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
    """
    plan, memory, costs = plan or ClassPlan(), memory or Memory(), costs or Times()
    keys = tuple(topic.key for topic in topics)
    results = []
    for order in orders:
        remembered, questions = [], []
        for number in range(plan.trainees):
            rng = np.random.default_rng((seed, number))
            learner = Learner(keys, memory, rng)
            pick = _Scheduled(course, plan) if order == "scheduled" else _Blind(keys, order, rng)
            asked, end_s = _practise(learner, pick, plan, costs, rng)
            test_s = end_s + plan.test_days * 86_400 * memory.away
            remembered.append(sum(learner.recall_p(key, test_s) for key in keys))
            questions.append(asked)
        results.append(OrderResult(order, tuple(remembered), tuple(questions)))
    return tuple(results)


def single_topics(pack: Pack, facts: Facts, procedure_id: str) -> tuple[tuple[Topic, ...], Course]:
    """What one procedure asks to be remembered one by one: names, slots, steps and facts."""
    drills = (Drill.NAME, Drill.SLOT, Drill.NEXT, Drill.FACT)
    topics = curriculum(pack, facts, procedure_id, drills)
    return topics, Course(topics, partners(pack))


def table(results: Sequence[OrderResult], plan: ClassPlan, topics: int, seed: int) -> str:
    """The three orders side by side, and the advantage of the scheduled one, as lines of text.

    Args:
        topics: how many there were; seed: of the intervals.
    """
    lines = [f"{'order':12}{'remembered after 30 days':>26}{'per minute':>12}{'questions':>11}"]
    for one in results:
        remembered = f"{one.mean:.1f} of {topics}"
        a_minute = one.mean / plan.total_minutes
        lines.append(f"{one.order:12}{remembered:>26}{a_minute:>12.3f}{round(np.mean(one.questions)):>11}")
    for over in ("random", "rotation"):
        low, high = gain_interval(results, np.random.default_rng(seed), over)
        lines.append(f"scheduled against {over}: {gain(results, over):.2f} ({low:.2f} to {high:.2f})")
    return "\n".join(lines)


def gain(results: Sequence[OrderResult], over: Order = "random") -> float:
    """Topics remembered per minute in the scheduled order, as a multiple of another one."""
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
    """Chooses what to ask and is told the result."""

    def choose(self, now: datetime) -> str: ...

    def tell(self, key: str, right: bool, response_s: float, now: datetime) -> None: ...


class _Blind:
    """Fixed rotation or random order: answers change nothing."""

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

    def __init__(self, course: Course, plan: ClassPlan) -> None:
        self._course = course
        self._settings = SessionSettings(
            length=timedelta(minutes=2 * plan.minutes)
        )  # the plan ends it, not the clock
        self._session = PracticeSession(course, {}, BEGIN, self._settings)
        self._day = BEGIN.date()

    def choose(self, now: datetime) -> str:
        if now.date() != self._day:
            self._session = PracticeSession(self._course, self._session.deck, now, self._settings)
            self._day = now.date()
        topic = self._session.next(now)
        assert topic is not None
        return topic.key

    def tell(self, key: str, right: bool, response_s: float, now: datetime) -> None:
        topic = Topic.read(key)
        given = int(rating(topic.drill, right, response_s, False, self._session.card(topic) is None))
        self._session.take(Answered("", now, key, right, None, None, "", response_s, False, given, "touch"))


def _practise(
    learner: Learner, order: _TopicOrder, plan: ClassPlan, costs: Times, rng: np.random.Generator
) -> tuple[int, float]:
    """Run all sessions of one trainee; returns the number of questions and the memory's time at the end."""
    memory_s, asked, last_day = 0.0, 0, plan.days[0]
    for day in plan.days:
        memory_s += max(0.0, (day - last_day) * 86_400 - plan.minutes * 60) * learner.memory.away
        last_day, spent_s = day, 0.0
        while spent_s < plan.minutes * 60:
            now = BEGIN + timedelta(days=day, seconds=spent_s)
            key = order.choose(now)
            at_s = memory_s + spent_s + costs.question_s
            right = bool(rng.random() < learner.recall_p(key, at_s))
            response_s = min(learner.response_s(key, at_s), LONGEST_S) if right else costs.give_up_s
            learner.meet(key, at_s + response_s)
            spent_s += costs.question_s + response_s + (costs.right_s if right else costs.wrong_s)
            order.tell(key, right, response_s, now)
            asked += 1
        memory_s += spent_s
    return asked, memory_s
