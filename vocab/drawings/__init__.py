"""Simple line drawings of what lies on a tray, and printable cards of whole trays.

Takes an item's id, name and class, or a pack and one of its trays, and gives SVG text or a PDF. What an item
looks like stands in SVG files with the packs (`vocab.pack.drawing_file`). A drawing never replaces reading
a label.
"""

from __future__ import annotations

from collections.abc import Sequence

from vocab.drawings.items import drawing_of
from vocab.drawings.layout import CardError, Paper, lay_out
from vocab.drawings.pdf import cards_pdf
from vocab.drawings.svg import card_svg, picture
from vocab.pack.schema import ItemClass, Pack, Tray
from vocab.pack.shapes import Drawing

__all__ = ["CardError", "Paper", "drawing", "tray_card", "tray_card_pdf", "tray_cards_pdf"]


def drawing(
    item_id: str, title: str = "", item_class: ItemClass | None = None, own: Drawing | None = None
) -> str:
    """An item's working end as SVG in the colour of the text around it, viewBox 0 0 160 100.

    `title` is the preferred name, read out by a screen reader (the id where none is given). `own` is
    `Item.drawing`; without it an item is drawn as the shipped one of its id, or else gets the stand-in of its
    class.
    """
    return picture(drawing_of(item_id, item_class, own), title or item_id)


def tray_card(pack: Pack, tray: Tray, paper: Paper = "A4") -> str:
    """A tray as it lies, as one SVG in landscape format, its pages one below the other.

    Raises `CardError` for an unknown paper size.
    """
    return card_svg(lay_out(pack, tray, paper))


def tray_card_pdf(pack: Pack, tray: Tray, paper: Paper = "A4") -> bytes:
    """The same card as a PDF to print; equal trays give equal bytes.

    Raises `CardError` for an unknown paper size and for letters a PDF cannot show.
    """
    return tray_cards_pdf([(pack, tray)], paper)


def tray_cards_pdf(laid: Sequence[tuple[Pack, Tray]], paper: Paper = "A4") -> bytes:
    """The cards of several trays, one after the other in one PDF; each begins a page.

    Raises `CardError` as `tray_card_pdf`.
    """
    return cards_pdf([lay_out(pack, tray, paper) for pack, tray in laid])
