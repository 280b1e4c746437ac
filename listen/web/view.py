"""What a screen shows of a room, as plain data for JSON.

Comes in: a room. Goes out: one dictionary that says everything, so that a screen that was away needs only
the newest. It decides nothing, and holds no words that anybody said.
"""

from __future__ import annotations

import zlib
from typing import Any

from listen.answer import Answer
from listen.chairside.handing import ChairSettings, handing_line
from listen.chairside.state import Holding, start
from listen.web.room import Check, Room, Stage
from vocab.schema import Item, Pack, Tray

READ_BACK = "Read the label back: the person responsible says drug, strength and length aloud."


def room_view(room: Room) -> dict[str, Any]:
    """Everything that a screen needs.

    `places` holds the items that do not lie as they were laid; times are seconds.
    """
    pack, tray, state = room.chair.pack, room.chair.tray, room.state
    laid = start(tray, pack)
    step = room.step
    stage, check = room.stage, room.check
    return {
        "type": "room",
        "layout": layout(pack, tray),
        "number": stage.number,
        "events": len(state.events),
        "closed": room.closed,
        "step": step.name if step else None,
        "stage": stage_view(stage, check, pack, tray, room.settings, room.now_s),
        "next": [
            {"item": likely.item, **_card(pack.item(likely.item), tray), "p": round(likely.p, 3)}
            for likely in room.following
        ],
        "places": {
            item: _place(held) for item, held in state.holdings.items() if held != laid.holdings.get(item)
        },
        "out": [
            {"item": item, "count": count, "name": _name(pack, item), "sharp": _sharp(pack, item)}
            for item, count in state.out.items()
        ],
        "timers": [
            {
                "name": timer.name,
                "left_s": round(timer.left_s(room.now_s), 2),
                "length_s": timer.length_s,
            }
            for timer in room.timers
        ],
    }


def layout(pack: Pack, tray: Tray | None) -> str:
    """A mark of what lies where and what it is called: a page that was drawn with another is out of date."""
    lies = [(s.at, s.item, s.count, _name(pack, s.item)) for s in (tray.slots if tray else ())]
    return f"{zlib.crc32(repr(lies).encode()):08x}"


def stage_view(
    stage: Stage, check: Check | None, pack: Pack, tray: Tray | None, settings: ChairSettings, now_s: float
) -> dict[str, Any]:
    """The large part of the screen; `kind` is check, answer, wait, note or idle."""
    choices = [] if check is None else [pack.item(item) for item in check.items]
    answers = [answer_view(answer, pack, tray, settings) for answer in stage.answers]
    kind = (
        "check" if choices else "answer" if answers else "wait" if stage.waiting else
        "note" if stage.note else "idle"
    )  # fmt: skip
    return {
        "kind": kind,
        "age_s": round(max(0.0, now_s - stage.at_s), 2),
        "answers": answers,
        "choices": [{"item": item.id, **_card(item, tray)} for item in choices],
        "read_back": READ_BACK if any(item.always_check for item in choices) else None,
        "wait": [pack.item(item).name.text for item in stage.wait],
        "note": stage.note,
    }


def answer_view(answer: Answer, pack: Pack, tray: Tray | None, settings: ChairSettings) -> dict[str, Any]:
    """One answer; for an action without an item `item` is None."""
    item = pack.item(answer.item) if answer.item else None
    shown: dict[str, Any] = {
        "item": answer.item,
        "action": answer.action.replace("_", " ") if answer.action else None,
        "end": answer.end.replace("_", " ") if answer.end else None,
        "size": answer.size.replace("_", " ") if answer.size else None,
        "quantity": answer.quantity,
        "instead_of": (
            pack.item(answer.replaces).name.text
            if answer.replaces and answer.replaces != answer.item
            else None
        ),
        "said": spoken_line(answer),
    }
    if item is not None:
        shown |= _card(item, tray) | {
            "passing": handing_line(item, settings, pack.language),
            "elsewhere": None,
        }
        if tray is not None and shown["slot"] is None:
            shown["elsewhere"] = _elsewhere(item, pack)
    return shown


def spoken_line(answer: Answer) -> str:
    """What the voice says, as few words as will do: "cotton pliers, five"."""
    what = answer.name or ""
    if answer.action:
        what = f"{answer.action.replace('_', ' ')} {what}".strip()
    many = f"{answer.quantity} " if answer.quantity and answer.quantity > 1 else ""
    return f"{many}{what}, {answer.slot}" if answer.slot and answer.item else f"{many}{what}"


def place_name(at: str | None) -> str:
    """An address in words: "slot 5", or the place beside the chair as it is called."""
    return "" if at is None else f"slot {at}" if at.replace(" ", "").isdigit() else at


def _card(item: Item, tray: Tray | None) -> dict[str, Any]:
    at = tray.slot_of(item.id) if tray else None
    return {
        "name": item.name.text,
        "slot": at,
        "place": place_name(at),
        "sharp": item.sharp,
        "counted": item.counted,
    }


def _place(held: Holding) -> dict[str, int]:
    shown = {
        "clean": held.clean,
        "out": held.out,
        "back": held.back,
        "dropped": held.dropped,
        "used_up": held.used_up,
        "to_wipe": held.to_wipe,
        "to_replace": held.to_replace,
    }
    return {what: count for what, count in shown.items() if count}


def _elsewhere(item: Item, pack: Pack) -> str:
    on = [f"{tray.name}, {place_name(at)}" for tray in pack.trays if (at := tray.slot_of(item.id))]
    return f"Not on this tray; on {'; '.join(on[:2])}." if on else "On no tray of this list."


def _name(pack: Pack, item: str) -> str:
    return next((known.name.text for known in pack.items if known.id == item), item.replace("_", " "))


def _sharp(pack: Pack, item: str) -> bool:
    return next((known.sharp for known in pack.items if known.id == item), False)
