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

from tests.vocab.layers.test_changes import PACK
from vocab.layers.bulk import (
    Import,
    as_yaml,
    names_csv,
    read_names_csv,
    read_trays_csv,
    read_yaml,
    trays_csv,
    variants_said,
)
from vocab.layers.cells import guarded, unguarded
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
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Exchange, Grasp, Handing, Item, Name, Pack, Shank, Variant

WHEN = datetime(2026, 1, 2, tzinfo=UTC)
HEAD = "do,item,kind,name,say,note,class,purpose,look,handing,reprocessing\n"
NEW = ',our_scaler,preferred,our scaler,,,finishing,"To scrape, gently.",A hook.,,single use\n'


def told(result: Import) -> list[str]:
    return [str(problem) for problem in result.problems]


def saved(tmp_path: Path, result: Import) -> Pack:
    assert result.problems == ()
    return Vocabulary(PACK, tmp_path).record("clinic", result.operations, "Ada", WHEN).pack


@pytest.mark.slow
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
        update={"items": source.items[:1], "kits": (), "trays": (), "procedures": (), "wide_margin": ()}
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


# --- sizes, handing, shared names -------------------------------------------------------------------

words_ = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=12).map(
    lambda text: " ".join(text.split())
)
said = words_.filter(lambda text: any(c.isalnum() for c in text))
handings = st.one_of(
    st.none(),
    st.builds(Handing, note=words_.filter(bool)),
    st.builds(
        Handing,
        grasp=st.sampled_from(Grasp),
        exchange=st.none() | st.sampled_from(Exchange),
        out_of_sight=st.booleans(),
        note=st.none() | words_.filter(bool),
    ),
)
variants_ = st.lists(
    st.builds(
        Variant,
        text=said,
        say=st.lists(said, max_size=2).map(tuple),
        shank=st.none() | st.sampled_from(Shank),
        note=words_,
    )
    | st.builds(Variant, text=said),
    max_size=4,
    unique_by=lambda variant: variant.text,
).map(tuple)


@settings(max_examples=60, deadline=None)
@given(handing=handings, variants=variants_, pattern=said, latex=st.booleans(), shared=st.booleans())
def test_whatever_an_item_is_survives_the_way_out_and_back(
    handing: Handing | None, variants: tuple[Variant, ...], pattern: str, latex: bool, shared: bool
) -> None:
    item = PACK.item("etchant").model_copy(
        update={
            "handing": handing,
            "variants": variants,
            "variant_names": (f"{pattern.replace('{', '').replace('}', '')} x {{}}",) if variants else (),
            "latex": latex,
            "synonyms": (Name(text="=our, acid", shared=shared), Name(text="+ a | b", say=("- x | y", "@z"))),
        }
    )
    item = Item.model_validate(item.model_dump(by_alias=True))  # accents in the form in which they are kept
    pack = PACK.model_copy(update={"items": (item,), "trays": (), "procedures": ()})
    for read in (read_names_csv(names_csv(pack), pack), read_yaml(as_yaml(pack), pack)):
        assert (read.operations, read.problems) == ((), ())
    new = read_names_csv(names_csv(pack), PACK.model_copy(update={"items": PACK.items[:1]}))
    assert new.problems == ()
    assert [operation.item for operation in new.operations if isinstance(operation, AddItem)] == [item]


def test_sizes_and_handing_are_set_by_rows(tmp_path: Path) -> None:
    head = "item,name,handing,latex,variants,patterns,shared\n"
    record = '{""grasp"": ""pen"", ""note"": ""Slowly.""}'
    text = head + f'etchant,etch,"{record}",yes,gel | liquid,{{}} etch,\nmouth_mirror,mirror,Low.,,,,\n'
    pack = saved(tmp_path, read_names_csv(text, PACK))
    etchant = pack.item("etchant")
    assert etchant.handing == Handing.model_validate({"grasp": "pen", "note": "Slowly."})
    assert etchant.latex and [v.text for v in etchant.variants] == ["gel", "liquid"]
    assert [n.text for n in etchant.names][-2:] == ["gel etch", "liquid etch"]
    assert pack.item("mouth_mirror").handing == Handing(note="Low.")
    assert names_csv(pack).splitlines()[0].endswith("handing,reprocessing,latex,variants,patterns")
    assert read_names_csv(names_csv(pack), pack).operations == ()


def test_a_file_from_before_sizes_and_shared_names_changes_nothing() -> None:
    etchant = PACK.item("etchant").model_copy(
        update={"variants": (Variant(text="gel"),), "variant_names": ("{} etch",), "latex": True}
    )
    shared = etchant.model_copy(update={"synonyms": (Name(text="etch", shared=True),)})
    pack = PACK.model_copy(update={"items": (shared, *PACK.items[:3])})
    text = (
        HEAD
        + ",etchant,preferred,etchant,,,,,,,\n"
        + ",etchant,synonym,etch,,,,,,,\n"
        + ",etchant,synonym,gel etch,,,,,,,\n"
    )
    assert read_names_csv(text, pack).operations == ()


def test_a_name_is_shared_by_rows_of_both_items(tmp_path: Path) -> None:
    text = "item,name,shared\netchant,bond,yes\nbonding_agent,bond,yes\n"
    pack = saved(tmp_path, read_names_csv(text, PACK))
    assert [n.text for n in pack.item("etchant").names if n.shared] == ["bond"]
    assert [n.text for n in pack.item("bonding_agent").names if n.shared] == ["bond"]
    one = read_names_csv("item,name,shared\netchant,bond,yes\n", PACK)
    preview = Vocabulary(PACK, tmp_path / "other").preview("clinic", one.operations, "Ada", WHEN)
    assert 'but "bond" is also a name of bonding agent' in preview.troubles[0].message


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ("etchant,etch,{grasp,,,,\n", "row 2: handing: begins like a record, but cannot be read as one"),
        ("etchant,etch,,perhaps,,,\n", "row 2: latex: 'perhaps' is neither yes nor no"),
        ("etchant,etch,,,[[[,,\n", "row 2: variants: begins like a record"),
        ("etchant,etch,,,,,maybe\n", "row 2: shared: 'maybe' is neither yes nor no"),
    ],
)
def test_a_record_that_cannot_be_read_is_told_with_its_row(row: str, problem: str) -> None:
    found = told(read_names_csv("item,name,handing,latex,variants,patterns,shared\n" + row, PACK))
    assert any(text.startswith(problem) for text in found), found


