"""A pack for another field of dentistry, begun; and the first hour of a clinic, as questions and answers.

Comes in: a folder and a field, or a pack and answers. Goes out: a small commented pack that loads and can be
used at once, or the changes that the answers stand for. It never overwrites a file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Literal

from vocab.errors import TraycallError
from vocab.layers.changes import (
    AddName,
    Dentist,
    Mean,
    Operation,
    SetDentists,
    SetHandedness,
    SetMakerTime,
    SetTraysUsed,
)
from vocab.load import SHIPPED
from vocab.problems import nearest
from vocab.references import normalised
from vocab.schema import ItemClass, Name, Pack

MAKERS_NAME = "maker's name, said here"
MATERIALS = (ItemClass.MATERIAL, ItemClass.ADHESIVE)

GUIDE = """\
# How to build a pack for {field}
#
# 1. Items: one entry for each thing on or beside a tray (items.yaml). `name` is what you would print on a
#    tray card, `synonyms` what people say. A name belongs to one item. Write names as words; add `say` only
#    where the spoken form cannot be read off the text ({{text: GIC, say: [g i c]}}).
# 2. Say of each item what a newcomer must know: purpose, look, handing, cautions. Mark `sharp`, `counted`
#    and, for drugs and needles, `always_check: true`.
# 3. Look-alikes: where two things are mixed up by ear or by eye, add `confused_with` with one sentence that
#    tells them apart; the worst pairs also go into `wide_margin` in pack.yaml.
# 4. Trays (trays.yaml): slots from left to right; numbers run on over the rows. Places beside the tray have
#    words for addresses. Everything a procedure asks for needs a slot on its tray.
# 5. Procedures (procedures.yaml): steps in order; the numbers weigh what a step asks for.
# 6. Speech (speech.yaml): the words around a name. Keep it, and change the actions to those of your field.
# 7. Check as you go:  traycall check FOLDER     and     traycall edit --pack FOLDER lint
# 8. Use it:           traycall ask --pack FOLDER "can I have the mirror please"
#
# No makers' names in a pack that you give away: each clinic adds its own in its layer.
"""

_ITEMS = """\
# One entry for each thing. Classes: {classes}.
# Reprocessing: single use; clean and heat-sterilise; barrier and disinfect; multi-dose container, no touch.
items:

- id: mouth_mirror
  class: examination
  name: mouth mirror
  synonyms: [mirror]
  purpose: Shows what cannot be seen directly.
  look: A small round mirror at an angle on a long handle.
  handing: Handle to the operator, low over the chest.
  ends: 1
  reprocessing: clean and heat-sterilise

- id: cotton_pliers
  class: examination
  name: cotton pliers
  synonyms: [college pliers]
  purpose: Carries small things.
  look: Long tweezers with bent tips.
  ends: 1
  reprocessing: clean and heat-sterilise

- id: gauze
  class: consumable
  name: gauze
  synonyms: [gauze square, {{text: 2x2, say: [two by two]}}]
  purpose: Dries and protects.
  look: A small folded square.
  reprocessing: single use
  counted: true
"""

_TRAYS = """\
# Slots from left to right as the assistant sees them; numbers run on over the rows.
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
        - {at: 3, item: gauze, count: 4}
"""

_PROCEDURES = """\
# Steps in order; the numbers say how often a thing is asked for beside the others of the step.
procedures:

- id: first_procedure
  name: First procedure
  tray: first_tray
  any_time: {gauze: 1}
  steps:
    - id: look
      name: Look
      items: {mouth_mirror: 3, cotton_pliers: 1}
    - id: clean
      name: Dry and clean
      items: {gauze: 2, cotton_pliers: 1}
