"""Drawings of what carries, packs, smooths and mixes fillings.

Hand instruments have the same handle and about eight field units to the millimetre at the working end, so
that a large condenser looks large beside a small one.
"""

from __future__ import annotations

from vocab.drawings.parts import cup, handle, shank, sheet, two_ends
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
    dot,
    ellipse,
    joined,
    line,
    taper,
)


def _down(x: float = 126, y: float = 40) -> Drawing:
    """Handle and a shank that ends at (x, y), pointing down."""
    return (*handle(), *shank((46, 50), (84, 46), (110, 16), (x - 2, 18), (x, y)))


def _condenser(face: float) -> Drawing:
    """A flat-faced cylinder, `face` wide."""
    left, right = 126 - face / 2, 126 + face / 2
    return (
        *_down(),
        area((122, 40), (130, 40), (right, 52), (right, 84), (left, 84), (left, 52), fill=Fill.TINT),
        line((left, 84), (right, 84), width=5),
        *(line((x, 78), (x, 82), width=FINE) for x in _between(left + 3, right - 3)),
    )


def _between(start: float, end: float) -> tuple[float, ...]:
    count = max(2, round((end - start) / 4) + 1)
    return tuple(start + (end - start) * i / (count - 1) for i in range(count))


DRAWINGS: dict[str, Drawing] = {
    "liner_applicator": (
        *handle(),
        taper((46, 50), (86, 48), (112, 24), (128, 28), (130, 70), start=6, end=2.5),
        dot(130, 74, 4),
    ),
    "amalgam_carrier": (
        box(6, 52, 84, 16, 5),
        curve((22, 50), (40, 30), (86, 28)),
        line((30, 52), (34, 40)),
        box(84, 22, 10, 12, 3, Fill.SOLID),
        curve((90, 54), (112, 54), (128, 46), (136, 26)),
        curve((90, 66), (120, 66), (142, 54), (151, 30)),
        ellipse(143.5, 27, 8, 5, 15, Fill.SOLID),
    ),
    "amalgam_well": (
        *cup(80, 22, 64, 64, 44, Fill.TINT),
        joined(curve((34, 82), (46, 66), (58, 64)), curve((102, 64), (114, 66), (126, 82)), fill=Fill.TINT),
        box(30, 82, 100, 12, 3, Fill.SOLID),
    ),
    "condenser_small": _condenser(13),
    "condenser_large": _condenser(27),
    "ball_burnisher": two_ends(
        (
            taper((46, 50), (90, 50), (112, 48), start=5, end=4),
            circle(126, 48, 13, Fill.TINT),
            arc(126, 48, 8, 200, 260, FINE),
        ),
        (taper((46, 50), (90, 50), (112, 52), start=5, end=4), circle(121, 52, 8.5, Fill.TINT)),
    ),
    "egg_burnisher": (
        *handle(),
        taper((46, 50), (84, 46), (100, 34), (110, 36), start=6, end=4),
        ellipse(130, 50, 26, 16, 35, Fill.TINT),
        curve((118, 42), (124, 37), (132, 40), width=FINE),
    ),
    "acorn_burnisher": (
        *_down(),
        joined(
            curve((122, 40), (112, 44), (108, 52), (112, 58)),
            curve((112, 58), (118, 76), (126, 88)),
            curve((126, 88), (134, 76), (140, 58)),
            curve((140, 58), (144, 52), (140, 44), (130, 40)),
            fill=Fill.TINT,
        ),
        curve((112, 58), (126, 62), (140, 58), width=FINE),
    ),
    "beavertail_burnisher": (
        *handle(),
        *shank((46, 50), (76, 48), (90, 46), start=7, end=7),
        blob(
            (92, 48),
            (104, 30),
            (126, 26),
            (140, 34),
            (142, 58),
            (126, 70),
            (106, 64),
            fill=Fill.TINT,
            width=4,
        ),
    ),
    "plastic_instrument": two_ends(
        (
            taper((46, 50), (76, 50), (88, 44), start=5, end=4),
            joined(
                curve((88, 38), (100, 34), (146, 38)),
                arc(146, 47, 9, 270, 450),
                curve((146, 56), (100, 54), (88, 50)),
            ),
        ),
        (
            taper((46, 50), (84, 46), (106, 32), (122, 36), start=5, end=4),
            area((118, 36), (128, 36), (131, 44), (131, 66), (115, 66), (115, 44), fill=Fill.TINT),
            line((115, 66), (131, 66), width=4),
        ),
    ),
    "composite_paddle": two_ends(
        (
            taper((46, 50), (76, 50), (92, 46), start=5, end=2),
            blob((92, 46), (112, 38), (140, 38), (152, 44), (140, 50), (112, 52), fill=Fill.SOLID),
        ),
        (
            taper((46, 50), (76, 50), (96, 40), start=5, end=2),
            blob((96, 40), (104, 44), (118, 62), (119, 71), (110, 68), (98, 50), fill=Fill.SOLID),
        ),
    ),
    "cement_spatula": (
        box(4, 42, 52, 16, 6),
        joined(
            curve((56, 44), (70, 40), (84, 36)),
            line((84, 36), (140, 36)),
            arc(140, 50, 14, 270, 450),
            curve((84, 64), (70, 60), (56, 56)),
        ),
        line((92, 50), (136, 50), width=FINE),
    ),
    "mixing_pad": (
        *sheet(40, 10, 92, 68, 18),
        line((40, 84), (120, 84), width=FINE),
        line((40, 90), (120, 90), width=FINE),
        line((32, 16), (32, 96), (120, 96)),
        box(32, 6, 10, 90, 1, Fill.SOLID),
    ),
    "glass_slab": (
        area((30, 28), (56, 10), (150, 10), (124, 28)),
        area((30, 28), (124, 28), (124, 86), (30, 86), fill=Fill.TINT),
        area((124, 28), (150, 10), (150, 66), (124, 86)),
        line((44, 60), (66, 38), width=FINE),
        line((54, 66), (80, 40), width=FINE),
    ),
    "dappen_dish": (
        ellipse(80, 18, 40, 10),
        joined(curve((46, 20), (58, 34), (80, 38), (102, 34), (114, 20)), fill=Fill.TINT, width=FINE),
        area(
            (40, 18),
            (40, 30),
            (58, 52),
            (44, 80),
            (44, 94),
            (116, 94),
            (116, 80),
            (102, 52),
            (120, 30),
            (120, 18),
        ),
        line((58, 52), (102, 52), width=FINE),
        line((66, 54), (60, 92), width=FINE),
        line((94, 54), (100, 92), width=FINE),
    ),
    "capsule_mixer": (
        box(12, 44, 136, 50, 6),
        joined(arc(58, 44, 36, 180, 360), line((94, 44), (22, 44))),
        line((44, 40), (44, 26), (52, 26)),
        line((72, 40), (72, 26), (64, 26)),
        box(50, 21, 16, 10, 4, Fill.SOLID),
        circle(120, 69, 15),
        line((120, 69), (128, 60)),
        box(28, 58, 58, 20, 3, Fill.TINT),
    ),
    "crown_scissors": (
        ellipse(26, 24, 20, 13, 20),
        ellipse(26, 76, 20, 13, -20),
        line((44, 32), (92, 54), width=6),
        line((44, 68), (92, 46), width=6),
        dot(84, 50, 5),
        joined(curve((92, 46), (116, 30), (146, 26)), curve((146, 26), (124, 42), (96, 54)), fill=Fill.TINT),
        joined(curve((92, 54), (116, 52), (146, 40)), curve((146, 40), (126, 62), (88, 58)), fill=Fill.TINT),
    ),
}
