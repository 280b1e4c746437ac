"""Stand-in drawings for items a clinic adds, one for each class.

What is known of the item is drawn in full lines (a handle, a shank, a tube); the part that would tell it
apart is left open in dashes, so that a stand-in is never taken for an item that has its own drawing.
"""

from __future__ import annotations

import math

from vocab.drawings.burs import AXIS, START, latch
from vocab.drawings.parts import handle, shank
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Point,
    arc,
    area,
    box,
    circle,
    curve,
    dashed,
    ellipse,
    line,
    tube,
)
from vocab.pack.schema import ItemClass


def _ring(x: float, y: float, r: float) -> Drawing:
    spots = range(0, 360, 20)
    return dashed(*((x + r * math.cos(math.radians(a)), y + r * math.sin(math.radians(a))) for a in spots))


def _open_box(x: float, y: float, w: float, h: float) -> Drawing:
    return dashed((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def _held(*end: Point) -> Drawing:
    return (*handle(), *shank((46, 50), (76, 48), (94, 42)), *dashed(*end))


UNKNOWN: Drawing = _open_box(30, 14, 100, 72)
"""For an item of which nothing is known."""

BY_CLASS: dict[ItemClass, Drawing] = {
    ItemClass.EXAMINATION: (*handle(), *shank((46, 50), (76, 48), (94, 42)), *_ring(120, 38, 24)),
    ItemClass.ISOLATION: (box(20, 8, 120, 84, 10), *_ring(80, 50, 26)),
    ItemClass.ANAESTHESIA: (
        line((8, 34), (8, 66)),
        line((8, 50), (34, 50)),
        box(34, 34, 80, 32, 3),
        line((114, 50), (152, 50), width=FINE),
        *_open_box(46, 41, 56, 18),
    ),
    ItemClass.HAND_CUTTING: _held((96, 30), (150, 44), (104, 70)),
    ItemClass.PLACING: _held((98, 24), (148, 24), (148, 74), (98, 74)),
    ItemClass.MATRIX: (arc(80, 50, 40, 40, 320), *_ring(80, 50, 24)),
    ItemClass.ADHESIVE: (
        box(54, 34, 52, 62, 8),
        box(68, 14, 24, 20, 2),
        *_open_box(62, 48, 36, 36),
    ),
    ItemClass.MATERIAL: (
        ellipse(80, 24, 46, 11),
        curve((34, 24), (38, 88), (80, 96), (122, 88), (126, 24)),
        *_open_box(52, 48, 56, 30),
    ),
    ItemClass.EVACUATION: (
        tube((4, 80), (50, 76), (90, 56), (110, 40), start=16, end=16),
        *_ring(130, 26, 20),
    ),
    ItemClass.HANDPIECE: (tube((4, 50), (60, 50), (104, 42), start=32, end=18), *_ring(130, 42, 24)),
    ItemClass.BUR: (
        area(
            (4, AXIS - 16), (40, AXIS - 16), (56, AXIS - 6), (56, AXIS + 6), (40, AXIS + 16), (4, AXIS + 16)
        ),
        *_open_box(START, AXIS - 14, 70, 28),
    ),
    ItemClass.FINISHING: (*latch(14), *_open_box(START, AXIS - 22, 70, 44)),
    ItemClass.CONSUMABLE: (
        area((22, 34), (52, 14), (138, 14), (108, 34)),
        area((108, 34), (138, 14), (138, 66), (108, 90)),
        *dashed((22, 34), (108, 34), (108, 90), (22, 90)),
    ),
    ItemClass.PROTECTIVE: (
        circle(80, 28, 20),
        curve((34, 96), (40, 68), (64, 56)),
        curve((96, 56), (120, 68), (126, 96)),
        *_open_box(56, 64, 48, 30),
    ),
    ItemClass.SURGICAL: (
        box(4, 40, 84, 20, 6),
        line((88, 50), (100, 50), width=6),
        *dashed((100, 36), (154, 36), (154, 40), (130, 64), (100, 64)),
    ),
}
