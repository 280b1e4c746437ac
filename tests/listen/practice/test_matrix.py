"""The confusion matrix as a file: a table that says by words and numbers what its colours show."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from listen.practice.matrix import LEVELS, _colours, shaded, write_confusion
from listen.practice.reports import MOST_PLOTTED, confusion
from listen.practice.topics import PracticeError
from tests.listen.practice.classroom import pack
from vocab.pack.schema import Pack

CARVER, CARRIER = "hollenback_carver", "amalgam_carrier"


def written(met: dict[tuple[str, str], int], path: Path, of: Pack | None = None) -> ElementTree.Element:
    write_confusion(confusion(met, of or pack()), of or pack(), path)
    return ElementTree.parse(path).getroot()


def words(element: ElementTree.Element) -> str:
    return "".join(element.itertext())


def test_the_table_has_headings_for_rows_and_columns_and_a_number_in_each_cell(tmp_path: Path) -> None:
    met = {(CARVER, CARRIER): 3, (CARVER, CARVER): 1}
    page = written(met, tmp_path / "mixed.html")
    names = {item: pack().item(item).name.text for item in (CARVER, CARRIER)}
    columns = [words(th) for th in page.iter("th") if th.get("scope") == "col"][1:]
    rows = {
        words(th): [words(td) for td in tr.iter("td")]
        for tr in page.iter("tr")
        for th in tr.iter("th")
        if th.get("scope") == "row"
    }
    assert set(columns) == set(rows) == set(names.values())
    for right in names:
        for said in names:
            cell = rows[names[right]][columns.index(names[said])]
            assert cell == str(met.get((right, said), ""))
    assert len(list(page.iter("caption"))) == 1
    assert not [e for e in page.iter() if e.get("src") or e.get("href")]


def test_a_name_cannot_break_out_of_the_table(tmp_path: Path) -> None:
    hostile = pack().model_copy(update={"name": "<script>x</script>", "language": '"><script>'})
    page = written({(CARVER, CARRIER): 1}, tmp_path / "mixed.html", hostile)
    assert not list(page.iter("script")) and "<script>x</script>" in words(page)


def test_the_table_holds_the_items_that_are_mixed_up_most(tmp_path: Path) -> None:
    items = [item.id for item in pack().items]
    met = {(a, b): 1 for a, b in zip(items, items[1:], strict=False)} | {(items[-1], items[-2]): 9}
    page = written(met, tmp_path / "mixed.HTML")
    rows = [words(th) for th in page.iter("th") if th.get("scope") == "row"]
    assert len(rows) == MOST_PLOTTED and pack().item(items[-1]).name.text in rows


def test_a_table_of_nothing_or_of_another_kind_says_so_and_writes_no_file(tmp_path: Path) -> None:
    with pytest.raises(PracticeError, match="nothing was answered yet"):
        written({}, tmp_path / "x.html")
    with pytest.raises(PracticeError, match="must end in .html"):
        written({(CARVER, CARRIER): 1}, tmp_path / "x.png")
    with pytest.raises(PracticeError, match="nothing was answered yet"):
        shaded(confusion({}, pack()), pack(), 3)
    assert not list(tmp_path.iterdir())


def test_the_cells_of_a_page_are_shaded_by_their_share_of_the_row() -> None:
    met = {(CARVER, CARRIER): 1, (CARVER, CARVER): 3, (CARRIER, CARRIER): 5}
    names, rows = shaded(confusion(met, pack()), pack(), 12)
    carver, carrier = (pack().item(item).name.text for item in (CARVER, CARRIER))
    cells = {(right, said): cell for right, row in rows for said, cell in zip(names, row, strict=True)}
    assert cells[carver, carrier] == (1, 1) and cells[carver, carver] == (3, 3)
    assert cells[carrier, carrier] == (5, LEVELS) and cells[carrier, carver] == (0, 0)


def test_numbers_are_readable_on_every_tint() -> None:
    """WCAG 2.2, 1.4.3: print has a contrast of at least 4.5 to 1."""

    def luminance(rgb: tuple[int, ...]) -> float:
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.array(rgb) / 255]
        return float(np.dot([0.2126, 0.7152, 0.0722], linear))

    for share in np.linspace(0, 1, 201):
        fill, ink = _colours(share)
        ground = luminance(tuple(map(int, re.findall(r"\d+", fill))))
        print_ = 1.0 if ink == "white" else 0.0
        light, dark = max(ground, print_), min(ground, print_)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, share
