"""Drawings tell items apart, are safe to put on a page, and tray cards hold every slot without overlaps."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from functools import cache
from importlib import resources
from itertools import combinations
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from vocab.drawings import CardError, Paper, drawing, tray_card, tray_card_pdf
from vocab.drawings.items import drawing_of, shipped_drawings, stand_in
from vocab.drawings.layout import PAPERS, Box, Card, lay_out
from vocab.pack.drawing_file import drawings_in
from vocab.pack.load import COMMON, DRAWINGS, SHIPPED, load_pack, shipped_names, shipped_pack
from vocab.pack.schema import Item, ItemClass, Pack, Reprocessing, Row, Slot, Tray
from vocab.pack.shapes import HEIGHT, WIDTH, Drawing, Label, Shape, line

PACK = shipped_pack()
PACKS = [shipped_pack(name) for name in shipped_names()]
SHOWN = {item.id: drawing_of(item.id) for pack in PACKS for item in pack.items}
SCALE = 22.0
"""Field units to the millimetre in which rotary instruments are drawn."""
OF_A_CLINIC: Drawing = (line((3, 4), (123, 45.5)),)
SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {SVG + tag for tag in ("svg", "title", "path", "text", "g", "rect")}
HOSTILE = """<script>alert("x")</script> & 'quotes' ]]> \x07 \ufffe"""

papers = pytest.mark.parametrize("paper", ["A4", "Letter"])
trays = pytest.mark.parametrize("tray", PACK.trays, ids=lambda t: t.id)


def item(item_id: str, name: str, **more: object) -> Item:
    """An item as a clinic adds it."""
    known: dict[str, object] = {
        "id": item_id,
        "name": name,
        "class": ItemClass.SURGICAL,
        "purpose": "Cuts.",
        "look": "Small.",
        "reprocessing": Reprocessing.STERILISE,
    }
    return Item.model_validate(known | more)


def with_items(*items: Item) -> Pack:
    return PACK.model_copy(update={"items": (*PACK.items, *items)})


def tray_of(*slots: Slot, chair_side: tuple[Slot, ...] = ()) -> Tray:
    return Tray(id="t", name="Tray", rows=(Row(name="far row", slots=slots),), chair_side=chair_side)


@cache
def laid_out(tray_id: str, paper: Paper) -> Card:
    """The card of a shipped tray, laid out once for all tests."""
    return lay_out(PACK, PACK.tray(tray_id), paper)


def spread(marks: Drawing) -> tuple[float, float]:
    """Width and height of what the marks cover, strokes left out."""
    points = [p for m in marks if isinstance(m, Shape) for s in m.path for p in s.points[-1:]]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return max(xs) - min(xs), max(ys) - min(ys)


def test_every_item_of_the_shipped_packs_has_a_drawing_of_its_own() -> None:
    assert set(shipped_drawings()) == set(SHOWN)


def test_every_shipped_drawing_is_sound_and_lies_once_with_a_pack_that_has_its_item() -> None:
    found: list[str] = []
    used: set[str] = set()
    for name in shipped_names():
        with resources.as_file(resources.files("vocab").joinpath(SHIPPED, name)) as folder:
            pack = load_pack(folder)
            drawn = [item.id for item in pack.items if item.drawing is not None]
            assert len(drawn) == len(list((folder / DRAWINGS).iterdir()))
        found += drawn
        used |= pack.by_id.keys()
    with resources.as_file(resources.files("vocab").joinpath(SHIPPED, COMMON, DRAWINGS)) as folder:
        common, problems = drawings_in(folder, used)
    assert problems == []
    assert sorted((*found, *common)) == sorted(shipped_drawings())


@pytest.mark.parametrize("pack", PACKS, ids=lambda pack: pack.id)
def test_no_two_items_of_a_pack_look_the_same(pack: Pack) -> None:
    shapes = {i.id: tuple(m for m in SHOWN[i.id] if isinstance(m, Shape)) for i in pack.items}
    alike = [(a, b) for a, b in combinations(shapes, 2) if shapes[a] == shapes[b]]
    assert alike == [], "print alone does not tell items apart"


# A 702 has the ISO size 016 and a 703 021, from memory of the table of US bur numbers.
def test_the_703_is_drawn_thicker_than_the_702_in_their_true_sizes() -> None:
    for item_id, tenths in (("surgical_fissure_bur_702", 16), ("surgical_fissure_bur_703", 21)):
        assert spread((SHOWN[item_id][1],))[1] == pytest.approx(tenths / 10 * SCALE, rel=0.02)


@pytest.mark.parametrize(
    ("right", "left"),
    [
        ("upper_molar_forceps_right", "upper_molar_forceps_left"),
        ("upper_cowhorn_right", "upper_cowhorn_left"),
        ("triangular_elevator_right", "triangular_elevator_left"),
    ],
)
def test_a_right_and_a_left_one_are_mirror_images(right: str, left: str) -> None:
    """As the pack says of these pairs."""

    def points(marks: Drawing, mirror: bool = False) -> list[tuple[float, float]]:
        found = (p for m in marks if isinstance(m, Shape) for s in m.path for p in s.points)
        return sorted({(round(x), round(100 - y if mirror else y)) for x, y in found})

    assert points(SHOWN[right], mirror=True) == points(SHOWN[left])


@pytest.mark.parametrize("item_id", SHOWN)
def test_a_drawing_is_plain_svg_in_the_colour_of_the_text_around_it(item_id: str) -> None:
    svg = drawing(item_id, "its name")
    root = ElementTree.fromstring(svg)
    assert {e.tag for e in root.iter()} <= ALLOWED
    assert root.get("viewBox") == "0 0 160 100"
    assert root.get("role") == "img"
    assert root[0].tag == SVG + "title" and root[0].text == "its name"
    assert root.get("stroke-width") == "2.5" and root.get("stroke-linecap") == "round"
    colours = {e.get(a) for e in root.iter() for a in ("fill", "stroke")} - {None}
    assert colours <= {"none", "currentColor"}
    assert not re.search(r"href|url\(|style=|\bon\w+=|@import|<!|<\?", svg)


@pytest.mark.parametrize("item_id", SHOWN)
def test_a_drawing_stays_inside_its_field(item_id: str) -> None:
    for mark in SHOWN[item_id]:
        if isinstance(mark, Label):
            half = len(mark.text) * mark.size * 0.35
            assert half <= mark.at[0] <= WIDTH - half and mark.size <= mark.at[1] <= HEIGHT
            continue
        edge = mark.width / 2 - 1e-6
        for x, y in (s.points[-1] for s in mark.path if s.points):
            assert edge <= x <= WIDTH - edge and edge <= y <= HEIGHT - edge


def test_without_a_name_the_id_is_read_out() -> None:
    assert "<title>hoe</title>" in drawing("hoe")


@pytest.mark.parametrize("item_id", ["hoe", "of_a_clinic", HOSTILE])
def test_what_a_pack_says_cannot_break_out_of_a_drawing(item_id: str) -> None:
    for svg in (drawing(item_id, HOSTILE), drawing(item_id)):
        assert {e.tag for e in ElementTree.fromstring(svg).iter()} <= ALLOWED
    assert "alert" in (ElementTree.fromstring(drawing(item_id, HOSTILE))[0].text or "")


@pytest.mark.parametrize("item_class", ItemClass)
def test_an_item_a_clinic_adds_gets_the_stand_in_of_its_class(item_class: ItemClass) -> None:
    marks = drawing_of("of_a_clinic", item_class)
    assert marks == stand_in(item_class)
    assert marks not in SHOWN.values()
    others = [drawing_of("of_a_clinic", c) for c in ItemClass if c is not item_class]
    assert marks not in others and marks != drawing_of("of_a_clinic")


@pytest.mark.parametrize("item_id", ["of_a_clinic", "hoe"])
def test_a_drawing_that_a_pack_brings_stands_on_the_picture_the_card_and_the_pdf(item_id: str) -> None:
    """Also where a shipped item of that id is drawn otherwise."""
    added = item(item_id, "its name").drawn(OF_A_CLINIC)
    pack = PACK.model_copy(update={"items": (added,)})
    tray = tray_of(Slot(at="1", item=item_id))
    stroke = '<path d="M3,4L123,45.5"/>'
    assert stroke in drawing(added.id, "its name", added.item_class, added.drawing)
    assert stroke in tray_card(pack, tray)
    without = pack.model_copy(update={"items": (added.drawn(None),)})
    assert stroke not in tray_card(without, tray)
    assert tray_card_pdf(pack, tray) != tray_card_pdf(without, tray)


# Head diameters in tenths of a millimetre are the ISO 6360-1 size numbers; which catalogue number has which
# size is from the table of bur numbers in operative dentistry handbooks, from memory.
@pytest.mark.parametrize(
    ("item_id", "tenths"),
    [
        ("bur_round_quarter", 5),
        ("bur_round_half", 6),
        ("bur_round_2", 10),
        ("bur_round_4", 14),
        ("bur_round_6", 18),
        ("bur_round_8", 23),
        ("bur_330", 8),
        ("bur_245", 8),
        ("bur_inverted_cone", 6),
        ("bur_fissure_56", 9),
        ("bur_fissure_57", 10),
        ("bur_tapered_169", 9),
        ("bur_tapered_170", 10),
        ("bur_crosscut_556", 9),
        ("bur_crosscut_557", 10),
        ("bur_crosscut_699", 9),
    ],
)
def test_a_bur_head_is_drawn_in_its_true_size(item_id: str, tenths: int) -> None:
    head = SHOWN[item_id][1]
    assert spread((head,))[1] == pytest.approx(tenths / 10 * SCALE, rel=0.02)
    printed = [m.text for m in SHOWN[item_id] if isinstance(m, Label)]
    assert printed == [f"{tenths:03d}"]


def test_the_245_is_about_twice_as_long_as_the_330() -> None:
    """As the pack's own description of both says."""
    long, short = spread((SHOWN["bur_245"][1],))[0], spread((SHOWN["bur_330"][1],))[0]
    assert 1.7 <= long / short <= 2.2


