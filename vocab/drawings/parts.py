"""Parts that many items share: handles, both ends of an instrument, pliers, syringes, bottles.

Each function takes sizes and places in the drawing field and gives marks. Items of one kind use the same
part at the same size, so that only what tells them apart differs.
"""

from __future__ import annotations

from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Point,
    arc,
    area,
    box,
    curve,
    dot,
    ellipse,
    joined,
    line,
    mirrored,
    moved,
    taper,
)

NECK: Point = (46, 50)
"""Where the shank leaves a handle that lies in the middle of the field."""


def handle(y: float = NECK[1], thick: float = 18, end: float = NECK[0]) -> Drawing:
    """A knurled handle coming in from the left; it tapers to a shank that starts at (end, y)."""
    half = thick / 2
    body = joined(
        curve((3, y - half), (end - 12, y - half)),
        curve((end, y - 3), (end, y + 3)),
        curve((end - 12, y + half), (3, y + half)),
    )
    grip = [line((x, y - half + 3), (x + 4, y + half - 3), width=FINE) for x in (9, 15, 21, 27)]
    return (body, *grip)


def shank(*points: Point, start: float = 6, end: float = 4) -> Drawing:
    """The solid steel stem between handle and working end."""
    return (taper(*points, start=start, end=end),)


def two_ends(upper: Drawing, lower: Drawing) -> Drawing:
    """Both working ends of one instrument, one above the other, each drawn round the middle of the field."""
    return (*_lane(upper, -25), *_lane(lower, 25), line((6, 50), (154, 50), width=FINE))


def _lane(end: Drawing, dy: float) -> Drawing:
    return (*moved(handle(thick=13), 0, dy), *moved(end, 0, dy))


def pliers(beak: Drawing) -> Drawing:
    """Hinged pliers, handles to the left and hinge at (84, 50); `beak` is the upper one and is mirrored."""
    grip = joined(
        curve((4, 10), (40, 14), (66, 30), (84, 44)),
        curve((78, 52), (58, 38), (36, 24), (4, 20)),
    )
    return (grip, *mirrored((grip,), y=50), dot(84, 50, 9), *beak, *mirrored(beak, y=50))


def tweezers(upper: Drawing, lower: Drawing) -> Drawing:
    """Two arms that meet in a rounded spring at the left."""
    return (arc(14, 50, 8, 90, 270), *upper, *lower)


def syringe(contents: Fill, tip: Drawing, label: Drawing = ()) -> Drawing:
    """A small material syringe: plunger to the left, barrel in the middle, `tip` from (112, 50) on."""
    return (
        line((6, 34), (6, 66)),
        line((6, 44), (24, 44)),
        line((6, 56), (24, 56)),
        line((24, 26), (24, 74)),
        joined(curve((30, 34), (100, 34)), curve((112, 45), (112, 55)), curve((100, 66), (30, 66))),
        box(30, 34, 70, 32, 2, contents, FINE),
        *label,
        *tip,
    )


def bottle(x: float = 80, wide: float = 44, contents: Fill = Fill.TINT) -> Drawing:
    """A small bottle standing at the lower edge, its shoulder at y = 44; the closure is added by the item."""
    left, right = x - wide / 2, x + wide / 2
    return (
        joined(
            curve((x - 9, 36), (x - 9, 42), (left + 3, 48), (left, 56)),
            curve((left, 92), (left + 4, 96)),
            curve((right - 4, 96), (right, 92)),
            curve((right, 56), (right - 3, 48), (x + 9, 42), (x + 9, 36)),
            fill=contents,
        ),
    )


def paste_tube(x: float, wide: float = 30) -> Drawing:
    """A squeezed tube of paste standing on its cap."""
    left, right = x - wide / 2, x + wide / 2
    return (
        area((left - 3, 8), (right + 3, 8), (right + 3, 14), (left - 3, 14)),
        joined(
            curve((left - 3, 14), (left, 40), (x - 9, 70)), curve((x + 9, 70), (right, 40), (right + 3, 14))
        ),
        area((x - 8, 72), (x + 8, 72), (x + 11, 92), (x - 11, 92), fill=Fill.TINT),
        line((x - 5, 76), (x - 6, 88), width=FINE),
        line((x, 76), (x, 88), width=FINE),
        line((x + 5, 76), (x + 6, 88), width=FINE),
    )


def sheet(x: float, y: float, w: float, h: float, corner: float = 14, fill: Fill = Fill.NONE) -> Drawing:
    """A flat sheet whose lower right corner is turned up."""
    right, low = x + w, y + h
    return (
        area((x, y), (right, y), (right, low - corner), (right - corner, low), (x, low), fill=fill),
        area((right, low - corner), (right - corner, low - corner), (right - corner, low), width=FINE),
    )


def hose(*points: Point) -> Drawing:
    """A supply hose, ribbed."""
    return (curve(*points, width=5),)


def cup(x: float, top: float, low: float, wide: float, narrow: float, fill: Fill = Fill.NONE) -> Drawing:
    """An open round vessel seen a little from above, `wide` at the brim and `narrow` at the base."""
    return (
        ellipse(x, top, wide / 2, wide / 9),
        joined(
            curve((x - wide / 2, top), (x - narrow / 2, low)),
            curve((x - narrow / 2, low), (x, low + narrow / 9), (x + narrow / 2, low)),
            curve((x + narrow / 2, low), (x + wide / 2, top)),
            curve((x + wide / 2, top), (x, top + wide / 9), (x - wide / 2, top)),
            fill=fill,
        ),
    )
