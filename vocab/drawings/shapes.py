"""The strokes a drawing is made of, in a field 160 wide and 100 high, x to the right and y down.

Takes points, sizes and angles, in field units and degrees (clockwise as seen), and gives frozen marks whose
outlines are straight and cubic segments only, so that any page format can draw them. It knows nothing of
dentistry or of file formats.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
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
    return Shape((_move(points[0]), *(Segment("L", (p,)) for p in points[1:])), width=width)


def area(*points: Point, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """A closed outline with straight sides."""
    return Shape((*line(*points).path, Segment("Z")), fill, width)


def curve(*points: Point, width: float = LINE) -> Shape:
    """A smooth stroke through all points."""
    return Shape(_spline(points), width=width)


def blob(*points: Point, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """A closed smooth outline through all points."""
    count = len(points)
    path = [_move(points[0])]
    for i in range(count):
        path.append(_through(points[i - 1], points[i], points[(i + 1) % count], points[(i + 2) % count]))
    return Shape((*path, Segment("Z")), fill, width)


def joined(*parts: Shape, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """One closed outline that runs along the parts in order."""
    path = list(parts[0].path)
    for part in parts[1:]:
        path += [Segment("L", part.path[0].points), *part.path[1:]]
    return Shape((*path, Segment("Z")), fill, width)


def arc(x: float, y: float, r: float, start: float, end: float, width: float = LINE) -> Shape:
    """Part of a circle, from one angle to another."""
    steps = max(1, math.ceil(abs(end - start) / 90))
    step = math.radians(end - start) / steps
    reach = 4 / 3 * math.tan(step / 4) * r
    angle = math.radians(start)
    path = [_move((x + r * math.cos(angle), y + r * math.sin(angle)))]
    for _ in range(steps):
        after = angle + step
        path.append(
            Segment(
                "C",
                (
                    (
                        x + r * math.cos(angle) - reach * math.sin(angle),
                        y + r * math.sin(angle) + reach * math.cos(angle),
                    ),
                    (
                        x + r * math.cos(after) + reach * math.sin(after),
                        y + r * math.sin(after) - reach * math.cos(after),
                    ),
                    (x + r * math.cos(after), y + r * math.sin(after)),
                ),
            )
        )
        angle = after
    return Shape(tuple(path), width=width)


def circle(x: float, y: float, r: float, fill: Fill = Fill.NONE, width: float = LINE) -> Shape:
    """A circle round (x, y)."""
    return Shape((*arc(x, y, r, 0, 360).path, Segment("Z")), fill, width)


def ellipse(
    x: float, y: float, rx: float, ry: float, turn: float = 0, fill: Fill = Fill.NONE, width: float = LINE
) -> Shape:
    """An ellipse round (x, y), turned by `turn` degrees."""
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def onto(p: Point) -> Point:
        return (x + p[0] * rx * cos - p[1] * ry * sin, y + p[0] * rx * sin + p[1] * ry * cos)

    return _mapped(circle(0, 0, 1, fill, width), onto)


def box(
    x: float, y: float, w: float, h: float, r: float = 0, fill: Fill = Fill.NONE, width: float = LINE
) -> Shape:
    """A rectangle with its upper left corner at (x, y) and corners rounded by `r`."""
    if not r:
        return area((x, y), (x + w, y), (x + w, y + h), (x, y + h), fill=fill, width=width)
    right, low = x + w - r, y + h - r
    corners = (
        arc(x + r, y + r, r, 180, 270),
        arc(right, y + r, r, 270, 360),
        arc(right, low, r, 0, 90),
        arc(x + r, low, r, 90, 180),
    )
    return joined(*corners, fill=fill, width=width)


def dot(x: float, y: float, r: float = 2.0) -> Shape:
    """A small filled spot."""
    return circle(x, y, r, Fill.SOLID, FINE)


def taper(*points: Point, start: float, end: float) -> Shape:
    """A solid wire along a smooth line, `start` thick at the first point and `end` thick at the last."""
    return tube(*points, start=start, end=end, fill=Fill.SOLID, width=FINE)


def tube(
    *points: Point,
    start: float,
    end: float,
    part: tuple[float, float] = (0, 1),
    fill: Fill = Fill.NONE,
    width: float = LINE,
) -> Shape:
    """The outline of a wire along a smooth line, or of the `part` between two fractions of its length."""
    return area(*_outline(_samples(points), start, end, part), fill=fill, width=width)


def dashed(*points: Point, dash: float = 6) -> Drawing:
    """A closed outline with straight sides in dashes about `dash` long."""
    found: list[Shape] = []
    for (ax, ay), (bx, by) in zip(points, (*points[1:], points[0]), strict=True):
        count = max(1, round(math.hypot(bx - ax, by - ay) / (2 * dash)))
        for i in range(count):
            a, b = (i + 0.25) / count, (i + 0.75) / count
            found.append(
                line((ax + (bx - ax) * a, ay + (by - ay) * a), (ax + (bx - ax) * b, ay + (by - ay) * b))
            )
    return tuple(found)


def moved(marks: Iterable[Mark], dx: float, dy: float) -> Drawing:
    """The marks shifted."""
    return _all(marks, lambda p: (p[0] + dx, p[1] + dy), 1)


def turned(marks: Iterable[Mark], degrees: float, about: Point = (WIDTH / 2, HEIGHT / 2)) -> Drawing:
    """The marks turned round a point; print stays upright."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))

    def onto(p: Point) -> Point:
        dx, dy = p[0] - about[0], p[1] - about[1]
        return (about[0] + dx * cos - dy * sin, about[1] + dx * sin + dy * cos)

    return _all(marks, onto, 1)


