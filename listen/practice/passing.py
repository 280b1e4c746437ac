"""Ways to pass an item: as the pack says, and others that differ from it, as sketches to choose from.

Takes an item's `Handing`; gives what can be asked about it (`aspects`) and some ways, each under a mark of
what makes it wrong ("grasp=palm"). Two aspects are asked about together where there are two, and every
combination is shown, so that no way stands out by what it has in common with the others. Laying something
into a neutral zone, which local rules may ask for anywhere, is never offered as a wrong way.

Hands, grasps, ends and exchanges are the pack's. That things change hands low over the chest and never over
the face, and by which hand, is common practice (four-handed dentistry), no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from listen.chairside.handing import Arch, passing
from listen.practice.wordings import Wordings
from vocab.pack.schema import Exchange, Facing, Grasp, Handing, Item, ItemClass, TakenBy, TakingHand

RIGHT_WAY = "as it is passed"
FEWEST_OTHERS = 2
"""With fewer other ways nothing is asked."""
WHERE, OVER_CHEST = "where", "where=chest"


@dataclass(frozen=True)
class Aspect:
    """One thing about passing, with values as `listen.practice.sketches` names them."""

    name: str
    right: str
    wrong: tuple[str, ...]

    @property
    def every(self) -> tuple[str, ...]:
        """All values, the right one first."""
        return (self.right, *self.wrong)


@dataclass(frozen=True)
class Way:
    """A way to pass something. mark: `RIGHT_WAY`, or what is wrong about it; sketches: which show it;
    caption: what they show, in a few words; alt: each of them in words."""

    mark: str
    sketches: tuple[str, ...]
    caption: str
    alt: tuple[str, ...]


def is_passed(item: Item) -> bool:
    """Whether how it is passed can be asked: the operator takes it, nothing has to be checked first, and the
    pack says enough about it."""
    handing = item.handing
    if handing is None or handing.taken_by is not TakenBy.OPERATOR or passing(handing, "upper") is None:
        return False
    others = sum(len(one.wrong) for one in aspects(handing, "upper") if one.name != WHERE)
    return not item.always_check and item.item_class is not ItemClass.ANAESTHESIA and others >= FEWEST_OTHERS


def aspects(handing: Handing, arch: Arch) -> tuple[Aspect, ...]:
    """What can be asked about passing it for a tooth in this arch: what the pack says."""
    found: list[Aspect] = []
    neutral = handing.exchange is Exchange.NEUTRAL_ZONE
    if handing.faces is not None:
        up = (arch == "upper") is (handing.faces is Facing.TEETH)
        right, wrong = ("up", "down") if up else ("down", "up")
        found.append(Aspect("faces", right, (wrong,)))
    if handing.hand is not None and not neutral:
        found.append(Aspect("hand", handing.hand, _others(TakingHand, handing.hand)))
    if handing.exchange is not None:
        others = _others(Exchange, handing.exchange)
        found.append(
            Aspect("exchange", handing.exchange, tuple(one for one in others if one != Exchange.NEUTRAL_ZONE))
        )
    if handing.grasp is not None:
        found.append(Aspect("grasp", handing.grasp, _others(Grasp, handing.grasp)))
    if handing.offered is not None and handing.part is not None and not neutral:
        found.append(Aspect("end", "offered", ("part",)))
    if handing.faces is not None and not neutral and not handing.out_of_sight:
        found.append(Aspect(WHERE, "chest", ("face",)))
    return tuple(found)


def ways_to_pass(
    handing: Handing, asked: Sequence[Aspect], words: Wordings, rng: np.random.Generator
) -> tuple[Way, ...]:
    """The right way first, then others, that differ in one or both of the aspects that are asked about.

    Args:
        asked: one, all of whose values are shown, or two, of which one wrong value each is drawn.
    """
    if len(asked) == 1:
        values = [asked[0].every]
    else:
        values = [(one.right, one.wrong[int(rng.integers(len(one.wrong)))]) for one in asked]
    return tuple(_way(handing, asked, chosen, words) for chosen in product(*values))


def drawn(handing: Handing, arch: Arch, rng: np.random.Generator) -> tuple[Aspect, ...]:
    """Two aspects to ask about, or the only one."""
    known = aspects(handing, arch)
    return tuple(known[int(i)] for i in sorted(rng.permutation(len(known))[:2]))


def _way(handing: Handing, asked: Sequence[Aspect], chosen: Sequence[str], words: Wordings) -> Way:
    sketches = tuple(f"{one.name}={value}" for one, value in zip(asked, chosen, strict=True))
    wrong = [name for name, one, value in zip(sketches, asked, chosen, strict=True) if value != one.right]
    said = [
        tuple(text.format(offered=handing.offered, part=handing.part) for text in words.sketches[name])
        for name in sketches
    ]
    return Way(
        ", ".join(wrong) or RIGHT_WAY,
        sketches,
        ", ".join(caption for caption, _ in said),
        tuple(alt for _, alt in said),
    )


def _others(values: type[TakingHand] | type[Exchange] | type[Grasp], but: str) -> tuple[str, ...]:
    return tuple(value for value in values if value != but)
