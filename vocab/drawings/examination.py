"""Drawings of what examines the mouth: mirrors, explorers, probes, pliers, block and shade guide."""

from __future__ import annotations

from vocab.drawings.parts import handle, shank, tweezers, two_ends
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Point,
    area,
    box,
    circle,
    curve,
    dot,
    ellipse,
    joined,
    line,
    mirrored,
    moved,
    taper,
    tube,
)


def _gleam(x: float, y: float, size: float) -> Drawing:
    """Two slanting strokes that say glass."""
    return (
        line((x - size, y + size / 2), (x + size / 2, y - size), width=FINE),
        line((x - size / 2, y + size), (x + size, y - size / 2), width=FINE),
    )


def _banded(*points: Point, bands: tuple[tuple[float, float], ...], start: float, end: float) -> Drawing:
    """A blunt measuring tip, full where `bands` (fractions of its length) say so."""
    return (
        tube(*points, start=start, end=end),
        *(tube(*points, start=start, end=end, part=b, fill=Fill.SOLID, width=FINE) for b in bands),
    )


_BANDS = ((0.28, 0.42), (0.56, 0.7), (0.84, 1.0))
_GRIP = tuple(
    line((x, 25 + dy), (x, 33 + dy), width=FINE) for x, dy in ((64, 1), (70, 0.5), (76, 0), (82, 0))
)
_CURL = (
    taper(
        (46, 50), (78, 50), (100, 42), (124, 34), (140, 46), (132, 62), (116, 58), (118, 48), start=6, end=1
    ),
)
_GENTLE = (taper((46, 50), (70, 48), (88, 38), (104, 44), (120, 58), (138, 60), (150, 52), start=6, end=1),)
_HOOK = (taper((46, 50), (82, 50), (104, 41), (124, 33), (138, 42), (134, 60), (116, 66), start=6, end=1),)
_SQUARE_BEND = (
    taper((46, 50), (92, 49), (140, 42), start=6, end=3),
    taper((140, 42), (143, 64), start=3, end=1),
)
_WIDE_TIP = ((104, 50), (122, 46), (142, 32), (146, 16), (132, 8))

_RIBS = tuple((x, 28 - (x - 20) * 18 / 102) for x in range(34, 120, 14))

DRAWINGS: dict[str, Drawing] = {
    "mouth_mirror": (
        *moved(handle(thick=14), 0, 26),
        *shank((46, 76), (78, 72), (94, 62)),
        ellipse(116, 40, 31, 29),
        ellipse(116, 40, 26, 24, width=FINE),
        *_gleam(116, 40, 11),
    ),
    "hand_mirror": (
        box(3, 41, 44, 18, 8, Fill.TINT),
        line((47, 44), (56, 42)),
        line((47, 56), (56, 58)),
        ellipse(106, 50, 51, 46),
        ellipse(106, 50, 44, 39, width=FINE),
        dot(93, 40, 3),
        dot(119, 40, 3),
        curve((106, 44), (103, 54), (108, 55), width=FINE),
        curve((91, 64), (106, 73), (121, 64)),
    ),
    "explorer_shepherd": (
        *handle(),
        taper((46, 50), (84, 50), (104, 34), (128, 20), (146, 36), (142, 62), (116, 76), start=6, end=1),
    ),
    "explorer_pigtail": two_ends(_CURL, mirrored(_CURL, y=50)),
    "explorer_right_angle": (
        *handle(),
        taper((46, 50), (90, 49), (139, 40), start=6, end=3),
        taper((139, 40), (142, 62), start=3, end=1),
    ),
    "explorer_17_23": two_ends(_HOOK, _SQUARE_BEND),
    "explorer_11_12": two_ends(_GENTLE, mirrored(_GENTLE, y=50)),
    "explorer_probe": two_ends(
        _HOOK,
        (
            *shank((46, 50), (76, 49), (96, 38), end=6),
            *_banded(
                (96, 38),
                (120, 46),
                (150, 62),
                bands=((0.14, 0.26), (0.42, 0.58), (0.78, 0.9)),
                start=7,
                end=5,
            ),
        ),
    ),
    "perio_probe": (
        *handle(),
        *shank((46, 50), (82, 48), (112, 22), (126, 16), end=6),
        *_banded(
            (126, 16),
            (130, 52),
            (134, 92),
            bands=((0.1, 0.18), (0.28, 0.38), (0.5, 0.66), (0.84, 0.92)),
            start=8,
            end=6,
        ),
    ),
    "furcation_probe": (
        box(56, 42, 48, 16, 5),
        *(line((x, 45), (x + 4, 55), width=FINE) for x in (66, 74, 82, 90)),
        *_banded(*_WIDE_TIP, bands=_BANDS, start=6, end=6),
        *mirrored(_banded(*_WIDE_TIP, bands=_BANDS, start=6, end=6), x=80, y=50),
    ),
    "cotton_pliers": tweezers(
        (curve((14, 42), (58, 26), (98, 26), (116, 34), (152, 82)), *_GRIP),
        (curve((14, 58), (56, 68), (88, 60), (104, 62), (138, 90)),),
    ),
    "locking_pliers": tweezers(
        (curve((14, 42), (60, 38), (98, 38), (114, 42), (148, 84)),),
        (
            curve((14, 58), (60, 58), (96, 52), (112, 54), (146, 86)),
            box(56, 30, 22, 36, 4, Fill.SOLID),
            box(62, 20, 10, 10, 2),
        ),
    ),
    "bite_block": (
        area((6, 36), (20, 28), (122, 10), (122, 90), (20, 72), (6, 64), fill=Fill.TINT),
        *(line((x, y), (x, y + 14), width=FINE) for x, y in _RIBS),
        *(line((x, 100 - y), (x, 86 - y), width=FINE) for x, y in _RIBS),
        circle(104, 50, 9),
        curve((104, 50), (120, 44), (136, 54), (144, 76), (154, 84)),
    ),
    "shade_guide": (
        box(8, 8, 144, 18, 4),
        *(
            joined(
                curve((x - 9, 44), (x - 12, 66), (x - 9, 84)),
                curve((x, 90), (x + 9, 84)),
                curve((x + 12, 66), (x + 9, 44), (x, 38), (x - 9, 44)),
                fill=fill,
            )
            for x, fill in (
                (24, Fill.NONE),
                (52, Fill.NONE),
                (80, Fill.TINT),
                (108, Fill.TINT),
                (136, Fill.SOLID),
            )
        ),
        *(line((x, 26), (x, 38)) for x in (24, 52, 80, 108, 136)),
    ),
}
