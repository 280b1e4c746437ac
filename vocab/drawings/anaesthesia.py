"""Drawings for anaesthesia. A picture never replaces reading the label: these items are always checked."""

from __future__ import annotations

from vocab.drawings.shapes import (
    FINE,
    Drawing,
    Fill,
    Label,
    arc,
    area,
    blob,
    box,
    circle,
    curve,
    ellipse,
    joined,
    line,
)


def _needle(length_mm: float) -> Drawing:
    """A capped needle, hub to the left, 2.6 field units to the millimetre; it shows through the cap."""
    cap = 48 + length_mm * 2.6 + 8
    return (
        area((18, 44), (36, 44), (36, 56), (18, 56)),
        line((4, 50), (18, 50), width=FINE),
        box(32, 36, 16, 28, 2, Fill.SOLID),
        area((48, 38), (cap, 44), (cap, 56), (48, 62), fill=Fill.TINT),
        line((48, 50), (48 + length_mm * 2.6, 50), width=FINE),
        line((48, 76), (48, 84), width=FINE),
        line((48 + length_mm * 2.6, 76), (48 + length_mm * 2.6, 84), width=FINE),
        line((48, 80), (48 + length_mm * 2.6, 80), width=FINE),
    )


def _cartridge(print_on: Drawing) -> Drawing:
    """A glass cartridge: stopper to the left, aluminium cap to the right."""
    return (
        joined(
            line((8, 32), (122, 32)),
            curve((122, 32), (132, 36), (134, 42)),
            curve((134, 58), (132, 64), (122, 68)),
            line((122, 68), (8, 68)),
        ),
        area((14, 33), (32, 33), (32, 67), (14, 67), fill=Fill.SOLID),
        box(134, 38, 16, 24, 2, Fill.SOLID),
        *print_on,
    )


DRAWINGS: dict[str, Drawing] = {
    "topical_anaesthetic": (
        box(44, 40, 72, 54, 6),
        box(40, 30, 80, 14, 3),
        area((46, 58), (114, 58), (114, 86), (46, 86), fill=Fill.TINT, width=FINE),
        *(line((56, y), (104, y), width=FINE) for y in (66, 72, 78)),
        blob((54, 30), (58, 14), (72, 8), (80, 18), (92, 10), (104, 20), (106, 30), fill=Fill.TINT),
    ),
    "cotton_tip_applicator": (
        line((4, 56), (112, 52), width=4),
        blob((104, 52), (116, 42), (134, 40), (148, 48), (150, 54), (136, 62), (116, 62), fill=Fill.TINT),
        curve((116, 48), (124, 52), (132, 48), width=FINE),
        curve((122, 57), (130, 54), (140, 57), width=FINE),
    ),
    "aspirating_syringe": (
        circle(16, 50, 13),
        line((29, 50), (52, 50), width=4),
        curve((46, 22), (54, 36), (54, 64), (46, 78)),
        joined(line((58, 38), (134, 38)), line((140, 44), (140, 56)), line((134, 62), (58, 62))),
        box(66, 43, 62, 14, 3, Fill.TINT),
        area((66, 43), (74, 43), (74, 57), (66, 57), fill=Fill.SOLID, width=FINE),
        line((54, 50), (66, 50), width=4),
        box(140, 46, 7, 8, 1, Fill.SOLID),
        line((147, 50), (158, 50), width=FINE),
    ),
    "needle_short": _needle(22),
    "needle_long": _needle(34),
    "cartridge_vasoconstrictor": _cartridge(
        (area((44, 33), (64, 33), (64, 67), (44, 67), fill=Fill.SOLID), Label("+ V", (94, 57), 22))
    ),
    "cartridge_plain": _cartridge(tuple(line((50, y), (116, y), width=FINE) for y in (44, 50, 56))),
    "recapping_device": (
        joined(
            line((40, 94), (120, 94)),
            curve((120, 94), (116, 76), (100, 64)),
            line((100, 58), (60, 58)),
            curve((60, 64), (44, 76), (40, 94)),
            fill=Fill.TINT,
        ),
        ellipse(80, 58, 20, 5, 0, Fill.SOLID),
        area((72, 56), (74, 10), (86, 10), (88, 56)),
        line((80, 16), (80, 48), width=FINE),
        arc(80, 10, 6, 180, 360),
    ),
}