def test_a_long_needle_is_longer_than_a_short_one() -> None:
    """The pack says 32 to 35 mm and 20 to 25 mm."""
    long, short = (spread(SHOWN[i][-1:])[0] for i in ("needle_long", "needle_short"))
    assert 32 / 25 <= long / short <= 35 / 20


def test_the_large_condenser_is_about_twice_as_wide_as_the_small_one() -> None:
    """As the pack says; the face is the one stroke five wide."""
    large, small = (
        next(spread((m,))[0] for m in SHOWN[i] if isinstance(m, Shape) and m.width == 5)
        for i in ("condenser_large", "condenser_small")
    )
    assert 1.8 <= large / small <= 2.3


def overlap(a: Box, b: Box) -> bool:
    """Whether two boxes share more than an edge."""
    slack = 0.01
    return a.x < b.right - slack and b.x < a.right - slack and a.y < b.low - slack and b.y < a.low - slack


def inside(a: Box, b: Box) -> bool:
    slack = 0.01
    return a.x >= b.x - slack and a.y >= b.y - slack and a.right <= b.right + slack and a.low <= b.low + slack


def check_places(card: Card) -> None:
    """Nothing lies on anything else and everything lies on the paper."""
    for page in card.pages:
        paper = Box(0, 0, card.width, card.height)
        frames = [c.frame for c in page.cells]
        loose = [t.box for t in page.texts]
        for a, b in combinations(frames + loose, 2):
            assert not overlap(a, b)
        for a, b in combinations(page.groups, 2):
            assert not overlap(a, b)
        for box in (*page.groups, *loose):
            assert inside(box, paper)
        for cell in page.cells:
            assert sum(inside(cell.frame, g) for g in page.groups) == 1
            parts = [*(t.box for t in cell.texts), cell.picture, *([cell.sign] if cell.sign else [])]
            for part in parts:
                assert inside(part, cell.frame)
            for a, b in combinations(parts, 2):
                assert not overlap(a, b), cell


