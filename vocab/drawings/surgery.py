"""Drawings of oral surgery: blades, elevators, forceps, what works on bone, holds back, clamps and closes.

Forceps for one arch are seen from the side, so that beaks that turn up or down tell them apart; those that
come in pairs are seen from above, so that the beak for the cheek does. Families have the same handles.
"""

from __future__ import annotations

from vocab.drawings.burs import AXIS, SCALE, START, iso
from vocab.drawings.parts import cup, handle, pliers, shank, sheet, tweezers, two_ends
from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    Mark,
    Point,
    Shape,
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
    mirrored,
    scaled,
    taper,
    tube,
)

# --- blades ---------------------------------------------------------------------------------------------


def _blade(*outline: Shape, edge: tuple[Point, ...]) -> Drawing:
    """A scalpel blade: the slotted part that slides on the handle, `outline`, and its full cutting `edge`."""
    return (
        area((6, 40), (66, 36), (66, 62), (6, 62)),
        box(18, 46, 36, 8, 3),
        joined(*outline, fill=Fill.TINT),
        curve(*edge, width=5),
    )


_BLADES: dict[str, Drawing] = {
    "scalpel_handle": (
        area((4, 40), (100, 40), (112, 45), (112, 55), (100, 60), (4, 60), fill=Fill.TINT),
        *(line((x, 43), (x, 57), width=FINE) for x in range(70, 98, 5)),
        area((112, 46), (146, 46), (152, 50), (146, 54), (112, 54)),
        line((112, 50), (146, 50), width=FINE),
    ),
    "scalpel_blade_15": _blade(
        curve((66, 38), (112, 36), (136, 40), (150, 56)),
        curve((150, 56), (140, 68), (118, 68), (100, 62)),
        line((100, 62), (66, 62)),
        edge=((150, 56), (140, 68), (118, 68), (100, 62)),
    ),
    "scalpel_blade_15c": _blade(
        curve((66, 40), (116, 42), (134, 45), (144, 53)),
        curve((144, 53), (136, 59), (126, 59), (118, 57)),
        line((118, 57), (66, 62)),
        edge=((144, 53), (136, 59), (126, 59), (118, 57)),
    ),
    "scalpel_blade_12": _blade(
        curve((66, 38), (104, 30), (136, 34), (150, 56), (144, 82)),
        curve((144, 82), (134, 62), (118, 54), (98, 56)),
        line((98, 56), (66, 62)),
        edge=((144, 82), (134, 62), (118, 54), (98, 56)),
    ),
    "scalpel_blade_11": _blade(
        line((66, 40), (152, 62)),
        line((152, 62), (66, 62)),
        edge=((66, 62), (110, 62), (150, 62)),
    ),
    "blade_remover": (
        box(28, 30, 104, 60, 8, Fill.TINT),
        box(28, 20, 104, 14, 4),
        area((64, 62), (96, 62), (96, 70), (64, 70), fill=Fill.SOLID),
        line((80, 4), (80, 54), width=6),
        line((70, 44), (80, 56), (90, 44)),
    ),
    "biopsy_punch": (
        *handle(thick=22, end=60),
        *shank((60, 50), (104, 50), start=7, end=7),
        area((104, 42), (136, 38), (136, 62), (104, 58), fill=Fill.TINT),
        ellipse(138, 50, 6, 13),
        ellipse(138, 50, 3, 8, width=FINE),
    ),
}

# --- elevators ------------------------------------------------------------------------------------------

_GRIP: Drawing = (
    joined(
        curve((4, 40), (14, 30), (36, 28), (56, 36), (70, 46)),
        curve((70, 54), (56, 64), (36, 72), (14, 70), (4, 60)),
    ),
    *(line((x, 36), (x, 64), width=FINE) for x in (18, 28, 38)),
)
"""The thick handle that lies in the palm."""


