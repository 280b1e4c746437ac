"""A clinic's drawings are read as far as they are shapes; everything else is refused with file and line."""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.vocab.pack.test_load import write
from vocab.errors import PackError, Problem
from vocab.pack.drawing_file import LARGEST_FILE, MOST_SHAPES, read_drawing
from vocab.pack.load import DRAWINGS, load_pack
from vocab.pack.shapes import Fill, Label, Segment, Shape

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 100" fill="none" stroke="currentColor">'
SHAPE = '<line x1="1" y1="2" x2="30" y2="40"/>'
PRINT = (
    '<text x="80" y="50" font-family="sans-serif" font-size="16" font-weight="700" '
    'text-anchor="middle" fill="currentColor" stroke="none">{}</text>'
)


def svg(*lines: str) -> str:
    """A drawing with each of the elements on a line of its own, from line 2 on."""
    return "\n".join((HEAD, *lines, "</svg>"))


def shapes(folder: Path, *lines: str) -> list[Shape]:
    """The shapes of a drawing that is sound."""
    file = folder / "wedge.svg"
    file.write_text(svg(*lines), encoding="utf-8")
    return [mark for mark in read_drawing(file) if isinstance(mark, Shape)]


def ends(shape: Shape) -> str:
    """The path of a shape in short: each movement and where it leads."""
    return " ".join(s.kind + ",".join(f"{v:g}" for p in s.points[-1:] for v in p) for s in shape.path)


def problems(folder: Path, text: str | bytes) -> tuple[Problem, ...]:
    """What is wrong with a drawing."""
    file = folder / "wedge.svg"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(PackError) as caught:
        read_drawing(file)
    assert {p.file for p in caught.value.problems} == {file}
    return caught.value.problems


@pytest.mark.parametrize(
    ("element", "path"),
    [
        ('<line x1="1" y1="2" x2="3" y2="4"/>', "M1,2 L3,4"),
        ('<polyline points="1,2 3 4, 5,6"/>', "M1,2 L3,4 L5,6"),
        ('<polygon points="1,2 3,4 5,6"/>', "M1,2 L3,4 L5,6 Z"),
        ('<rect x="1" y="2" width="10" height="20"/>', "M1,2 L11,2 L11,22 L1,22 Z"),
        ('<circle cx="50" cy="40" r="10"/>', "M60,40 C50,50 C40,40 C50,30 C60,40 Z"),
        ('<ellipse cx="50" cy="40" rx="10" ry="20"/>', "M60,40 C50,60 C40,40 C50,20 C60,40 Z"),
        ('<path d="M1 2L3 4h5V9z"/>', "M1,2 L3,4 L8,4 L8,9 Z"),
        ('<path d="m10 10 5 5-2-2c1 1 2 2 3 3"/>', "M10,10 L15,15 L13,13 C16,16"),
        ('<path d="M0 50Q10 60 20 50T40 50"/>', "M0,50 C20,50 C40,50"),
        ('<path d="M10 50A20 20 0 0 1 50 50"/>', "M10,50 C30,30 C50,50"),
        ('<path d="M1 1 3 3Z M5 5 6 6"/>', "M1,1 L3,3 Z M5,5 L6,6"),
    ],
)
def test_every_kind_of_shape_is_read(tmp_path: Path, element: str, path: str) -> None:
    assert [ends(s) for s in shapes(tmp_path, element)] == [path]


def test_a_curve_with_one_control_point_keeps_its_middle(tmp_path: Path) -> None:
    (shape,) = shapes(tmp_path, '<path d="M0,0Q30,60 60,0"/>')
    assert shape.path[1] == Segment("C", ((20, 40), (40, 40), (60, 0)))


