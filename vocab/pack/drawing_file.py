"""Reads the drawing of an item from an SVG file; only shapes are let in.

A drawing is `drawings/ITEM_ID.svg` in the folder of its pack. It may hold

- one `<svg>` with `viewBox="0 0 160 100"`, and `<g>` around shapes. Every point lies inside that field, x to
  the right and y down; items of one kind are drawn to one scale;
- `<path>` with all its commands, `<line>`, `<polyline>`, `<polygon>`, `<rect>`, `<circle>` and `<ellipse>`;
- `<text>` for what is printed on an item, such as a size: up to 8 plain letters and digits, bold, centred;
- on each of them, and passed on to what is inside as in any SVG: `stroke`, always black or `currentColor`;
  `stroke-width` of 0.5 to 12 (2.5 for outlines, 1.3 for detail); `fill`, which is `none`, black or
  `currentColor`, or a grey (also black with a `fill-opacity`), and every grey is drawn as the same light
  tint; round line ends and corners. On screen black is the colour of the text around the drawing.

Nothing else: no scripts, links, styles, pictures, entities or moved groups. At most 64 KiB and 200 shapes.
What is drawn is made again from the numbers in the file; none of its text reaches a page. Takes files and
gives the marks of `vocab.pack.shapes`, or problems with file and line.
"""

from __future__ import annotations

import math
import re
import xml.sax
from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from xml.sax.xmlreader import AttributesImpl, Locator

import defusedxml.sax
from defusedxml import DefusedXmlException
from fontTools.misc.bezierTools import calcCubicBounds
from fontTools.svgLib.path import parse_path

from vocab.errors import PackError, Problem, nearest
from vocab.pack.labels import shown
from vocab.pack.shapes import (
    HEIGHT,
    WIDTH,
    Drawing,
    Fill,
    Label,
    Point,
    Segment,
    Shape,
    area,
    box,
    circle,
    ellipse,
    line,
)

ENDING = ".svg"
"""How the names of drawings end."""

LARGEST_FILE = 64 * 1024
"""Bytes; eight times the fullest shipped drawing."""
MOST_SHAPES = 200
"""Shapes of one drawing; the fullest shipped one has 55."""
LONGEST_PRINT = 8
"""Characters printed on an item."""
THINNEST, THICKEST = 0.5, 12.0
"""Line widths."""

_NAMESPACE, _VIEW_BOX = "http://www.w3.org/2000/svg", "0 0 160 100"
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_PATH = re.compile(r"\s*[Mm][MmLlHhVvCcSsQqTtAaZz0-9eE+\-.,\s]*")
_PRINT = re.compile(rf"[A-Za-z0-9+\-./%×]?[A-Za-z0-9+\-./%× ]{{0,{LONGEST_PRINT - 1}}}")
_HEX = re.compile(r"#(?:([0-9a-f])\1\1|([0-9a-f]{2})\2\2)")

_BLACK, _GREY = ("currentColor", "black", "#000", "#000000"), ("grey", "gray", "lightgrey", "lightgray")