def _gouge(half: float, start: Point = (98, 50)) -> Drawing:
    """A straight blade with a gutter, `half` as wide to either side, 52 long."""
    x, y = start
    return (
        joined(
            curve((x, y - 3), (x + 12, y - half), (x + 36, y - half)),
            curve((x + 46, y - half * 0.7), (x + 52, y), (x + 46, y + half * 0.7)),
            curve((x + 36, y + half), (x + 12, y + half), (x, y + 3)),
            fill=Fill.TINT,
        ),
        curve((x + 10, y), (x + 28, y - 1), (x + 46, y), width=FINE),
        curve((x + 14, y + half * 0.5), (x + 30, y + half * 0.5), (x + 44, y + half * 0.4), width=FINE),
    )


def _flag() -> Drawing:
    """A triangle that stands off upward from its shank."""
    return (
        *_GRIP,
        *shank((70, 50), (104, 52), (122, 60), start=8, end=7),
        area((116, 64), (128, 12), (136, 20), (140, 62), fill=Fill.TINT),
        line((130, 24), (132, 58), width=FINE),
    )


_ELEVATORS: dict[str, Drawing] = {
    "periosteal_elevator": two_ends(
        (
            taper((46, 50), (84, 50), (100, 48), start=5, end=5),
            joined(
                curve((100, 46), (118, 40), (150, 50)), curve((150, 50), (118, 56), (100, 52)), fill=Fill.TINT
            ),
        ),
        (
            taper((46, 50), (84, 50), (98, 50), start=5, end=6),
            blob((98, 50), (112, 36), (136, 34), (150, 50), (136, 66), (112, 64), fill=Fill.TINT),
            line((104, 50), (144, 50), width=FINE),
        ),
    ),
    "straight_elevator": (*_GRIP, *shank((70, 50), (98, 50), start=8, end=6), *_gouge(7)),
    "straight_elevator_large": (*_GRIP, *shank((70, 50), (98, 50), start=8, end=7), *_gouge(15)),
    "luxating_elevator": (
        *_GRIP,
        *shank((70, 50), (96, 50), start=8, end=6),
        joined(
            curve((96, 47), (110, 40), (132, 40)),
            curve((148, 42), (152, 50), (148, 58)),
            curve((132, 60), (110, 60), (96, 53)),
        ),
        joined(
            curve((140, 41), (150, 44), (153, 50)), curve((153, 50), (150, 56), (140, 59)), fill=Fill.SOLID
        ),
    ),
    "periotome": (
        *handle(thick=12),
        *shank((46, 50), (88, 50), (102, 44), start=5, end=4),
        area((102, 40), (112, 36), (150, 52), (148, 58), (102, 48), fill=Fill.TINT),
        line((150, 52), (148, 58), width=5),
    ),
    "triangular_elevator_right": _flag(),
    "triangular_elevator_left": mirrored(_flag(), y=50),
    "elevator_77r": (
        *_GRIP,
        line((70, 50), (82, 50), (92, 24), (106, 24), width=7),
        *_gouge(8, (104, 24)),
    ),
    "crane_pick": (
        *_GRIP,
        *shank((70, 50), (104, 50), (128, 40), start=9, end=9),
        area((122, 36), (136, 36), (150, 82), (132, 56), fill=Fill.SOLID),
    ),
    "potts_elevator": (
        box(8, 10, 18, 80, 8),
        *(line((11, y), (23, y), width=FINE) for y in (24, 36, 64, 76)),
        *shank((26, 50), (84, 50), (108, 46), start=9, end=7),
        joined(
            curve((104, 42), (122, 30), (150, 22)),
            curve((150, 22), (142, 44), (120, 58), (108, 52)),
            fill=Fill.TINT,
        ),
    ),
    "root_tip_pick": (
        *handle(thick=14),
        taper((46, 50), (88, 50), (122, 40), (152, 56), start=5, end=1.5),
    ),
}

# --- forceps --------------------------------------------------------------------------------------------