def test_colours_and_widths_are_passed_on_to_what_is_inside(tmp_path: Path) -> None:
    found = shapes(
        tmp_path,
        '<g stroke-width="1.3" fill="black">',
        SHAPE,
        '<g fill="none"><circle cx="9" cy="9" r="2" stroke-width="3"/></g>',
        '<circle cx="9" cy="9" r="2" fill-opacity="0.22"/></g>',
        '<circle cx="9" cy="9" r="2" fill="#c8c8c8" stroke="#000"/>',
    )
    assert [(s.fill, s.width) for s in found] == [
        (Fill.SOLID, 1.3),
        (Fill.NONE, 3),
        (Fill.TINT, 1.3),
        (Fill.TINT, 1),
    ]


def test_what_is_printed_on_an_item_is_read(tmp_path: Path) -> None:
    file = tmp_path / "wedge.svg"
    file.write_text(svg(PRINT.format("90-100")), encoding="utf-8")
    assert read_drawing(file) == (Label("90-100", (80, 50), 16),)


@pytest.mark.parametrize(
    ("element", "field", "message"),
    [
        ("<script>alert(1)</script>", "", "<script> is not allowed in a drawing; a drawing runs nothing"),
        ("<style>line {stroke: red}</style>", "", "<style> is not allowed.*as attributes"),
        ('<a href="x"><line x1="1" y1="1" x2="2" y2="2"/></a>', "", "<a> is not allowed.*leads nowhere"),
        ("<foreignObject><p>x</p></foreignObject>", "", "<foreignObject> is not allowed.*only shapes"),
        ('<image href="x.png"/>', "", "<image> is not allowed.*trace"),
        ('<use href="#x"/>', "", "<use> is not allowed.*write the shapes out"),
        ("<title>Wedge</title>", "", "<title> is not allowed.*name of the item"),
        ('<animate attributeName="x"/>', "", "<animate> is not allowed.*allowed: g, path"),
        ("<svg/>", "", "<svg> is not allowed"),
        ("<Line/>", "", "<Line> is not allowed"),
        (f"<circle cx='9' cy='9' r='2'>{SHAPE}</circle>", "", "<line> is not allowed.*inside <circle>"),
        ("words", "", "the words 'words' are not drawn"),
        ('<?xml-stylesheet href="x.css"?>', "", "xml-stylesheet.*is not allowed"),
        ('<g onclick="alert(1)"/>', "g.onclick", "is not allowed; a drawing runs nothing"),
        ('<g style="fill:red"/>', "g.style", "is not allowed; styles are not read"),
        ('<g class="a"/>', "g.class", "is not allowed; styles are not read"),
        ('<g href="http://x"/>', "g.href", "is not allowed; a drawing refers to nothing"),
        ('<g transform="scale(2)"/>', "g.transform", "is not allowed; moved and turned"),
        ('<g strokewidth="2"/>', "g.strokewidth", "did you mean stroke-width"),
        ('<g fill="red"/>', "g.fill", "must be.*or a grey; it is 'red'"),
        ('<g fill="white"/>', "g.fill", "must be.*it is 'white'"),
        ('<g fill="#fff"/>', "g.fill", "must be.*it is '#fff'"),
        ('<g fill="url(#x)"/>', "g.fill", r"must be.*it is 'url\(#x\)'"),
        ('<g stroke="grey"/>', "g.stroke", 'must be "currentColor" or black'),
        ('<g stroke-width="0"/>', "g.stroke-width", "must be a number of 0.5 to 12"),
        ('<g stroke-width="NaN"/>', "g.stroke-width", "must be a number"),
        ('<g stroke-linecap="butt"/>', "g.stroke-linecap", 'must be "round"'),
        ('<circle cx="9" cy="9" r="2" stroke="none"/>', "circle", "has no outline"),
        ('<circle cx="9" cy="9"/>', "circle.r", "is missing; add it"),
        ('<circle cx="9" cy="9" r="-2"/>', "circle.r", "must be above zero"),
        ('<circle cx="9" cy="9" r="NaN"/>', "circle.r", "must be a plain number; it is 'NaN'"),
        ('<circle cx="1e999" cy="9" r="2"/>', "circle.cx", "must be a plain number; it is '1e999'"),
        ('<circle cx="9" cy="9" r="20%"/>', "circle.r", "must be a plain number; it is '20%'"),
        ('<circle cx="9" cy="9" r="1e300"/>', "circle", "leaves the field"),
        ('<line x1="0" y1="0" x2="161" y2="0"/>', "line", "leaves the field of 160 by 100"),
        ('<path d="M10 10C900 10 10 90 10 50"/>', "path", "leaves the field"),
        ('<polyline points="1,2 3"/>', "polyline.points", "needs x and y"),
        ('<polygon points="1,2 inf,4"/>', "polygon.points", "needs x and y"),
        ('<polygon points="1,2 1e999,4"/>', "polygon.points", "needs x and y"),
        ("<path/>", "path.d", "is no outline"),
        ('<path d="L1 1 2 2"/>', "path.d", "is no outline"),
        ('<path d="M1 1 L"/>', "path.d", "is no outline"),
        ('<path d="M1 1 L nan 3"/>', "path.d", "is no outline"),
        ('<path d="M1 1 L1e999 3"/>', "path.d", "is no outline"),
        ('<path d="M1 1 A 2 2 0 9 1 5 5"/>', "path.d", "is no outline"),
        (PRINT.format("Wash your hands"), "text", "print must be 1 to 8 plain letters"),
        (PRINT.format("зонд"), "text", "print must be 1 to 8 plain letters"),
        (PRINT.format(""), "text", "print must be 1 to 8 plain letters"),
        (PRINT.format("x").replace('x="80"', 'x="1"'), "text", "leaves the field"),
        (PRINT.format("x").replace("sans-serif", "Wingdings"), "text.font-family", 'must be "sans-serif"'),
        (PRINT.format("x").replace("currentColor", "none"), "text.fill", 'must be "currentColor"'),
    ],
)
def test_what_is_no_shape_is_refused(tmp_path: Path, element: str, field: str, message: str) -> None:
    (problem,) = problems(tmp_path, svg(SHAPE, element))
    assert (problem.line, problem.field) == (3, field)
    assert re.search(message, problem.message), problem.message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not valid XML"),
        ("<svg", "not valid XML"),
        (svg(SHAPE, "<g>"), "not valid XML"),
        (svg(SHAPE, "&nbsp;"), "not valid XML"),
        (svg(SHAPE).replace("<svg ", '<?xml version="1.0" encoding="nonsense"?><svg '), "not valid XML"),
        (b"\xff\xfe\x00", "not valid XML"),
        ("<html/>", "a drawing begins with <svg xmlns="),
        (svg(SHAPE).replace("www.w3.org", "example.org"), "a drawing begins with <svg xmlns="),
        (svg(SHAPE).replace("160 100", "24 24"), 'must be "0 0 160 100"'),
        (svg(), "nothing is drawn"),
        (f"<!DOCTYPE svg>{svg(SHAPE)}", "a doctype or entity is not allowed"),
        (f'<!DOCTYPE svg [<!ENTITY a "b">]>{svg(SHAPE, "&a;")}', "a doctype or entity is not allowed"),
        (f'<!DOCTYPE svg SYSTEM "file:///etc/passwd">{svg(SHAPE)}', "a doctype or entity is not allowed"),
        (svg(SHAPE + " " * LARGEST_FILE), "larger than 64 KiB"),
        (svg(*[SHAPE] * (MOST_SHAPES + 1)), f"more than {MOST_SHAPES} shapes"),
        (svg(*[SHAPE] * MOST_SHAPES, PRINT.format("1")), f"more than {MOST_SHAPES} shapes"),
    ],
)
def test_a_file_that_is_no_small_drawing_is_refused(tmp_path: Path, text: str | bytes, message: str) -> None:
    (problem,) = problems(tmp_path, text)
    assert message in problem.message


