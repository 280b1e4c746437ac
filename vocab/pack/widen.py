"""One field's vocabulary widened with the items of all others.

Takes packs of one language and gives the first one with what only the others have: their items, their names
for what it has itself, and their pairs. Trays and procedures stay those of its own field. What came from
elsewhere is in `Pack.beyond`, and seldom expected.
"""

from __future__ import annotations

from collections.abc import Iterable

from vocab.pack.references import normalised
from vocab.pack.schema import Item, Pack


def widened(pack: Pack, others: Iterable[Pack]) -> Pack:
    """The pack with the items, names and pairs that only other fields have.

    An item of the same id is the same item; a name that another field gives to it is added, unless the pack
    already has that name.
    """
    items = dict(pack.by_id)
    known = {normalised(name.text) for item in pack.items for name in item.names}
    beyond = dict(pack.beyond)
    pairs, together = dict.fromkeys(pack.wide_margin), dict.fromkeys(pack.offered_together)
    for other in others:
        for item in other.items:
            held = items.get(item.id)
            if held is None:
                beyond[item.id] = other.beyond.get(item.id, other.name)
            items[item.id] = item if held is None else _with_names(held, item, known)
        pairs |= dict.fromkeys(other.wide_margin)
        together |= dict.fromkeys(other.offered_together)
    wide = pack.model_copy(
        update={
            "items": tuple(items.values()),
            "wide_margin": tuple(pairs),
            "offered_together": tuple(together),
        }
    )
    wide._beyond = beyond
    return wide


def _with_names(held: Item, other: Item, known: set[str]) -> Item:
    new = tuple(name for name in other.own_names if normalised(name.text) not in known)
    known.update(normalised(name.text) for name in new)
    return held.model_copy(update={"synonyms": (*held.synonyms, *new)}) if new else held
