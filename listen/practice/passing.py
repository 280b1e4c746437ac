"""Ways to pass an item: the one that the pack says, and others that differ from it in one thing.

Takes an item's `Handing`; gives each way under a mark of what makes it different ("grasp=palm"), the right
one first. A way differs only in what the pack says about this item. Laying something into a neutral zone,
which local rules may ask for anywhere, is never offered as a wrong way.
"""

from __future__ import annotations

from collections.abc import Iterator

from listen.chairside.handing import Arch, passing
from vocab.pack.schema import Exchange, Facing, Grasp, Handing, Item, ItemClass, TakenBy, TakingHand

RIGHT_WAY = "as it is passed"
FEWEST_WAYS = 3
"""Fewer are no question."""


def is_passed(item: Item) -> bool:
    """Whether how it is passed can be asked: the operator takes it, nothing has to be checked first, and the
    pack says enough about it."""
    ordinary = not item.always_check and item.item_class is not ItemClass.ANAESTHESIA
    taken = item.handing is not None and item.handing.taken_by is TakenBy.OPERATOR
    return ordinary and taken and len(ways_to_pass(item, "upper", "en")) >= FEWEST_WAYS


def ways_to_pass(item: Item, arch: Arch, language: str) -> dict[str, str]:
    """Phrases by mark, the right one (`RIGHT_WAY`) first, for a tooth in this arch; {} for none."""
    right = item.handing
    text = None if right is None else passing(right, arch, language)
    if right is None or text is None:
        return {}
    said = {RIGHT_WAY: text}
    for mark, other in _others(right):
        phrase = passing(other, arch, language)
        if phrase is not None and phrase not in said.values():
            said[mark] = phrase
    return said


def _others(right: Handing) -> Iterator[tuple[str, Handing]]:
    """The same in each other hand, grasp, exchange and direction, of what is filled in."""
    if right.faces is not None:
        for faces in Facing:
            if faces is not right.faces:
                yield f"faces={faces}", right.model_copy(update={"faces": faces})
    if right.hand is not None:
        for hand in TakingHand:
            if hand is not right.hand:
                yield f"hand={hand}", right.model_copy(update={"hand": hand})
    if right.exchange is not None:
        for exchange in (Exchange.ONE_HAND, Exchange.TWO_HANDS):
            if exchange is not right.exchange:
                yield f"exchange={exchange}", right.model_copy(update={"exchange": exchange})
    if right.grasp is not None:
        for grasp in Grasp:
            if grasp is not right.grasp:
                yield f"grasp={grasp}", right.model_copy(update={"grasp": grasp})
    if right.offered is not None and right.part is not None:
        turned = {"offered": right.part, "part": right.offered}
        yield "turned", right.model_copy(update=turned)