def test_everything_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    found = problems(tmp_path, svg('<g fill="red">', "<script/>", "</g>", '<circle r="x" cx="1"/>'))
    assert [(p.line, p.field) for p in found] == [(2, "g.fill"), (3, ""), (5, "circle.r")]


@pytest.mark.parametrize("piece", ["1", "1.", "h1", "a1 1 0 0 0 1 1", "1,", " ", "m1 1", "-", "e1"])
@pytest.mark.parametrize("before", ['<path d="M1 1', '<polyline points="', '<circle cx="'])
def test_a_full_file_is_read_or_refused_in_no_time(tmp_path: Path, before: str, piece: str) -> None:
    room = LARGEST_FILE - 300
    file = tmp_path / "wedge.svg"
    file.write_text(svg(before + piece * (room // len(piece)) + 'x"/>'), encoding="utf-8")
    start = time.perf_counter()
    with pytest.raises(PackError):
        read_drawing(file)
    assert time.perf_counter() - start < 5


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_damage_gives_a_drawing_or_a_pack_error(tmp_path: Path, data: st.DataObject) -> None:
    text = svg('<path d="M1 1A9 9 0 0 1 20 20Q30 30 40 20S9 9 8 8Z"/>', SHAPE, PRINT.format("A2"))
    at = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(at, min(at + 5, len(text))))
    file = tmp_path / "wedge.svg"
    file.write_text(text[:at] + data.draw(st.text(max_size=5)) + text[end:], encoding="utf-8", newline="")
    try:
        assert read_drawing(file)
    except PackError as error:
        assert all(p.file == file and p.message for p in error.problems)


def drawn(folder: Path, **drawings: str) -> Path:
    """The tiny pack with drawings."""
    write(folder)
    (folder / DRAWINGS).mkdir()
    for name, text in drawings.items():
        (folder / DRAWINGS / f"{name}.svg").write_text(text, encoding="utf-8")
    return folder


def refused(folder: Path) -> tuple[Problem, ...]:
    with pytest.raises(PackError) as caught:
        load_pack(folder)
    return caught.value.problems


def test_a_pack_brings_the_drawings_in_its_folder(tmp_path: Path) -> None:
    pack = load_pack(drawn(tmp_path, wedge=svg(SHAPE)))
    assert pack.item("wedge").drawing == tuple(shapes(tmp_path, SHAPE))
    assert pack.item("mouth_mirror").drawing is None


def test_a_drawing_of_an_item_there_is_none_of_is_refused(tmp_path: Path) -> None:
    (problem,) = refused(drawn(tmp_path, wegde=svg(SHAPE)))
    assert problem.file.name == "wegde.svg"
    assert problem.message == "there is no item 'wegde'; did you mean wedge?; rename the file or delete it"


def test_mistakes_in_drawings_are_told_with_those_of_the_pack(tmp_path: Path) -> None:
    folder = drawn(tmp_path, wedge=svg("<script/>"))
    items = folder / "items.yaml"
    items.write_text(items.read_text().replace("class: matrix", "class: matrx"), encoding="utf-8")
    assert {p.file.name for p in refused(folder)} == {"wedge.svg", "items.yaml"}


def test_what_is_no_svg_file_beside_the_drawings_is_pointed_out(tmp_path: Path) -> None:
    folder = drawn(tmp_path) / DRAWINGS
    (folder / "wedge.png").write_bytes(b"")
    (folder / ".hidden").write_bytes(b"")
    (folder / "mouth_mirror.svg").mkdir()
    found = [(p.file.name, p.message) for p in refused(tmp_path)]
    assert found == [
        ("mouth_mirror.svg", "this is not a file; put an SVG file here"),
        ("wedge.png", "a drawing is read only if its name ends in .svg"),
    ]


def test_a_copied_item_keeps_its_drawing_and_equal_folders_give_equal_packs(tmp_path: Path) -> None:
    """As layers copy items."""
    first = tmp_path / "a"
    first.mkdir()
    drawn(first, wedge=svg(SHAPE))
    shutil.copytree(first, tmp_path / "b")
    pack = load_pack(first)
    wedge = pack.item("wedge")
    assert wedge.model_copy(update={"sharp": True}).drawing == wedge.drawing
    assert load_pack(tmp_path / "b") == pack
    assert "drawing" not in pack.model_dump_json()
