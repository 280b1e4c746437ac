"""Simple line drawings of what lies on a tray, and printable cards of whole trays, all drawn here.

Takes an item's id, name and class, or a pack and one of its trays, and gives SVG text or a PDF. It reads
no file but its typeface and uses no outside artwork. A drawing never replaces reading a label.
"""

from __future__ import annotations

from vocab.drawings.items import OWN, drawing_of
from vocab.drawings.layout import CardError, Paper, lay_out
from vocab.drawings.pdf import card_pdf
from vocab.drawings.svg import card_svg, picture
from vocab.pack.schema import ItemClass, Pack, Tray

__all__ = ["CardError", "Paper", "drawing", "has_drawing", "tray_card", "tray_card_pdf"]


def drawing(item_id: str, title: str = "", item_class: ItemClass | None = None) -> str:
    """An item's working end as SVG in the colour of the text around it, viewBox 0 0 160 100.

    `title` is the preferred name, read out by a screen reader (the id where none is given). An item without
    its own drawing gets the stand-in of its class.
    """
    return picture(drawing_of(item_id, item_class), title or item_id)


def has_drawing(item_id: str) -> bool:
    """Whether an item has a drawing of its own rather than a stand-in."""
    return item_id in OWN


def tray_card(pack: Pack, tray: Tray, paper: Paper = "A4") -> str:
    """A tray as it lies, as one SVG in landscape format, its pages one below the other.

    Raises `CardError` for an unknown paper size.
    """
    return card_svg(lay_out(pack, tray, paper))


def tray_card_pdf(pack: Pack, tray: Tray, paper: Paper = "A4") -> bytes:
    """The same card as a PDF to print; equal trays give equal bytes.

    Raises `CardError` for an unknown paper size and for letters a PDF cannot show.
    """
    return card_pdf(lay_out(pack, tray, paper))