def test_a_record_that_does_not_fit_is_told_with_its_row(tmp_path: Path) -> None:
    text = (
        'item,name,handing,patterns\netchant,etch,"{""hold"": ""tight""}",\nmouth_mirror,mirror,,{} mirror\n'
    )
    read = read_names_csv(text, PACK)
    preview = Vocabulary(PACK, tmp_path).preview("clinic", read.operations, "Ada", WHEN)
    first, second = read.with_troubles(preview)
    assert (first.row, second.row) == (2, 3)
    assert "variant_names need variants" in second.message


FORMULAS = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "＝1+1", "'=1", "''+1")


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_is_a_formula_and_every_cell_comes_back(text: str) -> None:
    assert guarded(text).startswith("'") and unguarded(guarded(text)) == text


@given(st.text(max_size=20))
def test_a_cell_comes_back_whatever_it_holds(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert guarded(text)[:1] not in ("=", "+", "-", "@", "\t", "\r")


def test_exported_names_and_slots_are_no_formulas() -> None:
    names = tuple(Name(text=f"{text} thing") for text in ("=HYPERLINK(x)", "-2+3", "'=quoted", "don't"))
    item = PACK.item("etchant").model_copy(update={"synonyms": names, "look": "@look"})
    pack = PACK.model_copy(update={"items": (item, *PACK.items[:4]), "trays": (), "procedures": ()})
    cells = [cell for row in csv.reader(io.StringIO(names_csv(pack))) for cell in row]
    assert "'=HYPERLINK(x) thing" in cells and "''=quoted thing" in cells and "don't thing" in cells
    assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@")]
    assert read_names_csv(names_csv(pack), pack).operations == ()


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
            "row 2: class: 'adhesve' is not valid here; did you mean adhesive",
        ),
        (",etchant,,etch,,,,,,,boil\n", "row 2: reprocessing: 'boil' is not valid here"),
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
        ("item,name,name\n", "row 1: the column 'name' appears twice"),
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


SIZES = PACK.item("etchant").model_copy(
    update={"variants": tuple(Variant(text=text) for text in ("gel", "1/2, fine", "liquid"))}
)
SIZED = PACK.model_copy(update={"items": tuple(SIZES if i.id == "etchant" else i for i in PACK.items)})


def test_the_sizes_in_a_slot_are_laid_by_rows_and_come_back(tmp_path: Path) -> None:
    text = "tray,slot,item,variants\nlook,2,etchant,gel | liquid\n"
    operations = read_trays_csv(text, SIZED).operations
    pack = Vocabulary(SIZED, tmp_path).record("clinic", operations, "Ada", WHEN).pack
    slot = next(s for s in pack.tray("look").slots if s.at == "2")
    assert slot.variants == ("gel", "liquid")
    assert read_trays_csv(trays_csv(pack), pack).operations == ()
    assert read_trays_csv("tray,slot,item\nlook,2,etchant\n", pack).operations == ()
    (other,) = read_trays_csv("tray,slot,item,variants\nlook,2,etchant,liquid\n", pack).operations
    assert isinstance(other, SetSlot) and other.variants == ("liquid",)


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        ("gel", ("gel",)),
        ("gel, liquid", ("gel", "liquid")),
        ("1/2, fine", ("1/2, fine",)),
        ("1/2, fine | gel", ("1/2, fine", "gel")),
        ('["1/2, fine", "gel"]', ("1/2, fine", "gel")),
        ("", ()),
    ],
)
def test_sizes_may_be_written_in_any_usual_way(cell: str, found: tuple[str, ...]) -> None:
    assert variants_said(cell, SIZES) == found


def test_a_size_that_an_item_does_not_have_is_told_with_its_row() -> None:
    (problem,) = told(read_trays_csv("tray,slot,item,variants\nlook,2,etchant,gell\n", SIZED))
    assert problem == (
        "row 2: variants: etchant has no size or pattern 'gell'; did you mean gel?; "
        "there are: gel, 1/2, fine, liquid"
    )


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        (",look,,1,miror,\n", "row 2: item: there is no item 'miror'; did you mean"),
        (",look,,1,etchant,many\n", "row 2: count: 'many' is not a valid count"),
        (",look,,1,etchant,0\n", "row 2: count: '0' is not a valid count"),
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
        ("thing: 1\n", "row 1: thing: cannot be imported; only items, kits, trays, procedures can"),
        ("items:\n- id: ours\n  name: ours\n", "row 2: items[ours].class: is missing; add it"),
        ("items:\n- id: ours\n  nam: ours\n", "row 3: items[ours].nam: there is no such field"),
        ("items: ours\n", "row 1: items: must be a list"),
        (
            "trays:\n- {id: look, name: Other, rows: [{name: r, slots: [{at: 1, item: etchant}]}]}\n",
            "row 2: name: is 'Look' and cannot be changed",
        ),
        (
            "procedures:\n- {id: look, name: Look, tray: other, steps: "
            "[{id: a, name: A, items: {etchant: 1}}]}\n",
            "row 2: tray: is 'look' and cannot be changed",
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
