"""Drawings and cards for pages, whatever of them this installation has.

Comes in: items, trays and their pack. Goes out: SVG text that needs no script and no style, or a PDF. An
item without a drawing gets a plain frame.
"""

from __future__ import annotations

import importlib
from functools import lru_cache
from types import ModuleType
from typing import Literal

from markupsafe import Markup, escape

from listen.web.settings import WebError
from vocab.schema import Item, Pack, Tray

Paper = Literal["a4", "letter"]


class NoCard(WebError):
    """The card cannot be made here."""


@lru_cache(maxsize=1)
def _drawings() -> ModuleType | None:
    try:
        return importlib.import_module("vocab.drawings")
    except ImportError:
        return None


@lru_cache(maxsize=2048)
def picture(item: Item) -> Markup:
    """The drawing as one SVG element, hidden from screen readers (its name stands beside it)."""
    module = _drawings()
    svg = ""
    if module is not None:
        try:
            svg = module.drawing(item.id, item.name.text, item.item_class)
        except TypeError:
            svg = module.drawing(item.id) if item.id in getattr(module, "ITEMS", {}) else ""
        except (KeyError, AttributeError):
            svg = ""
    return Markup(svg or _frame(item)).replace("<svg ", Markup('<svg aria-hidden="true" '), 1)


def symbols(pack: Pack) -> Markup:
    """Every drawing of a pack once, to be shown with `<use href="#d-ID">`."""
    parts = [
        Markup('<symbol id="d-{}" viewBox="0 0 160 100">{}</symbol>').format(item.id, picture(item))
        for item in pack.items
    ]
    return Markup("").join(parts)


def card_svg(pack: Pack, tray: Tray, paper: Paper) -> str:
    """A printable card of a tray."""
    return str(_card("tray_card")(pack, tray, paper))


def card_pdf(pack: Pack, tray: Tray, paper: Paper) -> bytes:
    """The same as PDF."""
    return bytes(_card("tray_card_pdf")(pack, tray, paper))


def _card(name: str):  # type: ignore[no-untyped-def]
    make = getattr(_drawings(), name, None)
    if make is None:
        raise NoCard("printable cards are not part of this installation.")
    return make


def _frame(item: Item) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 100" fill="none" stroke="currentColor" '
        f'stroke-width="2.5"><title>{escape(item.name.text)}</title>'
        '<rect x="40" y="25" width="80" height="50" rx="8"/></svg>'
    )
