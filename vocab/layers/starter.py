"""A starter pack for another field of dentistry, and a clinic's first hour as questions and answers.

Takes a folder and a field, and writes a small commented pack that loads and can be used at once; or takes a
pack and answers, and gives the changes that the answers stand for. It never overwrites a file.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from vocab.errors import TraycallError, nearest
from vocab.layers.changes import (
    AddName,
    Dentist,
    Hand,
    Mean,
    Operation,
    SetDentists,
    SetHandedness,
    SetInjuryCard,
    SetKept,
    SetMakerTime,
    SetNotDone,
    short,
)
from vocab.layers.draft import ClinicSettings
from vocab.layers.kept import to_choose
from vocab.pack.labels import name_problem, same
from vocab.pack.references import normalised
from vocab.pack.schema import ItemClass, Name, Pack

MAKERS_NAME = "maker's name, said here"
MATERIALS = (ItemClass.MATERIAL, ItemClass.ADHESIVE)
EVERYDAY = (
    "clear_strip",
    "cotton_tip_applicator",
    "applicator_brush",
    "cartridge_vasoconstrictor",
    "cartridge_plain",
    "dual_arch_tray",
    "petroleum_jelly",
    "ptfe_tape",
)
"""Other items that people call by a brand name; packs ship no brand names."""

GUIDE = """\
# How to build a vocabulary for {field}
#
# 1. Items: what every field has (mirror, gauze, suction, burs, dam, anaesthesia ...) is there already, since
#    pack.yaml says `builds_on: common`; a tray lays it by its id, which ends the address of its page in the
#    browser. Everything else gets an entry of its own (items.yaml). `name` is what you would print on a tray
#    card, `synonyms` what people say. A name belongs to one item; where people use one for two things, mark
#    it `shared: true` in both, and anyone who says it is asked which. Write names as words; add `say`
#    only where the text does not show how it is spoken ({{text: GIC, say: [g i c]}}).
# 2. Sizes and patterns of one thing are its variants: `variants: [15, 25]`, `variant_names: ["{{}} file"]`.
#    A slot may say which of them it holds.
# 3. For each item, say what a newcomer must know: purpose, look, handing, cautions. Mark `sharp`, `counted`,
#    `latex` and, for drugs and needles, `always_check: true`. In `handing` give what matters of: taken_by,
#    hand, grasp, exchange, offered, part and faces, out_of_sight, note.
# 4. Look-alikes: where two things are mixed up by ear or by eye, add `confused_with` with one sentence that
#    tells them apart; the worst pairs also go into `wide_margin` in pack.yaml.
# 5. Trays (trays.yaml): slots from left to right; numbers continue from row to row. Places at the chair
#    have words for addresses. What is kept together (a bur block, a dam kit) is a kit: write it once under
#    `kits:`, and each tray names its kits. Everything a procedure asks for needs a slot there.
# 6. Procedures (procedures.yaml): steps in order; the numbers weight what a step asks for.
# 7. Check as you go:  traycall check FOLDER     and     traycall edit --vocabulary FOLDER look-over
# 8. Use it:           traycall ask --vocabulary FOLDER "can I have the mirror please"
#
# No makers' names in a vocabulary that you give away: each clinic adds its own to its changes.
"""

_ITEMS = """\
# One entry for each thing. Classes: {classes}.
# Reprocessing: single use; clean and heat-sterilise; barrier and disinfect; multi-dose container, no touch.
items:

- id: first_instrument
  class: examination
  name: first instrument
  synonyms: [number 1 instrument, {{text: FI, say: [f i]}}]
  purpose: What it is for, in a sentence.
  look: How one tells it from the others.
  handing: {{offered: handle, grasp: pen, note: Low over the chest.}}
  ends: 1
  sharp: true
  reprocessing: clean and heat-sterilise
  cautions:
    - What can hurt, briefly; local rules decide.
"""

_TRAYS = """\
# Slots from left to right as the assistant sees them; numbers continue from row to row.
trays:

- id: first_tray
  name: First tray
  rows:
    - name: far row
      slots:
        - {at: 1, item: mouth_mirror}
        - {at: 2, item: cotton_pliers}
    - name: near row
      slots:
        - {at: 3, item: first_instrument}
        - {at: 4, item: gauze_square, count: 4}
  # kits: [first_kit]