def _side(*beak: Shape) -> Drawing:
    """Forceps from the side: the bent handles, the hinge at (92, 44), and a `beak`."""
    return (
        tube((8, 62), (30, 69), (56, 60), (92, 44), start=15, end=15),
        *(line((x, y), (x + 5, y + 8), width=FINE) for x, y in ((16, 62), (26, 64), (36, 63), (46, 60))),
        circle(92, 44, 10, Fill.TINT),
        dot(92, 44, 3),
        *beak,
    )


_UP = joined(curve((100, 38), (122, 24), (148, 20)), curve((152, 26), (128, 38), (102, 48)), fill=Fill.TINT)
_DOWN = joined(
    curve((100, 38), (124, 42), (134, 60), (134, 86)),
    curve((127, 87), (120, 66), (112, 54), (96, 53)),
    fill=Fill.TINT,
)
_BEAK_SMOOTH = joined(curve((90, 58), (108, 74), (150, 64)), curve((148, 56), (116, 60), (94, 54)))
_BEAK_POINT = joined(
    curve((90, 42), (108, 26), (126, 28)),
    line((126, 28), (140, 46), (146, 32)),
    line((146, 32), (152, 38), (150, 44)),
    curve((138, 52), (112, 42), (94, 46)),
    fill=Fill.TINT,
)
_HORN_ONE = joined(
    curve((90, 42), (112, 22), (150, 46)), curve((150, 46), (114, 38), (94, 47)), fill=Fill.TINT
)
_HORN_TWO = joined(
    curve((90, 58), (108, 76), (134, 80), (152, 70)),
    curve((152, 70), (138, 70), (126, 66)),
    curve((126, 66), (138, 62), (150, 54)),
    curve((150, 54), (116, 56), (94, 53)),
)

_FORCEPS: dict[str, Drawing] = {
    "upper_universal_forceps": _side(_UP),
    "lower_universal_forceps": _side(_DOWN),
    "upper_child_forceps": scaled(_side(_UP), 0.68),
    "lower_child_forceps": scaled(_side(_DOWN), 0.68),
    "upper_molar_forceps_right": (*pliers(()), _BEAK_POINT, _BEAK_SMOOTH),
    "upper_molar_forceps_left": (*pliers(()), *mirrored((_BEAK_POINT, _BEAK_SMOOTH), y=50)),
    "upper_cowhorn_right": (*pliers(()), _HORN_ONE, _HORN_TWO),
    "upper_cowhorn_left": (*pliers(()), *mirrored((_HORN_ONE, _HORN_TWO), y=50)),
    "upper_third_molar_forceps": _side(
        joined(
            line((98, 36), (104, 12)),
            curve((104, 12), (126, 8), (152, 12)),
            line((152, 12), (152, 28)),
            curve((152, 28), (134, 30), (118, 26)),
            line((118, 26), (104, 48)),
            fill=Fill.TINT,
        )
    ),
    "lower_third_molar_forceps": _side(
        joined(
            curve((100, 38), (124, 40), (142, 52), (144, 72)),
            line((144, 72), (122, 74)),
            curve((122, 74), (120, 62), (110, 54), (96, 53)),
            fill=Fill.TINT,
        )
    ),
    "bayonet_forceps": _side(
        joined(
            line((98, 36), (108, 14)),
            curve((108, 14), (130, 12), (154, 8)),
            curve((154, 8), (136, 20), (116, 22)),
            line((116, 22), (104, 48)),
            fill=Fill.TINT,
        )
    ),
    "ash_forceps": (
        tube((4, 26), (40, 22), (92, 30), start=13, end=13),
        tube((4, 50), (40, 44), (92, 34), start=13, end=13),
        circle(98, 32, 12, Fill.TINT),
        dot(98, 32, 3),
        area((106, 24), (120, 24), (118, 92), (112, 92)),
        area((122, 26), (134, 30), (124, 92), (119, 92)),
    ),
    "cowhorn_forceps": _side(
        joined(
            curve((100, 38), (132, 40), (148, 58), (134, 92)),
            curve((134, 92), (134, 66), (122, 52), (96, 53)),
            fill=Fill.SOLID,
        )
    ),
    "lower_molar_forceps": _side(
        joined(
            curve((100, 38), (130, 42), (144, 58), (146, 76)),
            line((146, 76), (136, 80), (132, 92), (126, 80)),
            line((126, 80), (116, 78)),
            curve((116, 78), (118, 64), (110, 54), (96, 53)),
            fill=Fill.TINT,
        )
    ),
    "root_forceps": pliers(
        (
            joined(
                curve((90, 42), (112, 40), (152, 49)), curve((152, 49), (112, 46), (94, 49)), fill=Fill.TINT
            ),
        )
    ),
}

