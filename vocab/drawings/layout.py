"""Lays a tray out on paper: its rows, the chair-side places beside them, on as few pages as is legible.

Takes a pack, one of its trays and the paper size. Gives a card on which every word and picture has its
place, in points (1/72 inch) from the upper left corner of its page. It writes no file format.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from vocab.drawings.items import drawing_of
from vocab.drawings.typeface import width, wrapped
from vocab.errors import TraycallError
from vocab.pack.schema import Item, Pack, Slot, Tray
from vocab.pack.shapes import HEIGHT, WIDTH, Drawing

Paper = Literal["A4", "Letter"]

PAPERS: dict[str, tuple[float, float]] = {"A4": (841.89, 595.28), "Letter": (792.0, 612.0)}
"""Width and height in points, landscape (ISO 216; ANSI Y14.1)."""

MARGIN, GAP, PAD = 26.0, 10.0, 4.0
TITLE, SMALL = 16.0, 8.0
HEAD, FOOT, HEADING = 30.0, 16.0, 14.0
FEWEST, MOST = 7, 11
"""Cells side by side on a page: never so many that names are too small to read."""

LARGEST, SMALLEST, LARGER = 9.0, 6.5, 1.5
"""The size of names, in points, and by how much addresses are larger; only a name too long for a page is set
smaller than the smallest."""

LEADING = 1.25
"""The height of a line of print over its size."""

BESIDE = "beside the tray"
SHARP = "sharp"
FOOTNOTE = "Triangle and the word sharp: it can stick or cut."


class CardError(TraycallError):
    """A card that cannot be made as asked."""


@dataclass(frozen=True)
class Box:
    """A rectangle: left, top, width and height in points."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.w

    @property
    def low(self) -> float:
        """The lower edge."""
        return self.y + self.h


@dataclass(frozen=True)
class CardText:
    """One line of print; (x, y) is the left end of its base line."""

    text: str
    x: float
    y: float
    size: float
    bold: bool = False

    @property
    def box(self) -> Box:
        """The space the line takes, from the top of its capitals to the foot of its long letters."""
        return Box(self.x, self.y - 0.8 * self.size, width(self.text, self.size, self.bold), self.size)


@dataclass(frozen=True)
class Cell:
    """One slot: its frame, its print, its picture and, for a sharp, the place of the warning sign."""

    slot: Slot
    frame: Box
    texts: tuple[CardText, ...]
    drawing: Drawing
    picture: Box
    sign: Box | None


@dataclass(frozen=True)
class Page:
    """What stands on one page; `groups` frame the cells of a row."""

    texts: tuple[CardText, ...]
    groups: tuple[Box, ...]
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Card:
    """A laid-out tray card; all pages have the same size, in points."""

    title: str
    language: str
    width: float
    height: float
    pages: tuple[Page, ...]


def lay_out(pack: Pack, tray: Tray, paper: Paper = "A4") -> Card:
    """The card of a tray: the fewest pages, and on these the largest cells, that hold every slot."""
    if paper not in PAPERS:
        raise CardError(f"there is no paper called {paper!r}; choose {' or '.join(PAPERS)}")
    size = PAPERS[paper]
    best: list[Page] = []
    for cells, beside in _splits(tray):
        pages = _zones(pack, tray, size, cells, beside)
        if not best or len(pages) < len(best):
            best = pages
        if len(best) == 1:
            break
    title = f"{tray.name} \N{EM DASH} {pack.name}"
    finished = tuple(_finished(tray, page, i, len(best), size) for i, page in enumerate(best))
    return Card(title, pack.language, *size, finished)


def _splits(tray: Tray) -> Iterator[tuple[int, int]]:
    """Ways to share a page: cells side by side, and how many of them beside the tray; large cells first."""
    for cells in range(FEWEST, MOST + 1):
        for beside in range(1, 5) if tray.chair_side else (0,):
            yield cells, beside