_PAINT = ("fill", "fill-opacity", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin")
_PRINTED = {"font-family": "sans-serif", "font-weight": "700", "text-anchor": "middle", "stroke": "none"}
_NUMBERS: Mapping[str, tuple[str, ...]] = {
    "line": ("x1", "y1", "x2", "y2"),
    "rect": ("x", "y", "width", "height", "rx"),
    "circle": ("cx", "cy", "r"),
    "ellipse": ("cx", "cy", "rx", "ry"),
    "text": ("x", "y", "font-size"),
}
_OTHERS: Mapping[str, tuple[str, ...]] = {
    "svg": ("xmlns", "viewBox", "width", "height", "version"),
    "g": (),
    "path": ("d",),
    "polyline": ("points",),
    "polygon": ("points",),
    "text": tuple(_PRINTED),
}
_ROUNDED: Mapping[str, Callable[..., Shape]] = {"rect": box, "circle": circle, "ellipse": ellipse}
_SIZES = {"width", "height", "r", "rx", "ry", "font-size"}
"""Numbers that must be above zero."""

_AS_DEFAULT = {"fill": "black", "fill-opacity": "1", "stroke": "none", "stroke-width": "1"}
"""What SVG says where a file says nothing."""

_PLAIN = "write fill, stroke and stroke-width as attributes of the shapes"
_REMEDIES: Mapping[str, str] = {
    "script": "a drawing runs nothing; delete it",
    "style": _PLAIN,
    "a": "a drawing leads nowhere; delete the link and keep the shapes inside it",
    "image": "only shapes are drawn; trace the picture as paths",
    "foreignObject": "only shapes are drawn; delete it",
    "use": "write the shapes out where they are drawn",
    "defs": "write the shapes out where they are drawn",
    "symbol": "write the shapes out where they are drawn",
    "tspan": "write the print straight into <text>",
    "title": "the name of the item is read out instead; delete it",
    "desc": "the name of the item is read out instead; delete it",
    "metadata": "delete it, or save the drawing as plain SVG",
}
_ATTRIBUTE_REMEDIES: Mapping[str, str] = {
    "style": f"styles are not read; {_PLAIN}",
    "class": f"styles are not read; {_PLAIN}",
    "href": "a drawing refers to nothing else; delete it",
    "xlink:href": "a drawing refers to nothing else; delete it",
    "transform": "moved and turned shapes are not read; write the points as they are to be drawn",
}


def read_drawing(file: Path) -> Drawing:
    """The marks of a drawing.

    Raises:
        PackError: with everything in the file that is not allowed.
    """
    reader = _DrawingReader(file)
    reader.read()
    if reader.problems:
        raise PackError(reader.problems)
    return tuple(reader.marks)


def drawings_in(folder: Path, items: Collection[str]) -> tuple[dict[str, Drawing], list[Problem]]:
    """The drawings in `folder` by item id, and what is wrong with any of them.

    Hidden files are passed over; a drawing of an item that is not among `items` is a problem.
    """
    drawings: dict[str, Drawing] = {}
    problems: list[Problem] = []
    for file in sorted(folder.iterdir()):
        if file.name.startswith("."):
            continue
        if file.suffix != ENDING:
            problems.append(Problem(file, 0, "", f"a drawing is read only if its name ends in {ENDING}"))
        elif file.stem not in items:
            message = (
                f"there is no item {file.stem!r}{nearest(file.stem, items)}; rename the file or delete it"
            )
            problems.append(Problem(file, 0, "", message))
        else:
            try:
                drawings[file.stem] = read_drawing(file)
            except PackError as error:
                problems += error.problems
    return drawings, problems


class _Stop(Exception):
    """Nothing more is worth reading."""


class _DrawingReader(xml.sax.ContentHandler):
    """Takes one file apart into marks and problems."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.marks: list[Shape | Label] = []
        self.problems: list[Problem] = []
        self._file = file
        self._locator: Locator | None = None
        self._paint: list[dict[str, str]] = [_AS_DEFAULT]
        self._open: list[str] = []
        self._left_out = 0
        """How many elements deep the reader is in one that is not allowed."""
        self._shapes = 0
        self._label: Label | None = None
        self._print = ""

    def read(self) -> None:
        """Reads the whole file, or as much of it as can be read."""
        if not self._file.is_file():
            self._report("this is not a file; put an SVG file here")
            return
        try:
            with self._file.open("rb") as opened:
                data = opened.read(LARGEST_FILE + 1)
        except OSError as error:
            self._report(f"cannot be read ({error.strerror}); check the file and its permissions")
            return
        if len(data) > LARGEST_FILE:
            self._report(f"the file is larger than {LARGEST_FILE // 1024} KiB; draw it with fewer points")
            return
        try:
            defusedxml.sax.parseString(data, self, forbid_dtd=True)
        except _Stop:
            pass
        except DefusedXmlException:
            self._report_here("", "a doctype or entity is not allowed in a drawing; delete it")
        except xml.sax.SAXParseException as error:
            message = f"this is not valid XML ({error.getMessage()}); save the drawing again as plain SVG"
            self.problems.append(Problem(self._file, error.getLineNumber() or 0, "", message))
        except (ValueError, LookupError) as error:
            message = f"this is not valid XML ({shown(str(error), 80)}); save the drawing again as plain SVG"
            self._report(message)
        if not self.problems and not self.marks:
            self._report("nothing is drawn; add shapes, or delete the file")

    # --- what the parser calls --------------------------------------------------------------------------

    def setDocumentLocator(self, locator: Locator) -> None:  # noqa: N802
        self._locator = locator

    def processingInstruction(self, target: str, data: str) -> None:  # noqa: N802
        self._report_here("", f"<?{shown(target, 30)}?> is not allowed in a drawing; delete it")

    def startElement(self, name: str, attrs: AttributesImpl) -> None:  # noqa: N802
        if self._left_out:
            self._left_out += 1
            return
        given = dict(attrs.items())
        if not self._may_stand_here(name, given):
            self._left_out = 1
            return
        paint = self._checked(name, given)
        self._open.append(name)
        self._paint.append({**self._paint[-1], **paint})
        if name not in ("svg", "g"):
            self._shapes += 1
            if self._shapes > MOST_SHAPES:
                self._report_here("", f"there are more than {MOST_SHAPES} shapes; draw it with fewer")
                raise _Stop
            self._draw(name, given)

    def endElement(self, name: str) -> None:  # noqa: N802
        if self._left_out:
            self._left_out -= 1
            return
        self._open.pop()
        self._paint.pop()
        if name == "text":
            self._finish_print()

    def characters(self, content: str) -> None:
        if self._left_out:
            return
        if self._open[-1:] == ["text"]:
            self._print += content
        elif content.strip():
            words = shown(content.strip(), 30)
            self._report_here("", f"the words {words!r} are not drawn; delete them")

    # --- elements and attributes ------------------------------------------------------------------------

    def _may_stand_here(self, name: str, given: Mapping[str, str]) -> bool:
        if not self._open:
            if name != "svg" or given.get("xmlns") != _NAMESPACE:
                self._report_here(
                    "", f'a drawing begins with <svg xmlns="{_NAMESPACE}" viewBox="{_VIEW_BOX}">'
                )
                raise _Stop
            return True
        inside = self._open[-1]
        known = [element for element in (*_OTHERS, *_NUMBERS) if element != "svg"]
        if name in known and inside in ("svg", "g"):
            return True
        if name in known:
            remedy = f"it stands inside <{inside}>; only <svg> and <g> hold shapes"
        else:
            remedy = _REMEDIES.get(name, f"allowed: {', '.join(dict.fromkeys(known))}")
        self._report_here("", f"<{shown(name, 30)}> is not allowed in a drawing; {remedy}")
        return False

    def _checked(self, name: str, given: Mapping[str, str]) -> dict[str, str]:
        """Reports attributes that are not allowed; gives what is passed on to the shapes inside."""
        own = (*_OTHERS.get(name, ()), *_NUMBERS.get(name, ()))
        for attribute in given:
            if attribute == "id" or attribute in own or (name == "svg" and attribute.startswith("xmlns:")):
                continue
            if attribute not in _PAINT:
                known = (*own, *_PAINT)
                remedy = _ATTRIBUTE_REMEDIES.get(
                    attribute, f"it is not known here{nearest(attribute, known)}; allowed: {', '.join(known)}"
                )
                if attribute.lower().startswith("on"):
                    remedy = "a drawing runs nothing; delete it"
                self._report_here(f"{name}.{shown(attribute, 30)}", f"is not allowed; {remedy}")
        if name == "svg" and " ".join(re.split(r"[\s,]+", given.get("viewBox", ""))) != _VIEW_BOX:
            self._report_here("svg.viewBox", f'must be "{_VIEW_BOX}"; scale the drawing to that field')
        if name == "text":
            for attribute, needed in _PRINTED.items():
                if given.get(attribute) != needed:
                    self._report_here(f"text.{attribute}", f'must be "{needed}"; print has one look')
        paint = {
            a: value for a, value in given.items() if a in _PAINT and not (name == "text" and a in _PRINTED)
        }
        return {a: value for a, value in paint.items() if self._is_paint(name, a, value)}

    def _is_paint(self, name: str, attribute: str, value: str) -> bool:
        """Whether a colour, width or line end is allowed; reports it where not."""
        if attribute == "fill":
            remedy = '"none", "currentColor" or black, or a grey' if _colour(value) is None else ""
        elif attribute == "stroke":
            remedy = '"currentColor" or black' if _colour(value) not in (Fill.SOLID, Fill.NONE) else ""
        elif attribute in ("stroke-linecap", "stroke-linejoin"):
            remedy = '"round"' if value != "round" else ""
        else:
            least, most = (THINNEST, THICKEST) if attribute == "stroke-width" else (0.01, 1)
            number = _number(value)
            remedy = (
                "" if number is not None and least <= number <= most else f"a number of {least} to {most}"
            )
        if remedy:
            self._report_here(f"{name}.{attribute}", f"must be {remedy}; it is {shown(value, 30)!r}")
        return not remedy

    # --- shapes -----------------------------------------------------------------------------------------

    def _draw(self, name: str, given: Mapping[str, str]) -> None:
        """Adds the mark of one element, or reports why there is none."""
        before = len(self.problems)
        numbers = dict(self._numbers(name, given))
        if len(self.problems) > before:
            return
        if name == "text":
            if _filled(self._paint[-1]) is not Fill.SOLID:
                self._report_here("text.fill", 'must be "currentColor" or black, without fill-opacity')
                return
            self._label = Label("", (numbers["x"], numbers["y"]), numbers["font-size"])
            return
        path = self._path(name, given, numbers)
        if path is None:
            return
        paint = self._paint[-1]
        if _colour(paint["stroke"]) is not Fill.SOLID:
            self._report_here(name, 'has no outline; give it, or the <svg>, stroke="currentColor"')
        elif not _inside(path):
            self._report_here(name, f"leaves the field of {WIDTH:.0f} by {HEIGHT:.0f}; move it inside")
        else:
            self.marks.append(Shape(path, _filled(paint), float(paint["stroke-width"])))

    def _numbers(self, name: str, given: Mapping[str, str]) -> Iterator[tuple[str, float]]:
        """The numbers an element needs; those left out are zero where SVG says so."""
        for attribute in _NUMBERS.get(name, ()):
            if attribute not in given:
                if attribute in _SIZES and (name, attribute) != ("rect", "rx"):
                    self._report_here(f"{name}.{attribute}", "is missing; add it")
                yield attribute, 0.0
                continue
            number = _number(given[attribute])
            if number is None:
                said = shown(given[attribute], 30)
                self._report_here(f"{name}.{attribute}", f"must be a plain number; it is {said!r}")
            elif attribute in _SIZES and number <= 0:
                self._report_here(f"{name}.{attribute}", "must be above zero")
            else:
                yield attribute, number

    def _path(
        self, name: str, given: Mapping[str, str], numbers: Mapping[str, float]
    ) -> tuple[Segment, ...] | None:
        if name == "path":
            path = _path_of(given.get("d", ""))
            if path is None:
                self._report_here("path.d", "is no outline: M and two numbers, then commands with theirs")
            return path
        if name in ("polyline", "polygon"):
            points = _points_of(given.get("points", ""))
            if points is None:
                self._report_here(f"{name}.points", "needs x and y of two points or more, and nothing else")
                return None
            return (line if name == "polyline" else area)(*points).path
        if name == "line":
            return line((numbers["x1"], numbers["y1"]), (numbers["x2"], numbers["y2"])).path
        values = list(numbers.values())
        if name == "rect":
            values[4] = min(values[4], values[2] / 2, values[3] / 2)
        return _ROUNDED[name](*values).path

    def _finish_print(self) -> None:
        text, label = " ".join(self._print.split()), self._label
        self._print, self._label = "", None
        if label is None:
            return
        if not text or not _PRINT.fullmatch(text):
            message = (
                f"print must be 1 to {LONGEST_PRINT} plain letters and digits; it is {shown(text, 30)!r}"
            )
            self._report_here("text", message)
            return
        half = len(text) * label.size * 0.35
        if half <= label.at[0] <= WIDTH - half and label.size <= label.at[1] <= HEIGHT:
            self.marks.append(Label(text, label.at, label.size))
        else:
            self._report_here("text", f"leaves the field of {WIDTH:.0f} by {HEIGHT:.0f}; move it inside")

    # --- problems ---------------------------------------------------------------------------------------

    def _report(self, message: str) -> None:
        self.problems.append(Problem(self._file, 0, "", message))

    def _report_here(self, field: str, message: str) -> None:
        number = self._locator.getLineNumber() if self._locator else 0
        self.problems.append(Problem(self._file, number or 0, field, message))


def _number(text: str) -> float | None:
    """A finite number, or None."""
    if not _NUMBER.fullmatch(text.strip()):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def _colour(text: str) -> Fill | None:
    """What a colour comes to: nothing, full, or the tint of every grey; None if it is not allowed."""
    if text == "none":
        return Fill.NONE
    if text in _BLACK:
        return Fill.SOLID
    grey = _HEX.fullmatch(text.lower())
    return Fill.TINT if text in _GREY or (grey and text.lower() not in ("#fff", "#ffffff")) else None


def _filled(paint: Mapping[str, str]) -> Fill:
    """How the inside of a shape looks."""
    fill = _colour(paint["fill"]) or Fill.NONE
    return Fill.TINT if fill is Fill.SOLID and float(paint["fill-opacity"]) < 1 else fill


def _points_of(text: str) -> tuple[Point, ...] | None:
    if _NUMBER.sub("", text).strip(", \t\r\n"):
        return None
    numbers = [float(found.group()) for found in _NUMBER.finditer(text)]
    if len(numbers) < 4 or len(numbers) % 2 or not all(map(math.isfinite, numbers)):
        return None
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))


def _path_of(text: str) -> tuple[Segment, ...] | None:
    """The segments of a `d`; None if it is damaged."""
    if not _PATH.fullmatch(text):
        return None
    pen = _Pen()
    try:
        parse_path(text, pen)
    except (ValueError, TypeError, LookupError, ArithmeticError):
        return None
    finite = all(math.isfinite(v) for s in pen.path for p in s.points for v in p)
    return tuple(pen.path) if finite and len(pen.path) > 1 else None


class _Pen:
    """Notes the movements of a path."""

    def __init__(self) -> None:
        self.path: list[Segment] = []

    def moveTo(self, to: Point) -> None:  # noqa: N802
        self.path.append(Segment("M", (to,)))

    def lineTo(self, to: Point) -> None:  # noqa: N802
        self.path.append(Segment("L", (to,)))

    def curveTo(self, near: Point, far: Point, to: Point) -> None:  # noqa: N802
        self.path.append(Segment("C", (near, far, to)))

    def qCurveTo(self, by: Point, to: Point) -> None:  # noqa: N802
        """A curve with one control point, as one with two."""
        (x, y), (a, b), (u, v) = self.path[-1].points[-1], by, to
        self.curveTo(
            (x + (a - x) * 2 / 3, y + (b - y) * 2 / 3), (u + (a - u) * 2 / 3, v + (b - v) * 2 / 3), to
        )

    def closePath(self) -> None:  # noqa: N802
        """Closes the outline; the line back to its start, which the parser adds, goes without saying."""
        start = next(s.points for s in reversed(self.path) if s.kind == "M")
        if self.path[-1] == Segment("L", start):
            self.path.pop()
        self.path.append(Segment("Z"))

    def endPath(self) -> None:  # noqa: N802
        """An open outline ends."""


def _inside(path: tuple[Segment, ...]) -> bool:
    """Whether an outline stays in the field."""
    slack, far = 1e-6, 10 * WIDTH
    if any(not abs(v) < far for segment in path for point in segment.points for v in point):
        return False
    here = path[0].points[0]
    for segment in path:
        if not segment.points:
            continue
        to = segment.points[-1]
        x0, y0, x1, y1 = (
            calcCubicBounds(here, *segment.points) if segment.kind == "C" else (to[0], to[1], to[0], to[1])
        )
        if min(x0, y0) < -slack or x1 > WIDTH + slack or y1 > HEIGHT + slack:
            return False
        here = to
    return True