def printed(card: Card) -> list[tuple[str, str]]:
    """Address and name of every cell, the warning left out, line breaks undone."""
    found = []
    for page in card.pages:
        for cell in page.cells:
            plain = [t.text for t in cell.texts if not t.bold]
            bold = [t.text for t in cell.texts if t.bold]
            found.append((" ".join(bold[: len(bold) - bool(cell.sign)]), " ".join(plain)))
    return found


@papers
@trays
def test_a_card_holds_every_slot_in_order_with_address_name_and_number(tray: Tray, paper: Paper) -> None:
    card = laid_out(tray.id, paper)
    wanted = [
        (s.at, PACK.item(s.item).name.text + (f" ×\N{NO-BREAK SPACE}{s.count}" if s.count > 1 else ""))
        for s in tray.slots
    ]
    assert sorted(printed(card)) == sorted(wanted)
    on_tray = [c.slot for p in card.pages for c in p.cells if c.slot not in tray.chair_side]
    beside = [c.slot for p in card.pages for c in p.cells if c.slot in tray.chair_side]
    assert (*on_tray, *beside) == tray.slots


@papers
@trays
def test_nothing_on_a_card_overlaps(tray: Tray, paper: Paper) -> None:
    check_places(laid_out(tray.id, paper))


@trays
def test_sharps_carry_a_sign_and_a_word_and_nothing_else_does(tray: Tray) -> None:
    for page in laid_out(tray.id, "A4").pages:
        for cell in page.cells:
            sharp = PACK.item(cell.slot.item).sharp
            assert (cell.sign is not None) == sharp
            assert any(t.text == "sharp" for t in cell.texts) == sharp