def _zones(pack: Pack, tray: Tray, size: tuple[float, float], cells: int, beside: int) -> list[Page]:
    """The pages, without title and foot, where `beside` of `cells` cells in a line are chair-side places."""
    gap = GAP if beside else 0.0
    cell = (size[0] - 2 * MARGIN - gap - 2 * PAD * (2 if beside else 1)) / cells
    rows = [(row.name, row.slots) for row in tray.rows]
    rows += [(kit.name, kit.on_tray) for kit in tray.opened]
    left = _Zone(pack, MARGIN, cell, cells - beside, size[1]).filled(rows)
    if not beside:
        return left
    start = MARGIN + (cells - beside) * cell + 2 * PAD + gap
    right = _Zone(pack, start, cell, beside, size[1]).filled([(BESIDE, tray.chair_side)])
    empty = Page((), (), ())
    count = max(len(left), len(right))
    left += [empty] * (count - len(left))
    right += [empty] * (count - len(right))
    return [
        Page(a.texts + b.texts, a.groups + b.groups, a.cells + b.cells)
        for a, b in zip(left, right, strict=True)
    ]


@dataclass(frozen=True)
class _Run:
    """The part of a row that stands on one page: its heading, where it begins, its lines and their tops."""

    heading: str
    begun: float
    lines: list[tuple[float, _CardLine]]


@dataclass(frozen=True)
class _Zone:
    """Part of each page, `cells` cells wide, that rows run down."""

    pack: Pack
    x: float
    cell: float
    cells: int
    page_height: float

    def filled(self, rows: list[tuple[str, tuple[Slot, ...]]]) -> list[Page]:
        """The rows from page to page; a row too long for a line goes on in the next one."""
        lowest = self.page_height - MARGIN - FOOT
        highest = lowest - MARGIN - HEAD - HEADING - 2 * PAD
        pages: list[list[_Run]] = [[]]
        y = MARGIN + HEAD
        for name, slots in rows:
            run: _Run | None = None
            heading = name
            for start in range(0, len(slots), self.cells):
                line = _CardLine.of(self.pack, slots[start : start + self.cells], self.cell, highest)
                opening = 0.0 if run else HEADING + PAD
                if y + opening + line.height + PAD > lowest and pages[-1]:
                    pages.append([])
                    heading = f"{name}, continued" if run else name
                    y, run = MARGIN + HEAD, None
                if run is None:
                    run = _Run(heading, y, [])
                    pages[-1].append(run)
                    y += HEADING + PAD
                run.lines.append((y, line))
                y += line.height
            y += 2 * PAD
        return [self._page(runs) for runs in pages]

    def _page(self, runs: list[_Run]) -> Page:
        groups = []
        for run in runs:
            y, last = run.lines[-1]
            frame = Box(
                self.x, run.begun, self.cells * self.cell + 2 * PAD, y + last.height + PAD - run.begun
            )
            groups.append(frame)
        cells = tuple(c for run in runs for y, line in run.lines for c in line.cells(self.x + PAD, y))
        return Page(tuple(self._heading(run) for run in runs), tuple(groups), cells)

    def _heading(self, run: _Run) -> CardText:
        size = _fitted(run.heading, SMALL + 1, self.cells * self.cell)
        return CardText(run.heading, self.x + PAD, run.begun + HEADING - 3, size, True)