# kits:
#
# - id: first_kit
#   name: First kit
#   slots:
#     - {at: 1, item: cotton_roll, count: 4}
"""

_PROCEDURES = """\
# Steps in order; the numbers say how often an item is asked for, compared with the others in the step.
procedures:

- id: first_procedure
  name: First procedure
  tray: first_tray
  any_time: {gauze_square: 1}
  steps:
    - id: look
      name: Look
      items: {mouth_mirror: 3, first_instrument: 1}
    - id: clean
      name: Dry and clean
      items: {gauze_square: 2, cotton_pliers: 1}
"""


class StarterError(TraycallError):
    """A pack that cannot be started, or an answer that fits no question."""


def new_pack(folder: Path, field: str) -> tuple[Path, ...]:
    """Writes a small commented pack for a field and returns its files.

    Raises:
        StarterError: the folder holds something already, or the field has no letter.
    """
    name = " ".join(field.split())
    pack_id = "_".join(re.findall(r"[a-z0-9]+", name.lower())).lstrip("0123456789_")
    if not pack_id:
        raise StarterError(f"{field!r} is not a field of dentistry; write one such as endodontics")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StarterError(f"{folder} is not empty; give a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    head = f'id: {pack_id}\nname: "{_quotable(name)}"\nlanguage: en\nversion: "1"\nbuilds_on: common\n'
    texts = {
        "pack.yaml": GUIDE.format(field=name) + "\n" + head,
        "items.yaml": _ITEMS.format(classes="; ".join(c.value for c in ItemClass)),
        "trays.yaml": _TRAYS,
        "procedures.yaml": _PROCEDURES,
    }
    files = []
    for file, text in texts.items():
        (folder / file).write_text(text, encoding="utf-8")
        files.append(folder / file)
    return tuple(files)


def _quotable(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


# --- the first hour ---------------------------------------------------------------------------------

Answers = Mapping[str, Sequence[str]]
"""Answers by question id; an empty answer leaves things as they are."""
Kind = Literal[
    "procedures", "dentists", "handedness", "hand", "kept", "injury_card", "makers_names", "maker_time"
]
NewId = Callable[[], str]
"""Gives an id that was never used before."""

NOTHING_YET = ClinicSettings({})
EVERY, USUAL = "all", "usual"
HANDS = (("right", "Right"), ("left", "Left"))
MOST_LINES, LONGEST_LINE = 12, 200
"""Limits of the needle-stick card, so that it can be read at a glance."""


@dataclass(frozen=True)
class FirstHourQuestion:
    """One thing that differs from clinic to clinic.

    `about` names the item, dentist, timer or nothing, `label` says the same in a word or two; `choices` are
    (value, label) pairs, () for free text; `many` allows several answers. `example` shows the form of a free
    answer.
    """

    id: str
    kind: Kind
    text: str
    about: str = ""
    label: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    many: bool = False
    example: str = ""


def first_hour(pack: Pack, now: ClinicSettings = NOTHING_YET) -> tuple[FirstHourQuestion, ...]:
    """What a lead is asked once; everything else works from the pack as it comes.

    Args:
        now: what was answered before; it adds a question for each dentist.
    """
    asked = [
        FirstHourQuestion(
            "procedures",
            "procedures",
            "Which of these procedures do you do?",
            choices=tuple((procedure.id, procedure.name) for procedure in pack.procedures),
            many=True,
        ),
        FirstHourQuestion("dentists", "dentists", "Who asks for instruments?", many=True, example="Dr. Grey"),
        FirstHourQuestion(
            "handedness", "handedness", "Which hand do the dentists here work with?", choices=HANDS
        ),
    ]
    for dentist in now.dentists:
        asked.append(
            FirstHourQuestion(
                f"hand:{dentist.id}",
                "hand",
                f"Which hand does {dentist.name} work with?",
                about=dentist.id,
                label=dentist.name,
                choices=(*HANDS, (USUAL, "Same as the clinic")),
            )
        )
    called = pack.called
    for group in to_choose(pack, now.kept):
        asked.append(
            FirstHourQuestion(
                f"kept:{group.items[0]}",
                "kept",
                f"Which {group.called} do you stock?",
                about=group.items[0],
                choices=(
                    (EVERY, "Both" if len(group.items) == 2 else "All of them"),
                    *((item, called[item]) for item in group.items),
                ),
            )
        )
    asked.append(
        FirstHourQuestion(
            "injury_card",
            "injury_card",
            "What do people here do after a needle stick? One line for each step.",
            many=True,
            example="Stop. Make safe. Tell ... .",
        )
    )
    laid = {slot.item for tray in pack.trays for slot in tray.slots}
    for item in pack.items:
        if (item.item_class in MATERIALS or item.id in EVERYDAY) and item.id in laid:
            asked.append(
                FirstHourQuestion(
                    f"makers_names:{item.id}",
                    "makers_names",
                    f"What do people here call the {item.name.text}? Makers' names count.",
                    about=item.id,
                    label=item.name.text,
                    many=True,
                )
            )
    for timer, label in times_asked(pack, now.maker_times_s).items():
        asked.append(
            FirstHourQuestion(
                f"maker_time:{timer}",
                "maker_time",
                f"What time does the maker of your product give for {label}, in seconds?",
                about=timer,
                label=label,
            )
        )
    return tuple(asked)


def times_asked(pack: Pack, kept: Iterable[str] = ()) -> dict[str, str]:
    """Of what the makers' times are asked, with its label: every timer of the steps, and before them those of
    which one time is kept for several ("cure" for "cure bond" and "cure flowable").

    Args:
        kept: what has a time already.
    """
    timers = dict.fromkeys(timer for p in pack.procedures for step in p.steps for timer in step.timers)
    general = [one for one in kept if one not in timers and any(t.startswith(f"{one} ") for t in timers)]
    return {one: f"{one}, where it has no time of its own" for one in general} | {t: t for t in timers}


def given_before(question: FirstHourQuestion, pack: Pack, now: ClinicSettings) -> tuple[str, ...]:
    """The earlier answer to a question, to be shown again; () where there was none."""
    match question.kind:
        case "procedures":
            return tuple(one.id for one in now.done(pack))
        case "dentists":
            return tuple(dentist.name for dentist in now.dentists)
        case "handedness":
            return (now.handedness,)
        case "hand":
            return tuple(one.hand or USUAL for one in now.dentists if one.id == question.about)
        case "kept":
            kept = (one.kept for one in now.kept if question.about in one.items)
            return (next(kept, None) or EVERY,)
        case "injury_card":
            return now.injury_card
        case "makers_names":
            known = pack.by_id.get(question.about)
            return () if known is None else tuple(n.text for n in known.synonyms if n.note == MAKERS_NAME)
        case "maker_time":
            seconds = now.maker_times_s.get(question.about)
            return () if seconds is None else (f"{seconds:g}",)


def random_id() -> str:
    """An id for a dentist that says nothing of the person and that nobody will be given by chance."""
    return f"d_{secrets.token_hex(5)}"


def answered(
    pack: Pack, answers: Answers, now: ClinicSettings = NOTHING_YET, new_id: NewId = random_id
) -> tuple[Operation, ...]:
    """The changes to the clinic's layer that the answers stand for; what already holds is not a change.

    A maker's name that another item holds moves to the item it was given for. A dentist who is listed already
    keeps their id, wherever in the list; a new one gets an id of their own.

    Args:
        now: what was answered before.

    Raises:
        StarterError: an answer fits no question, or none of its choices; all mistakes at once.
    """
    questions = {question.id: question for question in first_hour(pack, now)}
    wrong = [
        f"there is no question {short(q)!r}{nearest(q, questions)}" for q in answers if q not in questions
    ]
    operations: list[Operation] = []
    staff = now.dentists
    for question in questions.values():
        given = [text for answer in answers.get(question.id, ()) if (text := " ".join(answer.split()))]
        known = [value for value, _ in question.choices]
        wrong += [
            f"{question.text} {short(answer)!r} is not one of the choices: {', '.join(known)}"
            for answer in given
            if known and answer not in known
        ]
        if len(given) > 1 and not question.many:
            wrong.append(f"{question.text} Give one answer, not {len(given)}")
        elif given and not wrong:
            try:
                if question.kind == "dentists":
                    staff = _staff(given, now.dentists, new_id)
                elif question.kind == "hand":
                    staff = tuple(_with_hand(one, question.about, given[0]) for one in staff)
                else:
                    operations += _operations(question, given, pack, now)
            except StarterError as error:
                wrong.append(str(error))
    if wrong:
        raise StarterError("\n".join(wrong))
    if staff != now.dentists:
        operations.insert(0, SetDentists(dentists=staff))
    return tuple(operation for operation in operations if not _holds(operation, now))


def _operations(
    question: FirstHourQuestion, given: Sequence[str], pack: Pack, now: ClinicSettings
) -> list[Operation]:
    match question.kind:
        case "procedures":
            return [SetNotDone(procedures=tuple(p.id for p in pack.procedures if p.id not in given))]
        case "handedness":
            return [SetHandedness(hand="left" if given[0] == "left" else "right")]
        case "kept":
            group = next(one for one in to_choose(pack, now.kept) if question.about in one.items)
            return [group.model_copy(update={"kept": None if given[0] == EVERY else given[0]})]
        case "injury_card":
            return [SetInjuryCard(lines=_card(question, given))]
        case "makers_names":
            return [o for name in given for o in _makers_name(question.about, name, pack)]
        case "maker_time":
            return [SetMakerTime(timer=question.about, seconds=_seconds(question, given[0]))]
    raise AssertionError(question.kind)


def _holds(operation: Operation, now: ClinicSettings) -> bool:
    match operation:
        case SetNotDone(procedures=procedures):
            return procedures == now.not_done
        case SetHandedness(hand=hand):
            return hand == now.handedness
        case SetKept(items=items, kept=kept):
            return kept == next((one.kept for one in now.kept if set(one.items) == set(items)), None)
        case SetInjuryCard(lines=lines):
            return lines == now.injury_card
        case SetMakerTime(timer=timer, seconds=seconds):
            return now.maker_times_s.get(timer) == seconds
        case _:
            return False


def _card(question: FirstHourQuestion, given: Sequence[str]) -> tuple[str, ...]:
    if len(given) > MOST_LINES or any(len(line) > LONGEST_LINE for line in given):
        raise StarterError(
            f"{question.text} It must be readable at a glance: write at most {MOST_LINES} lines of at most "
            f"{LONGEST_LINE} characters"
        )
    return tuple(given)


def _seconds(question: FirstHourQuestion, given: str) -> float:
    match_ = re.fullmatch(r"([0-9]{1,6}(?:[.,][0-9]{1,3})?) ?(?:s|sec|seconds)?", given)
    seconds = float(match_[1].replace(",", ".")) if match_ else 0.0
    if not 0 < seconds <= 86_400:
        raise StarterError(f"{question.text} {short(given)!r} is not a number of seconds; write digits only")
    return seconds


def _makers_name(item: str, name: str, pack: Pack) -> list[Operation]:
    text = normalised(name)
    problem = name_problem(name) or (None if text else "has no letters or digits; write it in words")
    if problem:
        raise StarterError(f"the name {short(name)!r} {problem}")
    holders = [item for item in pack.items for said in item.ways_to_say if normalised(said) == text]
    if item in (holder.id for holder in holders):
        return []
    for holder in holders:
        if holder.always_check:
            raise StarterError(
                f'"{name}" means {holder.name.text}, which is always checked; choose another name'
            )
    if holders:
        return [Mean(name=name, item=item)]
    return [AddName(item=item, name=Name(text=name, note=MAKERS_NAME))]


def _staff(given: Sequence[str], now: Sequence[Dentist], new_id: NewId) -> tuple[Dentist, ...]:
    """The dentists with these names: those already listed as they are, others with a new id."""
    known = {same(dentist.name): dentist for dentist in now}
    found: dict[str, Dentist] = {}
    for name in given:
        if problem := name_problem(name):
            raise StarterError(f"the name {short(name)!r} {problem}")
        found.setdefault(same(name), known.get(same(name)) or Dentist(id=new_id(), name=name))
    return tuple(found.values())


def _with_hand(dentist: Dentist, dentist_id: str, answer: str) -> Dentist:
    if dentist.id != dentist_id:
        return dentist
    hand: Hand | None = "left" if answer == "left" else "right" if answer == "right" else None
    return dentist.model_copy(update={"hand": hand})
