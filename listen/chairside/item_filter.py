"""Which items of a vocabulary fit what somebody looks for in the list of all items.

Takes a chair, the filters and, where a dentist is chosen, that dentist's vocabulary; gives ids. Every filter
that is left empty fits every item.
"""

from __future__ import annotations

from dataclasses import dataclass

from listen.chair import Chair
from vocab.pack.schema import Item, Pack


@dataclass(frozen=True)
class ItemFilter:
    """What is looked for.

    text: letters of any name; kind: an `ItemClass` by its value; used: "tray ID" or "procedure ID"; sharp:
    only what is sharp.
    """

    text: str = ""
    kind: str = ""
    used: str = ""
    sharp: bool = False


def fitting(chair: Chair, wanted: ItemFilter, dentists: Pack | None = None) -> tuple[str, ...]:
    """The ids of the items that fit, as the pack lists them.

    Args:
        dentists: a dentist's vocabulary; only items that have a name of their own in it fit.
    """
    pack = chair.pack
    named = _named(chair, wanted.text) if wanted.text.strip() else None
    used = _used(pack, wanted.used) if wanted.used else None
    return tuple(
        item.id
        for item in pack.items
        if (named is None or item.id in named)
        and (not wanted.kind or item.item_class.value == wanted.kind)
        and (used is None or item.id in used)
        and (item.sharp or not wanted.sharp)
        and (dentists is None or _has_own_name(item, dentists))
    )


def _named(chair: Chair, text: str) -> frozenset[str]:
    return frozenset(one.item for one in chair.suggester.suggest(text, len(chair.pack.items)))


def _used(pack: Pack, where: str) -> frozenset[str]:
    """What lies on a tray, or is asked for in a procedure; nothing for one that does not exist."""
    kind, _, name = where.partition(" ")
    trays = (tray for tray in pack.trays if kind == "tray" and tray.id == name)
    procedures = (one for one in pack.procedures if kind == "procedure" and one.id == name)
    laid = {slot.item for tray in trays for slot in tray.slots}
    asked = {
        item
        for one in procedures
        for items in (one.any_time, *(step.items for step in one.steps))
        for item in items
    }
    return frozenset(laid | asked)


def _has_own_name(item: Item, pack: Pack) -> bool:
    theirs = pack.by_id.get(item.id)
    usual = {name.text for name in item.names}
    return theirs is not None and any(name.text not in usual for name in theirs.names)
