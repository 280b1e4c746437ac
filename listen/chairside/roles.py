"""Who fetches what, where two assistants work: one at the chair, one who goes about the room.

It takes a tray and an address on it. What lies on the tray or at the chair is within the chairside
assistant's reach; what stands on the counter, or is not on this tray at all, the roving assistant fetches.
Both see the same session; only what stands large on their screens differs.
"""

from __future__ import annotations

from enum import StrEnum

from vocab.pack.schema import KitPlace, Tray


class Role(StrEnum):
    """Whose screen it is, and who fetches a thing."""

    CHAIRSIDE = "chairside"
    ROVING = "roving"


def fetched_by(tray: Tray | None, at: str | None) -> Role:
    """Who fetches what lies at an address, None for what is not on this tray; without a tray it is always the
    chairside assistant."""
    if tray is None:
        return Role.CHAIRSIDE
    return Role.ROVING if at is None or at in _on_the_counter(tray) else Role.CHAIRSIDE


def within_reach(tray: Tray) -> frozenset[str]:
    """The items on the tray and at the chair."""
    far = _on_the_counter(tray)
    return frozenset(slot.item for slot in tray.slots if slot.at not in far)


def _on_the_counter(tray: Tray) -> frozenset[str]:
    kits = (kit for kit in tray.opened if kit.place is KitPlace.COUNTER)
    return frozenset(slot.at for kit in kits for slot in kit.on_tray)