def test_the_chair_side_places_lie_to_the_right_of_the_tray() -> None:
    tray = PACK.trays[0]
    for page in laid_out(tray.id, "A4").pages:
        beside = [c.frame.x for c in page.cells if c.slot in tray.chair_side]
        on_tray = [c.frame.right for c in page.cells if c.slot not in tray.chair_side]
        assert min(beside) > max(on_tray)


@papers
def test_a_tray_of_seventy_slots_fits_and_stays_readable(paper: Paper) -> None:
    ids = [i.id for i in PACK.items]
    tray = tray_of(
        *(Slot(at=str(n + 1), item=ids[n]) for n in range(45)),
        chair_side=tuple(Slot(at=f"place {n + 1}", item=ids[n]) for n in range(45, 70)),
    )
    card = lay_out(PACK, tray, paper)
    check_places(card)
    assert len(printed(card)) == 70 and len(card.pages) <= 2
    assert min(t.size for p in card.pages for c in p.cells for t in c.texts) >= 6.5


def test_long_names_addresses_and_titles_wrap_or_shrink() -> None:
    long = "Extraordinarily-long-unbroken-word-that-no-cell-can-hold-in-one-line and " * 4
    pack = with_items(item("of_a_clinic", long, sharp=True))
    row = Row(name=long, slots=(Slot(at=long, item="of_a_clinic", count=12), Slot(at="2", item="hoe")))
    places = (Slot(at="by the very far end of the other side", item="hoe"),)
    card = lay_out(pack, Tray(id="t", name=long, rows=(row,), chair_side=places))
    check_places(card)
    assert "".join(printed(card)[0][1].split()) == "".join(long.split()) + "×12"
    assert tray_card_pdf(pack, Tray(id="t", name=long, rows=(row,)))[:5] == b"%PDF-"


def test_a_tray_with_one_slot_and_no_places_beside_it_is_a_card() -> None:
    card = lay_out(PACK, tray_of(Slot(at="1", item="hoe")))
    check_places(card)
    assert len(card.pages) == 1 and printed(card) == [("1", "hoe")]


