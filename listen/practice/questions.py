"""Makes questions: a topic in, a question with its own closed set of answers out.

From a `Topic` and a random generator it makes a `Question`, which says what is shown and spoken, every
choice with all its accepted wordings, which choices are right, and how rivals differ. Its sentences come
from `listen.practice.wordings`. It never judges an answer.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from listen.practice.facts import Facts, Value
from listen.practice.topics import Drill, PracticeError, Topic, partners
from listen.practice.wordings import Wordings, wordings
from vocab.language.by_language import plain_words
from vocab.language.tokens import spoken_forms, words
from vocab.pack.schema import Item, Name, Pack, Row, Slot, Tray
from vocab.procedure.model import ProcedureModel
from vocab.requests.lexicon import fold

NEXT_SHARE = 0.25
"""Items at least this probable, relative to the likeliest, are right answers to what comes next."""
RIVALS = 24
"""How many other items a name is told from; look-alikes are always among them."""
MOST_LAID = 10
"""Longer rows are laid in parts of about this many slots."""
MOST_OFFERED = 8
"""Most choices that are shown to be touched where any item might be meant; others may be said or typed."""
LAID = "@"
"""Joins item and slot in a choice when a row is laid ("wedge@14")."""


@dataclass(frozen=True)
class AnswerChoice:
    """One thing an answer may be: an item, a slot or a value.

    ways: all accepted wordings; shared: names that other items also have, so that more must be said.
    """

    id: str
    shown: str
    ways: tuple[str, ...]
    shared: tuple[str, ...] = ()


FETCH = AnswerChoice("fetch", "a sterile one from outside the tray", ("a sterile one", "fetch a sterile one"))
"""In a rehearsal: what has fallen, and of which the tray has no other."""


@dataclass(frozen=True)
class ShownSlot:
    """A slot as it is shown; `item` is None where it is empty."""

    at: str
    item: str | None


@dataclass(frozen=True)
class Question:
    """What is asked.

    prompt: shown; spoken: read out, in SLOT as a dentist would ask; right: ids of the right choices; choices:
    the closed set; answer: the sentence that tells the right answer; asked_name: the synonym that was
    used; tells: how a wrong choice differs; scene: slots to show; picture: an item to show, whose name is
    not to be written; items: True where choices are items of the pack; offered: ids of the choices that are
    shown to be touched, () where the answer is recalled or touched in the scene.
    """

    topic: Topic
    prompt: str
    spoken: str
    right: tuple[str, ...]
    choices: tuple[AnswerChoice, ...]
    answer: str
    asked_name: str | None = None
    tells: Mapping[str, str] = field(default_factory=dict)
    scene: tuple[ShownSlot, ...] = ()
    picture: str | None = None
    items: bool = False
    offered: tuple[str, ...] = ()

    def choice(self, choice_id: str) -> AnswerChoice:
        """The choice with this id; KeyError if there is none."""
        for choice in self.choices:
            if choice.id == choice_id:
                return choice
        raise KeyError(choice_id)


class Questions:
    """Makes questions about one pack; nothing changes after construction."""

    def __init__(self, pack: Pack, facts: Facts) -> None:
        self.pack, self.facts = pack, facts
        self.words = wordings(pack.language)
        self._partners = partners(pack)
        self._choices = {item.id: item_choice(item) for item in pack.items}
        self._models: dict[str, ProcedureModel] = {}

    def ask(
        self, topic: Topic, rng: np.random.Generator, name_weights: Mapping[str, float] | None = None
    ) -> Question:
        """A question on this topic.

        Args:
            rng: draws synonym, wording, rivals and faults.
            name_weights: how much each name is wanted in a request, 1 where not given.

        Raises:
            PracticeError: the topic is not (or no longer) in the pack.
        """
        try:
            return self._make(topic, rng, name_weights or {})
        except (KeyError, StopIteration, IndexError):
            raise PracticeError(
                f"{topic.key!r} is no longer in the vocabulary {self.pack.id!r}; it is left out from now on."
            ) from None

    def _make(self, topic: Topic, rng: np.random.Generator, weights: Mapping[str, float]) -> Question:
        match topic.drill:
            case Drill.SLOT:
                return self._slot(topic, rng, weights)
            case Drill.NAME:
                return self._name(topic, rng)
            case Drill.APART:
                return self._apart(topic, rng)
            case Drill.NEXT:
                return self._next(topic, rng)
            case Drill.FACT:
                return self._fact(topic, rng)
            case Drill.LAY:
                return self._lay(topic, rng)
            case Drill.FAULT:
                return self._fault(topic, rng)

    @cached_property
    def all_ways(self) -> tuple[str, ...]:
        """Every wording that any question of this pack may take as an answer."""
        ways = [way for choice in self._choices.values() for way in (*choice.ways, *choice.shared)]
        for tray in self.pack.trays:
            ways += [way for slot in tray.slots for way in _slot_choice(slot.at, self.words).ways]
        for fact in self.facts.facts:
            values = (fact.answer, *fact.instead)
            ways += [way for value in values for way in _value_choice(value, fact.say).ways]
        if self.pack.language == "en":
            ways += FETCH.ways
        return tuple(dict.fromkeys(ways))

    def tells(self, right: str) -> dict[str, str]:
        """For each look-alike of an item, how the two are told apart."""
        told = {other.item: other.tell for other in self.pack.item(right).confused_with}
        for item in self.pack.items:
            for other in item.confused_with:
                if other.item == right:
                    told.setdefault(item.id, other.tell)
        return told

    def called(self, item: str) -> str:
        """An item's usual name."""
        return self._choices[item].shown

    def place_name(self, at: str) -> str:
        """An address as it stands in a sentence: "slot 3", or the address itself where it is in words."""
        return self.words.slot.format(at=at) if at.isdigit() else at

    # --- one method a drill ----------------------------------------------------------------------------

    def _slot(self, topic: Topic, rng: np.random.Generator, weights: Mapping[str, float]) -> Question:
        tray, item = self.pack.tray(topic.place), self.pack.item(topic.subject)
        name, variant = _drawn(item, tray, rng, weights)
        requests = self.words.requests
        said = _sentence(requests[int(rng.integers(len(requests)))].format(name))
        right = tuple(slot.at for slot in tray.slots if _may_hold(slot, item.id, variant))
        if not right:
            raise KeyError(topic.subject)
        usual = item.name.text
        called = name if name == usual else self.words.called.format(name=name, usual=usual)
        holds = {s.at: s.item for s in tray.slots}
        tells = self.tells(item.id)
        return Question(
            topic,
            prompt=self.words.which_slot.format(said=said),
            spoken=said,
            right=right,
            choices=tuple(_slot_choice(slot.at, self.words) for slot in tray.slots),
            answer=f"{_sentence(called)}: {self._slots(right)}.",
            asked_name=name,
            tells={at: tells[held] for at, held in holds.items() if tells.get(held)},
            scene=tuple(ShownSlot(s.at, s.item) for s in tray.slots),
        )

    def _name(self, topic: Topic, rng: np.random.Generator) -> Question:
        item = self.pack.item(topic.subject)
        prompt = self.words.what_called.format(clue=self._clue(item, rng))
        return self._of_items(topic, prompt, (item.id,), self._rivals(item.id, rng), picture=item.id)

    def _apart(self, topic: Topic, rng: np.random.Generator) -> Question:
        one, other = topic.items
        right, wrong = (one, other) if rng.random() < 0.5 else (other, one)
        item = self.pack.item(right)
        shown = sorted(self._choices[i].shown for i in (one, other))
        clue = self._clue(item, rng)
        prompt = self.words.which_of_two.format(one=shown[0], other=shown[1], clue=clue)
        question = self._of_items(topic, prompt, (right,), (wrong,), picture=right)
        return replace(question, offered=(right, wrong))

    def _next(self, topic: Topic, rng: np.random.Generator) -> Question:
        procedure = self.pack.procedure(topic.place)
        place = next(i for i, step in enumerate(procedure.steps) if step.id == topic.subject)
        if procedure.id not in self._models:
            self._models[procedure.id] = ProcedureModel(self.pack, [procedure.id])
        model = self._models[procedure.id]
        belief = model.start()
        last = ""
        for step in procedure.steps[:place]:
            if not step.optional or step is procedure.steps[place - 1]:
                last = max(step.items, key=lambda i: step.items[i])
                belief = model.after(belief, last)
        likely = model.next_items(belief)
        top = max(likely.values())
        step = procedure.steps[place]
        usual = max(step.items, key=lambda i: step.items[i])
        right = [i for i, p in likely.items() if p >= NEXT_SHARE * top and i != last]
        right = list(dict.fromkeys((usual, *right)))
        before = procedure.steps[place - 1].name
        prompt = self.words.next_request.format(
            procedure=procedure.name,
            item=self._choices[last].shown,
            step=f"{before[0].lower()}{before[1:]}",
        )
        others = [slot.item for slot in self.pack.tray(procedure.tray).slots]
        others += [i for s in procedure.steps for i in s.items]
        rivals = tuple(i for i in dict.fromkeys(others) if i not in right)
        after = self.words.next_step.format(step=step.name.lower())
        question = self._of_items(topic, prompt, tuple(right), rivals, after=f" {after}")
        around = procedure.steps[max(0, place - 2) : place + 3]
        near = [i for s in around for i in s.items if i in rivals]
        return replace(question, offered=self._handful(right, near, rivals, rng))

    def _fact(self, topic: Topic, rng: np.random.Generator) -> Question:
        fact = self.facts.fact(topic.subject)
        right = _value_choice(fact.answer, fact.say)
        choices = [right, *(_value_choice(value) for value in fact.instead)]
        note = f" {fact.note}" if fact.note else ""
        return Question(
            topic,
            prompt=fact.asks,
            spoken=fact.asks,
            right=(right.id,),
            choices=tuple(choices[i] for i in rng.permutation(len(choices))),
            answer=f"{_sentence(right.shown)}.{note}",
            picture=None,
            offered=tuple(choice.id for choice in choices),
        )

    def _fault(self, topic: Topic, rng: np.random.Generator) -> Question:
        tray = self.pack.tray(topic.place)
        slots = list(_row(tray, topic.subject).slots)
        held: list[str | None] = [slot.item for slot in slots]
        differ = [i for i, s in enumerate(slots) if sum(t.item == s.item for t in slots) == 1]
        kind = int(rng.integers(3)) if len(differ) >= 2 else 0
        first, second = (int(i) for i in rng.permutation(differ)[:2]) if len(differ) >= 2 else (0, 0)
        one, other = slots[first].item, slots[second].item
        right: tuple[str, ...]
        if kind == 0:
            held[first], right = None, (one,)
            answer = self.words.missing.format(item=self._choices[one].shown, at=slots[first].at)
        elif kind == 1:
            held[first], held[second], right = other, one, (one, other)
            shown = self._choices[one].shown, self._choices[other].shown
            answer = self.words.swapped.format(one=shown[0], other=shown[1])
        else:
            strangers = [i for i in self._choices if tray.slot_of(i) is None]
            stranger = strangers[int(rng.integers(len(strangers)))]
            held[first], right = stranger, (stranger, one)
            answer = self.words.stranger.format(
                at=_sentence(slots[first].at),
                stranger=self._choices[stranger].shown,
                item=self._choices[one].shown,
            )
        prompt = self.words.fault.format(tray=tray.name, row=topic.subject)
        rivals = tuple(dict.fromkeys(s.item for s in tray.slots if s.item not in right))
        question = self._of_items(topic, prompt, right, rivals)
        scene = tuple(ShownSlot(slot.at, item) for slot, item in zip(slots, held, strict=True))
        lying = {slot.item for slot in slots}
        elsewhere = [i for i in rivals if i not in lying]
        offered = self._handful(right, (), elsewhere, rng) if None in held else ()
        return replace(question, scene=scene, answer=answer, offered=offered)

    def _lay(self, topic: Topic, rng: np.random.Generator) -> Question:
        tray = self.pack.tray(topic.place)
        slots = list(_row(tray, topic.subject).slots)
        if len(slots) > MOST_LAID:
            parts = -(-len(slots) // MOST_LAID)
            slots = [list(part) for part in np.array_split(np.array(slots, object), parts)][
                int(rng.integers(parts))
            ]
        items = list(dict.fromkeys(slot.item for slot in slots))
        order = [items[int(i)] for i in rng.permutation(len(items))]
        choices = [self._choices[i] for i in order] + [_slot_choice(slot.at, self.words) for slot in slots]
        listed = ", ".join(self._choices[i].shown for i in order)
        prompt = self.words.lay.format(tray=tray.name, row=topic.subject, items=_sentence(listed))
        return Question(
            topic,
            prompt=prompt,
            spoken=self.words.lay_spoken.format(row=topic.subject),
            right=tuple(f"{slot.item}{LAID}{slot.at}" for slot in slots),
            choices=tuple(choices),
            answer=", ".join(f"{slot.at} {self._choices[slot.item].shown}" for slot in slots) + ".",
            scene=tuple(ShownSlot(slot.at, None) for slot in slots),
        )

    # --- parts ------------------------------------------------------------------------------------------

    def _of_items(
        self,
        topic: Topic,
        prompt: str,
        right: tuple[str, ...],
        rivals: Sequence[str],
        picture: str | None = None,
        after: str = "",
    ) -> Question:
        names = [self._choices[i].shown for i in right]
        tells = {other: tell for item in right for other, tell in self.tells(item).items()}
        return Question(
            topic,
            prompt=prompt,
            spoken=prompt,
            right=right,
            choices=tuple(self._choices[i] for i in (*right, *rivals)),
            answer=f"{_sentence(self._either(names))}.{after}",
            tells={other: tell for other, tell in tells.items() if other not in right},
            picture=picture,
            items=True,
        )

    def _handful(
        self, right: Sequence[str], near: Sequence[str], others: Sequence[str], rng: np.random.Generator
    ) -> tuple[str, ...]:
        """Some right choices among their look-alikes, some that are `near`, and some others."""
        shown = list(right[: MOST_OFFERED // 3 + 1])
        alike = [i for item in shown for i in sorted(self._partners[item]) if i in others]
        drawn = [some[int(i)] for some in (near, others) for i in rng.permutation(len(some))]
        rivals = [i for i in (*alike[: MOST_OFFERED // 4], *drawn) if i not in right]
        return tuple(dict.fromkeys((*shown, *rivals)))[:MOST_OFFERED]

    def _clue(self, item: Item, rng: np.random.Generator) -> str:
        text = item.purpose if rng.random() < 0.5 else item.look
        return without_names(text, item, self.pack.language)

    def _slots(self, places: Sequence[str]) -> str:
        return self._either([self.place_name(at) for at in places])

    def _either(self, names: Sequence[str]) -> str:
        *some, last = names
        return self.words.either.format(some=", ".join(some), last=last) if some else last

    def _rivals(self, item: str, rng: np.random.Generator) -> tuple[str, ...]:
        """Look-alikes, then others of the same class, then anything."""
        alike = self._partners[item]
        same = self.pack.item(item).item_class
        others = [i for i in self.pack.items if i.id != item and i.id not in alike]
        mixed = [others[int(i)] for i in rng.permutation(len(others))]
        mixed.sort(key=lambda other: other.item_class != same)
        return (*sorted(alike), *(o.id for o in mixed[: max(0, RIVALS - len(alike))]))


class Laying:
    """A row being laid: what still has to go where, and how often it went wrong."""

    def __init__(self, question: Question) -> None:
        if question.topic.drill is not Drill.LAY:
            raise ValueError("only a LAY question is laid")
        self.question = question
        self.laid: list[str] = []
        self.mistakes = 0

    @property
    def open(self) -> tuple[str, ...]:
        """The placements still to be made, as "item@slot"."""
        return tuple(r for r in self.question.right if r not in self.laid)

    @property
    def done(self) -> bool:
        """Whether everything is in its slot."""
        return not self.open

    def place(self, item: str, at: str) -> bool:
        """Put an item into a slot; True where it belongs. A wrong place counts and stays empty."""
        placement = f"{item}{LAID}{at}"
        if placement in self.open:
            self.laid.append(placement)
            return True
        if placement not in self.laid:
            self.mistakes += 1
        return False

    @property
    def share(self) -> float:
        """Share of the attempts that were right, 1.0 before the first."""
        tried = len(self.laid) + self.mistakes
        return len(self.laid) / tried if tried else 1.0


def without_names(text: str, item: Item, language: str = "en") -> str:
    """A clue with the telling words of the item's own names blanked out."""
    named = {word for name in item.names for word in fold(words(name.text), language)}
    plain = plain_words(language)
    telling = {word for word in named if word not in plain and not word.isdigit() and len(word) > 2}

    def blank(match: re.Match[str]) -> str:
        folded = fold(words(match.group()), language)
        return "..." if folded and set(folded) & telling else match.group()

    return re.sub(r"[^\W\d_]+(?:['-][^\W\d_]+)*", blank, text)


def item_choice(item: Item) -> AnswerChoice:
    """The choice of an item, by every name that it has."""

    def wordings_of(names: Iterable[Name]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(text for name in names for text in name.ways_to_say))

    own = [name for name in item.names if not name.shared] or [item.name]
    shared = [name for name in item.names if name.shared]
    return AnswerChoice(item.id, item.name.text, wordings_of(own), wordings_of(shared))


def _slot_choice(at: str, said: Wordings) -> AnswerChoice:
    ways = (at, said.number.format(at=at)) if at.isdigit() else (at,)
    return AnswerChoice(at, at, ways)


def _value_choice(value: Value, more: Sequence[str] = ()) -> AnswerChoice:
    """A value with its spoken forms; thousands are said in words only."""
    ways = [*value.say, *more]
    if "," not in value.text:
        plain = value.text.removeprefix("the ").replace("%", "percent")
        spelled = re.sub(r"\bmm\b", "millimetres", plain)
        ways = [plain, spelled, *(form for form in spoken_forms(spelled)[:1]), *ways]
        ways += [re.sub(r" (millimetres|seconds|percent|degrees|micrometres)$", "", way) for way in ways]
    return AnswerChoice(value.text, value.text, tuple(dict.fromkeys(ways)))


def _drawn(
    item: Item, tray: Tray, rng: np.random.Generator, weights: Mapping[str, float]
) -> tuple[str, str | None]:
    """A name that means this item alone, and the variant it says, of those that the tray holds."""
    variants = {name.text: variant for name, variant in item.variant_name_pairs}
    names = [
        name.text
        for name in item.names
        if not name.shared and tray.slot_of(item.id, variants.get(name.text)) is not None
    ] or [item.name.text]
    p = np.array([max(0.0, weights.get(name, 1.0)) for name in names])
    p = p / p.sum() if p.sum() else np.full(len(names), 1 / len(names))
    name = names[int(rng.choice(len(names), p=p))]
    return name, variants.get(name)


def _may_hold(slot: Slot, item: str, variant: str | None) -> bool:
    return slot.item == item and (variant is None or not slot.variants or variant in slot.variants)


def _row(tray: Tray, name: str) -> Row:
    return next(row for row in tray.rows if row.name == name)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
