"""Many changes at once. The forms are our own, no outside source."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.vocab.test_layers import PACK
from vocab.layers.bulk import (
    Import,
    as_yaml,
    names_csv,
    read_names_csv,
    read_trays_csv,
    read_yaml,
    trays_csv,
)
from vocab.layers.changes import (
    AddItem,
    AddName,
    AddTray,
    ClearSlot,
    RenameItem,
    RetireItem,
    SetField,
    SetSlot,
)
from vocab.layers.vocabulary import Vocabulary
from vocab.load import shipped_pack
from vocab.schema import Name, Pack

WHEN = datetime(2026, 1, 2, tzinfo=UTC)
HEAD = "do,item,kind,name,say,note,class,purpose,look,handing,reprocessing\n"
NEW = ',our_scaler,preferred,our scaler,,,finishing,"To scrape, gently.",A hook.,,single use\n'


def told(result: Import) -> list[str]:
    return [str(problem) for problem in result.problems]


def saved(tmp_path: Path, result: Import) -> Pack:
    assert result.problems == ()
    return Vocabulary(PACK, tmp_path).record("clinic", result.operations, "Ada", WHEN).pack


@pytest.mark.parametrize("name", ["operative", "oral_surgery", "operativa_es"])
def test_what_is_exported_changes_nothing_when_it_comes_back(name: str) -> None:
    pack = shipped_pack(name)
    for result in (
        read_names_csv(names_csv(pack), pack),
        read_trays_csv(trays_csv(pack), pack),
        read_yaml(as_yaml(pack), pack),
    ):
        assert (result.operations, result.problems) == ((), ())


def test_a_whole_pack_can_be_carried_over_as_csv_and_yaml(tmp_path: Path) -> None:
    source = shipped_pack("oral_surgery")
    bare = source.model_copy(
        update={"items": source.items[:1], "trays": (), "procedures": (), "wide_margin": ()}
    )
    result = read_yaml(as_yaml(source), bare)
    composed = Vocabulary(bare, tmp_path / "yaml").record("clinic", result.operations, "Ada", WHEN)
    assert composed.conflicts == ()
    assert (composed.pack.items, composed.pack.trays) == (source.items, source.trays)
    assert composed.pack.procedures == source.procedures
    by_csv = Vocabulary(bare, tmp_path / "csv")
    by_csv.record("clinic", read_names_csv(names_csv(source), bare).operations, "Ada", WHEN)
    pack = by_csv.composed().pack
    by_csv.record("clinic", read_trays_csv(trays_csv(source), pack).operations, "Ada", WHEN)
    pack = by_csv.composed().pack
    assert [item.names for item in pack.items] == [item.names for item in source.items]
    assert [(t.id, t.slots) for t in pack.trays] == [(t.id, t.slots) for t in source.trays]


cell = st.text(st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="|"), min_size=1).filter(
    lambda text: any(c.isalnum() for c in text) and text.strip() == text
)


@settings(max_examples=50)
@given(
    texts=st.lists(cell, min_size=1, max_size=5, unique_by=lambda t: t.casefold()), note=st.text(max_size=9)
)
def test_any_name_survives_the_way_out_and_back(texts: list[str], note: str) -> None:
    names = [Name(text=text, say=(texts[0],), note=" ".join(note.split())) for text in texts]
    item = PACK.item("etchant").model_copy(update={"synonyms": tuple(names)})
    pack = PACK.model_copy(update={"items": (item,), "trays": (), "procedures": ()})
    for text in (names_csv(pack), names_csv(pack).encode("utf-8-sig")):
        result = read_names_csv(text, pack)
        assert [p for p in result.problems if "already in row" not in p.message] == []
        assert [o for o in result.operations if not isinstance(o, AddName)] == []
    assert read_yaml(as_yaml(pack), pack).operations == ()


def test_rows_add_rename_remove_and_retire(tmp_path: Path) -> None:
    text = HEAD + (
        ",etchant,synonym,our acid,our acid gel | the acid,so we say,,,,,\n"
        ",mouth_mirror,preferred,looking glass,,,,,,,\n"
        "remove,bonding_agent,,bond,,,,,,,\n"
        "retire,egg_burnisher,,egg burnisher,,,,,,,\n"
        ",curing_light,preferred,curing light,,,,,Blue tip.,,\n" + NEW + ",our_scaler,,hook thing,,,,,,,\n"
    )
    result = read_names_csv(text, PACK)
    assert [type(o) for o in result.operations[:2]] == [AddName, RenameItem]
    assert result.rows == (2, 3, 4, 5, 6, 7)
    pack = saved(tmp_path, result)
    added = next(n for n in pack.item("etchant").synonyms if n.text == "our acid")
    assert (added.say, added.note) == (("our acid gel", "the acid"), "so we say")
    assert pack.item("mouth_mirror").name.text == "looking glass"
    assert [n.text for n in pack.item("bonding_agent").names] == ["bonding agent"]
    assert all(i.id != "egg_burnisher" for i in pack.items)
    assert pack.item("curing_light").look == "Blue tip."
    scaler = pack.item("our_scaler")
    assert [n.text for n in scaler.names] == ["our scaler", "hook thing"]
    assert scaler.purpose == "To scrape, gently."
    assert read_names_csv(names_csv(pack), pack).operations == ()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_spreadsheet_may_use_other_separators_and_a_mark_at_the_start(separator: str) -> None:
    rows = list(csv.reader(io.StringIO(HEAD + NEW)))
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerows(rows)
    for text in (out.getvalue(), "\ufeff" + out.getvalue(), out.getvalue().encode("utf-8-sig")):
        result = read_names_csv(text, PACK)
        assert result.problems == () and isinstance(result.operations[0], AddItem)


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (
            ",etchent,,gel,,,,,,,\n",
            "row 2: class: etchent is new; did you mean etchant?; a new item needs class",
        ),
        (",,,gel,,,,,,,\n", "row 2: item: is empty; write one"),
        (",etchant,,,,,,,,,\n", "row 2: name: is empty; write one"),
        ("delete,etchant,,etch,,,,,,,\n", "row 2: do: 'delete' is not known"),
        (",etchant,main,gel,,,,,,,\n", "row 2: kind: 'main' is not known"),
        (",etchant,,gel,,,,,,,\n,etchant,,Gel,,,,,,,\n", "row 3: name: 'Gel' is already in row 2"),
        (
            ",etchant,,etch,,,adhesve,,,,\n",
            "row 2: class: 'adhesve' is not known here; did you mean adhesive",
        ),
        (",etchant,,etch,,,,,,,boil\n", "row 2: reprocessing: 'boil' is not known here"),
        (",etchant,,gel,,,,,,,,oops\n", "row 2: has 12 cells, but there are 11 columns"),
        ("remove,etchent,,gel,,,,,,,\n", "row 2: item: there is no item etchent; did you mean etchant?"),
        (NEW.replace("our_scaler", "Our Scaler"), "row 2: item: string should match pattern"),
        ('\n,etchant,,"ge\nl",,,,,,,\n,x,,y,,,,,,,\n', "row 4: class: x is new"),
    ],
)
def test_every_problem_is_told_with_its_row(row: str, problem: str) -> None:
    found = told(read_names_csv(HEAD + row, PACK))
    assert any(text.startswith(problem) for text in found), found


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "the file: is empty; the first row names the columns: do, item"),
        ("item,nam\n", "row 1: there is no column 'nam'; did you mean name"),
        ("item,kind\n", "row 1: the column 'name' is missing; add it"),
        ("item,name,name\n", "row 1: the column 'name' stands there twice"),
        (b"item,name\netchant,caf\xe9\n", "row 2: this is not UTF-8 text; save the file as CSV UTF-8"),
    ],
)
def test_a_file_that_is_no_list_of_names_is_told(text: str | bytes, problem: str) -> None:
    result = read_names_csv(text, PACK)
    assert result.operations == () and any(found.startswith(problem) for found in told(result)), told(result)


def test_what_the_pack_refuses_is_told_by_row_too(tmp_path: Path) -> None:
    text = HEAD + ",etchant,,our acid,,,,,,,\n,etchant,,bond,,,,,,,\nremove,etchant,,nothing here,,,,,,,\n"
    result = read_names_csv(text, PACK)
    preview = Vocabulary(PACK, tmp_path).preview("clinic", result.operations, "Ada", WHEN)
    found = [str(problem) for problem in result.with_troubles(preview)]
    assert found[0].startswith(
        'row 3: it adds the name "bond" to etchant, but "bond" is also a name of bonding'
    )
    assert found[1].startswith('row 4: etchant has no name "nothing here"')
    assert preview.lines[0] == 'adds the name "our acid" to etchant'


# --- trays ------------------------------------------------------------------------------------------


def test_trays_are_laid_by_rows(tmp_path: Path) -> None:
    text = (
        "do,tray,row,slot,item,count\n"
        ",look,,1,hand_mirror,\n"
        ",look,near row,3,gauze_square,4\n"
        "clear,look,,light hook,,\n"
        ",our_tray,far row,1,etchant,1\n"
        ",our_tray,chair side,arm,curing_light,1\n"
    )
    result = read_trays_csv(text, PACK)
    assert [type(o) for o in result.operations] == [SetSlot, SetSlot, ClearSlot, AddTray]
    pack = saved(tmp_path, result)
    assert [(s.at, s.item, s.count) for s in pack.tray("look").slots] == [
        ("1", "hand_mirror", 1),
        ("2", "etchant", 1),
        ("3", "gauze_square", 4),
    ]
    assert pack.tray("our_tray").name == "Our tray"
    assert pack.tray("our_tray").chair_side[0].item == "curing_light"


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (",look,,1,miror,\n", "row 2: item: there is no item 'miror'; did you mean"),
        (",look,,1,etchant,many\n", "row 2: count: 'many' is no number of things"),
        (",look,,1,etchant,0\n", "row 2: count: '0' is no number of things"),
        (",look,,,etchant,\n", "row 2: slot: is empty"),
        (",look,,1,etchant,\n,look,,1,etchant,\n", "row 3: slot: slot 1 of look is already in row 2"),
        ("drop,look,,1,etchant,\n", "row 2: do: 'drop' is not known"),
        (",Our Tray,far,1,etchant,\n", "row 2: tray: Our Tray is new; string should match"),
        (",ours,chair side,1,etchant,\n", "row 2: tray: ours is new; tuple should have at least 1 item"),
    ],
)
def test_every_problem_of_a_tray_is_told_with_its_row(row: str, problem: str) -> None:
    found = told(read_trays_csv("do,tray,row,slot,item,count\n" + row, PACK))
    assert any(text.startswith(problem) for text in found), found


# --- YAML -------------------------------------------------------------------------------------------


def test_yaml_changes_any_field_and_keeps_what_it_leaves_out(tmp_path: Path) -> None:
    plain = yaml.safe_load(as_yaml(PACK))
    etchant = next(item for item in plain["items"] if item["id"] == "etchant")
    etchant |= {"sharp": True, "synonyms": ["etch", "our acid"], "cautions": ["Acid."]}
    procedure = plain["procedures"][0]
    procedure["steps"] = procedure["steps"][:1]
    result = read_yaml(yaml.safe_dump({"items": [etchant], "procedures": [procedure]}), PACK)
    assert {type(o) for o in result.operations[:-1]} == {AddName, SetField}
    pack = saved(tmp_path, result)
    assert pack.item("etchant").sharp and pack.item("etchant").cautions == ("Acid.",)
    assert len(pack.procedure("look").steps) == 1
    assert len(pack.items) == len(PACK.items)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("items: [", "row 2: this is not valid YAML"),
        ("thing: 1\n", "row 1: thing: cannot be imported; only items, trays, procedures can"),
        ("items:\n- id: ours\n  name: ours\n", "row 2: items[ours].class: is missing; add it"),
        ("items:\n- id: ours\n  nam: ours\n", "row 3: items[ours].nam: there is no such field"),
        ("items: ours\n", "row 1: items: must be a list"),
        (
            "trays:\n- {id: look, name: Other, rows: [{name: r, slots: [{at: 1, item: etchant}]}]}\n",
            "row 2: name: stays 'Look'",
        ),
        (
            "procedures:\n- {id: look, name: Look, tray: other, steps: "
            "[{id: a, name: A, items: {etchant: 1}}]}\n",
            "row 2: tray: stays 'look'",
        ),
    ],
)
def test_every_problem_of_a_yaml_file_is_told_with_its_line(text: str, problem: str) -> None:
    found = told(read_yaml(text, PACK))
    assert any(said.startswith(problem) for said in found), found


@given(st.text(max_size=200))
def test_any_text_can_be_offered(text: str) -> None:
    for read in (read_names_csv, read_trays_csv, read_yaml):
        for problem in read(text, PACK).problems:
            assert problem.message


@given(st.binary(max_size=80))
def test_any_bytes_can_be_offered(raw: bytes) -> None:
    for read in (read_names_csv, read_trays_csv, read_yaml):
        read(b"item,name\n" + raw, PACK)
        read(raw, PACK)


def test_retiring_in_two_rows_retires_once() -> None:
    result = read_names_csv("do,item,name\nretire,etchant,etch\nretire,etchant,etchant\n", PACK)
    assert result.operations == (RetireItem(item="etchant"),)
