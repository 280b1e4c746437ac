"""What the commands print, as people read it."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from rich.console import Console, RenderableType

from listen.commands import show
from tests.listen.chairside.test_report import report
from vocab.layers.changes import AddName, Change
from vocab.layers.vocabulary import Entry
from vocab.lint.findings import Finding, Kind, Severity
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Name

PACK = shipped_pack()


def printed(block: RenderableType, width: int = 80) -> str:
    out = io.StringIO()
    Console(file=out, width=width).print(block)
    return out.getvalue()


@pytest.mark.parametrize("width", [80, 50])
def test_the_report_reads_in_a_narrow_terminal(width: int) -> None:
    text = printed(show.session_report(report()), width)
    for part in ("Timeline", "shepherd's hook explorer", "1 (33%)", "estimate"):
        assert part in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= width


@pytest.mark.parametrize("width", [80, 50])
def test_no_name_of_a_tray_or_an_item_is_cut(width: int) -> None:
    told = [printed(show.tray_list(PACK), width), printed(show.item_list(PACK), width)]
    told += [printed(show.tray_layout(PACK, tray), width) for tray in PACK.trays]
    assert "…" not in "".join(told)
    words = set(" ".join(told).split())
    assert [i.name.text for i in PACK.items if not set(i.name.text.split()) <= words] == []


def test_a_change_for_one_dentist_says_for_whom() -> None:
    do = AddName(item="mouth_mirror", name=Name(text="looking glass"))
    change = Change(id="c1", who="Ada", when=datetime(2026, 3, 1, tzinfo=UTC), why="as said", do=do)
    lines = [Entry("clinic", change, False, "adds a name"), Entry("dr_kim", change, True, "adds a name")]
    text = printed(show.history(lines, {"dr_kim": "Dr. Kim"}), 110)
    first, second = text.splitlines()[2:]
    assert "Dr. Kim" in second and "Dr. Kim" not in first and "dr_kim" not in text
    assert "(undone)" in first and "as said" in first
    assert "as it came" in printed(show.history((), {}))


def test_what_to_look_over_is_numbered_by_how_much_it_matters_with_the_command_that_helps() -> None:
    found = [
        Finding(Kind.SAME_NAME, Severity.HIGH, ("a",), ("one", "other"), "both are a", "Choose another"),
        Finding(
            Kind.SOUND,
            Severity.LOW,
            ("a",),
            ("one", "other"),
            "they sound alike",
            "Always ask",
            ask_back=True,
        ),
    ]
    text = printed(show.finding_list(found, lambda item: f'"the {item}"'))
    assert text.index("Put right first (high)") < text.index("1  Both are a.") < text.index("Minor (low)")
    assert 'traycall edit ask-back "the one" "the other"' in text and text.endswith(
        "2 things to look over.\n"
    )
