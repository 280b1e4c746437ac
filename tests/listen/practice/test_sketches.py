"""Sketches of how something is passed: sound SVG, inside of their field, no two alike, all told in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from listen.practice.sketches import HEIGHT, SKETCHES, WIDTH, sketch, sketch_id
from listen.practice.wordings import BY_LANGUAGE

PARTS = {"path", "circle", "rect"}
DRAWN_WITH = {
    "d", "fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin",
    "cx", "cy", "r", "x", "y", "width", "height", "rx",
}  # fmt: skip


@pytest.mark.parametrize("name", SKETCHES)
def test_a_sketch_is_plain_shapes_in_the_colours_of_the_page(name: str) -> None:
    shapes = list(ElementTree.fromstring(f"<g>{sketch(name)}</g>"))
    assert len(shapes) > 3
    for shape in shapes:
        assert shape.tag in PARTS and shape.attrib.keys() <= DRAWN_WITH
        assert {shape.get("fill"), shape.get("stroke")} <= {"none", "currentColor", "var(--card, #fff)", None}


@pytest.mark.parametrize("name", SKETCHES)
def test_every_line_of_it_can_be_seen(name: str) -> None:
    for path in re.findall(r'd="(M[^"vqzV]*)"', sketch(name)):
        points = [tuple(map(float, pair.split())) for pair in path[1:].split("L")]
        assert any(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in points), path


def test_no_two_sketches_are_alike() -> None:
    assert len({sketch(name) for name in SKETCHES}) == len(SKETCHES)
    assert len({sketch_id(name) for name in SKETCHES}) == len(SKETCHES)
    assert all(re.fullmatch(r"[a-z-]+", sketch_id(name)) for name in SKETCHES)


@pytest.mark.parametrize("language", BY_LANGUAGE)
def test_each_sketch_has_a_caption_and_is_told_in_words(language: str) -> None:
    told = BY_LANGUAGE[language].sketches
    assert told.keys() == SKETCHES.keys()
    assert len({alt for _, alt in told.values()}) == len({cap for cap, _ in told.values()}) == len(told)
