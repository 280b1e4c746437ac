"""Drawings of what is used up and what is worn."""

from __future__ import annotations

from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    arc,
    area,
    box,
    circle,
    curve,
    dot,
    ellipse,
    joined,
    line,
    mirrored,
)

_LENS = joined(
    curve((28, 40), (46, 33), (68, 36)),
    curve((76, 42), (76, 52)),
    curve((68, 72), (48, 76), (32, 68)),
    curve((27, 56), (28, 40)),
)
_CLIP: Drawing = (
    area((18, 46), (42, 46), (46, 74), (40, 90), (20, 90), (14, 74), fill=Fill.TINT),
    circle(30, 58, 4, width=FINE),
    line((20, 83), (23, 90), (26, 83), (30, 90), (34, 83), (37, 90), (40, 83), width=FINE),
)
_SLEEVE: Drawing = (
    curve((62, 12), (44, 20), (30, 52), (14, 80)),
    line((14, 80), (28, 88)),
    curve((28, 88), (42, 64), (52, 46)),
    line((18, 73), (32, 81), width=FINE),
    curve((52, 46), (50, 70), (44, 96)),
)


DRAWINGS: dict[str, Drawing] = {
    "sharps_container": (
        area((36, 34), (124, 34), (116, 96), (44, 96), fill=Fill.TINT),
        box(30, 20, 100, 14, 3),
        area((62, 8), (98, 8), (104, 20), (56, 20)),
        line((68, 14), (92, 14), width=5),
        line((40, 46), (120, 46), width=FINE),
        area((80, 54), (98, 86), (62, 86)),
        line((80, 65), (80, 74), width=4),
        dot(80, 81, 1.6),
    ),
    "cotton_pellet": (
        circle(80, 52, 17, Fill.TINT),
        curve((70, 48), (78, 42), (88, 48), (84, 58), (74, 58), width=FINE),
        curve((64, 60), (58, 62), (56, 58), width=FINE),
        curve((94, 42), (100, 38), (103, 42), width=FINE),
        line((36, 74), (124, 74), width=FINE),
    ),
    "patient_bib": (
        joined(
            line((26, 10), (56, 10)),
            curve((56, 10), (64, 26), (80, 31), (96, 26), (104, 10)),
            line((104, 10), (134, 10)),
            line((134, 92), (26, 92)),
            fill=Fill.TINT,
        ),
        *(line((34, y), (126, y), width=FINE) for y in (44, 56, 68, 80)),
    ),
    "bib_clip": (
        *(arc(80, 62, 50, a, a + 14) for a in range(200, 340, 20)),
        *_CLIP,
        *mirrored(_CLIP, x=80),
    ),
    "barrier_film": (
        circle(46, 42, 34),
        circle(46, 42, 12),
        circle(46, 42, 25, width=FINE),
        area((46, 76), (110, 76), (150, 92), (86, 92), fill=Fill.TINT),
        line((110, 76), (116, 70), (154, 86), (150, 92), width=FINE),
    ),
    "tray_cover": (
        box(6, 14, 148, 72, 12),
        area((20, 24), (140, 24), (140, 62), (126, 76), (20, 76), fill=Fill.TINT),
        line((140, 62), (126, 62), (126, 76), width=FINE),
    ),
    "sterilising_pouch": (
        box(10, 16, 140, 68, 3),
        line((112, 16), (112, 84)),
        area((112, 16), (150, 30), (150, 70), (112, 84), fill=Fill.TINT, width=FINE),
        line((22, 50), (92, 50), width=5),
        curve((92, 50), (102, 46), (104, 36)),
        box(20, 66, 16, 10, 1, Fill.SOLID),
        area((44, 66), (60, 71), (44, 76), width=FINE),
        line((20, 24), (104, 24), width=FINE),
    ),
    "drinking_cup": (
        ellipse(80, 14, 38, 9),
        curve((42, 14), (54, 90), (80, 96), (106, 90), (118, 14)),
        curve((46, 38), (60, 44), (80, 34), (100, 44), (114, 38)),
        curve((47, 46), (60, 52), (80, 42), (100, 52), (113, 46), width=FINE),
        line((53, 82), (107, 82), width=FINE),
    ),
    "gloves": (
        joined(
            curve((52, 96), (54, 76), (46, 62), (32, 46), (26, 38)),
            curve((34, 32), (44, 40), (56, 48), (56, 20), (60, 10)),
            curve((68, 12), (68, 40), (72, 40), (74, 8), (80, 3)),
            curve((86, 8), (86, 40), (90, 40), (94, 12), (102, 10)),
            curve((106, 18), (102, 44), (106, 46), (112, 26), (120, 26)),
            curve((124, 34), (114, 66), (106, 78), (106, 96)),
            fill=Fill.TINT,
        ),
        line((53, 86), (106, 86), width=FINE),
    ),
    "face_mask": (
        area((44, 22), (116, 22), (116, 78), (44, 78), fill=Fill.TINT),
        *(line((44, y), (116, y), width=FINE) for y in (38, 50, 62)),
        line((64, 28), (96, 28), width=4),
        curve((44, 24), (14, 30), (10, 50), (14, 70), (44, 76)),
        curve((116, 24), (146, 30), (150, 50), (146, 70), (116, 76)),
    ),
    "face_shield": (
        joined(
            curve((30, 20), (56, 12), (80, 10), (104, 12), (130, 20)),
            curve((130, 28), (104, 20), (80, 18), (56, 20), (30, 28)),
            fill=Fill.SOLID,
        ),
        joined(
            curve((32, 28), (34, 60), (44, 84), (80, 95)), curve((80, 95), (116, 84), (126, 60), (128, 28))
        ),
        line((52, 70), (66, 44), width=FINE),
        line((62, 76), (80, 44), width=FINE),
        line((30, 24), (12, 30)),
        line((130, 24), (148, 30)),
    ),
    "safety_glasses": (
        _LENS,
        *mirrored((_LENS,), x=80),
        curve((75, 44), (80, 40), (85, 44)),
        area((28, 42), (8, 36), (8, 62), (28, 64), width=FINE),
        area((132, 42), (152, 36), (152, 62), (132, 64), width=FINE),
        line((40, 64), (54, 44), width=FINE),
        line((50, 66), (62, 48), width=FINE),
    ),
    "patient_eyewear": (
        joined(
            curve((18, 34), (48, 26), (80, 28), (112, 26), (142, 34)),
            curve((148, 50), (138, 72), (112, 78), (92, 68)),
            curve((80, 56), (68, 68)),
            curve((48, 78), (22, 72), (12, 50), (18, 34)),
            fill=Fill.TINT,
            width=4,
        ),
        *(line((x, 70), (x + 20, 34), width=FINE) for x in (22, 32, 42, 52, 90, 100, 110, 120)),
        line((16, 40), (4, 34), width=4),
        line((144, 40), (156, 34), width=4),
    ),
    "gown": (
        *_SLEEVE,
        *mirrored(_SLEEVE, x=80),
        curve((62, 12), (80, 22), (98, 12)),
        line((44, 96), (116, 96)),
        line((52, 58), (108, 58), width=FINE),
        line((80, 58), (74, 74), width=FINE),
        line((80, 58), (87, 74), width=FINE),
    ),
}
