"""Drawings of materials and what lays and cures them; syringes differ by tip, contents and label."""

from __future__ import annotations

from vocab.drawings.parts import bottle, paste_tube, syringe
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    arc,
    area,
    blob,
    box,
    curve,
    dot,
    ellipse,
    joined,
    line,
    moved,
    tube,
)

_BENT = (
    area((112, 44), (122, 46), (122, 54), (112, 56), fill=Fill.SOLID),
    curve((122, 50), (134, 50), (142, 56), (150, 74)),
)
_TOOTH = blob(
    (0, 4),
    (6, 0),
    (12, 4),
    (18, 0),
    (24, 4),
    (23, 13),
    (19, 22),
    (15, 14),
    (9, 14),
    (5, 22),
    (1, 13),
    width=FINE,
)

DRAWINGS: dict[str, Drawing] = {
    "etchant": syringe(
        Fill.NONE,
        (*_BENT, dot(152, 84, 4)),
        (
            joined(curve((52, 35), (98, 35)), curve((98, 65), (52, 65)), fill=Fill.SOLID),
            line((44, 34), (44, 66)),
            line((30, 50), (44, 50), width=FINE),
        ),
    ),
    "flowable_composite": syringe(
        Fill.TINT,
        (
            area((112, 44), (120, 46), (120, 54), (112, 56), fill=Fill.SOLID),
            line((120, 50), (132, 50), (150, 66), width=FINE),
        ),
        (box(46, 39, 38, 22, 2), Label("A2", (65, 56), 17)),
    ),
    "sealant": syringe(
        Fill.TINT,
        (
            area((112, 44), (128, 47), (128, 53), (112, 56)),
            *(line((128, 50 + d / 2), (148, 50 + d), width=FINE) for d in (-9, -4.5, 0, 4.5, 9)),
        ),
        (box(46, 36, 38, 28, 2, width=FINE), *moved((_TOOTH,), 53, 39)),
    ),
    "primer": (
        *bottle(wide=44),
        area((73, 36), (87, 36), (85, 22), (82, 6), (78, 6), (75, 22)),
        box(64, 60, 32, 28, 2),
        Label("1", (80, 82), 24),
    ),
    "bonding_agent": (
        *bottle(wide=62),
        box(62, 10, 36, 26, 3, Fill.SOLID),
        line((66, 40), (94, 40), width=FINE),
        box(60, 58, 40, 32, 2),
        Label("2", (80, 83), 26),
    ),
    "applicator_brush": (
        line((4, 70), (88, 70), width=7),
        curve((88, 70), (108, 68), (126, 48)),
        ellipse(131, 42, 6.5, 5, -50, Fill.SOLID),
        *(
            line((131, 42), (131 + x, 42 + y), width=FINE)
            for x, y in ((-2, -12), (5, -12), (10, -8), (12, -1), (10, 5))
        ),
    ),
    "universal_composite": (
        joined(
            curve((12, 32), (92, 32)),
            curve((104, 42), (132, 44), (146, 28)),
            curve((154, 40), (138, 62), (104, 60)),
            curve((92, 70), (12, 70)),
            fill=Fill.TINT,
        ),
        box(4, 26, 12, 50, 3),
        line((92, 32), (92, 70), width=FINE),
        box(30, 40, 44, 24, 2),
        Label("A2", (52, 58), 18),
    ),
    "bulk_fill_composite": (
        joined(
            curve((12, 28), (92, 28)),
            curve((104, 40), (132, 42), (146, 26)),
            curve((156, 40), (140, 64), (104, 62)),
            curve((92, 74), (12, 74)),
            fill=Fill.TINT,
        ),
        box(4, 22, 12, 58, 3),
        line((92, 28), (92, 74), width=FINE),
        box(22, 36, 62, 30, 2),
        Label("BULK", (53, 57), 17),
    ),
    "composite_dispenser": (
        joined(
            curve((12, 16), (110, 16)),
            line((112, 22), (150, 22)),
            line((150, 27), (140, 27), (140, 36), (150, 36)),
            line((150, 42), (112, 42)),
            curve((110, 46), (56, 46)),
            curve((52, 60), (46, 94)),
            curve((20, 94), (24, 60), (12, 40)),
            fill=Fill.TINT,
        ),
        curve((96, 46), (92, 70), (74, 90)),
        curve((84, 46), (80, 66), (66, 84)),
        line((66, 84), (74, 90)),
        dot(90, 34, 4),
    ),
    "curing_light": (
        box(4, 56, 76, 22, 9),
        box(22, 62, 20, 10, 2, Fill.SOLID),
        dot(64, 67, 3.5),
        tube((80, 67), (104, 67), (122, 58), (126, 38), start=16, end=13),
        line((118, 36), (136, 40), width=5),
        *(line((127 + a, 28), (127 + b, 8), width=FINE) for a, b in ((-12, -24), (-5, -9), (3, 7), (10, 22))),
    ),
    "light_shield": (
        box(56, 6, 98, 70, 10, Fill.TINT),
        *(line((x, 74), (x + 34, 8), width=FINE) for x in (66, 82, 98, 114)),
        tube((58, 72), (36, 83), (8, 90), start=14, end=12),
    ),
    "amalgam_capsule": (
        joined(arc(36, 50, 22, 90, 270), line((36, 28), (84, 28)), line((84, 72), (36, 72)), fill=Fill.TINT),
        joined(line((84, 22), (124, 22)), arc(124, 50, 28, 270, 450), line((124, 78), (84, 78))),
        line((96, 22), (96, 78), width=FINE),
        *(dot(x, y, 2) for x, y in ((30, 44), (42, 56), (54, 44), (66, 58), (40, 40))),
    ),
    "glass_ionomer": (
        box(40, 28, 56, 44, 4, Fill.TINT),
        joined(
            curve((96, 38), (106, 42), (128, 42), (146, 22)), curve((154, 32), (138, 58), (106, 58), (96, 62))
        ),
        box(16, 38, 24, 24, 1),
        box(6, 32, 10, 36, 2, Fill.SOLID),
        line((58, 28), (58, 72), width=FINE),
        line((78, 28), (78, 72), width=FINE),
    ),
    "cavity_liner": (*paste_tube(48, 34), *paste_tube(112, 34), Label("+", (80, 58), 26)),
    "temporary_filling": (
        joined(
            curve((34, 44), (34, 90)), curve((40, 95), (120, 95)), curve((126, 90), (126, 44)), fill=Fill.TINT
        ),
        ellipse(80, 44, 46, 10),
        blob(
            (48, 42),
            (54, 24),
            (72, 18),
            (84, 26),
            (102, 20),
            (114, 38),
            (106, 46),
            (80, 49),
            (56, 47),
            fill=Fill.SOLID,
        ),
        box(50, 62, 60, 22, 2, width=FINE),
    ),
    "temporary_cement": (
        line((8, 26), (8, 74)),
        line((8, 36), (30, 36)),
        line((8, 64), (30, 64)),
        line((30, 16), (30, 84)),
        box(34, 22, 70, 24, 3, Fill.TINT),
        box(34, 54, 70, 24, 3),
        area((104, 32), (116, 44), (116, 56), (104, 68)),
        tube((116, 50), (152, 50), start=12, end=8),
        curve((118, 46), (124, 54), (130, 46), (136, 54), (142, 47), (148, 53), width=FINE),
    ),
}