@dataclass(frozen=True)
class _CardLine:
    """Cells side by side, `cell` points wide each and as high as the fullest needs."""

    slots: tuple[Slot, ...]
    items: tuple[Item, ...]
    cell: float
    size: float
    addresses: tuple[tuple[str, ...], ...]
    names: tuple[tuple[str, ...], ...]

    @classmethod
    def of(cls, pack: Pack, slots: tuple[Slot, ...], cell: float, highest: float) -> _CardLine:
        """The line of some slots, in print as large as words and a page of height `highest` allow."""
        items = tuple(pack.item(s.item) for s in slots)
        addresses = [s.at.split() for s in slots]
        names = [_words(i.name.text, s.count) for i, s in zip(items, slots, strict=True)]
        room = cell - 2 * PAD
        widest = max(width(w, 1) for name in names for w in name)
        widest_bold = max(width(w, 1, bold=True) for address in addresses for w in address)
        size = max(SMALLEST, min(LARGEST, cell / 10, room / widest, room / widest_bold - LARGER))
        while True:
            line = cls(
                slots,
                items,
                cell,
                size,
                tuple(wrapped(a, room, size + LARGER, bold=True) for a in addresses),
                tuple(wrapped(n, room, size) for n in names),
            )
            if line.height <= highest:
                return line
            size *= 0.9

    @property
    def head(self) -> float:
        """The height of the addresses."""
        return max(len(a) for a in self.addresses) * (self.size + LARGER) * LEADING

    @property
    def picture(self) -> float:
        """The height of the pictures."""
        return (self.cell - 2 * PAD) * HEIGHT / WIDTH

    @property
    def warned_above(self) -> bool:
        """Whether every warning fits beside its address; otherwise all stand under the names."""
        size, room = self.size, self.cell - 2 * PAD
        return all(
            width(a[0], size + LARGER, bold=True) + PAD + _warning_width(size) <= room
            for a, i in zip(self.addresses, self.items, strict=True)
            if i.sharp
        )

    @property
    def height(self) -> float:
        """The height of the whole line."""
        below = any(i.sharp for i in self.items) and not self.warned_above
        lines = max(len(n) for n in self.names) + below
        return PAD + self.head + self.picture + lines * self.size * LEADING + PAD

    def cells(self, x: float, y: float) -> list[Cell]:
        """The cells of a line whose upper left corner is at (x, y)."""
        return [self._cell(i, x + i * self.cell, y) for i in range(len(self.slots))]

    def _cell(self, i: int, x: float, y: float) -> Cell:
        item, size, left = self.items[i], self.size, x + PAD
        picture = Box(left, y + PAD + self.head, self.cell - 2 * PAD, self.picture)
        texts = [
            *_lines(self.addresses[i], left, y + PAD, size + LARGER, bold=True),
            *_lines(self.names[i], left, picture.low, size),
        ]
        sign = None
        if item.sharp:
            if self.warned_above:
                at, base = x + self.cell - PAD - _warning_width(size), y + PAD + size + LARGER
            else:
                at, base = left, y + self.height - PAD - 1.5
            sign = Box(at, base - size + 1, size, size)
            texts.append(CardText(SHARP, sign.right + 2, base, size, bold=True))
        drawing = drawing_of(item.id, item.item_class, item.drawing)
        return Cell(self.slots[i], Box(x, y, self.cell, self.height), tuple(texts), drawing, picture, sign)


def _lines(lines: tuple[str, ...], x: float, y: float, size: float, bold: bool = False) -> Iterator[CardText]:
    """Lines of print below one another, the first one's top at `y`."""
    for i, line in enumerate(lines):
        yield CardText(line, x, y + (i + 0.8) * size * LEADING, size, bold)


def _warning_width(size: float) -> float:
    """The width of the sign and its word."""
    return size + 2 + width(SHARP, size, bold=True)


def _fitted(text: str, size: float, room: float) -> float:
    """The size, made smaller where the text would not fit the space."""
    return min(size, size * room / max(width(text, size, bold=True), 1))


def _words(name: str, count: int) -> list[str]:
    """The words of a name, each kept whole; a count above one is part of them."""
    return [*name.split(), *([f"\N{MULTIPLICATION SIGN}\N{NO-BREAK SPACE}{count}"] if count > 1 else [])]


def _finished(tray: Tray, page: Page, index: int, count: int, size: tuple[float, float]) -> Page:
    """A page with the tray's name at its head and the key to the sign at its foot."""
    number = f"page {index + 1} of {count}"
    room = size[0] - 2 * MARGIN - width(number, SMALL) - GAP
    title = _fitted(tray.name, TITLE, room)
    texts = [
        CardText(tray.name, MARGIN, MARGIN + TITLE, title, True),
        CardText(number, size[0] - MARGIN - width(number, SMALL), MARGIN + TITLE, SMALL),
    ]
    if any(cell.sign for cell in page.cells):
        texts.append(CardText(FOOTNOTE, MARGIN, size[1] - MARGIN, SMALL))
    return Page((*texts, *page.texts), page.groups, page.cells)
