"""How an item is passed, in one line, for this operator and this arch.

Comes in: an item with its pack's `handing` text, and the chair's settings. Goes out: a line for the screen,
or None where nothing about passing matters. It names whose hands and which way the tip points; it never
advises a drug or dose and never makes an anaesthetic an ordinary pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import Field

from vocab.schema import Item, ItemClass, Pack, Strict, Text, Tray

READ_BACK = "The person responsible reads the label back first."
OUT_OF_SIGHT = "Pass it below the patient's line of sight."
FACE_CLEAN = "Mirror face clean."
LOW = "Low over the chest, never over the face."
READY_P = 0.2
READY_SHOWN = 2
"""What is expected with less than this is not announced, nor more than so many items."""


class ChairSettings(Strict):
    """What the clinic sets for a chair.

    operator_handed: the hand the operator works with; arch: the one being treated, None where unset;
    operator_clock: where the operator sits, the patient's head pointing to twelve; maker_times: seconds by
    timer, from the makers' instructions. None is shipped.
    """

    operator_handed: Literal["right", "left"] = "right"
    arch: Literal["upper", "lower"] | None = None
    operator_clock: Annotated[int, Field(ge=1, le=12)] | None = None
    maker_times: dict[Text, Annotated[float, Field(gt=0, le=3600)]] = Field(default_factory=dict)


def handing_line(item: Item, settings: ChairSettings) -> str | None:
    """One line on passing this item.

    The operator's and the assistant's hands and zones are common practice (four-handed dentistry: the
    assistant passes with the hand nearer the operator's working hand), no source.
    """
    if item.handing is None:
        return None
    anaesthesia = item.item_class is ItemClass.ANAESTHESIA and item.always_check
    parts = [f"Check. {READ_BACK}"] if anaesthesia else []
    parts.append(item.handing)
    if anaesthesia and "line of sight" not in item.handing and item.sharp:
        parts.append(OUT_OF_SIGHT)
    if item.id == "mouth_mirror":
        parts.append(FACE_CLEAN)
    if "to the operator" in item.handing and "to the patient" not in item.handing:
        parts.append(_hands(item, settings))
    if "toward the arch" in item.handing:
        if settings.arch is not None:
            parts.append(f"{settings.arch.capitalize()} arch: {_WAY[settings.arch]}.")
        if "chest" not in item.handing and not anaesthesia:
            parts.append(LOW)
    return " ".join(parts)


def get_ready(
    expected: Sequence[tuple[str, float]], pack: Pack, tray: Tray | None, least_p: float = READY_P
) -> str | None:
    """ "Get ready: wedge (slot 9), matrix band (slot 8)." from ids with their probabilities, likeliest first.

    None where nothing is likely enough: stating guesses gets a tool switched off.
    """
    named = []
    for item_id, p in expected[:READY_SHOWN]:
        if p >= least_p:
            at = tray.slot_of(item_id) if tray else None
            named.append(pack.item(item_id).name.text + (f" ({_place(at)})" if at else ""))
    return f"Get ready: {', '.join(named)}." if named else None


_WAY = {"upper": "working end up", "lower": "working end down"}


def _hands(item: Item, settings: ChairSettings) -> str:
    """Whose hands: the assistant passes with the hand that faces the operator's."""
    takes = settings.operator_handed
    if item.handing and "non-working hand" in item.handing:
        takes = _other(takes)
    zone = "" if settings.operator_clock is None else f", at {_zone(settings)} o'clock"
    return f"Your {_other(takes)} hand to the operator's {takes}{zone}."


def _other(hand: Literal["right", "left"]) -> Literal["right", "left"]:
    return "left" if hand == "right" else "right"


def _zone(settings: ChairSettings) -> str:
    """The transfer zone: 4 to 7 o'clock for an operator on the patient's right, 5 to 8 on the left.

    At twelve the working hand tells the side. Common practice, no source.
    """
    at = settings.operator_clock
    on_the_right = settings.operator_handed == "right" if at in (6, 12, None) else at in range(7, 12)
    return "4 to 7" if on_the_right else "5 to 8"


def _place(at: str) -> str:
    return f"slot {at}" if at.isdigit() else at
