"""Finds the drawing of an item: its pack's own, a shipped one of the same id, or the stand-in of its class.

The drawings are SVG files, read when they are first asked for. In a stand-in what is known of the item is
drawn in full lines (a handle, a shank, a tube); the part that would tell it apart is left open in dashes, so
that a stand-in is never taken for an item that has its own drawing.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from vocab.pack.drawing_file import ENDING, read_drawing
from vocab.pack.load import COMMON, DRAWINGS, SHIPPED, shipped_names
from vocab.pack.schema import ItemClass
from vocab.pack.shapes import Drawing

STAND_INS, UNKNOWN = "stand_ins", "unknown"
"""The folder of the stand-ins, and the name of the one for an item of which nothing is known."""


def drawing_of(item_id: str, item_class: ItemClass | None = None, own: Drawing | None = None) -> Drawing:
    """The marks that show an item; `own` is the drawing that its pack brings, if any."""
    if own is not None:
        return own
    if item_id in shipped_drawings():
        return _shipped(item_id)
    return stand_in(item_class)


@cache
def stand_in(item_class: ItemClass | None) -> Drawing:
    """The marks for an item of this class without a drawing."""
    name = UNKNOWN if item_class is None else item_class.name.lower()
    return _read(resources.files("vocab.drawings").joinpath(STAND_INS, name + ENDING))


@cache
def shipped_drawings() -> dict[str, Traversable]:
    """The files of the drawings that come with the tool, by item id; the shipped packs share them."""
    names = (COMMON, *shipped_names())
    packs = (resources.files("vocab").joinpath(SHIPPED, name, DRAWINGS) for name in names)
    files = (file for folder in packs if folder.is_dir() for file in folder.iterdir())
    return {file.name.removesuffix(ENDING): file for file in files if file.name.endswith(ENDING)}


@cache
def _shipped(item_id: str) -> Drawing:
    return _read(shipped_drawings()[item_id])


def _read(file: Traversable) -> Drawing:
    with resources.as_file(file) as path:
        return read_drawing(path)
