"""Drawings of what hangs on hoses and what clicks onto it."""

from __future__ import annotations

from vocab.drawings.parts import hose
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    arc,
    area,
    box,
    curve,
    dot,
    ellipse,
    joined,
    line,
    tube,
)

DRAWINGS: dict[str, Drawing] = {
    "high_volume_tip": (
        line((6, 36), (120, 36)),
        line((6, 64), (146, 64)),
        ellipse(133, 50, 22, 6, 46, Fill.TINT),
        ellipse(8, 50, 5, 14),
        line((40, 36), (40, 64), width=FINE),
        line((46, 36), (46, 64), width=FINE),
    ),
    "saliva_ejector": (
        tube((6, 88), (60, 84), (94, 62), (104, 26), (120, 12), (136, 22), (138, 40), start=10, end=10),
        joined(
            curve((130, 40), (128, 52), (131, 62)),
            curve((138, 66), (145, 62)),
            curve((148, 52), (146, 40)),
            fill=Fill.TINT,
        ),
        line((135, 46), (134, 58), width=FINE),
        line((141, 46), (142, 58), width=FINE),
    ),
    "air_water_syringe": (
        box(50, 40, 54, 28, 8),
        box(58, 30, 14, 10, 3, Fill.SOLID),
        box(78, 30, 14, 10, 3, Fill.SOLID),
        *hose((50, 56), (34, 62), (26, 80), (6, 86)),
        curve((104, 52), (122, 52), (134, 44), (148, 18), width=5),
        *(line((149, 12), (x, y), width=FINE) for x, y in ((144, 4), (151, 2), (157, 6))),
    ),
    "high_speed_handpiece": (
        tube((4, 40), (66, 40), (98, 46), (117, 38), start=20, end=12),
        box(118, 24, 24, 26, 5, Fill.TINT),
        box(122, 18, 16, 6, 2),
        line((130, 50), (130, 66), width=4),
        dot(130, 68, 3),
        line((116, 52), (126, 74), width=FINE),
        line((144, 52), (134, 74), width=FINE),
        line((112, 54), (118, 76), width=FINE),
        line((148, 54), (142, 76), width=FINE),
        line((34, 31), (34, 49), width=FINE),
        line((40, 31), (40, 49), width=FINE),
    ),
    "slow_speed_motor": (
        box(44, 24, 76, 52, 6),
        box(66, 22, 18, 56, 2, Fill.TINT),
        *(line((x, 26), (x, 74), width=FINE) for x in (71, 75, 79)),
        box(120, 36, 26, 28, 2),
        line((128, 36), (128, 64), width=FINE),
        curve((94, 44), (104, 40), (112, 44)),
        line((112, 44), (111, 38)),
        curve((112, 56), (104, 60), (94, 56)),
        line((94, 56), (95, 62)),
        *hose((44, 50), (26, 52), (18, 64), (4, 66)),
    ),
    "contra_angle": (
        box(4, 46, 34, 34, 3),
        line((12, 46), (12, 80), width=FINE),
        line((20, 46), (20, 80), width=FINE),
        joined(
            curve((38, 50), (70, 50), (100, 36), (116, 20)), curve((116, 44), (100, 62), (76, 72), (38, 76))
        ),
        box(116, 14, 28, 34, 5, Fill.TINT),
        box(120, 6, 20, 8, 2, Fill.SOLID),
        line((136, 10), (150, 10)),
        line((130, 48), (130, 70), width=5),
        dot(130, 76, 5),
    ),
    "straight_nose_piece": (
        box(6, 26, 44, 48, 3),
        line((14, 26), (14, 74), width=FINE),
        box(50, 24, 20, 52, 2, Fill.TINT),
        *(line((x, 26), (x, 74), width=FINE) for x in (55, 60, 65)),
        area((70, 30), (112, 36), (126, 42), (126, 58), (112, 64), (70, 70)),
        line((126, 50), (142, 50), width=5),
        dot(147, 50, 5),
    ),
    "prophy_angle": (
        box(4, 56, 36, 26, 3),
        area((40, 60), (92, 30), (102, 44), (40, 78)),
        joined(arc(114, 28, 17, 150, 330), line((130, 22), (136, 44)), line((104, 50), (98, 36))),
        joined(
            line((106, 50), (134, 44)),
            curve((134, 44), (140, 58), (152, 72)),
            curve((152, 72), (130, 70), (106, 82)),
            curve((106, 82), (109, 66), (106, 50)),
            fill=Fill.TINT,
        ),
        ellipse(129, 77, 24, 7, -12, Fill.SOLID),
    ),
}
