"""Drawings of rotary instruments, all at twenty-two field units to the millimetre.

Sizes are the ISO number, the largest head diameter in tenths of a millimetre (ISO 6360-1); head lengths in
millimetres and the number of each family from memory. Shanks measure 1.6 mm for friction grip and 2.35 mm
for latch and straight ones (ISO 1797).
"""

from __future__ import annotations

from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    Point,
    Shape,
    arc,
    area,
    blob,
    box,
    circle,
    curve,
    dot,
    joined,
    line,
)

SCALE = 22.0
"""Field units to the millimetre."""

AXIS, START = 42.0, 62.0
"""The height of a bur's axis, and where its head begins."""


def iso(size: str) -> float:
    """The head diameter in field units of an ISO size such as "008"."""
    return int(size) / 10 * SCALE


def _friction_grip(neck: float) -> Drawing:
    """The smooth short shank and a neck `neck` thick."""
    half = 1.6 * SCALE / 2
    return (
        joined(
            line((3, AXIS - half), (34, AXIS - half)),
            curve((34, AXIS - half), (48, AXIS - neck / 2), (START, AXIS - neck / 2)),
            curve((START, AXIS + neck / 2), (48, AXIS + neck / 2), (34, AXIS + half)),
            line((34, AXIS + half), (3, AXIS + half)),
        ),
    )


def latch(neck: float) -> Drawing:
    """The notched latch shank and a neck `neck` thick."""
    half = 2.35 * SCALE / 2
    top, low = AXIS - half, AXIS + half
    return (
        joined(
            line((3, top + 17), (12, top + 17)),
            line((12, top), (18, top)),
            line((18, top + 8), (25, top + 8)),
            line((25, top), (36, top)),
            curve((36, top), (48, AXIS - neck / 2), (START, AXIS - neck / 2)),
            curve((START, AXIS + neck / 2), (48, AXIS + neck / 2), (36, low)),
            line((36, low), (25, low)),
            line((25, low - 8), (18, low - 8)),
            line((18, low), (3, low)),
        ),
    )


def _number(size: str) -> Label:
    return Label(size, (24, 96), 16)


def _round(size: str, on_latch: bool = False) -> Drawing:
    """A ball with curved blades."""
    d = iso(size)
    r, x = d / 2, START + d / 2 - 1
    neck = max(4.5, d * 0.45)
    bends = (-0.75, 0.0, 0.75) if d > 16 else ()
    blades = [
        curve(
            (x - r * 0.7, AXIS + f * r * 0.7),
            (x, AXIS + f * r * 0.95 - 2),
            (x + r * 0.8, AXIS + f * r * 0.2),
            width=FINE,
        )
        for f in bends
    ]
    shank = latch(neck) if on_latch else _friction_grip(neck)
    return (*shank, circle(x, AXIS, r, Fill.TINT), *blades, _number(size))


def _blades(end: float, start_half: float, end_half: float) -> Drawing:
    """Lines along a head between START and `end`, slightly slanted."""
    return tuple(
        line((START + 3, AXIS + (f - 0.1) * start_half), (end - 3, AXIS + (f + 0.1) * end_half), width=FINE)
        for f in (-0.35, 0.35)
    )


def _stick(size: str, tip_size: str, length_mm: float, crosscut: bool = False) -> Drawing:
    """A cylinder or cone with a flat end; crosscut blades show as teeth on both sides and notches across."""
    half, tip = iso(size) / 2, iso(tip_size) / 2
    end = START + length_mm * SCALE
    shank = _friction_grip(max(5.0, iso(size) * 0.6))
    if not crosscut:
        head = area(
            (START, AXIS - half), (end, AXIS - tip), (end, AXIS + tip), (START, AXIS + half), fill=Fill.TINT
        )
        return (*shank, head, *_blades(end, half, tip), _number(size))
    upper = _teeth(START, end, half, tip)
    lower = [(x, 2 * AXIS - y) for x, y in reversed(upper)]
    head = area(*upper, *lower)
    notches = [line(a, (b[0] + 4, b[1]), width=FINE) for a, b in _notches(upper)]
    return (*shank, head, *notches, _number(size))


