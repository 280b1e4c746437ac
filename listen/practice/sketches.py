"""How something is passed, as small line drawings: hands, an instrument, the arches, a tray, a patient.

Gives each sketch as SVG shapes in a field 160 wide and 100 high, in the colour of the text around it; skin
and teeth take the colour of a card. They are schematic and our own, drawn for this. What a sketch shows in
words is in `listen.practice.wordings`; which of them are right for an item, `listen.practice.passing` says.
The operator is on the right with a solid sleeve, the assistant on the left with an outlined one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

Point = tuple[float, float]

WIDTH, HEIGHT = 160, 100
_LINE = 2.5
_SKIN = "var(--card, #fff)"
_INK = "currentColor"


def sketch(name: str) -> str:
    """The shapes of a sketch; KeyError for one that is not among `SKETCHES`."""
    return SKETCHES[name]()


def sketch_id(name: str) -> str:
    """A sketch's name as an id on a page: "grasp-palm-and-thumb"."""
    return name.replace("=", "-").replace(" ", "-")


# --- grasps -------------------------------------------------------------------------------------------


def _pen() -> str:
    middle = _limb([(116, 66), (92, 88), (66, 78)], 13)
    palm = _limb([(160, 84), (124, 62)], 38)
    index = _limb([(114, 50), (86, 44), (63, 66)], 13)
    thumb = _limb([(112, 74), (94, 78), (72, 66)], 14)
    return middle + _slanted() + palm + index + thumb


def _slanted() -> str:
    """An instrument held like a pen, its tip low on the left."""
    return _stroke([(124, 8), (66, 66)], 9) + _stroke([(66, 66), (44, 84), (30, 82)], 3.5)


def _palm() -> str:
    return _fist() + _limb([(64, 80), (82, 80), (100, 70)], 14)


def _palm_and_thumb() -> str:
    return _fist() + _limb([(74, 74), (52, 68), (30, 60)], 14)


def _fist() -> str:
    """Four fingers around a handle that lies in the palm."""
    back = _limb([(160, 76), (108, 58)], 40) + _limb([(72, 54), (110, 54)], 44)
    tool = _stroke([(150, 46), (48, 46)], 10) + _stroke([(48, 46), (18, 46), (8, 56)], 3.5)
    fingers = "".join(_limb([(x, 32), (x, 62)], 13) for x in (116, 101, 86, 71))
    return back + tool + fingers


# --- hands --------------------------------------------------------------------------------------------


def _hand(working: bool) -> str:
    """The operator from above, both hands before them; the working hand is solid."""
    body = _limb([(46, 24), (114, 24)], 20) + _circle((80, 18), 14)
    other = _limb([(44, 26), (36, 48), (52, 62)], 14) + _circle((54, 64), 10)
    work = _limb([(116, 26), (124, 48), (108, 62)], 14) + _circle((106, 64), 10, _INK)
    x = 106 if working else 54
    tool = _stroke([(x, 98), (x, 76)], 7) + _arrow((80, 92), (x + (14 if x < 80 else -14), 80))
    return body + other + work + tool


# --- which end leads, how it changes hands, where --------------------------------------------------------


def _end(handle_first: bool) -> str:
    """The assistant holds it, its tip free, and brings one end to the operator's open hand."""
    tool = _tool((14, 44), (112, 44)) if handle_first else _tool((112, 44), (14, 44))
    arm = _sleeved([(8, 104), (40, 68)], 22, solid=False) + _limb([(42, 66), (54, 48)], 20)
    return _taking((136, 56)) + tool + arm + _arrow((72, 78), (108, 78))


def _one_hand() -> str:
    """One hand takes the used one with its last fingers and gives the next between thumb and finger."""
    used, following = _tool((30, 66), (106, 66)), _tool((30, 32), (106, 32))
    arm = _sleeved([(0, 52), (30, 50)], 30, solid=False)
    fingers = _limb([(34, 60), (56, 66)], 13) + _limb([(34, 40), (58, 32)], 13)
    return used + following + arm + fingers + _taking((136, 50)) + _there_and_back(14, 86)


def _two_hands() -> str:
    """One hand takes the used one, the other gives the next."""
    used, following = _tool((36, 74), (108, 74)), _tool((36, 28), (108, 28))
    hands = _giving((34, 30)) + _giving((34, 76)) + _taking((138, 52))
    return used + following + hands + _there_and_back(10, 94)


def _there_and_back(there: float, back: float) -> str:
    """Arrows at these heights: what is given, and what is taken."""
    return _arrow((66, there), (104, there)) + _arrow((104, back), (66, back))


def _neutral_zone() -> str:
    """It lies on a tray between the two; neither hand touches the other."""
    tray = f'<rect x="48" y="34" width="64" height="36" rx="5" {_fill(_SKIN)}/>'
    return tray + _tool((56, 52), (104, 52)) + _giving((16, 52)) + _taking((144, 52))


