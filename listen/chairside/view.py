"""How answers and sessions are shown, in a browser and in a terminal alike.

From a `ChairSession` it makes one dictionary that says everything, as plain data for JSON, so that a screen
that was away needs only the newest; from an answer and a place, the words that every screen has for them. It
decides nothing, and holds no words that anybody said.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from listen.answer import Answer
from listen.chairside.handing import CHECKED_FIRST, ChairSettings, handing_line, read_back
from listen.chairside.roles import fetched_by
from listen.chairside.stage import Check, Stage
from listen.chairside.tray_state import Holding, start
from listen.chairside.whereabouts import UNTOUCHED, likely_corrections, whereabouts
from listen.chairside.wording import to_take_back
from vocab.pack.schema import Item, Pack, Tray

if TYPE_CHECKING:  # a presenter of answers needs no log
    from listen.chairside.session import ChairSession

READ_BACK = "Read back by the person responsible: {what}."
NOT_HERE = "not on this tray"
READY_P = 0.2
READY_SHOWN = 2
"""Items less likely than this are not announced, nor more than this many."""


def session_view(chair_session: ChairSession) -> dict[str, Any]:
    """Everything that a screen needs.

    `places` holds the items that are not where they were laid; `known` says of these in words where they are,
    with the likely corrections, and `untouched` the same of all others; `undo` is what would be taken back,
    with its number in the log, None where there is nothing; times are seconds.
    """
    pack, tray, state = chair_session.chair.pack, chair_session.chair.tray, chair_session.state
    laid = start(tray, pack)
    step, last = chair_session.step, state.last_standing
    stage, check, waiting = chair_session.stage, chair_session.check, chair_session.faculty_check
    moved = {item: held for item, held in state.holdings.items() if held != laid.holdings.get(item)}
    asked = state.asked_for
    return {
        "type": "room",
        "layout": layout(pack, tray),
        "number": stage.number,
        "events": len(state.events),
        "closed": chair_session.closed,
        "step": step.name if step else None,
        "stage": stage_view(
            stage, check, pack, tray, chair_session.settings, chair_session.now_s, chair_session.injury_card
        ),
        "latex_free": chair_session.latex_free,
        "undo": None if last is None else {"seq": last.seq, "what": to_take_back(last, pack)},
        "faculty": waiting.name if waiting else None,
        "next": [
            {"item": likely.item, **_guess(pack.item(likely.item), tray), "p": round(likely.p, 3)}
            for likely in chair_session.following
        ],
        "to_fetch": [
            {"item": likely.item, **_guess(pack.item(likely.item), tray), "p": round(likely.p, 3)}
            for likely in chair_session.to_fetch
        ],
        "places": {item: _place(held) for item, held in moved.items()},
        "known": {item: _known(whereabouts(held), held, item in asked) for item, held in moved.items()},
        "untouched": _known(UNTOUCHED, Holding(), False),
        "out": [
            {
                "item": item,
                "count": count,
                "name": _name(pack, item),
                "sharp": _sharp(pack, item),
            }
            for item, count in state.out.items()
        ],
        "said": chair_session.said,
        "missed": [
            {"item": item, "count": count, "name": _name(pack, item)} for item, count in state.missed.items()
        ],
        "timers": [
            {
                "name": timer.name,
                "left_s": round(timer.left_s(chair_session.now_s), 2),
                "length_s": timer.length_s,
            }
            for timer in chair_session.timers
        ],
    }


def layout(pack: Pack, tray: Tray | None) -> str:
    """A fingerprint of the slots, their items and names: a page drawn with another is out of date."""
    slots = tray.slots if tray else ()
    lies = [(s.at, s.item, s.count, s.variants, _name(pack, s.item)) for s in slots]
    return f"{zlib.crc32(repr(lies).encode()):08x}"


def stage_view(
    stage: Stage,
    check: Check | None,
    pack: Pack,
    tray: Tray | None,
    settings: ChairSettings,
    now_s: float,
    injury_card: Sequence[str] = (),
) -> dict[str, Any]:
    """The large part of the screen; `kind` is injury, check, answer, wait, note or idle.

    chosen: the index of the choice whose label is to be read back; lines: of the card after a needle stick.
    """
    choices = () if check is None else check.choices
    items = [pack.item(choice.item) for choice in choices]
    answers = [answer_view(answer, pack, tray, settings) for answer in stage.answers]
    kinds = {
        "injury": stage.injury,
        "check": bool(choices),
        "answer": bool(answers),
        "wait": stage.waiting,
        "note": bool(stage.note),
    }
    kind = next((kind for kind, shown in kinds.items() if shown), "idle")
    return {
        "kind": kind,
        "age_s": round(max(0.0, now_s - stage.at_s), 2),
        "answers": answers,
        "choices": [
            {"item": item.id, "size": choice.size, **_card(item, tray, choice.size)}
            for item, choice in zip(items, choices, strict=True)
        ],
        "chosen": None if check is None else check.chosen,
        "read_back": READ_BACK.format(what=read_back(items, pack.language))
        if any(item.always_check for item in items)
        else None,
        "warning": None if check is None else check.asked.warning,
        "lines": injury_card if stage.injury else (),
        "wait": [pack.item(item).name.text for item in stage.wait],
        "note": stage.note,
    }


def answer_view(answer: Answer, pack: Pack, tray: Tray | None, settings: ChairSettings) -> dict[str, Any]:
    """One answer; for an action without an item `item` is None."""
    item = pack.item(answer.item) if answer.item else None
    shown: dict[str, Any] = {
        "item": answer.item,
        "action": _in_words(answer.action),
        "end": _in_words(answer.end),
        "size": size_text(answer, pack),
        "quantity": answer.quantity,
        "instead_of": instead_of(answer, pack),
        "said": spoken_line(answer),
        "warning": answer.warning,
    }
    if item is not None:
        shown |= _card(item, tray, answer.size) | {
            "passing": handing_line(item, settings, pack.language),
            "elsewhere": None,
        }
        if tray is not None and shown["slot"] is None:
            shown["elsewhere"] = _elsewhere(item, pack)
    return shown


def size_text(answer: Answer, pack: Pack) -> str | None:
    """The variant as it is written ("W8A"), or how the size was asked for ("smaller size")."""
    if answer.size is None or answer.item is None:
        return answer.size
    known = [variant.text for variant in pack.item(answer.item).variants]
    return answer.size if answer.size in known else f"{answer.size} size"


def instead_of(answer: Answer, pack: Pack) -> str | None:
    """The name of the item that the answer takes back; None where it takes back none."""
    return pack.called[answer.replaces] if answer.replaces and answer.replaces != answer.item else None


def headline(answer: Answer, pack: Pack) -> str:
    """The answer without its place in one line: "load: 2 x amalgam carrier - large end"."""
    size = size_text(answer, pack) or ""
    words = (
        f"{answer.quantity} x" if answer.quantity and answer.item else "",
        answer.name or "",
        size if size == (answer.size or "") else f"- {size}",
        f"- {_in_words(answer.end)} end" if answer.end else "",
    )
    named = " ".join(filter(None, words)).removeprefix("- ")
    return ": ".join(filter(None, (_in_words(answer.action), named)))


def question(choices: Sequence[object]) -> str:
    """What a check asks."""
    return "CHECK" if len(choices) == 1 else "WHICH ONE?"


def choice_name(name: str, size: str | None) -> str:
    """One thing that a check offers: "DAM CLAMP W8A"."""
    return " ".join(filter(None, (name.upper(), size)))


def wait_line(names: Sequence[str]) -> str:
    """What is not wanted now: "WAIT: not the etchant"."""
    return f"WAIT: not the {', '.join(names)}" if names else "WAIT"


def with_place(item: Item, tray: Tray | None) -> str:
    """An item that is likely next, with its address: "wedge (9)"; see `likely_at`."""
    where = likely_at(item, tray)
    return f"{item.name.text} ({where})" if where else item.name.text


def likely_at(item: Item, tray: Tray | None) -> str | None:
    """Where an item lies that is likely next; no place is given for one that is always checked."""
    return CHECKED_FIRST if item.always_check else tray.slot_of(item.id) if tray else None


def get_ready(
    expected: Sequence[tuple[str, float]], pack: Pack, tray: Tray | None, least_p: float = READY_P
) -> str | None:
    """ "Get ready: wedge (slot 9), matrix band (slot 8)." from ids with their probabilities, likeliest first.

    None where nothing is likely enough: stating guesses gets a tool switched off.
    """
    items = [pack.item(item) for item, p in expected[:READY_SHOWN] if p >= least_p]
    named = [
        item.name.text + (f" ({place_name(at)})" if (at := likely_at(item, tray)) else "") for item in items
    ]
    return f"Get ready: {', '.join(named)}." if named else None


def spoken_line(answer: Answer) -> str:
    """What the voice says, in as few words as will do: "cotton pliers, slot 5"."""
    what = " ".join(filter(None, (_in_words(answer.action), answer.name)))
    if answer.item and answer.size:
        what = f"{what} {_in_words(answer.size)}"
    many = f"{answer.quantity} " if answer.quantity and answer.quantity > 1 else ""
    return f"{many}{what}, {place_name(answer.slot)}" if answer.slot and answer.item else f"{many}{what}"


def place_name(at: str | None) -> str:
    """An address in words: "slot 5", or the name of the place: "bur kit 3", "light holder"."""
    return "" if at is None else f"slot {at}" if at.replace(" ", "").isdigit() else at


def _card(item: Item, tray: Tray | None, size: str | None = None) -> dict[str, Any]:
    variant = size if any(variant.text == size for variant in item.variants) else None
    at = tray.slot_of(item.id, variant) if tray else None
    return {
        "name": item.name.text,
        "slot": at,
        "place": place_name(at),
        "by": fetched_by(tray, at).value,
        "sharp": item.sharp,
        "counted": item.counted,
        "always_check": item.always_check,
    }


def _guess(item: Item, tray: Tray | None) -> dict[str, Any]:
    """What is likely next; no place is given for an item that is always checked."""
    card = _card(item, tray)
    return card | {"slot": None, "place": likely_at(item, tray)} if item.always_check else card


def _place(held: Holding) -> dict[str, int]:
    shown = {
        "clean": held.clean,
        "out": held.out,
        "in_mouth": held.in_mouth,
        "back": held.back,
        "dropped": held.dropped,
        "broken": held.broken,
        "used_up": held.used_up,
        "to_wipe": held.to_wipe,
        "to_replace": held.to_replace,
    }
    return {what: count for what, count in shown.items() if count}


def _known(sentence: str, held: Holding, asked: bool) -> dict[str, Any]:
    return {"sentence": sentence, "likely": [asdict(one) for one in likely_corrections(held, asked)]}


def _elsewhere(item: Item, pack: Pack) -> str:
    on = [f"{tray.name}, {place_name(at)}" for tray in pack.trays if (at := tray.slot_of(item.id))]
    if on:
        return f"Not on this tray; on {on[0]}."
    field = pack.beyond.get(item.id)
    return f"Not on this tray; used in {field}." if field else "On no tray in this list."


def _in_words(identifier: str | None) -> str | None:
    return identifier.replace("_", " ") if identifier else None


def _sharp(pack: Pack, item: str) -> bool:
    return item in pack.by_id and pack.item(item).sharp


def _name(pack: Pack, item: str) -> str:
    return pack.called.get(item) or item.replace("_", " ")