def mirrored(marks: Iterable[Mark], x: float | None = None, y: float | None = None) -> Drawing:
    """The marks mirrored in the vertical at `x`, the horizontal at `y`, or both; print stays readable."""

    def onto(p: Point) -> Point:
        return (p[0] if x is None else 2 * x - p[0], p[1] if y is None else 2 * y - p[1])

    return _all(marks, onto, 1)


def scaled(marks: Iterable[Mark], factor: float, about: Point = (WIDTH / 2, HEIGHT / 2)) -> Drawing:
    """The marks scaled about a fixed point; strokes keep their width."""
    return _all(
        marks,
        lambda p: (about[0] + (p[0] - about[0]) * factor, about[1] + (p[1] - about[1]) * factor),
        factor,
    )


def _all(marks: Iterable[Mark], onto: Callable[[Point], Point], size: float) -> Drawing:
    def one(mark: Mark) -> Mark:
        if isinstance(mark, Label):
            return replace(mark, at=onto(mark.at), size=mark.size * size)
        return _mapped(mark, onto)

    return tuple(one(mark) for mark in marks)


def _mapped(shape: Shape, onto: Callable[[Point], Point]) -> Shape:
    return replace(shape, path=tuple(Segment(s.kind, tuple(onto(p) for p in s.points)) for s in shape.path))


def _move(point: Point) -> Segment:
    return Segment("M", (point,))


def _through(before: Point, a: Point, b: Point, after: Point) -> Segment:
    """The cubic from a to b of the Catmull-Rom spline through the four points."""
    return Segment(
        "C",
        (
            (a[0] + (b[0] - before[0]) / 6, a[1] + (b[1] - before[1]) / 6),
            (b[0] - (after[0] - a[0]) / 6, b[1] - (after[1] - a[1]) / 6),
            b,
        ),
    )


def _spline(points: tuple[Point, ...]) -> tuple[Segment, ...]:
    last = len(points) - 1
    return (
        _move(points[0]),
        *(
            _through(points[max(i - 1, 0)], points[i], points[i + 1], points[min(i + 2, last)])
            for i in range(last)
        ),
    )


def _samples(points: tuple[Point, ...], each: int = 10) -> list[Point]:
    """Points along the spline, close enough to pass for the curve."""
    here = points[0]
    found = [here]
    for segment in _spline(points)[1:]:
        c1, c2, to = segment.points
        for i in range(1, each + 1):
            t = i / each
            u = 1 - t
            a, b, c, d = u**3, 3 * u * u * t, 3 * u * t * t, t**3
            found.append(
                (
                    a * here[0] + b * c1[0] + c * c2[0] + d * to[0],
                    a * here[1] + b * c1[1] + c * c2[1] + d * to[1],
                )
            )
        here = to
    return found


def _outline(line_: list[Point], start: float, end: float, part: tuple[float, float]) -> list[Point]:
    """Both sides of a wire along a line of points, there and back."""
    run = [0.0]
    for a, b in zip(line_, line_[1:], strict=False):
        run.append(run[-1] + math.dist(a, b))
    left: list[Point] = []
    right: list[Point] = []
    for i, (x, y) in enumerate(line_):
        along = run[i] / run[-1]
        if not part[0] <= along <= part[1]:
            continue
        (ax, ay), (bx, by) = line_[max(i - 1, 0)], line_[min(i + 1, len(line_) - 1)]
        length = math.hypot(bx - ax, by - ay) or 1.0
        half = (start + (end - start) * along) / 2
        nx, ny = -(by - ay) / length * half, (bx - ax) / length * half
        left.append((x + nx, y + ny))
        right.append((x - nx, y - ny))
    return [*left, *reversed(right)]


def warning_sign() -> Drawing:
    """The sign in a field 100 wide and 100 high."""
    return (area((50, 8), (96, 90), (4, 90), width=9), line((50, 38), (50, 60), width=11), dot(50, 76, 6))
