"""Drawings of what stands in for a missing tooth wall: bands, wedges, rings and their tools."""

from __future__ import annotations

from vocab.drawings.parts import pliers
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    arc,
    area,
    blob,
    box,
    circle,
    curve,
    joined,
    line,
    mirrored,
    tube,
)

DRAWINGS: dict[str, Drawing] = {
    "matrix_retainer": (
        area(
            (116, 26),
            (150, 26),
            (150, 36),
            (134, 36),
            (134, 44),
            (150, 44),
            (150, 56),
            (134, 56),
            (134, 64),
            (150, 64),
            (150, 74),
            (116, 74),
            fill=Fill.TINT,
        ),
        area((62, 42), (116, 42), (116, 58), (62, 58)),
        *(line((x, 43), (x + 4, 57), width=FINE) for x in range(66, 112, 8)),
        box(34, 30, 26, 40, 4),
        *(line((36, y), (58, y), width=FINE) for y in (38, 46, 54, 62)),
        line((60, 50), (62, 50)),
        box(6, 36, 20, 28, 4),
        *(line((8, y), (24, y), width=FINE) for y in (43, 50, 57)),
        line((26, 50), (34, 50), width=5),
    ),
    "matrix_band": (
        blob((12, 40), (60, 16), (120, 8), (150, 24), (128, 42), (70, 46)),
        joined(
            curve((12, 40), (70, 46), (128, 42), (150, 24)),
            curve((146, 50), (128, 76), (74, 84), (14, 66)),
            fill=Fill.TINT,
        ),
        line((22, 44), (23, 69), width=FINE),
    ),
    "wedge": (
        area((8, 78), (40, 22), (66, 78), fill=Fill.SOLID),
        area((40, 22), (154, 72), (66, 78), fill=Fill.TINT),
        line((66, 78), (154, 72)),
    ),
    "wedge_remover": (
        *pliers(
            (
                joined(
                    curve((91, 44), (108, 30), (126, 28), (140, 40), (142, 47)),
                    line((142, 47), (128, 47)),
                    curve((128, 47), (124, 40), (112, 40), (94, 48)),
                    fill=Fill.TINT,
                ),
            )
        ),
    ),
    "sectional_matrix": (
        blob(
            (22, 42),
            (44, 18),
            (80, 22),
            (116, 18),
            (138, 42),
            (122, 78),
            (96, 76),
            (80, 68),
            (64, 76),
            (38, 78),
        ),
        curve((44, 40), (80, 50), (116, 40), width=FINE),
        box(70, 4, 20, 16, 3, Fill.TINT),
        circle(80, 12, 3, width=FINE),
    ),
    "sectional_ring": (
        joined(arc(80, 42, 38, 122, 418), arc(80, 42, 28, 418, 122), fill=Fill.TINT),
        area((56, 70), (66, 64), (74, 94), (52, 94), fill=Fill.SOLID),
        *mirrored((area((56, 70), (66, 64), (74, 94), (52, 94), fill=Fill.SOLID),), x=80),
    ),
    "ring_forceps": (
        *pliers(
            (
                curve((91, 44), (110, 26), (132, 24)),
                curve((94, 47), (114, 36), (132, 34)),
                joined(
                    line((132, 18), (150, 18)),
                    line((150, 24), (143, 29), (150, 34)),
                    line((150, 40), (132, 40)),
                    fill=Fill.TINT,
                ),
            )
        ),
    ),
    "clear_strip": (
        tube((14, 64), (46, 36), (84, 54), (118, 62), (146, 34), start=22, end=22),
        line((30, 52), (44, 38), width=FINE),
        line((40, 54), (54, 40), width=FINE),
        line((116, 72), (130, 60), width=FINE),
        line((126, 70), (138, 58), width=FINE),
    ),
}