"""


class StarterError(TraycallError):
    """A pack that cannot be begun, or an answer that fits no question."""


def new_pack(folder: Path, field: str) -> tuple[Path, ...]:
    """Writes a small commented pack for a field and returns its files.

    Raises:
        StarterError: the folder holds something already, or the field has no letter.
    """
    name = " ".join(field.split())
    pack_id = "_".join(re.findall(r"[a-z0-9]+", name.lower())).lstrip("0123456789_")
    if not pack_id:
        raise StarterError(f"{field!r} is no field of dentistry; write one such as endodontics")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StarterError(f"{folder} is not empty; give a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    head = f'id: {pack_id}\nname: "{_quotable(name)}"\nlanguage: en\nversion: "1"\n\nwide_margin: []\n'
    speech = resources.files("vocab").joinpath(SHIPPED, "operative", "speech.yaml").read_text("utf-8")
    texts = {
        "pack.yaml": GUIDE.format(field=name) + "\n" + head,
        "items.yaml": _ITEMS.format(classes="; ".join(c.value for c in ItemClass)),
        "trays.yaml": _TRAYS,
        "procedures.yaml": _PROCEDURES,
        "speech.yaml": speech,
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


@dataclass(frozen=True)
class Question:
    """One thing that differs from clinic to clinic.

    `about` names the item, timer or nothing; `choices` are (value, label) pairs, () for free text; `many`
    allows several answers. `example` shows the form of a free answer.
    """

    id: str
    kind: Literal["trays", "dentists", "handedness", "makers_names", "maker_time"]
    text: str
    about: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    many: bool = False
    example: str = ""


def first_hour(pack: Pack) -> tuple[Question, ...]:
    """What a lead is asked once; everything else works from the pack as it comes."""
    asked = [
        Question(
            "trays",
            "trays",
            "Which of these trays do you lay?",
            choices=tuple((tray.id, tray.name) for tray in pack.trays),
            many=True,
        ),
        Question("dentists", "dentists", "Who asks for instruments?", many=True, example="Dr. Grey"),
        Question(
            "handedness",
            "handedness",
            "Which hand does the dentist work with, unless a dentist's own layer says otherwise?",
            choices=(("right", "Right"), ("left", "Left")),
        ),
    ]
    laid = {slot.item for tray in pack.trays for slot in tray.slots}
    for item in pack.items:
        if item.item_class in MATERIALS and item.id in laid:
            asked.append(
                Question(
                    f"makers_names:{item.id}",
                    "makers_names",
                    f"Which makers' names do people here say for {item.name.text}?",
                    about=item.id,
                    many=True,
                )
            )
    for timer in dict.fromkeys(t for p in pack.procedures for step in p.steps for t in step.timers):
        asked.append(
            Question(
                f"maker_time:{timer}",
                "maker_time",
                f"Which time does the maker of your product give for {timer}, in seconds?",
                about=timer,
                example="20",
            )
        )
    return tuple(asked)


def answered(pack: Pack, answers: Answers) -> tuple[Operation, ...]:
    """The changes to the clinic's layer that the answers stand for.

    A maker's name that another item holds moves to the material it was given for.

    Raises:
        StarterError: an answer fits no question, or none of its choices; all mistakes at once.
    """
    questions = {question.id: question for question in first_hour(pack)}
    wrong = [f"there is no question {q!r}{nearest(q, questions)}" for q in answers if q not in questions]
    operations: list[Operation] = []
    for question in questions.values():
        given = [text for answer in answers.get(question.id, ()) if (text := " ".join(answer.split()))]
        known = [value for value, _ in question.choices]
        wrong += [
            f"{question.text} {answer!r} is not to choose from: {', '.join(known)}"
            for answer in given
            if known and answer not in known
        ]
        if len(given) > 1 and not question.many:
            wrong.append(f"{question.text} Give one answer, not {len(given)}")
        elif given and not wrong:
            try:
                operations += _operations(question, given, pack)
            except StarterError as error:
                wrong.append(str(error))
    if wrong:
        raise StarterError("\n".join(wrong))
    return tuple(operations)


def _operations(question: Question, given: Sequence[str], pack: Pack) -> list[Operation]:
    match question.kind:
        case "trays":
            return [SetTraysUsed(trays=tuple(given))]
        case "dentists":
            return [SetDentists(dentists=_dentists(given))]
        case "handedness":
            return [SetHandedness(hand="left" if given[0] == "left" else "right")]
        case "makers_names":
            return [o for name in given for o in _makers_name(question.about, name, pack)]
        case "maker_time":
            match_ = re.fullmatch(r"(\d+(?:[.,]\d+)?) ?(?:s|sec|seconds)?", given[0])
            seconds = float(match_[1].replace(",", ".")) if match_ else 0.0
            if not 0 < seconds <= 86_400:
                raise StarterError(
                    f"{question.text} {given[0]!r} is no number of seconds; write one such as 20"
                )
            return [SetMakerTime(timer=question.about, seconds=seconds)]


def _makers_name(item: str, name: str, pack: Pack) -> list[Operation]:
    text = normalised(name)
    if not text:
        raise StarterError(f"{name!r} holds no letter or digit; write the maker's name in words")
    holders = [i.id for i in pack.items for n in i.names for t in (n.text, *n.say) if normalised(t) == text]
    if item in holders:
        return []
    if holders:
        return [Mean(name=name, item=item)]
    return [AddName(item=item, name=Name(text=name, note=MAKERS_NAME))]


def _dentists(given: Sequence[str]) -> tuple[Dentist, ...]:
    """Dentists with ids made of their names; a number tells equal ids apart."""
    found: list[Dentist] = []
    taken = {"clinic", "pack"}
    for name in dict.fromkeys(given):
        parts = [part for part in re.findall(r"[a-z0-9]+", name.lower()) if part not in ("dr", "prof")]
        base = "_".join(parts).lstrip("0123456789_") or "dentist"
        dentist_id, number = base, 2
        while dentist_id in taken:
            dentist_id, number = f"{base}_{number}", number + 1
        taken.add(dentist_id)
        found.append(Dentist(id=dentist_id, name=name))
    return tuple(found)