def _faces(up: bool) -> str:
    """Between the upper and the lower teeth, the tip of an instrument."""
    upper = "".join(_tooth(x, 4, down=True) for x in range(10, 90, 16))
    lower = "".join(_tooth(x, 96, down=False) for x in range(10, 90, 16))
    bend = -18 if up else 18
    tip = _stroke([(92, 50), (60, 50), (48, 50 + bend)], 4)
    return upper + lower + tip + _stroke([(156, 50), (92, 50)], 10)


def _where(chest: bool) -> str:
    """A patient who lies, from above, and the two hands that meet over chest or face."""
    body = f'<rect x="50" y="40" width="60" height="66" rx="20" {_fill(_SKIN)}/>'
    head = _circle((80, 22), 17)
    face = _circle((74, 18), 1.5, _INK) + _circle((86, 18), 1.5, _INK) + _stroke([(75, 29), (85, 29)], 2)
    y = 74.0 if chest else 24.0
    tool = _stroke([(58, y), (102, y)], 7)
    return body + head + face + tool + _giving((48, y)) + _taking((114, y))


SKETCHES: dict[str, Callable[[], str]] = {
    "grasp=pen": _pen,
    "grasp=palm": _palm,
    "grasp=palm and thumb": _palm_and_thumb,
    "hand=working": lambda: _hand(working=True),
    "hand=other": lambda: _hand(working=False),
    "end=offered": lambda: _end(handle_first=True),
    "end=part": lambda: _end(handle_first=False),
    "exchange=one hand": _one_hand,
    "exchange=two hands": _two_hands,
    "exchange=neutral zone": _neutral_zone,
    "faces=up": lambda: _faces(up=True),
    "faces=down": lambda: _faces(up=False),
    "where=chest": lambda: _where(chest=True),
    "where=face": lambda: _where(chest=False),
}
"""By name: what is asked about, and how it is in this one."""


# --- parts --------------------------------------------------------------------------------------------


def _giving(at: Point) -> str:
    """The assistant's hand, which ends here."""
    x, y = at
    return _sleeved([(x - 50, y + 4), (x - 12, y)], 20, solid=False) + _limb([(x - 14, y), (x, y)], 18)


def _taking(at: Point) -> str:
    """The operator's open hand: palm, fingers and thumb toward the left."""
    x, y = at
    hand = _limb([(x + 4, y), (x - 4, y)], 22)
    fingers = _limb([(x, y - 8), (x - 18, y - 12)], 8) + _limb([(x, y + 8), (x - 18, y + 10)], 8)
    return _sleeved([(x + 50, y + 4), (x + 12, y)], 22, solid=True) + hand + fingers


def _sleeved(points: Iterable[Point], width: float, solid: bool) -> str:
    """A forearm in a sleeve."""
    line = [*points]
    return _limb(line, width) if not solid else _stroke(line, width + _LINE)


def _tool(end: Point, handle: Point) -> str:
    """An instrument: a thick handle with rings at `handle`, a thin hooked tip at `end`, on one height."""
    way = 1 if handle[0] > end[0] else -1
    shank, y = end[0] + 26 * way, end[1]
    rings = "".join(
        f'<path d="M{handle[0] - step * way:g} {y - 4:g}V{y + 4:g}" stroke="{_SKIN}" stroke-width="2"/>'
        for step in (6, 12, 18)
    )
    hook = _stroke([(shank, y), (end[0] + 6 * way, y), (end[0], y - 9)], 3.5)
    return hook + _stroke([(shank, y), handle], 10) + rings


def _tooth(x: float, y: float, down: bool) -> str:
    way = 1 if down else -1
    path = f"M{x:g} {y:g}v{12 * way}q0 {10 * way} 7 {10 * way}t7 {-10 * way}v{-12 * way}z"
    return f'<path d="{path}" {_fill(_SKIN)}/>'


def _limb(points: Iterable[Point], width: float) -> str:
    """A finger, hand or arm with its outline, over what was drawn before."""
    line = [*points]
    return _stroke(line, width) + _stroke(line, width - 2 * _LINE, _SKIN)


def _circle(at: Point, radius: float, fill: str = _SKIN) -> str:
    return f'<circle cx="{at[0]:g}" cy="{at[1]:g}" r="{radius:g}" {_fill(fill)}/>'


def _arrow(start: Point, end: Point) -> str:
    """A thin arrow along which something moves."""
    (x, y), (dx, dy) = end, (end[0] - start[0], end[1] - start[1])
    long = (dx * dx + dy * dy) ** 0.5
    ux, uy = 8 * dx / long, 8 * dy / long
    head = [(x - ux - uy * 0.7, y - uy + ux * 0.7), (x, y), (x - ux + uy * 0.7, y - uy - ux * 0.7)]
    return _stroke([start, end], _LINE) + _stroke(head, _LINE)


def _stroke(points: Iterable[Point], width: float, colour: str = _INK) -> str:
    path = "L".join(f"{x:g} {y:g}" for x, y in points)
    return (
        f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
        'stroke-linecap="round" stroke-linejoin="round"/>'
    )


def _fill(colour: str) -> str:
    return f'fill="{colour}" stroke="{_INK}" stroke-width="{_LINE:g}"'