# --- bone -----------------------------------------------------------------------------------------------

_SPRING: Drawing = (
    curve((10, 24), (34, 40), (58, 44), width=3),
    curve((10, 76), (34, 60), (58, 56), width=3),
)


def _edge(*bevel: Point) -> Drawing:
    """A heavy straight instrument seen at its edge; `bevel` is the ground part."""
    return (
        box(4, 34, 62, 32, 4),
        *(line((x, 38), (x, 62), width=FINE) for x in (16, 28, 40, 52)),
        area((66, 42), (116, 42), (116, 58), (66, 58), fill=Fill.TINT),
        area(*bevel, fill=Fill.SOLID),
    )


def _long_bur(*head: Shape) -> Drawing:
    """The long smooth shank of a straight bur, 2.35 mm thick (ISO 1797), and its head."""
    half = 2.35 * SCALE / 2
    return (
        joined(
            line((3, AXIS - half), (40, AXIS - half)),
            curve((40, AXIS - half), (50, AXIS - 9), (START, AXIS - 9)),
            curve((START, AXIS + 9), (50, AXIS + 9), (40, AXIS + half)),
            line((40, AXIS + half), (3, AXIS + half)),
        ),
        *head,
    )


def _crosscut_cone(size: str) -> Drawing:
    """A tapered head of an ISO size with cross cuts, 4 mm long."""
    half, tip, end = iso(size) / 2, iso(size) * 0.3, START + 4.0 * SCALE
    cuts = []
    for x in range(int(START) + 10, int(end) - 4, 12):
        wide = half + (tip - half) * (x - START) / (end - START)
        cuts.append(line((x, AXIS - wide), (x + 5, AXIS + wide), width=FINE))
    cone = area(
        (START, AXIS - half), (end, AXIS - tip), (end, AXIS + tip), (START, AXIS + half), fill=Fill.TINT
    )
    return (*_long_bur(cone), *cuts, Label(size, (24, 92), 15))


_BALL = iso("023") / 2

