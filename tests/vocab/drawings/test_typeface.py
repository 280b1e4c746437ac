"""The typeface is shipped with its licence, and words are as wide as a PDF sets them."""

from __future__ import annotations

import tomllib
from fnmatch import fnmatch
from importlib.resources import files
from pathlib import Path

import pytest
from fpdf import FPDF

from vocab.drawings.typeface import FAMILY, FILES, add_typeface, finished, missing, style, width, wrapped

PROJECT = Path(__file__).parents[3] / "pyproject.toml"


def test_a_wheel_holds_both_weights_and_their_licence() -> None:
    """What a wheel holds beside modules is what `package-data` names."""
    folder = files("vocab").joinpath("drawings", "fonts")
    held = {file.name for file in folder.iterdir()}
    assert held == {*(file.name for file in FILES.values()), "LICENSE.txt"}
    assert "Bitstream Vera Fonts Copyright" in folder.joinpath("LICENSE.txt").read_text()
    patterns = tomllib.loads(PROJECT.read_text())["tool"]["setuptools"]["package-data"]["vocab"]
    assert all(any(fnmatch(f"drawings/fonts/{name}", p) for p in patterns) for name in held)


@pytest.mark.parametrize("bold", [False, True])
def test_words_are_as_wide_as_a_pdf_sets_them(bold: bool) -> None:
    """fpdf2 rounds each letter to a thousandth of the size."""
    pdf = FPDF(unit="pt")
    add_typeface(pdf)
    pdf.set_font(FAMILY, style(bold), 12)
    for text in ("mouth mirror", "Đặng", "Ω × 2", "groß, č"):
        assert width(text, 12, bold) == pytest.approx(pdf.get_string_width(text), abs=0.006 * len(text))
    finished(pdf)


def test_a_letter_the_typeface_lacks_takes_a_full_square_and_is_named_once() -> None:
    assert width("探", 10) == 10
    assert missing("a探b探针") == "探针"
    assert missing("Đặng Ω ß č \N{NO-BREAK SPACE}×", bold=True) == ""


def test_words_wrap_where_the_room_ends_and_a_word_too_wide_is_cut() -> None:
    room = width("mouth mirror", 10)
    assert wrapped(["mouth", "mirror", "small"], room, 10) == ("mouth mirror", "small")
    lines = wrapped(["m" * 30], room, 10)
    assert "".join(lines) == "m" * 30 and all(width(line, 10) <= room for line in lines)
