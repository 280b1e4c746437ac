"""How lists look: no box, no broken word, at any width; and that nothing hangs on colour."""

from __future__ import annotations

import io

import pytest
from rich.console import Console, RenderableType

from listen.commands import layout
from listen.commands.layout import Listing, beginning, side_by_side
from listen.commands.say import wrapped

HEADS = ("item", "pieces", "what to do")
ROWS = (
    (
        "interproximal carver",
        "1",
        "Hand it over with the working end toward the arch, and say that it is sharp.",
    ),
    ("dam clamp", "12", "Tie floss to it."),
)


def printed(block: RenderableType, width: int, colours: bool = False) -> str:
    out = io.StringIO()
    Console(
        file=out, width=width, force_terminal=colours, color_system="standard" if colours else None
    ).print(block)
    return out.getvalue()


@pytest.mark.parametrize("width", [120, 80, 60, 50, 40, 30])
def test_no_word_is_broken_and_no_line_too_long(width: int) -> None:
    text = printed(Listing(HEADS, ROWS, numbers=(1,)), width)
    assert max(map(len, text.splitlines())) <= width
    said = text.split()
    assert [word for row in ROWS for cell in row for word in cell.split() if word not in said] == []
    assert "…" not in text and not set("│┃┏╇") & set(text)


def test_a_list_has_a_light_line_under_its_heads_and_numbers_at_the_right() -> None:
    heads, rule, first, *_ = printed(
        Listing(("item", "pieces"), (("wedge", "4"), ("clamp", "12")), (1,)), 40
    ).splitlines()
    assert heads.split() == ["item", "pieces"] and set(rule) == {"─"}
    assert first.rstrip().endswith("     4")


def test_a_column_without_text_is_left_out() -> None:
    assert "dentist" not in printed(Listing(("no.", "dentist"), (("1", ""), ("2", ""))), 40)


def test_where_columns_do_not_fit_each_row_has_lines_of_its_own() -> None:
    text = printed(Listing(("no.", *HEADS), [("1", *ROWS[0])]), 34)
    assert text.startswith("no 1")
    assert "item interproximal carver" in text and "pieces 1" in text


@pytest.mark.parametrize("width", [80, 50, 24])
def test_short_texts_stand_side_by_side_in_as_many_columns_as_fit(width: int) -> None:
    cells = [("1", "interproximal carver"), ("2", "articulating paper forceps"), ("10", "clamp")]
    text = printed(side_by_side(cells, 3), width)
    assert max(map(len, text.splitlines())) <= width
    assert {"interproximal", "articulating", "10"} <= set(text.split())


def test_without_colours_everything_is_still_told(monkeypatch: pytest.MonkeyPatch) -> None:
    block = Listing(HEADS, ROWS)
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[3" not in printed(block, 80, colours=True)


def test_colours_are_those_that_light_and_dark_terminals_show() -> None:
    styles = (layout.ANSWER, layout.QUESTION, layout.MISSING, layout.MIND)
    assert not {"yellow", "white", "black", "blue", "cyan"} & {
        word for style in styles for word in style.split()
    }


def test_what_is_too_long_for_a_line_ends_after_a_word() -> None:
    assert beginning("could I have the mirror", 12) == "could I …"
    assert beginning("mirror", 12) == "mirror"


def test_a_wrapped_line_keeps_its_indentation() -> None:
    assert wrapped("  pass: the handle first", 16) == "  pass: the\n  handle first"