@papers
@trays
def test_a_card_as_svg_is_well_formed_and_says_what_the_layout_says(tray: Tray, paper: Paper) -> None:
    svg = tray_card(PACK, tray, paper)
    root = ElementTree.fromstring(svg)
    assert {e.tag for e in root.iter()} <= ALLOWED
    assert not re.search(r"href|url\(|style=|\bon\w+=|@import|<!|<\?", svg)
    words = [e.text for e in root.iter(SVG + "text")]
    card = laid_out(tray.id, paper)
    assert set(words) >= {
        t.text for p in card.pages for t in (*p.texts, *(t for c in p.cells for t in c.texts))
    }


def test_what_a_pack_says_cannot_break_out_of_a_card() -> None:
    pack = with_items(item("of_a_clinic", HOSTILE))
    pack = pack.model_copy(update={"name": HOSTILE, "language": '"><script>'})
    row = Row(name=HOSTILE, slots=(Slot(at=HOSTILE, item="of_a_clinic"),))
    svg = tray_card(pack, Tray(id="t", name=HOSTILE, rows=(row,)))
    assert {e.tag for e in ElementTree.fromstring(svg).iter()} <= ALLOWED


@papers
@trays
def test_the_pdf_opens_with_the_right_page_size_and_every_name(tray: Tray, paper: Paper) -> None:
    reader = PdfReader(io.BytesIO(tray_card_pdf(PACK, tray, paper)))
    card = laid_out(tray.id, paper)
    assert len(reader.pages) == len(card.pages)
    for page, laid in zip(reader.pages, card.pages, strict=True):
        assert (float(page.mediabox.width), float(page.mediabox.height)) == PAPERS[paper]
        lines = page.extract_text().splitlines()
        for cell in laid.cells:
            for text in cell.texts:
                assert any(text.text.replace("\N{NO-BREAK SPACE}", " ") in _spaced(n) for n in lines), text
    assert reader.metadata is not None and reader.metadata.title == card.title
    assert str(reader.root_object["/Lang"]) == PACK.language


def _spaced(line: str) -> str:
    return line.replace("\N{NO-BREAK SPACE}", " ")


def test_equal_trays_give_equal_pdfs() -> None:
    assert tray_card_pdf(PACK, PACK.trays[0]) == tray_card_pdf(PACK, PACK.trays[0])


@pytest.mark.parametrize(
    "name",
    [
        "Sonde droite à crochet",
        "Löffelexkavator, groß",
        "cuchara pequeña",
        "Đặng Hollenback",
        "Ω 3",
        "zrcátko č. 5",
        "зонд",
    ],
)
def test_the_pdf_prints_the_letters_of_many_languages(name: str) -> None:
    pack = with_items(item("of_a_clinic", name))
    pdf = tray_card_pdf(pack, tray_of(Slot(at=name.split()[0], item="of_a_clinic")))
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert [text.count(word) for word in name.split()] == [2, *[1] * (len(name.split()) - 1)]


@pytest.mark.parametrize("name", ["探针", "מחזיר", "مسبار"])
def test_letters_the_pdf_cannot_set_are_refused_and_the_svg_has_them(name: str) -> None:
    """Those from right to left are in the typeface, but would come out in the wrong order."""
    pack = with_items(item("of_a_clinic", name))
    tray = tray_of(Slot(at="1", item="of_a_clinic"))
    with pytest.raises(CardError, match=f"{name}.*SVG"):
        tray_card_pdf(pack, tray)
    assert name in tray_card(pack, tray)


@pytest.mark.parametrize("make", [tray_card, tray_card_pdf])
def test_a_paper_there_is_none_of_is_refused_with_the_choice(
    make: Callable[[Pack, Tray, str], object],
) -> None:
    with pytest.raises(CardError, match="A4 or Letter"):
        make(PACK, PACK.trays[0], "A5")


def test_the_papers_are_the_standard_ones() -> None:
    """ISO 216 says 210 by 297 mm; US letter is 8.5 by 11 inches."""
    assert PAPERS["A4"] == pytest.approx((297 / 25.4 * 72, 210 / 25.4 * 72), abs=0.01)
    assert PAPERS["Letter"] == (11 * 72, 8.5 * 72)
