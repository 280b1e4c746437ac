"""How an item is passed, in words: at this chair, or in general.

It takes an item with its pack's `Handing` and, for the screen, the chair's settings. It gives one line, or
None where nothing about passing matters. The line names hands, grasp and which way the working end faces; it
never advises a drug or dose and never makes an anaesthetic an ordinary pass.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from vocab.pack.schema import (
    Exchange,
    Facing,
    Grasp,
    Handing,
    Item,
    ItemClass,
    Strict,
    TakenBy,
    TakingHand,
    Text,
)

CHECKED_FIRST = "checked first"
"""Shown in place of the slot where an item that is always checked is predicted."""

Side = Literal["right", "left"]
Arch = Literal["upper", "lower"]


class ChairSettings(Strict):
    """What the clinic sets for a chair.

    operator_handed: the hand the operator works with; arch: the one being treated, None where unset;
    operator_clock: where the operator sits, with the patient's head at twelve; maker_times: seconds by
    timer, from the makers' instructions; none is shipped. faculty: whether a teacher looks at the steps that
    are marked for it.
    """

    operator_handed: Side = "right"
    arch: Arch | None = None
    operator_clock: Annotated[int, Field(ge=1, le=12)] | None = None
    maker_times: dict[Text, Annotated[float, Field(gt=0, le=3600)]] = Field(default_factory=dict)
    faculty: bool = True


@dataclass(frozen=True)
class HandingWords:
    """The words of one language; braces stand for values from the pack or the chair's settings."""

    read_back: str
    label: str
    neutral_zone: str
    out_of_sight: str
    low: str
    to: str
    operator: str
    patient: str
    assistant: str
    hands: Mapping[TakingHand, str]
    sides: Mapping[Side, str]
    operators_side: str
    from_side: str
    at_clock: str
    grasps: Mapping[Grasp, str]
    exchanges: Mapping[Exchange, str]
    faces: Mapping[Facing, str]
    in_arch: str
    arches: Mapping[Arch, str]
    up: str
    down: str


WORDS: Mapping[str, HandingWords] = {
    "en": HandingWords(
        read_back="Check. Read back first by the person responsible: {what}.",
        label="the label",
        neutral_zone=(
            "Placed in a neutral zone (a tray or a magnetic pad) and announced aloud, or as local rules say; "
            "never from hand to hand where they forbid it."
        ),
        out_of_sight="Below the patient's line of sight.",
        low="Low over the chest, never over the face.",
        to="to {whom}",
        operator="the operator",
        patient="the patient",
        assistant="The assistant holds or uses it.",
        hands={
            TakingHand.WORKING: "the operator's working hand",
            TakingHand.OTHER: "the operator's other hand",
        },
        sides={"right": "right", "left": "left"},
        operators_side="the operator's {side} hand",
        from_side="from your {side}",
        at_clock="at {first} to {last} o'clock",
        grasps={
            Grasp.PEN: "pen grasp",
            Grasp.PALM: "palm grasp",
            Grasp.PALM_AND_THUMB: "palm and thumb grasp",
        },
        exchanges={Exchange.ONE_HAND: "one-hand exchange", Exchange.TWO_HANDS: "two-hand exchange"},
        faces={
            Facing.TEETH: "{part} toward the teeth being treated: up in the upper arch, down in the lower.",
            Facing.CHEWING_SURFACE: (
                "{part} toward the chewing surface: down in the upper arch, up in the lower."
            ),
        },
        in_arch="{arch}: {part} {way}.",
        arches={"upper": "Upper arch", "lower": "Lower arch"},
        up="up",
        down="down",
    ),
    "es": HandingWords(
        read_back="Comprobar. Antes la persona responsable lee en voz alta: {what}.",
        label="la etiqueta",
        neutral_zone=(
            "Se deja en una zona neutra (una bandeja o una base magnética) y se avisa en voz alta, o como "
            "digan las normas locales; nunca de mano a mano donde lo prohíban."
        ),
        out_of_sight="Por debajo de la línea de visión del paciente.",
        low="Bajo y sobre el pecho, nunca sobre la cara.",
        to="hacia {whom}",
        operator="el operador",
        patient="el paciente",
        assistant="Lo sujeta o lo usa quien asiste.",
        hands={
            TakingHand.WORKING: "la mano de trabajo del operador",
            TakingHand.OTHER: "la otra mano del operador",
        },
        sides={"right": "derecha", "left": "izquierda"},
        operators_side="la mano {side} del operador",
        from_side="desde su mano {side}",
        at_clock="entre las {first} y las {last}",
        grasps={
            Grasp.PEN: "toma en lápiz",
            Grasp.PALM: "toma palmar",
            Grasp.PALM_AND_THUMB: "toma de palma y pulgar",
        },
        exchanges={
            Exchange.ONE_HAND: "intercambio con una mano",
            Exchange.TWO_HANDS: "intercambio con dos manos",
        },
        faces={
            Facing.TEETH: (
                "{part} hacia los dientes que se tratan: arriba en la arcada superior, abajo en la inferior."
            ),
            Facing.CHEWING_SURFACE: (
                "{part} hacia la cara oclusal: abajo en la arcada superior, arriba en la inferior."
            ),
        },
        in_arch="{arch}: {part} hacia {way}.",
        arches={"upper": "Arcada superior", "lower": "Arcada inferior"},
        up="arriba",
        down="abajo",
    ),
}
"""By language; a language that is not here gets English. To add a language, add its words."""


