"""Drawings of hand cutting instruments: the blade seen so that edge and bends tell them apart.

A full band along a blade is its bevel, so the cutting edge is where the band ends.
"""

from __future__ import annotations

from vocab.drawings.parts import handle, shank, two_ends
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    area,
    blob,
    circle,
    curve,
    joined,
    line,
    taper,
)


def _trimmer(near: float, far: float, number: str) -> Drawing:
    """A curved blade whose edge ends at height `near` on the side of the handle, `far` on the other."""
    return (
        *handle(),
        *shank((46, 50), (80, 46), (98, 28), (112, 25)),
        joined(
            curve((116, 20), (128, 18), (140, 24), (147, 44), (146, far)),
            line((146, far), (112, near)),
            curve((112, near), (118, 54), (116, 40), (108, 30)),
            fill=Fill.TINT,
        ),
        area((112, near), (146, far), (146.5, far - 9), (115, near - 9), fill=Fill.SOLID),
        circle(112 if near > far else 146, max(near, far), 10, width=FINE),
        Label(number, (50, 94), 19),
    )


DRAWINGS: dict[str, Drawing] = {
    "spoon_excavator": (
        *handle(),
        *shank((46, 50), (84, 48), (102, 34), (112, 34)),
        blob((108, 34), (122, 22), (142, 28), (150, 48), (140, 66), (122, 64), (112, 48)),
        blob((118, 38), (126, 31), (138, 34), (143, 48), (136, 58), (126, 56), fill=Fill.TINT, width=FINE),
        curve((124, 44), (132, 40), (138, 46), width=FINE),
    ),
    "hatchet": (
        *handle(),
        *shank((46, 50), (82, 46), (96, 28), (108, 24)),
        area((108, 16), (138, 16), (142, 84), (104, 84), fill=Fill.TINT),
        area((104.6, 74), (141.4, 74), (142, 84), (104, 84), fill=Fill.SOLID),
    ),
    "straight_chisel": (
        *handle(),
        *shank((46, 50), (98, 50), end=6),
        area((98, 46), (108, 36), (150, 36), (150, 64), (108, 64), (98, 54), fill=Fill.TINT),
        area((140, 36), (150, 36), (150, 64), (140, 64), fill=Fill.SOLID),
    ),
    "binangle_chisel": (
        *handle(),
        taper((46, 50), (62, 50), start=6, end=6),
        line((62, 50), (80, 24), width=6),
        line((80, 24), (110, 44), width=6),
        area((110, 34), (146, 54), (140, 76), (104, 52), fill=Fill.TINT),
        area((146, 54), (140, 76), (132, 71), (138, 49.5), fill=Fill.SOLID),
    ),
    "wedelstaedt_chisel": (
        *handle(),
        taper((46, 50), (74, 38), (104, 36), start=6, end=6),
        joined(
            curve((102, 30), (122, 36), (150, 58)),
            curve((140, 80), (118, 54), (100, 44)),
            fill=Fill.TINT,
        ),
        area((150, 58), (140, 80), (133, 72), (143, 51), fill=Fill.SOLID),
    ),
    "margin_trimmer_mesial": _trimmer(84, 62, "75-85"),
    "margin_trimmer_distal": _trimmer(62, 84, "90-100"),
    "hoe": (
        *handle(),
        *shank((46, 50), (78, 44), (100, 24), (122, 22)),
        area((106, 34), (138, 10), (138, 54), (106, 78), fill=Fill.TINT),
        area((106, 78), (138, 54), (138, 45), (106, 69), fill=Fill.SOLID),
    ),
    "angle_former": (
        *handle(),
        line((62, 50), (80, 32), width=6),
        taper((46, 50), (62, 50), start=6, end=6),
        line((80, 32), (104, 50), width=6),
        area((104, 45), (110, 40), (146, 40), (128, 60), (110, 60), (104, 55), fill=Fill.TINT),
        area((146, 40), (128, 60), (120, 60), (138, 40), fill=Fill.SOLID),
        circle(146, 40, 10, width=FINE),
    ),
    "discoid_cleoid": two_ends(
        (
            taper((46, 50), (80, 50), (100, 44), start=5, end=4),
            circle(120, 48, 19),
            circle(120, 48, 13, width=FINE),
        ),
        (
            taper((46, 50), (80, 50), (100, 46), start=5, end=4),
            joined(
                curve((98, 46), (108, 32), (122, 34), (148, 58)),
                curve((148, 58), (122, 66), (106, 62), (98, 46)),
                fill=Fill.TINT,
            ),
            line((104, 48), (144, 57), width=FINE),
        ),
    ),
    "hollenback_carver": two_ends(
        (
            taper((46, 50), (72, 48), (92, 42), start=5, end=4),
            joined(
                curve((90, 38), (116, 36), (152, 48)), curve((152, 48), (118, 54), (92, 48)), fill=Fill.TINT
            ),
            line((94, 43), (148, 47.5), width=FINE),
        ),
        (
            taper((46, 50), (72, 50), (84, 42), (100, 34), start=5, end=4),
            joined(
                curve((97, 32), (108, 32), (108, 40)), line((108, 40), (103, 72), (97, 36)), fill=Fill.TINT
            ),
        ),
    ),
    "interproximal_carver": two_ends(
        (
            taper((46, 50), (78, 50), (92, 46), start=5, end=3),
            joined(curve((92, 46), (112, 30), (136, 32), (148, 44)), curve((148, 44), (120, 44), (92, 46))),
        ),
        (
            taper((46, 50), (78, 50), (92, 54), start=5, end=3),
            joined(curve((92, 54), (112, 70), (136, 68), (148, 56)), curve((148, 56), (120, 56), (92, 54))),
        ),
    ),
    "wards_carver": two_ends(
        (
            taper((46, 50), (84, 50), (104, 46), start=5, end=4),
            blob((102, 46), (118, 34), (146, 46), (120, 58), fill=Fill.TINT),
            line((106, 46), (142, 46), width=FINE),
        ),
        (
            taper((46, 50), (78, 50), (96, 36), (112, 36), start=5, end=4),
            blob((112, 32), (124, 44), (116, 70), (104, 46), fill=Fill.TINT),
            line((113, 36), (116, 66), width=FINE),
        ),
    ),
    "frahm_carver": two_ends(
        (
            taper((46, 50), (82, 50), (106, 46), start=5, end=4),
            area((104, 46), (108, 32), (130, 32), (150, 46), (130, 60), (108, 60), fill=Fill.TINT),
        ),
        (
            taper((46, 50), (82, 50), (112, 50), start=5, end=4),
            area((110, 50), (113, 41), (127, 41), (140, 50), (127, 59), (113, 59), fill=Fill.TINT),
        ),
    ),
}
