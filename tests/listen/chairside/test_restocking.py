"""What a session used up, on the shipped tray of a composite, class II (common practice, no source)."""

from __future__ import annotations

import csv
import io

from listen.chairside.count import count_places, together_events
from listen.chairside.events import CountedAs, Event, EventKind, Source
from listen.chairside.restocking import (
    HEADS,
    Refill,
    Restocking,
    Why,
    restocking,
    restocking_csv,
    together,
)
from listen.chairside.tray_state import fold
from tests.listen.chairside.chair_pack import at_chair, in_order
from vocab.layers.changes import SetPlace
from vocab.layers.draft import ClinicSettings
from vocab.pack.load import shipped_pack

PACK = shipped_pack("operative")
TRAY = PACK.tray("composite_class_two")
CLINIC = ClinicSettings(
    {},
    places=(
        SetPlace(kind="kit", id="cotton_kit", place="drawer 1"),
        SetPlace(kind="item", id="cotton_roll", place="drawer 3"),
    ),
)


def after(*events: Event, clinic: ClinicSettings = CLINIC) -> Restocking:
    return restocking(fold(in_order(*events), TRAY, PACK), PACK, TRAY, clinic)


def lines(found: Restocking) -> dict[tuple[str, str], Refill]:
    return {(line.place, line.item): line for line in found.lines}


def session() -> tuple[Event, ...]:
    """A class II filling, as far as anybody said."""
    return (
        at_chair(EventKind.PASSED, "needle_short", size="30 gauge"),
        at_chair(EventKind.PASSED, "cartridge_plain"),
        at_chair(EventKind.PASSED, "dam_clamp"),
        at_chair(EventKind.PASSED, "cotton_roll", quantity=2),
        at_chair(EventKind.PASSED, "sectional_matrix"),
        at_chair(EventKind.USED_UP, "etchant"),
    )


def test_a_class_two_session_is_filled_up_by_kit_and_slot() -> None:
    found = lines(after(*session()))
    needle = found["Anaesthesia kit", "needle_short"]
    assert (needle.slot, needle.pieces, needle.sizes, needle.sharp) == ("4", 1, ("30 gauge",), True)
    assert ("Anaesthesia kit", "needle_long") not in found, "still in its wrapper"
    assert found["Sectional matrix kit", "sectional_matrix"].pieces == 1
    wedges = found["Sectional matrix kit", "wedge"]
    assert (wedges.pieces, wedges.why) == (4, Why.OPENED)
    assert found["Cotton kit", "cotton_roll"].pieces == 6, "what was opened is not kept"
    etchant = found["Bonding kit", "etchant"]
    assert (etchant.pieces, etchant.why) == (1, Why.EMPTY)
    assert ("Dam kit", "dam_clamp") not in found, "it is used again"
    assert found["At the chair", "saliva_ejector"].slot == "ejector holder"
    assert not any(line.item == "sharps_container" for line in found.values())


def test_it_says_where_the_stock_is_kept_the_item_s_own_place_first() -> None:
    found = lines(after(*session()))
    assert found["Cotton kit", "gauze_square"].kept_in == "drawer 1"
    assert found["Cotton kit", "cotton_roll"].kept_in == "drawer 3"
    assert found["Bonding kit", "etchant"].kept_in == ""


def test_kits_of_which_nothing_is_known_are_named_and_unopened_ones_are_not() -> None:
    found = after(*session())
    assert "Composite kit" in found.not_noted and "Dam kit" not in found.not_noted
    state = fold((), TRAY, PACK)
    place = next(p for p in count_places(state, PACK, TRAY) if p.name == "Finishing kit")
    shut = after(*together_events(place, CountedAs.NOT_OPENED, 0.0))
    assert "Finishing kit" not in shut.not_noted
    assert not any(line.place == "Finishing kit" for line in shut.lines)


def test_more_than_was_laid_was_brought_and_what_broke_is_replaced() -> None:
    brought = lines(after(at_chair(EventKind.ADDED, "needle_long", quantity=2), *_passed("needle_long", 3)))
    assert brought["Anaesthesia kit", "needle_long"].pieces == 1
    assert brought["brought", "needle_long"].pieces == 2
    broke = lines(after(at_chair(EventKind.BROKEN, "explorer_shepherd")))
    assert broke["Tray: Composite, class II", "explorer_shepherd"].why is Why.BROKE


def test_what_was_taken_back_is_not_filled_up() -> None:
    passed = at_chair(EventKind.PASSED, "needle_short")
    undone = Event(EventKind.CORRECTED, 1.0, Source.TOUCH, corrects=1)
    assert not any(line.sharp for line in after(passed, undone).lines)


def test_the_sessions_of_a_day_are_added_up_slot_by_slot() -> None:
    one, two = after(*session()), after(*session(), at_chair(EventKind.PASSED, "shade_guide"))
    day = lines(together([one, two]))
    assert day["Cotton kit", "cotton_roll"].pieces == 12
    assert day["Anaesthesia kit", "needle_short"].pieces == 2
    names = [place for place, _ in together([one, two]).places]
    assert len(names) == len(set(names))
    assert together([]) == Restocking(())


def test_the_csv_has_a_line_for_each_slot_and_no_formula() -> None:
    odd = ClinicSettings({}, places=(SetPlace(kind="kit", id="cotton_kit", place="=1+1"),))
    rows = list(csv.reader(io.StringIO(restocking_csv(after(*session(), clinic=odd)))))
    assert tuple(rows[0]) == HEADS
    assert ["Cotton kit", "1", "gauze square", "2x2", "8", "opened, single use", "'=1+1"] in rows


def _passed(item: str, pieces: int) -> tuple[Event, ...]:
    return tuple(at_chair(EventKind.PASSED, item) for _ in range(pieces))
