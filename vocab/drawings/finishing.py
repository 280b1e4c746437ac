"""Drawings of what smooths, polishes and checks a finished filling."""

from __future__ import annotations

from vocab.drawings.burs import AXIS, START, latch
from vocab.drawings.parts import tweezers
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Point,
    arc,
    area,
    box,
    circle,
    curve,
    dot,
    ellipse,
    joined,
    line,
    tube,
)

_STRIP: tuple[Point, ...] = ((8, 36), (44, 64), (80, 50), (116, 36), (152, 64))


DRAWINGS: dict[str, Drawing] = {
    "finishing_disc": (
        circle(80, 50, 44, Fill.TINT),
        circle(80, 50, 10),
        circle(80, 50, 4, Fill.SOLID),
        *(
            dot(80 + x, 50 + y, 1.3)
            for x, y in (
                (20, 0),
                (-20, 0),
                (0, 22),
                (0, -22),
                (16, 16),
                (-16, 16),
                (16, -16),
                (-16, -16),
                (34, 10),
                (-34, 10),
                (34, -10),
                (-34, -10),
                (10, 35),
                (-10, 35),
                (10, -35),
                (-10, -35),
            )
        ),
    ),
    "disc_mandrel": (
        *latch(16),
        area((START, AXIS - 9), (START + 34, AXIS - 9), (START + 34, AXIS + 9), (START, AXIS + 9)),
        area(
            (START + 34, AXIS - 20),
            (START + 40, AXIS - 20),
            (START + 40, AXIS + 20),
            (START + 34, AXIS + 20),
            fill=Fill.TINT,
        ),
        box(START + 40, AXIS - 6, 12, 12, 3, Fill.SOLID),
    ),
    "finishing_strip": (
        tube(*_STRIP, start=16, end=16),
        tube(*_STRIP, start=16, end=16, part=(0, 0.42), fill=Fill.TINT, width=FINE),
        tube(*_STRIP, start=16, end=16, part=(0.58, 1), fill=Fill.TINT, width=FINE),
        *(
            dot(x, y, 1.4)
            for x, y in ((14, 40), (20, 48), (28, 50), (34, 60), (42, 60), (50, 67), (54, 60), (62, 60))
        ),
        *(
            dot(x, y, 1.4)
            for x, y in (
                (98, 40),
                (106, 38),
                (112, 32),
                (118, 40),
                (126, 38),
                (132, 46),
                (140, 50),
                (146, 60),
            )
        ),
    ),
    "polishing_cup": (
        *latch(14),
        joined(
            line((START, AXIS - 9), (START + 16, AXIS - 12)),
            curve((START + 16, AXIS - 12), (START + 34, AXIS - 18), (START + 52, AXIS - 28)),
            curve((START + 52, AXIS + 28), (START + 34, AXIS + 18), (START + 16, AXIS + 12)),
            line((START + 16, AXIS + 12), (START, AXIS + 9)),
            fill=Fill.TINT,
        ),
        ellipse(START + 52, AXIS, 10, 28),
        ellipse(START + 53, AXIS, 6, 20, 0, Fill.SOLID, FINE),
    ),
    "polishing_point": (
        *latch(14),
        joined(
            line((START, AXIS - 10), (START + 16, AXIS - 17)),
            curve((START + 16, AXIS - 17), (START + 44, AXIS - 10), (START + 78, AXIS)),
            curve((START + 78, AXIS), (START + 44, AXIS + 10), (START + 16, AXIS + 17)),
            line((START + 16, AXIS + 17), (START, AXIS + 10)),
            fill=Fill.TINT,
        ),
        line((START + 16, AXIS - 17), (START + 16, AXIS + 17), width=FINE),
    ),
    "polishing_paste": (
        ellipse(70, 42, 46, 12),
        joined(
            curve((24, 42), (32, 80)), curve((34, 88), (106, 88)), curve((108, 80), (116, 42)), fill=Fill.TINT
        ),
        curve((40, 42), (54, 30), (62, 40), (74, 26), (84, 38), (96, 34), (100, 44)),
        joined(curve((112, 34), (134, 30), (152, 14)), curve((152, 14), (140, 6), (118, 12), (104, 32))),
        line((34, 66), (106, 66), width=FINE),
    ),
    "articulating_paper": (
        joined(arc(52, 50, 42, 60, 300), arc(58, 50, 24, 300, 60), fill=Fill.TINT),
        box(102, 8, 22, 84, 2, Fill.SOLID),
        box(132, 8, 22, 84, 2, Fill.TINT),
    ),
    "shim_stock": (
        area((10, 62), (134, 24), (150, 36), (26, 74)),
        area((10, 62), (58, 47), (74, 59), (26, 74), fill=Fill.TINT, width=FINE),
        line((92, 41), (128, 30), width=FINE),
        line((100, 46), (136, 35), width=FINE),
        curve((134, 24), (148, 16), (152, 26), (150, 36), width=FINE),
    ),
    "articulating_forceps": tweezers(
        (
            curve((14, 42), (44, 30), (68, 42), (86, 50), (92, 52)),
            area((88, 50), (154, 50), (154, 58), (92, 58), fill=Fill.TINT),
        ),
        (
            curve((14, 58), (44, 70), (68, 58), (86, 46), (92, 44)),
            area((88, 50), (92, 42), (154, 42), (154, 50)),
            dot(77, 50, 4),
        ),
    ),
    "dental_floss": (
        box(14, 40, 72, 54, 10),
        joined(curve((14, 52), (20, 24), (40, 14)), curve((62, 14), (82, 26), (86, 52))),
        line((16, 52), (84, 52), width=FINE),
        circle(50, 72, 14, width=FINE),
        circle(50, 72, 5, width=FINE),
        curve((50, 40), (66, 6), (96, 10), (112, 40), (98, 70), (118, 88), (152, 72)),
        box(42, 36, 16, 8, 1, Fill.SOLID),
    ),
}