def handing_line(item: Item, settings: ChairSettings, language: str = "en") -> str | None:
    """One line for the assistant on passing this item at this chair; it says if the item is always checked.

    The operator's and the assistant's hands and zones are common practice (four-handed dentistry: the
    assistant passes with the hand nearer the operator's working hand), no source.
    """
    words = _words(language)
    said = [words.read_back.format(what=read_back([item], language))] if item.always_check else []
    if item.handing is not None:
        said += _sentences(item, item.handing, words, settings)
    return " ".join(said) or None


def read_back(items: Iterable[Item], language: str = "en") -> str:
    """What the person responsible reads back of items of which one is always checked: what the vocabulary
    says, or the label where it says nothing or they differ."""
    said = {item.read_back for item in items if item.always_check}
    only = said.pop() if len(said) == 1 else None
    return only or _words(language).label


def handing_text(item: Item, language: str = "en") -> str | None:
    """How this item is passed in general, for any operator and either arch."""
    if item.handing is None:
        return None
    return " ".join(_sentences(item, item.handing, _words(language), None)) or None


def passing(handing: Handing, arch: Arch, language: str = "en") -> str | None:
    """How something is passed for a tooth in this arch, to any operator, without what else to mind; None
    where nothing about that is said."""
    words = _words(language)
    said = [words.neutral_zone] if handing.exchange is Exchange.NEUTRAL_ZONE else []
    if passed := _passed(handing, words, None):
        said.append(passed)
    if handing.part and handing.faces:
        said.append(_facing(handing.part, handing.faces, words, ChairSettings(arch=arch)))
    return " ".join(said) or None


# --- sentences ----------------------------------------------------------------------------------


def _words(language: str) -> HandingWords:
    return WORDS.get(language, WORDS["en"])


def _sentences(
    item: Item, handing: Handing, words: HandingWords, settings: ChairSettings | None
) -> Iterator[str]:
    """What to say, in order; without settings, for any operator and either arch."""
    neutral = handing.exchange is Exchange.NEUTRAL_ZONE
    if neutral:
        yield words.neutral_zone
    passed = _passed(handing, words, settings)
    if passed:
        yield passed
    if handing.part and handing.faces:
        yield _facing(handing.part, handing.faces, words, settings)
    needle = item.item_class is ItemClass.ANAESTHESIA and item.sharp
    if handing.out_of_sight or needle:
        yield words.out_of_sight
    elif handing.faces and handing.taken_by is TakenBy.OPERATOR and not neutral:
        yield words.low
    if handing.note:
        yield handing.note


def _passed(handing: Handing, words: HandingWords, settings: ChairSettings | None) -> str | None:
    """Who takes it, with which hand and grasp, and from which hand; None where the data do not say."""
    if handing.taken_by is TakenBy.ASSISTANT:
        return words.assistant
    if handing.taken_by is TakenBy.PATIENT:
        return _capital(f"{handing.offered or ''} {words.to.format(whom=words.patient)}.")
    if not (handing.offered or handing.hand or handing.grasp or handing.exchange in words.exchanges):
        return None
    whom, hands = _hands(handing, words, settings)
    parts = [f"{handing.offered or ''} {words.to.format(whom=whom)}{hands}"]
    if handing.grasp:
        parts.append(words.grasps[handing.grasp])
    if handing.exchange and handing.exchange in words.exchanges:
        parts.append(words.exchanges[handing.exchange])
    if settings and settings.operator_clock and handing.exchange is not Exchange.NEUTRAL_ZONE:
        first, last = _zone(settings)
        parts.append(words.at_clock.format(first=first, last=last))
    return _capital(f"{', '.join(parts)}.")


def _hands(handing: Handing, words: HandingWords, settings: ChairSettings | None) -> tuple[str, str]:
    """Whose hand takes it, and from which of the assistant's hands: the one that faces it.

    In a neutral zone nothing passes from hand to hand, and for an exchange with two hands either may give.
    """
    taking = handing.hand or (TakingHand.WORKING if handing.grasp else None)
    if taking is None:
        return words.operator, ""
    if settings is None:
        return words.hands[taking], ""
    worked: Side = settings.operator_handed
    takes = worked if taking is TakingHand.WORKING else _other(worked)
    whom = words.operators_side.format(side=words.sides[takes])
    if handing.exchange in (Exchange.NEUTRAL_ZONE, Exchange.TWO_HANDS):
        return whom, ""
    return whom, " " + words.from_side.format(side=words.sides[_other(takes)])


def _facing(part: str, faces: Facing, words: HandingWords, settings: ChairSettings | None) -> str:
    """Which way the working end faces: in the arch being treated, or in both."""
    if settings is None or settings.arch is None:
        return _capital(words.faces[faces].format(part=part))
    up = (settings.arch == "upper") is (faces is Facing.TEETH)
    return words.in_arch.format(
        arch=words.arches[settings.arch], part=part, way=words.up if up else words.down
    )


def _capital(sentence: str) -> str:
    sentence = sentence.strip()
    return sentence[:1].upper() + sentence[1:]


def _other(hand: Side) -> Side:
    return "left" if hand == "right" else "right"


def _zone(settings: ChairSettings) -> tuple[int, int]:
    """The transfer zone: 4 to 7 o'clock for an operator on the patient's right, 5 to 8 on the left.

    At twelve the working hand decides the side. Common practice, no source.
    """
    at = settings.operator_clock
    on_the_right = settings.operator_handed == "right" if at in (6, 12, None) else at in range(7, 12)
    return (4, 7) if on_the_right else (5, 8)
