"""Drawings of what keeps the field dry and in view: dam and its tools, cotton, pads, cord."""

from __future__ import annotations

from vocab.drawings.parts import handle, pliers, shank, sheet
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    arc,
    blob,
    box,
    circle,
    curve,
    dot,
    ellipse,
    joined,
    line,
    mirrored,
    taper,
    tube,
)

_ARCH = ((-24, 16), (-20, 4), (-14, -6), (-6, -12), (6, -12), (14, -6), (20, 4), (24, 16))
_JAW = joined(
    line((24, 58), (58, 58)),
    curve((72, 62), (64, 68), (61, 76), (64, 84), (72, 90)),
    curve((56, 94), (36, 92), (18, 84)),
    curve((14, 72), (24, 58)),
)
_LIP = tube((58, 9), (32, 20), (24, 42), (34, 62), (58, 72), start=12, end=12)

DRAWINGS: dict[str, Drawing] = {
    "dam_sheet": (
        *sheet(34, 4, 92, 92, 16, Fill.TINT),
        *(dot(80 + dx * 1.05, 48 + dy * 0.9, 2.6) for dx, dy in _ARCH),
    ),
    "dam_sheet_latex_free": (
        *sheet(34, 4, 92, 92, 16),
        *(circle(80 + dx * 1.05, 36 + dy * 0.9, 2.6, width=FINE) for dx, dy in _ARCH),
        Label("latex", (74, 78), 17),
        line((50, 84), (98, 60)),
    ),
    "dam_clamp": (
        joined(arc(80, 58, 50, 180, 360), arc(80, 58, 37, 360, 180), fill=Fill.TINT),
        _JAW,
        *mirrored((_JAW,), x=80),
        circle(44, 74, 6),
        circle(116, 74, 6),
    ),
    "dam_clamp_forceps": (
        *pliers(
            (
                curve((92, 46), (112, 36), (132, 36)),
                curve((90, 42), (112, 28), (134, 28), (140, 12)),
                line((132, 36), (146, 12)),
                line((140, 12), (146, 12)),
            )
        ),
        box(42, 14, 10, 72, 4, width=FINE),
    ),
    "dam_frame": (
        joined(
            curve((22, 8), (24, 54), (44, 84), (80, 94)),
            curve((80, 94), (116, 84), (136, 54), (138, 8)),
            curve((128, 8), (124, 52), (108, 74), (80, 83)),
            curve((80, 83), (52, 74), (36, 52), (32, 8)),
        ),
        *(
            line((x, y), (x + dx, y + dy))
            for x, y, dx, dy in ((22, 18, -9, 0), (24, 44, -9, 3), (36, 72, -7, 6))
        ),
        *(
            line((x, y), (x + dx, y + dy))
            for x, y, dx, dy in ((138, 18, 9, 0), (136, 44, 9, 3), (124, 72, 7, 6))
        ),
        line((64, 91), (61, 98)),
        line((96, 91), (99, 98)),
    ),
    "dam_punch": (
        *pliers(()),
        curve((92, 44), (112, 24), (140, 22)),
        curve((90, 40), (110, 14), (140, 14)),
        line((140, 14), (140, 22)),
        taper((134, 22), (134, 44), start=6, end=3),
        curve((92, 56), (100, 64), (108, 66)),
        circle(128, 70, 24),
        *(
            dot(128 + dx, 70 + dy, r)
            for dx, dy, r in ((0, -15, 4), (14, -4, 3.4), (9, 13, 2.8), (-9, 13, 2.2))
        ),
        dot(114, 66, 1.6),
        circle(128, 70, 4, width=FINE),
    ),
    "dam_template": (
        box(30, 4, 100, 92, 4),
        *(dot(80 + dx * 1.3, 32 + dy * 1.0, 2.2) for dx, dy in _ARCH),
        *(dot(80 + dx * 1.3, 68 - dy * 1.0, 2.2) for dx, dy in _ARCH),
        line((80, 6), (80, 94), width=FINE),
        line((32, 50), (128, 50), width=FINE),
    ),
    "dam_napkin": (
        blob(
            *((x, 7) for x in range(30, 131, 20)),
            *((134, y) for y in range(20, 90, 20)),
            *((x, 93) for x in range(130, 29, -20)),
            *((26, y) for y in range(80, 10, -20)),
        ),
        ellipse(80, 50, 28, 19),
        *(line((x, 18), (x + 4, 18), width=FINE) for x in range(40, 124, 14)),
        *(line((x, 82), (x + 4, 82), width=FINE) for x in range(40, 124, 14)),
        *(line((x, y), (x + 4, y), width=FINE) for x in (38, 118) for y in (34, 50, 66)),
    ),
    "floss_ligature": (
        curve(
            (8, 88),
            (40, 84),
            (72, 70),
            (82, 62),
            (100, 30),
            (124, 14),
            (146, 28),
            (140, 52),
            (112, 62),
            (80, 58),
        ),
        curve((80, 58), (60, 50), (36, 58), (10, 52)),
        blob((74, 54), (90, 54), (92, 66), (76, 68), fill=Fill.SOLID),
    ),
    "cotton_roll": (
        line((24, 28), (130, 28)),
        line((24, 72), (130, 72)),
        arc(24, 50, 22, 90, 270),
        ellipse(130, 50, 14, 22),
        curve((130, 40), (136, 50), (130, 58), (125, 50), (130, 46), width=FINE),
        *(curve((x, 34), (x + 8, 44), (x + 2, 54), width=FINE) for x in (34, 58, 82, 104)),
    ),
    "gauze_square": (
        box(36, 6, 88, 88, 2),
        *(line((x, 8), (x, 92), width=FINE) for x in range(46, 122, 10)),
        *(line((38, y), (122, y), width=FINE) for y in range(16, 92, 10)),
        line((124, 14), (132, 14), (132, 100 - 2), (44, 98), (44, 94)),
    ),
    "cheek_pad": (
        joined(
            curve((72, 12), (80, 7), (88, 12)),
            curve((138, 76), (139, 86), (130, 91)),
            curve((30, 91), (21, 86), (22, 76)),
        ),
        joined(
            curve((77, 25), (80, 23), (83, 25)),
            curve((122, 75), (122, 79), (118, 81)),
            curve((42, 81), (38, 79), (38, 75)),
            fill=Fill.TINT,
            width=FINE,
        ),
    ),
    "cheek_retractor": (
        _LIP,
        *mirrored((_LIP,), x=80),
        joined(
            curve((33, 66), (48, 88), (80, 95)),
            curve((80, 95), (112, 88), (127, 66)),
            curve((119, 69), (106, 80), (80, 85)),
            curve((80, 85), (54, 80), (41, 69)),
            fill=Fill.TINT,
        ),
        line((30, 34), (34, 28), width=FINE),
        line((126, 28), (130, 34), width=FINE),
    ),
    "retraction_cord": (
        ellipse(56, 14, 40, 9),
        ellipse(56, 14, 9, 3, width=FINE),
        curve((16, 86), (30, 93), (56, 95), (82, 93), (96, 86)),
        line((16, 14), (16, 24)),
        line((96, 14), (96, 24)),
        line((16, 86), (16, 78)),
        line((96, 86), (96, 78)),
        *(curve((24, y), (56, y + 7), (88, y), width=4) for y in (28, 38, 48, 58, 68)),
        curve((88, 68), (108, 78), (120, 60), (136, 58), (150, 72), width=5),
        *(line((x, y), (x + 5, y - 5), width=FINE) for x, y in ((104, 84), (118, 72), (134, 67), (146, 78))),
    ),
    "cord_packer": (
        *handle(),
        *shank((46, 50), (86, 48), (104, 34), (118, 34)),
        joined(
            curve((114, 32), (124, 30), (132, 40), (138, 64)),
            curve((138, 64), (134, 72), (124, 70), (118, 66)),
            curve((118, 66), (122, 50), (114, 36)),
            fill=Fill.TINT,
        ),
        line(
            (117, 67), (119, 73), (122, 69), (125, 76), (128, 71), (131, 77), (134, 71), (137, 74), (139, 66)
        ),
    ),
}