def _notches(upper: list[Point]) -> list[tuple[Point, Point]]:
    """From each notch of the upper side to its like on the lower one."""
    floors = upper[2:-2:4]
    return [((x, y), (x, 2 * AXIS - y)) for x, y in floors]


def _teeth(start: float, end: float, half: float, tip: float) -> list[Point]:
    count = round((end - start) / 12)
    points: list[Point] = []
    for i in range(count):
        a, b = start + (end - start) * i / count, start + (end - start) * (i + 1) / count
        for x, depth in ((a, 0.0), (b - 4, 0.0), (b - 3.8, 3.4), (b - 0.2, 3.4)):
            along = (x - start) / (end - start)
            points.append((x, AXIS - (half + (tip - half) * along) + depth))
    return [*points[:-2], (end, AXIS - tip), (end, AXIS - tip)]


def _pear(size: str, length_mm: float) -> Drawing:
    """A pear: narrow at the neck, widest near the rounded end."""
    half, end = iso(size) / 2, START + length_mm * SCALE
    neck = half * 0.6
    widest = end - half * 0.9
    head = joined(
        curve((START, AXIS - neck), (widest - 4, AXIS - half), (end - 2, AXIS - half * 0.55), (end, AXIS)),
        curve((end, AXIS), (end - 2, AXIS + half * 0.55), (widest - 4, AXIS + half), (START, AXIS + neck)),
        fill=Fill.TINT,
    )
    return (*_friction_grip(neck * 2 - 1), head, *_blades(end - 4, neck, half), _number(size))


def _grit(*spots: Point) -> Drawing:
    return tuple(dot(x, y, 1.3) for x, y in spots)


def _grit_in(half_at: tuple[tuple[float, float], ...]) -> Drawing:
    """Grit between (x, half width) places of a head."""
    spots = []
    for i, (x, half) in enumerate(half_at):
        count = max(1, int(half / 3.2))
        for j in range(-count + (i % 2), count + 1, 2):
            spots.append((x, AXIS + j * half * 0.72 / max(count, 1)))
    return _grit(*spots)


_RING = (box(16, AXIS - 1.6 * SCALE / 2, 8, 1.6 * SCALE, 0, Fill.SOLID),)


def _flame(length_mm: float, half: float) -> Shape:
    end = START + length_mm * SCALE
    return joined(
        curve(
            (START, AXIS - half * 0.6),
            (START + 22, AXIS - half),
            (START + 46, AXIS - half * 0.62),
            (end, AXIS),
        ),
        curve(
            (end, AXIS),
            (START + 46, AXIS + half * 0.62),
            (START + 22, AXIS + half),
            (START, AXIS + half * 0.6),
        ),
    )


def _fissure_tip(length_mm: float, half: float, tip: float) -> Shape:
    end = START + length_mm * SCALE - tip
    return joined(
        line((START, AXIS - half), (end, AXIS - tip)),
        arc(end, AXIS, tip, 270, 450),
        line((end, AXIS + tip), (START, AXIS + half)),
    )


_BALL = iso("018") / 2

