"""What a drawing is made of, in a field 160 wide and 100 high, x to the right and y down.

Takes points, sizes and angles, in field units and degrees (clockwise as seen), and gives frozen marks whose
outlines are straight and cubic segments only, so that any page format can draw them. It knows nothing of
dentistry or of file formats.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

WIDTH, HEIGHT = 160.0, 100.0
"""The field every drawing is made in."""

LINE, FINE = 2.5, 1.3
"""Stroke widths: outlines, and detail inside them."""

Point = tuple[float, float]


class Fill(StrEnum):
    """How the inside of a shape looks; only the current colour is ever used."""

    NONE = "none"
    TINT = "tint"
    SOLID = "solid"


@dataclass(frozen=True)
class Segment:
    """One pen movement: M(ove) and L(ine) have one point, C(ubic) three, Z (close) none."""

    kind: str
    points: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Shape:
    """An outline with its stroke width and filling."""

    path: tuple[Segment, ...]
    fill: Fill = Fill.NONE
    width: float = LINE


@dataclass(frozen=True)
class Label:
    """Short print on an item, such as a size; `at` is the middle of its base line."""

    text: str
    at: Point
    size: float = 14.0


Mark = Shape | Label
Drawing = tuple[Mark, ...]


def line(*points: Point, width: float = LINE) -> Shape:
    """Straight strokes from point to point."""
    return Shape((Segment("M", points[:1]), *(Segment("L", (p,)) for p in points[1:])), width=width)


def area(*points: Point, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """A closed outline with straight sides."""
    return Shape((*line(*points).path, Segment("Z")), fill, width)


def circle(x: float, y: float, r: float, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """A circle round (x, y)."""
    return Shape((*_arc(x, y, r, 0, 360), Segment("Z")), fill, width)


def ellipse(x: float, y: float, rx: float, ry: float, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """An ellipse round (x, y)."""
    round_ = circle(0, 0, 1, fill, width)
    path = (Segment(s.kind, tuple((x + a * rx, y + b * ry) for a, b in s.points)) for s in round_.path)
    return replace(round_, path=tuple(path))


def box(
    x: float, y: float, w: float, h: float, r: float = 0, fill: Fill = Fill.NONE, width: float = LINE
) -> Shape:
    """A rectangle with its upper left corner at (x, y) and corners rounded by `r`."""
    if not r:
        return area((x, y), (x + w, y), (x + w, y + h), (x, y + h), fill=fill, width=width)
    right, low = x + w - r, y + h - r
    path = list(_arc(x + r, y + r, r, 180, 270))
    for corner in (
        _arc(right, y + r, r, 270, 360),
        _arc(right, low, r, 0, 90),
        _arc(x + r, low, r, 90, 180),
    ):
        path += [Segment("L", corner[0].points), *corner[1:]]
    return Shape((*path, Segment("Z")), fill, width)


def dot(x: float, y: float, r: float = 2.0) -> Shape:
    """A small filled spot."""
    return circle(x, y, r, Fill.SOLID, FINE)


def placed(drawing: Drawing, factor: float, dx: float, dy: float) -> Drawing:
    """The drawing scaled about its corner and then shifted; strokes keep their width."""

    def onto(point: Point) -> Point:
        return point[0] * factor + dx, point[1] * factor + dy

    def one(mark: Mark) -> Mark:
        if isinstance(mark, Label):
            return replace(mark, at=onto(mark.at), size=mark.size * factor)
        path = tuple(Segment(part.kind, tuple(onto(p) for p in part.points)) for part in mark.path)
        return replace(mark, path=path)

    return tuple(one(mark) for mark in drawing)


def _arc(x: float, y: float, r: float, start: float, end: float) -> tuple[Segment, ...]:
    """Part of a circle, from one angle to another, in cubics of a quarter at most."""
    steps = max(1, math.ceil(abs(end - start) / 90))
    step = math.radians(end - start) / steps
    reach = 4 / 3 * math.tan(step / 4) * r
    angle = math.radians(start)
    path = [Segment("M", ((x + r * math.cos(angle), y + r * math.sin(angle)),))]
    for _ in range(steps):
        after = angle + step
        (a, b), (c, d) = (math.cos(angle), math.sin(angle)), (math.cos(after), math.sin(after))
        near = (x + r * a - reach * b, y + r * b + reach * a)
        far = (x + r * c + reach * d, y + r * d - reach * c)
        path.append(Segment("C", (near, far, (x + r * c, y + r * d))))
        angle = after
    return tuple(path)