_BONE: dict[str, Drawing] = {
    "surgical_handpiece": (
        tube((4, 60), (60, 54), (104, 46), start=34, end=20),
        tube((104, 46), (128, 42), start=12, end=9),
        curve((22, 40), (70, 26), (112, 32), (126, 36), width=3),
        line((128, 42), (146, 39), width=4),
        dot(150, 38, 4),
        *(line((x, 46), (x + 2, 70), width=FINE) for x in (36, 46, 56)),
    ),
    "surgical_round_bur": (
        *_long_bur(circle(START + _BALL - 2, AXIS, _BALL, Fill.TINT)),
        *(arc(START + _BALL - 2, AXIS, _BALL * f, 200, 340, FINE) for f in (0.35, 0.7)),
        Label("023", (24, 92), 15),
    ),
    "surgical_fissure_bur_702": _crosscut_cone("016"),
    "surgical_fissure_bur_703": _crosscut_cone("021"),
    "bone_rongeur": (
        *pliers(
            (
                joined(
                    curve((90, 42), (112, 28), (140, 30)),
                    line((140, 30), (152, 46)),
                    curve((152, 46), (120, 40), (94, 48)),
                    fill=Fill.TINT,
                ),
            )
        ),
        *_SPRING,
    ),
    "rongeur_side_cutting": (
        *pliers(
            (
                joined(
                    curve((90, 42), (108, 24), (146, 30)),
                    line((146, 30), (150, 36)),
                    line((150, 36), (108, 45)),
                    line((108, 45), (94, 48)),
                ),
                area((150, 36), (108, 45), (108, 40), (148, 31), fill=Fill.SOLID),
            )
        ),
        *_SPRING,
    ),
    "bone_file": two_ends(
        (
            taper((46, 50), (84, 50), (98, 48), start=5, end=5),
            box(98, 38, 50, 22, 8),
            *(line((x, 41), (x, 57), width=FINE) for x in range(106, 146, 6)),
        ),
        (
            taper((46, 50), (84, 50), (104, 50), start=5, end=4),
            box(104, 43, 36, 14, 6),
            *(line((x, 45), (x, 55), width=FINE) for x in range(110, 138, 5)),
        ),
    ),
    "surgical_curette": two_ends(
        (
            taper((46, 50), (84, 50), (104, 42), (116, 44), start=5, end=4),
            blob((112, 42), (122, 34), (138, 36), (144, 48), (134, 58), (120, 54), fill=Fill.TINT),
            blob((122, 42), (128, 40), (136, 44), (134, 52), (126, 50), width=FINE),
        ),
        (
            taper((46, 50), (84, 50), (104, 58), (116, 56), start=5, end=4),
            blob((112, 58), (120, 50), (132, 50), (136, 58), (128, 66), (118, 64), fill=Fill.TINT),
        ),
    ),
    "mallet": (
        box(4, 44, 96, 13, 6),
        *(line((x, 47), (x, 54), width=FINE) for x in range(12, 60, 8)),
        box(100, 20, 34, 60, 4, Fill.TINT),
        box(98, 8, 38, 14, 4),
        box(98, 78, 38, 14, 4),
    ),
    "bone_chisel": _edge((116, 42), (152, 58), (116, 58)),
    "osteotome": _edge((116, 42), (152, 50), (116, 58)),
}

# --- holding back ---------------------------------------------------------------------------------------

_HOLDING: dict[str, Drawing] = {
    "minnesota_retractor": (
        joined(
            curve((6, 34), (40, 30), (70, 36), (92, 58), (120, 66)),
            curve((120, 66), (146, 62), (154, 40)),
            line((154, 40), (146, 36)),
            curve((146, 36), (138, 50), (120, 52)),
            curve((100, 44), (80, 18), (44, 12), (6, 16)),
            fill=Fill.TINT,
        ),
        curve((12, 26), (46, 20), (74, 28), (96, 50), width=FINE),
    ),
    "austin_retractor": (
        area((6, 30), (116, 30), (116, 42), (6, 42), fill=Fill.TINT),
        area((116, 24), (132, 24), (134, 78), (120, 90), (114, 78), (114, 48)),
        *(line((x, 33), (x, 39), width=FINE) for x in range(14, 60, 8)),
    ),
    "seldin_retractor": two_ends(
        (
            taper((46, 50), (72, 50), (84, 48), start=5, end=8),
            joined(
                line((84, 42), (136, 36)),
                arc(136, 48, 12, 270, 450),
                line((136, 60), (84, 56)),
                fill=Fill.TINT,
            ),
        ),
        (
            taper((46, 50), (72, 50), (90, 50), start=5, end=8),
            joined(
                line((90, 46), (142, 44)),
                arc(142, 50, 6, 270, 450),
                line((142, 56), (90, 54)),
                fill=Fill.TINT,
            ),
        ),
    ),
    "tongue_retractor": (
        box(4, 42, 60, 16, 6),
        line((64, 50), (82, 50), width=8),
        blob(
            (82, 50),
            (92, 24),
            (120, 14),
            (140, 26),
            (134, 50),
            (140, 74),
            (120, 86),
            (92, 76),
            fill=Fill.TINT,
        ),
        *(line((x, 32), (x, 68), width=FINE) for x in (98, 110, 122)),
        *(line((92, y), (130, y), width=FINE) for y in (38, 50, 62)),
    ),
    "mouth_gag": (
        ellipse(20, 20, 14, 11),
        ellipse(20, 80, 14, 11),
        line((32, 26), (84, 50), width=6),
        line((32, 74), (84, 50), width=6),
        curve((46, 24), (56, 50), (46, 76), width=FINE),
        *(line((52, y), (58, y), width=FINE) for y in range(36, 68, 6)),
        dot(84, 50, 6),
        line((84, 50), (116, 22), (128, 20), width=6),
        line((84, 50), (116, 78), (128, 80), width=6),
        box(126, 12, 28, 14, 6, Fill.TINT),
        box(126, 74, 28, 14, 6, Fill.TINT),
    ),
}