DRAWINGS: dict[str, Drawing] = {
    "bur_330": _pear("008", 1.6),
    "bur_245": _pear("008", 3.0),
    "bur_round_quarter": _round("005"),
    "bur_round_half": _round("006"),
    "bur_round_2": _round("010", on_latch=True),
    "bur_round_4": _round("014", on_latch=True),
    "bur_round_6": _round("018", on_latch=True),
    "bur_round_8": _round("023", on_latch=True),
    "bur_inverted_cone": (
        *_friction_grip(5),
        area(
            (START, AXIS - 3),
            (START + 12, AXIS - iso("006") / 2),
            (START + 12, AXIS + iso("006") / 2),
            (START, AXIS + 3),
            fill=Fill.TINT,
        ),
        _number("006"),
    ),
    "bur_fissure_56": _stick("009", "009", 3.7),
    "bur_fissure_57": _stick("010", "010", 3.9),
    "bur_tapered_169": _stick("009", "005", 3.9),
    "bur_tapered_170": _stick("010", "006", 3.9),
    "bur_crosscut_556": _stick("009", "009", 3.7, crosscut=True),
    "bur_crosscut_557": _stick("010", "010", 3.9, crosscut=True),
    "bur_crosscut_699": _stick("009", "005", 3.9, crosscut=True),
    "diamond_round": (
        *_friction_grip(10),
        *_RING,
        circle(START + _BALL - 1, AXIS, _BALL),
        *_grit_in(((START + 5, 11), (START + 11, 16), (START + 18, 18), (START + 25, 17), (START + 32, 12))),
    ),
    "diamond_flame": (
        *_friction_grip(9),
        *_RING,
        _flame(4.0, 13),
        *_grit_in(tuple((START + 6 + i * 7, h) for i, h in enumerate((9, 11, 12, 12, 11, 9, 6, 4, 3)))),
    ),
    "diamond_chamfer": (
        *_friction_grip(9),
        *_RING,
        _fissure_tip(4.0, 13, 8),
        *_grit_in(tuple((START + 6 + i * 7, 12 - i * 0.35) for i in range(11))),
    ),
    "diamond_flat_end_taper": (
        *_friction_grip(9),
        *_RING,
        area((START, AXIS - 13), (START + 88, AXIS - 7), (START + 88, AXIS + 7), (START, AXIS + 13)),
        *_grit_in(tuple((START + 6 + i * 7, 12 - i * 0.35) for i in range(12))),
    ),
    "diamond_football": (
        *_friction_grip(9),
        *_RING,
        blob(
            (START, AXIS),
            (START + 14, AXIS - 20),
            (START + 46, AXIS - iso("023") / 2),
            (START + 78, AXIS - 18),
            (START + 92, AXIS),
            (START + 78, AXIS + 18),
            (START + 46, AXIS + iso("023") / 2),
            (START + 14, AXIS + 20),
        ),
        *_grit_in(tuple((START + 10 + i * 9, h) for i, h in enumerate((12, 18, 21, 23, 23, 22, 20, 16, 9)))),
    ),
    "diamond_needle": (
        *_friction_grip(7),
        *_RING,
        area((START, AXIS - 9), (START + 94, AXIS), (START, AXIS + 9)),
        *_grit_in(tuple((START + 6 + i * 7, 8 - i * 0.6) for i in range(11))),
    ),
    "diamond_wheel": (
        *_friction_grip(9),
        *_RING,
        box(START, AXIS - iso("035") / 2, 28, iso("035"), 12),
        *_grit_in(((START + 6, 36), (START + 14, 38), (START + 22, 36))),
    ),
    "finishing_bur": (
        *_friction_grip(9),
        _flame(3.3, 13),
        *(
            curve(
                (START + 3, AXIS + f * 8), (START + 22, AXIS + f * 13), (START + 62, AXIS + f * 2), width=0.9
            )
            for f in (-0.75, -0.5, -0.25, 0, 0.25, 0.5, 0.75)
        ),
    ),
    "bur_block": (
        area((14, 60), (28, 48), (146, 48), (132, 60)),
        box(14, 60, 118, 34, 2, Fill.TINT),
        line((132, 60), (146, 48), (146, 82), (132, 94)),
        *(line((x, 54), (x, 26), width=5) for x in (38, 62, 86, 110, 132)),
        dot(38, 21, 4),
        dot(62, 19, 6),
        area((82, 12), (90, 12), (90, 26), (82, 26), fill=Fill.SOLID),
        area((108, 8), (112, 8), (114, 26), (106, 26), fill=Fill.SOLID),
        area((128, 18), (136, 18), (134, 26), (130, 26), fill=Fill.SOLID),
    ),
}
