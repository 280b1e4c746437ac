"""Makes questions: a topic in, a question with its own closed set of answers out.

From a `Topic` and a random generator it makes a `Question`, which says what is shown and spoken, every
choice with all its accepted wordings, which choices are right, and how rivals differ. Its sentences come
from `listen.practice.wordings`. It never judges an answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from listen.chairside.handing import Arch, passing
from listen.practice.choices import (
    FETCH,
    AnswerChoice,
    item_choice,
    numbered_choice,
    slot_choice,
    value_choice,
)
from listen.practice.clues import sentence, without_names
from listen.practice.facts import Facts
from listen.practice.order import MOST_HEARD, run_up
from listen.practice.passing import OVER_CHEST, RIGHT_WAY, WHERE, Way, drawn, is_passed, ways_to_pass
from listen.practice.topics import (
    KIT,
    Drill,
    PracticeError,
    Topic,
    in_kit,
    laid_together,
    partners,
    stands_somewhere,
)
from listen.practice.wordings import wordings
from vocab.pack.schema import Item, Kit, Pack, Slot, Tray
from vocab.procedure.model import ProcedureModel

NEXT_SHARE = 0.25
"""Items at least this probable, relative to the likeliest, are right answers to what comes next."""
RIVALS = 24
"""How many other items a name is told from; look-alikes are always among them."""
MOST_LAID = 10
"""Longer rows are laid in parts of about this many slots."""
MOST_OFFERED = 6
"""Most choices that are shown to be touched where any item might be meant; others may be said or typed."""
MOST_TOLD = 4
"""Of more right answers so many are told, the likeliest."""
MOST_NUMBERED = 4
"""Most things that are shown under a number, to be answered by it."""
LAID = "@"
"""Joins item and slot in a choice when a row is laid ("wedge@14")."""


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
    not to be written; items: True where choices are answered by names of items; offered: ids of the choices
    that may be touched instead, () where the answer is recalled or touched in the scene; looks: what is shown
    of a choice, in words, where its name is not to be written; heard: items that were asked for before, the
    latest last, in NEXT; ways: what is shown of each choice, in PASS.
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
    looks: Mapping[str, str] = field(default_factory=dict)
    heard: tuple[str, ...] = ()
    ways: Mapping[str, Way] = field(default_factory=dict)

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

    def on_whole_tray(
        self, item: str, tray: str, rng: np.random.Generator, name_weights: Mapping[str, float]
    ) -> Question:
        """Where an item lies among all places of a tray and its kits, as it is asked at the chair.

        Raises:
            KeyError: it does not lie there.
        """
        return self._slot(Topic(Drill.SLOT, item, tray), rng, name_weights, whole=True)

    def _make(self, topic: Topic, rng: np.random.Generator, weights: Mapping[str, float]) -> Question:
        match topic.drill:
            case Drill.SLOT if topic.subject.startswith(KIT):
                return self._kit(topic, rng)
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
            case Drill.PASS:
                return self._pass(topic, rng)

    @cached_property
    def all_ways(self) -> tuple[str, ...]:
        """Every wording that any question of this pack may take as an answer."""
        ways = [way for choice in self._choices.values() for way in (*choice.ways, *choice.shared)]
        for tray in self.pack.trays:
            ways += [way for slot in tray.slots for way in slot_choice(slot.at, self.words).ways]
            ways += [slot.at for kit in tray.opened for slot in kit.slots]
        ways += [way for n in range(MOST_NUMBERED) for way in numbered_choice("", n + 1, "", self.words).ways]
        ways += [way for side in self.words.sides for way in side]
        ways += [way for place in self.words.stands for way in self.words.stands[place]]
        for fact in self.facts.facts:
            values = (fact.answer, *fact.instead)
            ways += [way for value in values for way in value_choice(value, fact.say).ways]
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

    def either(self, names: Sequence[str]) -> str:
        """Some names, any of which will do: "slot 3 or slot 4"."""
        *some, last = names
        return self.words.either.format(some=", ".join(some), last=last) if some else last

    # --- one method a drill ----------------------------------------------------------------------------

    def _slot(
        self, topic: Topic, rng: np.random.Generator, weights: Mapping[str, float], whole: bool = False
    ) -> Question:
        tray, item = self.pack.tray(topic.place), self.pack.item(topic.subject)
        name, variant = _drawn(item, tray, rng, weights)
        said = self._request(name, rng)
        right = tuple(slot.at for slot in tray.slots if _may_hold(slot, item.id, variant))
        if not right:
            raise KeyError(topic.subject)
        usual = item.name.text
        called = name if name == usual else self.words.called.format(name=name, usual=usual)
        kits = () if whole else tray.opened
        kit = next((k for k in kits if set(right) <= {s.at for s in in_kit(k)}), None)
        slots = tray.slots if kit is None else in_kit(kit)
        if kit is None:
            prompt = self.words.which_slot.format(said=said)
        else:
            prompt = self.words.where_in_kit.format(said=said, kit=kit.name)
        answer = f"{sentence(called)}: {self._slots(right)}."
        tells = self.tells(item.id)
        return Question(
            topic,
            prompt=prompt,
            spoken=said,
            right=right,
            choices=tuple(slot_choice(slot.at, self.words, kit.address if kit else "") for slot in slots),
            answer=f"{answer} {self._stands(kit)}".strip() if kit else answer,
            asked_name=name,
            tells={s.at: tells[s.item] for s in slots if tells.get(s.item)},
            scene=tuple(ShownSlot(s.at, s.item) for s in slots),
        )

    def _kit(self, topic: Topic, rng: np.random.Generator) -> Question:
        kit = next(k for k in self.pack.tray(topic.place).opened if f"{KIT}{k.id}" == topic.subject)
        where = self.words.stands
        prompt = self.words.where_kit.format(kit=kit.name)
        return Question(
            topic,
            prompt=prompt,
            spoken=prompt,
            right=(kit.place.value,),
            choices=tuple(AnswerChoice(place, ways[0], ways) for place, ways in where.items()),
            answer=self._stands(kit),
            picture=kit.drawn_as,
            offered=tuple(where),
        )

    def _name(self, topic: Topic, rng: np.random.Generator) -> Question:
        item = self.pack.item(topic.subject)
        prompt = self.words.what_called.format(clue=self._clue(item, rng))
        rivals = self._rivals(item.id, rng)
        question = self._of_items(topic, prompt, (item.id,), rivals, picture=item.id)
        return replace(question, offered=self._handful((item.id,), rivals[: MOST_OFFERED - 1], rivals, rng))

    def _apart(self, topic: Topic, rng: np.random.Generator) -> Question:
        pair = tuple(topic.items[int(i)] for i in rng.permutation(2))
        right, wrong = pair if rng.random() < 0.5 else pair[::-1]
        item = self.pack.item(right)
        names = [name.text for name in item.own_names if not name.shared] or [item.name.text]
        said = self._request(names[int(rng.integers(len(names)))], rng)
        looks = {
            one: without_names(self.pack.item(one).look, self.pack.item(one), self.pack.language)
            for one in pair
        }
        tell = self.tells(right).get(wrong)
        return Question(
            topic,
            prompt=self.words.which_of_two.format(said=said),
            spoken=said,
            right=(right,),
            choices=tuple(
                numbered_choice(one, n + 1, str(n + 1), self.words, self.words.sides[n])
                for n, one in enumerate(pair)
            ),
            answer=f"{sentence(self.called(right))}. {item.look}",
            tells={wrong: tell} if tell else {},
            offered=pair,
            looks=looks,
        )

    def _next(self, topic: Topic, rng: np.random.Generator) -> Question:
        procedure = self.pack.procedure(topic.place)
        place = next(i for i, step in enumerate(procedure.steps) if step.id == topic.subject)
        if procedure.id not in self._models:
            self._models[procedure.id] = ProcedureModel(self.pack, [procedure.id])
        model = self._models[procedure.id]
        before = run_up(self.pack, procedure, place, rng)
        belief = model.start()
        for asked in before:
            belief = model.after(belief, asked)
        likely = model.next_items(belief)
        top = max(likely.values())
        step = procedure.steps[place]
        usual = max(step.items, key=lambda i: step.items[i])
        right = [i for i, p in likely.items() if p >= NEXT_SHARE * top and i != before[-1]]
        right = list(dict.fromkeys((usual, *right)))
        heard = before[-MOST_HEARD:]
        prompt = self.words.next_after.format(
            procedure=procedure.name, items=", ".join(self._choices[i].shown for i in heard)
        )
        others = [slot.item for slot in self.pack.tray(procedure.tray).slots]
        others += [i for s in procedure.steps for i in s.items]
        rivals = tuple(i for i in dict.fromkeys(others) if i not in right)
        after = self.words.next_step.format(step=step.name.lower())
        question = self._of_items(topic, prompt, tuple(right), rivals, after=f" {after}")
        around = procedure.steps[max(0, place - 2) : place + 3]
        near = [i for s in around for i in s.items if i in rivals]
        return replace(
            question,
            spoken=self.words.next_request,
            heard=heard,
            offered=self._handful(right, near, rivals, rng),
        )

    def _fact(self, topic: Topic, rng: np.random.Generator) -> Question:
        fact = self.facts.fact(topic.subject)
        right = value_choice(fact.answer, fact.say)
        choices = [right, *(value_choice(value) for value in fact.instead)]
        note = f" {fact.note}" if fact.note else ""
        return Question(
            topic,
            prompt=fact.asks,
            spoken=fact.asks,
            right=(right.id,),
            choices=tuple(choices[i] for i in rng.permutation(len(choices))),
            answer=f"{sentence(right.shown)}.{note}",
            picture=None,
            offered=tuple(choice.id for choice in choices),
        )

    def _fault(self, topic: Topic, rng: np.random.Generator) -> Question:
        tray = self.pack.tray(topic.place)
        slots = list(_lying(tray, topic.subject))
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
                at=sentence(slots[first].at),
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
        slots = list(_lying(tray, topic.subject))
        if len(slots) > MOST_LAID:
            parts = -(-len(slots) // MOST_LAID)
            slots = [list(part) for part in np.array_split(np.array(slots, object), parts)][
                int(rng.integers(parts))
            ]
        items = list(dict.fromkeys(slot.item for slot in slots))
        order = [items[int(i)] for i in rng.permutation(len(items))]
        choices = [self._choices[i] for i in order] + [slot_choice(slot.at, self.words) for slot in slots]
        listed = ", ".join(self._choices[i].shown for i in order)
        prompt = self.words.lay.format(tray=tray.name, row=topic.subject, items=sentence(listed))
        return Question(
            topic,
            prompt=prompt,
            spoken=self.words.lay_spoken.format(row=topic.subject),
            right=tuple(f"{slot.item}{LAID}{slot.at}" for slot in slots),
            choices=tuple(choices),
            answer=", ".join(f"{slot.at} {self._choices[slot.item].shown}" for slot in slots) + ".",
            scene=tuple(ShownSlot(slot.at, None) for slot in slots),
        )

    def _pass(self, topic: Topic, rng: np.random.Generator) -> Question:
        item = self.pack.item(topic.subject)
        if item.handing is None or not is_passed(item):
            raise KeyError(topic.subject)
        arch: Arch = "upper" if rng.random() < 0.5 else "lower"
        about = drawn(item.handing, arch, rng)
        ways = ways_to_pass(item.handing, about, self.words, rng)
        asked = self.words.pass_item
        if item.handing.faces is not None:
            asked = self.words.pass_upper if arch == "upper" else self.words.pass_lower
        prompt = asked.format(item=self.called(item.id))
        shown = [ways[int(i)] for i in rng.permutation(len(ways))]
        where = self.words.sketches[OVER_CHEST][1] if any(one.name == WHERE for one in about) else None
        how = passing(item.handing, arch, self.pack.language)
        told = (how, where, item.handing.note, self.words.pass_source)
        return Question(
            topic,
            prompt=prompt,
            spoken=prompt,
            right=(RIGHT_WAY,),
            choices=tuple(
                numbered_choice(way.mark, n, way.caption, self.words) for n, way in enumerate(shown, 1)
            ),
            answer=" ".join(part for part in told if part),
            picture=item.id,
            offered=tuple(way.mark for way in shown),
            ways={way.mark: way for way in shown},
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
        if len(names) > MOST_TOLD:
            rest = self.words.and_more.format(count=len(names) - MOST_TOLD)
            told = f"{', '.join(names[:MOST_TOLD])} {rest}"
        else:
            told = self.either(names)
        tells = {other: tell for item in right for other, tell in self.tells(item).items()}
        return Question(
            topic,
            prompt=prompt,
            spoken=prompt,
            right=right,
            choices=tuple(self._choices[i] for i in (*right, *rivals)),
            answer=f"{sentence(told)}.{after}",
            tells={other: tell for other, tell in tells.items() if other not in right},
            picture=picture,
            items=True,
        )

    def _handful(
        self, right: Sequence[str], near: Sequence[str], others: Sequence[str], rng: np.random.Generator
    ) -> tuple[str, ...]:
        """Some right choices among their look-alikes, some that are `near`, and some others."""
        shown = list(right[: MOST_OFFERED // 3])
        alike = [i for item in shown for i in sorted(self._partners[item]) if i in others]
        drawn = [some[int(i)] for some in (near, others) for i in rng.permutation(len(some))]
        rivals = [i for i in (*alike[: MOST_OFFERED // 4], *drawn) if i not in right]
        return tuple(dict.fromkeys((*shown, *rivals)))[:MOST_OFFERED]

    def _request(self, name: str, rng: np.random.Generator) -> str:
        """How a dentist asks for what has this name."""
        requests = self.words.requests
        return sentence(requests[int(rng.integers(len(requests)))].format(name))

    def _stands(self, kit: Kit) -> str:
        if not stands_somewhere(kit, self.pack.language):
            return ""
        return self.words.kit_stands.format(kit=kit.name, where=self.words.stands[kit.place.value][0])

    def _clue(self, item: Item, rng: np.random.Generator) -> str:
        text = item.purpose if rng.random() < 0.5 else item.look
        return without_names(text, item, self.pack.language)

    def _slots(self, places: Sequence[str]) -> str:
        return self.either([self.place_name(at) for at in places])

    def _rivals(self, item: str, rng: np.random.Generator) -> tuple[str, ...]:
        """Look-alikes, then others of the same class, then anything."""
        alike = self._partners[item]
        same = self.pack.item(item).item_class
        others = [i for i in self.pack.items if i.id != item and i.id not in alike]
        mixed = [others[int(i)] for i in rng.permutation(len(others))]
        mixed.sort(key=lambda other: other.item_class != same)
        return (*sorted(alike), *(o.id for o in mixed[: max(0, RIVALS - len(alike))]))


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


def _lying(tray: Tray, name: str) -> tuple[Slot, ...]:
    return next(slots for found, slots in laid_together(tray) if found == name)