# --- ring handles ---------------------------------------------------------------------------------------


def _rings(*jaws: Mark, hinge: float = 84, catch: bool = True) -> Drawing:
    """Two finger rings whose arms cross at (hinge, 50), a catch between them, and the jaws."""
    arms = (line((34, 28), (hinge + 6, 53), width=5), line((34, 72), (hinge + 6, 47), width=5))
    teeth = tuple(line((46, y), (56, y), width=FINE) for y in (44, 50, 56)) if catch else ()
    return (
        ellipse(20, 22, 16, 12, 20),
        ellipse(20, 78, 16, 12, -20),
        *arms,
        *teeth,
        dot(hinge, 50, 5),
        *jaws,
    )


def _jaw(*points: Point) -> Drawing:
    """A pair of slim closed jaws along a line, with the gap between them."""
    return (tube(*points, start=14, end=5, fill=Fill.TINT), curve(*points, width=FINE))


def _ribs(start: float, end: float, half: float, y: float = 50) -> Drawing:
    return tuple(line((x, y - half), (x, y + half), width=FINE) for x in range(int(start), int(end), 6))


_NEEDLE = arc(138, 62, 16, 200, 350, width=3)

_RINGED: dict[str, Drawing] = {
    "haemostat_curved": _rings(*_jaw((90, 50), (112, 50), (134, 42), (150, 22)), *_ribs(98, 126, 4)),
    "haemostat_straight": _rings(*_jaw((90, 50), (120, 50), (152, 50)), *_ribs(98, 148, 3)),
    "kelly_haemostat": _rings(
        *_jaw((72, 50), (104, 50), (134, 46), (154, 32)), *_ribs(124, 148, 4, 44), hinge=66, catch=False
    ),
    "needle_holder": _rings(
        tube((94, 50), (128, 50), start=18, end=12, fill=Fill.TINT),
        line((96, 50), (126, 50), width=FINE),
        *(line((x, 45), (x + 6, 55), width=FINE) for x in (102, 110, 118)),
        *(line((x + 6, 45), (x, 55), width=FINE) for x in (102, 110, 118)),
        _NEEDLE,
        hinge=90,
    ),
    "suture_scissors": _rings(
        joined(
            curve((90, 44), (112, 30), (146, 12)),
            line((146, 12), (148, 18)),
            curve((148, 18), (118, 44), (92, 54)),
        ),
        joined(
            curve((90, 56), (112, 50), (150, 26)),
            line(
                (150, 26),
                (146, 34),
                (140, 34),
                (136, 41),
                (130, 40),
                (126, 47),
                (120, 46),
                (114, 53),
                (94, 58),
            ),
            fill=Fill.TINT,
        ),
        catch=False,
    ),
    "stitch_scissors": _rings(
        joined(curve((90, 46), (112, 34), (136, 40)), line((136, 40), (92, 54)), fill=Fill.TINT),
        joined(
            curve((90, 54), (110, 64), (138, 60)),
            line((138, 60), (138, 52), (130, 50)),
            arc(122, 52, 7, 350, 190),
            line((112, 50), (92, 48)),
        ),
        catch=False,
    ),
    "metzenbaum_scissors": _rings(
        joined(
            curve((112, 47), (130, 40), (150, 28)), curve((153, 32), (136, 46), (114, 53)), fill=Fill.TINT
        ),
        joined(curve((112, 53), (132, 52), (153, 38)), curve((154, 43), (138, 60), (108, 57))),
        hinge=106,
        catch=False,
    ),
    "towel_clip": _rings(
        curve((90, 46), (112, 20), (140, 26), (146, 48), width=4),
        curve((90, 54), (112, 80), (140, 74), (146, 52), width=4),
        dot(146, 50, 3),
    ),
}

