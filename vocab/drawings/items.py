"""Finds the drawing of an item: its own, or the stand-in of its class."""

from __future__ import annotations

from vocab.drawings import (
    anaesthesia,
    burs,
    consumables,
    cutting,
    examination,
    finishing,
    handpieces,
    isolation,
    materials,
    matrix,
    placing,
    spanish,
    surgery,
)
from vocab.drawings.fallback import BY_CLASS, UNKNOWN
from vocab.drawings.shapes import Drawing
from vocab.pack.schema import ItemClass

_ENGLISH: dict[str, Drawing] = {
    **examination.DRAWINGS,
    **isolation.DRAWINGS,
    **anaesthesia.DRAWINGS,
    **cutting.DRAWINGS,
    **placing.DRAWINGS,
    **matrix.DRAWINGS,
    **materials.DRAWINGS,
    **handpieces.DRAWINGS,
    **burs.DRAWINGS,
    **finishing.DRAWINGS,
    **consumables.DRAWINGS,
    **surgery.DRAWINGS,
}

OWN: dict[str, Drawing] = {**_ENGLISH, **spanish.spanish(_ENGLISH)}
"""Every item that has a drawing of its own, by id."""


def drawing_of(item_id: str, item_class: ItemClass | None = None) -> Drawing:
    """The marks that show an item."""
    if item_id in OWN:
        return OWN[item_id]
    return UNKNOWN if item_class is None else BY_CLASS[item_class]
