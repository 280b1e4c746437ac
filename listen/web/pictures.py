"""Drawings for pages.

Comes in: items and their pack. Goes out: SVG elements that need no script and no style.
"""

from __future__ import annotations

from functools import lru_cache

from markupsafe import Markup

from vocab.drawings import drawing
from vocab.pack.schema import Item, Pack


@lru_cache(maxsize=2048)
def picture(item: Item) -> Markup:
    """The drawing as one SVG element, hidden from screen readers (its name stands beside it)."""
    svg = drawing(item.id, item.name.text, item.item_class)
    return Markup(svg.replace("<svg ", '<svg aria-hidden="true" ', 1))


def symbols(pack: Pack) -> Markup:
    """Every drawing of a pack once, to be shown with `<use href="#d-ID">`."""
    one = Markup('<symbol id="d-{}" viewBox="0 0 160 100">{}</symbol>')
    return Markup("").join(one.format(item.id, picture(item)) for item in pack.items)