# --- suction, fluids, dressings, laboratory -------------------------------------------------------------


def _packet(*thread: Shape) -> Drawing:
    """A torn suture packet with its curved needle, and the thread."""
    return (
        area(
            (8, 16),
            (84, 16),
            (90, 24),
            (84, 32),
            (90, 40),
            (84, 48),
            (90, 56),
            (84, 64),
            (90, 72),
            (84, 80),
            (8, 80),
        ),
        line((18, 28), (68, 28), width=5),
        line((18, 40), (56, 40), width=FINE),
        arc(122, 42, 24, 150, 330, width=4),
        *thread,
    )


def _thread(dy: float) -> tuple[Point, ...]:
    return ((101, 54 + dy), (92, 68 + dy), (106, 82 + dy), (126, 74 + dy), (138, 84 + dy), (152, 80 + dy))


_OTHER: dict[str, Drawing] = {
    "explorer": (
        *handle(thick=16),
        taper((46, 50), (92, 50), (120, 40), (136, 26), (150, 30), (152, 52), start=6, end=1),
    ),
    "tissue_forceps": tweezers(
        (curve((14, 42), (60, 30), (100, 36), (150, 46)), line((146, 46), (150, 52))),
        (curve((14, 58), (60, 70), (100, 64), (150, 56)), line((142, 57), (146, 50), (150, 56))),
    ),
    "surgical_suction_tip": (
        tube((4, 78), (36, 72), (56, 62), start=22, end=18),
        tube((56, 62), (92, 46), (124, 36), (152, 50), start=9, end=5),
        ellipse(48, 62, 7, 4, -25, Fill.SOLID),
    ),
    "yankauer_suction": (
        tube((4, 80), (44, 74), (92, 54), (122, 28), start=18, end=14, fill=Fill.TINT),
        circle(134, 20, 15),
        *(dot(134 + dx, 20 + dy, 2) for dx, dy in ((0, 0), (7, 4), (-7, 3), (3, -8), (-4, 9))),
        *(line((x, 70), (x + 3, 86), width=FINE) for x in (14, 24)),
    ),
    "irrigation_syringe": (
        line((6, 34), (6, 66)),
        line((6, 50), (30, 50), width=4),
        line((30, 26), (30, 74)),
        box(34, 34, 74, 32, 4),
        box(56, 38, 50, 24, 2, Fill.TINT, FINE),
        *(line((x, 34), (x, 40), width=FINE) for x in (48, 60, 72, 84, 96)),
        taper((108, 50), (124, 50), (140, 58), (148, 76), start=9, end=4),
    ),
    "saline_bowl": (
        *cup(80, 34, 84, 108, 60),
        curve((36, 44), (58, 50), (80, 46), (102, 50), (124, 44), width=FINE),
        Label("NaCl", (80, 72), 16),
    ),
    "gauze": (
        area((30, 30), (110, 18), (134, 44), (54, 60), fill=Fill.TINT),
        area((54, 60), (134, 44), (134, 62), (54, 80)),
        area((30, 30), (54, 60), (54, 80), (30, 50)),
        *(line((x, 28 - i * 2), (x + 24, 56 - i * 2), width=FINE) for i, x in enumerate((46, 62, 78, 94))),
    ),
    "throat_pack": (
        blob(
            (14, 40), (40, 22), (80, 18), (120, 22), (146, 40), (120, 58), (80, 62), (40, 58), fill=Fill.TINT
        ),
        *(curve((x, 26), (x + 6, 40), (x, 54), width=FINE) for x in (40, 60, 80, 100, 120)),
        curve((80, 62), (74, 76), (86, 86), (80, 96), width=4),
    ),
    "haemostatic_sponge": (
        area((40, 40), (60, 22), (128, 22), (108, 40)),
        area((40, 40), (108, 40), (108, 84), (40, 84), fill=Fill.TINT),
        area((108, 40), (128, 22), (128, 66), (108, 84)),
        *(dot(x, y, 1.8) for x, y in ((52, 52), (66, 62), (82, 52), (96, 66), (58, 74), (80, 76))),
    ),
    "suture_silk": _packet(curve(*_thread(0), width=5), curve(*_thread(6), width=FINE)),
    "suture_plain_gut": _packet(curve(*_thread(0), width=FINE)),
    "suture_chromic_gut": _packet(
        curve(*_thread(0)), area((18, 52), (68, 52), (68, 72), (18, 72), fill=Fill.TINT, width=FINE)
    ),
    "suture_polyglactin": _packet(
        curve(*_thread(0), width=FINE),
        curve(*_thread(4), width=FINE),
        *(
            line((x, y), (x + 3, y + 5), width=FINE)
            for x, y in ((96, 70), (108, 81), (120, 77), (132, 79), (144, 82))
        ),
        circle(42, 62, 10, Fill.SOLID),
    ),
    "penrose_drain": (
        joined(
            curve((6, 40), (50, 30), (100, 36), (144, 28)),
            line((144, 28), (152, 52)),
            curve((152, 52), (104, 62), (54, 56), (10, 66)),
            fill=Fill.TINT,
        ),
        ellipse(148, 40, 5, 12, -18),
        curve((10, 53), (52, 44), (102, 49), (146, 41), width=FINE),
    ),
    "culture_swab": (
        box(44, 36, 108, 28, 14, Fill.NONE),
        box(8, 32, 40, 36, 4, Fill.SOLID),
        line((48, 50), (112, 50), width=4),
        ellipse(124, 50, 14, 8, fill=Fill.TINT),
        line((60, 76), (110, 76), width=FINE),
        line((60, 84), (96, 84), width=FINE),
    ),
    "socket_dressing": (
        *sheet(14, 20, 56, 60, 12),
        tube((74, 60), (96, 50), (120, 58), (150, 44), start=14, end=14, fill=Fill.TINT),
        *(line((x, 46), (x + 8, 62), width=FINE) for x in (88, 104, 120, 134)),
    ),
    "specimen_jar": (
        box(48, 8, 64, 18, 4, Fill.SOLID),
        box(52, 26, 56, 68, 8),
        area((54, 50), (106, 50), (106, 92), (54, 92), fill=Fill.TINT, width=FINE),
        blob((70, 74), (80, 68), (90, 74), (84, 84), (74, 84), fill=Fill.SOLID),
        box(58, 32, 44, 14, 1, Fill.NONE, FINE),
    ),
    "sterile_drape": (
        *sheet(16, 8, 128, 84, 20, Fill.TINT),
        ellipse(76, 46, 24, 18),
        line((16, 36), (50, 36), width=FINE),
        line((102, 36), (144, 36), width=FINE),
    ),
    "sterile_gloves": (
        box(6, 10, 148, 80, 3),
        line((80, 10), (80, 90), width=FINE),
        *(
            joined(
                curve((x, 80), (x - 2, 60), (x - 12, 46)),
                curve((x - 8, 42), (x + 2, 50)),
                line((x + 2, 50), (x + 2, 24)),
                line((x + 24, 24), (x + 24, 80)),
                fill=Fill.TINT,
            )
            for x in (34, 108)
        ),
        *(line((x, 26), (x, 44), width=FINE) for x in (42, 48, 116, 122)),
    ),
}

DRAWINGS: dict[str, Drawing] = {**_BLADES, **_ELEVATORS, **_FORCEPS, **_BONE, **_HOLDING, **_RINGED, **_OTHER}
