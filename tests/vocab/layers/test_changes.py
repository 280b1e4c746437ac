"""Local changes on top of a pack. What should come of them is our own design, no outside source."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from tests.vocab.small_pack import small_pack
from vocab.layers.apply import SHIPPED, Composed, compose, with_bases
from vocab.layers.canonical import read_layer, to_text
from vocab.layers.changes import (
    CHAIR_SIDE,
    AddItem,
    AddName,
    AddProcedure,
    AddTray,
    AskBack,
    Change,
    ClearSlot,
    Dentist,
    Layer,
    Mean,
    MoveName,
    Operation,
    RemoveName,
    RenameItem,
    RetireItem,
    SetDentists,
    SetField,
    SetHandedness,
    SetInjuryCard,
    SetKept,
    SetKit,
    SetMakerTime,
    SetNotDone,
    SetPlace,
    SetSlot,
    SetSteps,
    SetTrayKits,
    Undo,
)
from vocab.pack.load import shipped_pack
from vocab.pack.schema import Handing, Item, Kit, Name, Pack, Procedure, Slot, Step, Tray
from vocab.requests.lexicon import Lexicon

WHEN = datetime(2026, 1, 2, 10, 30, tzinfo=UTC)
TRAY = Tray.model_validate(
    {
        "id": "look",
        "name": "Look",
        "rows": [
            {"name": "far row", "slots": [{"at": 1, "item": "mouth_mirror"}, {"at": 2, "item": "etchant"}]}
        ],
        "chair_side": [{"at": "light hook", "item": "curing_light"}],
    }
)
PROCEDURE = Procedure.model_validate(
    {
        "id": "look",
        "name": "Look",
        "tray": "look",
        "any_time": {"curing_light": 1},
        "steps": [
            {"id": "see", "name": "See", "items": {"mouth_mirror": 1}},
            {"id": "etch", "name": "Etch", "items": {"etchant": 2}, "timer": "etch"},
        ],
    }
)
PACK = small_pack().model_copy(update={"trays": (TRAY,), "procedures": (PROCEDURE,)})


def layer(*operations: Operation, name: str = "clinic", pack: Pack = PACK) -> Layer:
    """A layer made of operations that saw `pack` below them."""
    empty = Layer(name=name, pack=pack.id, pack_version=pack.version)
    return empty.with_changes(with_bases(operations, pack), "Ada", WHEN, "so we say")


def item(item_id: str, *names: str | Name, **more: object) -> Item:
    plain = {"class": "examination", "purpose": "P.", "look": "L.", "reprocessing": "single use"}
    return Item.model_validate(
        {"id": item_id, "name": names[0], "synonyms": list(names[1:]), **plain, **more}
    )


def newer(**update: object) -> Pack:
    return PACK.model_copy(update={"version": "2", **update})


def with_item(changed: Item) -> Pack:
    return newer(items=tuple(changed if i.id == changed.id else i for i in PACK.items))


def names(composed: Composed, item_id: str) -> list[str]:
    return [name.text for name in composed.pack.item(item_id).names]


def kinds(composed: Composed) -> list[str]:
    return [conflict.kind for conflict in composed.conflicts]


def only(operations: Sequence[Operation] | Operation) -> Composed:
    some = operations if isinstance(operations, Sequence) else (operations,)
    return compose(PACK, [layer(*some)])


def test_no_layers_leave_the_pack_as_it_is() -> None:
    composed = compose(PACK, [])
    assert (composed.pack, composed.conflicts, composed.origin) == (PACK, (), {})


def test_the_pack_itself_is_never_changed() -> None:
    before = PACK.model_dump()
    only((AddName(item="etchant", name=Name(text="acid")), RetireItem(item="curing_light")))
    assert PACK.model_dump() == before


def test_an_added_name_is_understood_and_knows_where_it_comes_from() -> None:
    composed = only(AddName(item="mouth_mirror", name=Name(text="looking glass")))
    assert Lexicon(composed.pack).find("looking glass")[0].item == "mouth_mirror"
    origin = composed.came_from("Looking Glass")
    assert (origin.layer, origin.change, origin.who, origin.why) == ("clinic", "c1", "Ada", "so we say")
    assert origin.when == "2026-01-02"
    assert composed.came_from("mirror") == SHIPPED
    assert composed.conflicts == ()


def test_a_name_given_again_takes_its_new_spoken_forms() -> None:
    composed = only(AddName(item="etchant", name=Name(text="etch", say=("each",))))
    assert names(composed, "etchant") == ["etchant", "etch"]
    assert composed.pack.item("etchant").synonyms[0].say == ("each",)


def test_a_renamed_item_keeps_its_old_name_as_a_synonym() -> None:
    composed = only(RenameItem(item="mouth_mirror", name=Name(text="mirror")))
    assert names(composed, "mouth_mirror") == ["mirror", "mouth mirror"]
    composed = only(RenameItem(item="mouth_mirror", name=Name(text="glass"), keep_old=False))
    assert names(composed, "mouth_mirror") == ["glass", "mirror"]


def test_a_retired_item_leaves_look_up_trays_steps_and_pairs() -> None:
    pack = PACK.model_copy(update={"wide_margin": (("etchant", "mouth_mirror"),)})
    composed = compose(pack, [layer(RetireItem(item="etchant"))])
    assert all(i.id != "etchant" for i in composed.pack.items)
    assert [slot.item for slot in composed.pack.tray("look").slots] == ["mouth_mirror", "curing_light"]
    assert [step.id for step in composed.pack.procedure("look").steps] == ["see"]
    assert composed.pack.wide_margin == ()
    assert composed.conflicts == ()
    assert Lexicon(composed.pack).is_name("etch") is False


def test_notes_about_a_retired_item_go_with_it() -> None:
    noted = item("etchant", "etchant", confused_with=[{"item": "curing_light", "tell": "No."}])
    composed = compose(with_item(noted), [layer(RetireItem(item="curing_light"))])
    assert composed.pack.item("etchant").confused_with == ()
    assert composed.conflicts == ()


def test_the_last_thing_on_a_tray_or_in_the_steps_is_not_retired_silently() -> None:
    tray = Tray.model_validate(
        {"id": "one", "name": "One", "rows": [{"name": "row", "slots": [{"at": 1, "item": "etchant"}]}]}
    )
    composed = only((AddTray(tray=tray), RetireItem(item="etchant")))
    assert kinds(composed) == ["unfit"]
    assert "would have nothing left" in str(composed.conflicts[0])
    assert composed.pack.item("etchant")


def test_a_moved_name_belongs_to_one_item() -> None:
    composed = only(MoveName(name="carver", source="hollenback_carver", item="amalgam_carrier"))
    assert names(composed, "hollenback_carver") == ["Hollenback carver"]
    assert names(composed, "amalgam_carrier") == ["amalgam carrier", "carrier", "carver"]
    assert composed.conflicts == ()


def test_a_spoken_form_can_be_moved_as_well() -> None:
    composed = only(Mean(name="p f i", item="ball_burnisher"))
    assert composed.pack.item("plastic_instrument").name.say == ()
    assert names(composed, "ball_burnisher") == ["ball burnisher", "p f i"]


def test_a_name_that_means_another_thing_for_one_dentist_does_so_for_nobody_else() -> None:
    own = layer(Mean(name="mirror", item="hand_mirror"), name="grey")
    composed = compose(PACK, [layer(), own])
    assert composed.conflicts == ()
    assert names(composed, "hand_mirror")[-1] == "mirror"
    assert "mirror" not in names(composed, "mouth_mirror")
    assert composed.came_from("mirror").layer == "grey"
    assert "mirror" in names(compose(PACK, [layer()]), "mouth_mirror")


def test_a_preferred_name_that_is_taken_away_is_followed_by_the_next() -> None:
    composed = only(Mean(name="mouth mirror", item="hand_mirror"))
    assert names(composed, "mouth_mirror") == ["mirror"]
    composed = only(Mean(name="ball burnisher", item="egg_burnisher"))
    assert kinds(composed) == ["unfit"]
    assert names(composed, "ball_burnisher") == ["ball burnisher"]


def test_a_removed_name_is_gone() -> None:
    assert names(only(RemoveName(item="etchant", name="Etch")), "etchant") == ["etchant"]
    assert kinds(only(RemoveName(item="ball_burnisher", name="ball burnisher"))) == ["unfit"]


def test_an_item_can_be_added_changed_and_put_on_a_tray() -> None:
    mine = item("our_scaler", "our scaler", "scaler")
    composed = only(
        (
            AddItem(item=mine),
            SetField(item="our_scaler", field="sharp", value=True),
            SetSlot(tray="look", at="3", item="our_scaler", row="far row"),
            SetSlot(tray="look", at="4", item="hand_mirror", row="near row", count=2),
            SetSlot(tray="look", at="arm", item="bur_330", row=CHAIR_SIDE),
        )
    )
    assert composed.pack.item("our_scaler").sharp
    tray = composed.pack.tray("look")
    assert [(row.name, [slot.at for slot in row.slots]) for row in tray.rows] == [
        ("far row", ["1", "2", "3"]),
        ("near row", ["4"]),
    ]
    assert [slot.at for slot in tray.chair_side] == ["light hook", "arm"]
    assert composed.touched["slot", "look", "4"].change == "c4"


def test_a_slot_can_be_filled_otherwise_moved_and_cleared() -> None:
    composed = only(
        (
            SetSlot(tray="look", at="1", item="hand_mirror"),
            SetSlot(tray="look", at="2", item="etchant", row=CHAIR_SIDE),
            ClearSlot(tray="look", at="light hook"),
        )
    )
    tray = composed.pack.tray("look")
    assert [slot.item for slot in tray.rows[0].slots] == ["hand_mirror"]
    assert [slot.at for slot in tray.chair_side] == ["2"]
    missing = [c for c in composed.conflicts if c.kind == "missing"]
    assert len(missing) == 2 and "not on the tray Look" in str(missing[0])
    assert "all changes together" in str(missing[0])


BOX = Kit.model_validate(
    {"id": "box", "name": "Box", "slots": [{"at": 1, "item": "etchant"}, {"at": 2, "item": "bonding_agent"}]}
)


def boxed(*operations: Operation) -> Composed:
    """The pack with a kit beside its tray, after operations."""
    return only((SetKit(kit=BOX), SetTrayKits(tray="look", kits=("box",)), *operations))


def in_box(composed: Composed) -> list[tuple[str, str]]:
    return [(slot.at, slot.item) for kit in composed.pack.tray("look").opened for slot in kit.on_tray]


def test_a_kit_can_be_packed_and_opened_beside_a_tray() -> None:
    composed = boxed()
    assert composed.conflicts == ()
    assert in_box(composed) == [("box 1", "etchant"), ("box 2", "bonding_agent")]
    assert in_box(boxed(SetTrayKits(tray="look", kits=()))) == []
    assert kinds(only(SetTrayKits(tray="look", kits=("bag",)))) == ["gone"]
    assert kinds(only(SetKit(kit=BOX.model_copy(update={"picture": "no_such_thing"})))) == ["gone"]


def test_the_slots_of_a_kit_are_changed_by_their_address_on_every_tray() -> None:
    other = TRAY.model_copy(update={"id": "other", "name": "Other", "kits": ("box",)})
    composed = boxed(
        AddTray(tray=other),
        SetSlot(tray="look", at="box 2", item="bur_330"),
        SetSlot(tray="look", at="box 3", item="hand_mirror", count=2),
        ClearSlot(tray="look", at="box 1"),
    )
    assert composed.conflicts == ()
    assert in_box(composed) == [("box 2", "bur_330"), ("box 3", "hand_mirror")]
    assert composed.pack.tray("other").slot_of("bur_330") == "box 2"


def test_a_kit_is_never_left_empty() -> None:
    composed = boxed(ClearSlot(tray="look", at="box 1"), ClearSlot(tray="look", at="box 2"))
    assert kinds(composed) == ["unfit"] and in_box(composed) == [("box 2", "bonding_agent")]


def test_a_retired_item_leaves_its_kits() -> None:
    assert in_box(boxed(RetireItem(item="etchant"))) == [("box 2", "bonding_agent")]


def test_two_slots_of_one_address_are_refused_over_tray_and_kits() -> None:
    double = BOX.model_copy(update={"said": "light", "slots": (Slot(at="hook", item="etchant"),)})
    composed = boxed(SetKit(kit=double))
    assert kinds(composed) == ["unfit"] and in_box(composed)[0] == ("box 1", "etchant")


def test_steps_can_be_set_and_procedures_added() -> None:
    step = Step.model_validate({"id": "dry", "name": "Dry", "items": {"gauze_square": 1}})
    new = PROCEDURE.model_copy(update={"id": "again", "name": "Again"})
    composed = only((SetSteps(procedure="look", steps=(step,), any_time={}), AddProcedure(procedure=new)))
    assert composed.pack.procedure("look").steps == (step,)
    assert composed.pack.procedure("again").steps == PROCEDURE.steps
    assert kinds(composed) == ["missing"]
    composed = only(SetSteps(procedure="look", steps=(step, step)))
    assert kinds(composed) == ["unfit"]


def test_settings_say_what_differs_here() -> None:
    dentists = (Dentist(id="grey", name="Dr. Grey"),)
    composed = only(
        (
            SetMakerTime(timer="etch", seconds=15, product="blue gel"),
            SetHandedness(hand="left"),
            SetNotDone(procedures=("look",)),
            SetDentists(dentists=dentists),
        )
    )
    settings = composed.settings
    assert settings.maker_times_s == {"etch": 15}
    assert (settings.handedness, settings.not_done, settings.dentists) == ("left", ("look",), dentists)
    assert kinds(only(SetMakerTime(timer="etsch", seconds=15))) == ["gone"]
    assert "did you mean etch?" in str(only(SetMakerTime(timer="etsch", seconds=15)).conflicts[0])


def test_an_undone_change_counts_no_more_and_can_be_done_again() -> None:
    done = layer(AddName(item="etchant", name=Name(text="acid")))
    undone = done.with_changes([Undo(change="c1")], "Ben", WHEN)
    again = undone.with_changes([Undo(change="c2")], "Ada", WHEN)
    assert "acid" in names(compose(PACK, [done]), "etchant")
    assert "acid" not in names(compose(PACK, [undone]), "etchant")
    assert compose(PACK, [undone]).origin == {}
    assert "acid" in names(compose(PACK, [again]), "etchant")
    assert [change.id for change in again.changes] == ["c1", "c2", "c3"]


def test_what_relied_on_an_undone_change_is_listed() -> None:
    done = layer(AddItem(item=item("ours", "ours")), AddName(item="ours", name=Name(text="our own")))
    composed = compose(PACK, [done.with_changes([Undo(change="c1")], "Ben", WHEN)])
    assert kinds(composed) == ["gone"]
    assert composed.conflicts[0].change == "c2"


def test_a_pair_is_always_asked_back_until_that_is_undone() -> None:
    pair = ("etchant", "mouth_mirror")
    asked = layer(AskBack(items=pair))
    assert compose(PACK, [asked]).pack.wide_margin == (pair,)
    assert compose(PACK, [asked, layer(AskBack(items=pair[::-1]))]).pack.wide_margin == (pair,)
    assert compose(PACK, [layer(AskBack(items=pair), Undo(change="c1"))]).pack == PACK
    assert compose(PACK, [layer(AskBack(items=pair), RetireItem(item="etchant"))]).pack.wide_margin == ()
    gone = compose(PACK, [layer(RetireItem(item="etchant"), AskBack(items=pair))])
    assert kinds(gone) == ["gone"] and gone.pack.wide_margin == ()


def test_undoing_what_is_not_there_is_listed() -> None:
    assert kinds(compose(PACK, [layer(Undo(change="c9"))])) == ["gone"]


# --- a newer pack under the layer -------------------------------------------------------------------


def test_a_name_that_a_newer_pack_gives_to_another_item_stays_with_both() -> None:
    local = layer(AddName(item="etchant", name=Name(text="gel")))
    upgraded = with_item(item("bonding_agent", "bonding agent", "bond", "gel"))
    composed = compose(upgraded, [local])
    (conflict,) = composed.conflicts
    assert (conflict.kind, conflict.subject) == ("shared", ("name", "gel"))
    assert 'adds the name "gel" to etchant' in conflict.what
    assert "bonding agent" in conflict.what
    assert ("etchant", "bonding_agent") in {tuple(sorted(p, reverse=True)) for p in composed.pack.wide_margin}
    candidates = Lexicon(composed.pack).find("gel")
    assert {c.item for c in candidates} == {"etchant", "bonding_agent"}
    assert candidates[0].p == candidates[1].p < 0.5


def test_a_shared_name_is_settled_by_saying_what_it_means() -> None:
    upgraded = with_item(item("bonding_agent", "bonding agent", "bond", "gel"))
    local = layer(AddName(item="etchant", name=Name(text="gel")))
    settled = local.with_changes(with_bases([Mean(name="gel", item="bonding_agent")], upgraded), "Ada", WHEN)
    composed = compose(upgraded, [settled])
    assert composed.conflicts == ()
    assert "gel" not in names(composed, "etchant")
    settled_above = layer(Mean(name="gel", item="etchant"), name="grey", pack=upgraded)
    composed = compose(upgraded, [local, settled_above])
    assert composed.conflicts == ()


def test_a_newer_pack_with_the_same_name_for_the_same_item_agrees() -> None:
    local = layer(AddName(item="etchant", name=Name(text="gel")))
    composed = compose(with_item(item("etchant", "etchant", "etch", "gel")), [local])
    assert composed.conflicts == ()
    assert names(composed, "etchant") == ["etchant", "etch", "gel"]


RENAMED = {"etchant": item("etchant", "etchant"), "bur_330": item("bur_330", "330 bur", "etch")}
OTHER_TRAY = compose(PACK, [layer(SetSlot(tray="look", at="2", item="bur_330"))]).pack.tray("look")


@pytest.mark.parametrize(
    ("operation", "upgraded", "said"),
    [
        (
            RenameItem(item="etchant", name=Name(text="acid")),
            with_item(item("etchant", "etching gel", "etch")),
            'it was called "etchant" then and is now called "etching gel" below this change',
        ),
        (
            SetField(item="etchant", field="look", value="Blue."),
            with_item(item("etchant", "etchant", "etch")),
            "it was 'Like its name.' then and is 'L.' below now",
        ),
        (
            Mean(name="etch", item="bonding_agent"),
            newer(items=tuple(RENAMED.get(i.id, i) for i in PACK.items)),
            '"etch" is now a name of 330 bur below this change',
        ),
        (
            SetSlot(tray="look", at="2", item="bonding_agent"),
            newer(trays=(OTHER_TRAY,), procedures=()),
            "the slot held etchant then and holds 330 bur now",
        ),
        (
            SetSteps(procedure="look", steps=PROCEDURE.steps[:1]),
            newer(procedures=(PROCEDURE.model_copy(update={"steps": PROCEDURE.steps[1:]}),)),
            "the steps below have changed since",
        ),
    ],
)
def test_a_local_change_stands_and_what_disagrees_now_is_listed(
    operation: Operation, upgraded: Pack, said: str
) -> None:
    local = layer(operation)
    assert "changed" not in kinds(compose(PACK, [local]))
    changed = [c for c in compose(upgraded, [local]).conflicts if c.kind == "changed"]
    assert (
        len(changed) == 1 and said in str(changed[0]) and "The local change still applies" in str(changed[0])
    )
    confirmed = local.with_changes(with_bases([operation], upgraded), "Ada", WHEN)
    assert "changed" not in kinds(compose(upgraded, [confirmed]))


def test_an_item_that_a_newer_pack_dropped_is_listed_and_the_entry_kept() -> None:
    local = layer(AddName(item="etchant", name=Name(text="acid")))
    without = newer(items=tuple(i for i in PACK.items if i.id != "etchant"), trays=(), procedures=())
    composed = compose(without, [local])
    assert kinds(composed) == ["gone"]
    assert "the entry is kept" in str(composed.conflicts[0])
    assert "acid" in names(compose(PACK, [local]), "etchant")


def test_a_dentist_and_the_clinic_that_disagree_are_listed() -> None:
    own = layer(Mean(name="mirror", item="hand_mirror"), name="grey")
    clinic = layer(MoveName(name="mirror", source="mouth_mirror", item="curing_light"))
    composed = compose(PACK, [clinic, own])
    (conflict,) = composed.conflicts
    assert (conflict.layer, conflict.kind) == ("grey", "changed")
    assert "mirror" in names(composed, "hand_mirror")


def test_an_item_that_two_layers_add_is_listed() -> None:
    clinic, own = (
        layer(AddItem(item=item("ours", "our thing"))),
        layer(AddItem(item=item("ours", "another")), name="grey"),
    )
    composed = compose(PACK, [clinic, own])
    assert kinds(composed) == ["changed"]
    same = layer(AddItem(item=item("ours", "our thing")), name="grey")
    assert compose(PACK, [clinic, same]).conflicts == ()


def test_a_note_about_an_unknown_item_is_left_out_and_listed() -> None:
    noted = item("ours", "our thing", confused_with=[{"item": "nothing_here", "tell": "No."}])
    composed = only(AddItem(item=noted))
    assert composed.pack.item("ours").confused_with == ()
    assert kinds(composed) == ["missing"]


def test_the_shipped_pack_with_a_layer_still_satisfies_its_own_rules(tmp_path: object) -> None:
    from pathlib import Path

    import yaml

    from vocab.pack.load import load_pack

    pack = shipped_pack()
    local = layer(
        AddItem(item=item("our_scaler", "our scaler")),
        AddName(item="etchant", name=Name(text="our acid")),
        MoveName(name="brush", source="applicator_brush", item="our_scaler"),
        RetireItem(item="tray_cover"),
        pack=pack,
    )
    composed = compose(pack, [local])
    assert composed.conflicts == ()
    folder = Path(str(tmp_path))
    plain = composed.pack.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    (folder / "pack.yaml").write_text(yaml.safe_dump(plain, allow_unicode=True), encoding="utf-8")
    assert load_pack(folder) == composed.pack


# --- shared names, sizes, limits --------------------------------------------------------------------

SHARED = Name(text="football", shared=True)
FOOTBALLS = newer(
    items=tuple(
        i.model_copy(update={"synonyms": (*i.synonyms, SHARED)})
        if i.id in ("egg_burnisher", "bur_330")
        else i
        for i in PACK.items
    )
)
CLAMPS = item(
    "mouth_mirror",
    "mouth mirror",
    "mirror",
    variants=["4", {"text": "5", "say": ["five"], "names": ["big mirror"]}],
    variant_names=["{} mirror"],
)


def test_a_name_that_is_shared_on_purpose_is_no_conflict() -> None:
    assert compose(FOOTBALLS, []).pack == FOOTBALLS
    composed = compose(FOOTBALLS, [layer(AddName(item="etchant", name=SHARED), pack=FOOTBALLS)])
    assert composed.conflicts == () and composed.pack.wide_margin == ()
    clash = compose(FOOTBALLS, [layer(AddName(item="etchant", name=Name(text="football")), pack=FOOTBALLS)])
    assert kinds(clash) == ["shared"]


@pytest.mark.parametrize(
    "operation",
    [
        Mean(name="football", item="egg_burnisher"),
        RetireItem(item="bur_330"),
        RemoveName(item="bur_330", name="football"),
    ],
)
def test_a_name_that_nobody_else_has_is_shared_no_more(operation: Operation) -> None:
    composed = compose(FOOTBALLS, [layer(operation, pack=FOOTBALLS)])
    held = [n for n in composed.pack.item("egg_burnisher").names if n.text == "football"]
    assert composed.conflicts == () and [n.shared for n in held] == [False]
    assert [c.item for c in Lexicon(composed.pack).find("football")] == ["egg_burnisher"]


def test_a_local_synonym_does_not_hide_what_a_newer_pack_says_of_a_size() -> None:
    local = layer(AddName(item="mouth_mirror", name=Name(text="big mirror")))
    assert "big mirror" in names(compose(PACK, [local]), "mouth_mirror")
    composed = compose(with_item(CLAMPS), [local])
    assert composed.conflicts == ()
    assert [n.text for n in composed.pack.item("mouth_mirror").own_names] == ["mouth mirror", "mirror"]
    own = layer(SetField(item="mouth_mirror", field="variants", value=["mirror", "big"]))
    own = own.with_changes([SetField(item="mouth_mirror", field="variant_names", value=["{}"])], "Ada", WHEN)
    composed = compose(PACK, [own])
    assert [n.text for n in composed.pack.item("mouth_mirror").own_names] == ["mouth mirror"]


@pytest.mark.parametrize(
    ("operation", "said"),
    [
        (MoveName(name="4 mirror", source="mouth_mirror", item="etchant"), "its pattern of names"),
        (RenameItem(item="mouth_mirror", name=Name(text="5 mirror")), "means only its 5"),
        (SetSlot(tray="look", at="1", item="mouth_mirror", variants=("6",)), "there are: 4, 5"),
        (SetField(item="mouth_mirror", field="variants", value=["4", "4"]), "given twice"),
        (SetField(item="mouth_mirror", field="variant_names", value=["mirror"]), "must hold {} once"),
        (SetField(item="mouth_mirror", field="variants", value=["!"]), "has no letters or digits"),
    ],
)
def test_what_does_not_fit_the_sizes_is_listed(operation: Operation, said: str) -> None:
    pack = with_item(CLAMPS)
    composed = compose(pack, [layer(operation, pack=pack)])
    (conflict,) = composed.conflicts
    assert said in str(conflict)


def test_a_name_of_a_size_can_be_moved_and_taken_away() -> None:
    pack = with_item(CLAMPS)
    composed = compose(pack, [layer(Mean(name="big mirror", item="hand_mirror"), pack=pack)])
    assert "big mirror" in names(composed, "hand_mirror") and composed.conflicts == ()
    assert "big mirror" not in names(composed, "mouth_mirror")


def test_a_size_that_lies_on_a_tray_is_not_lost_silently() -> None:
    pack = with_item(CLAMPS)
    laid = layer(SetSlot(tray="look", at="1", item="mouth_mirror", variants=("5",)), pack=pack)
    gone = laid.with_changes([SetField(item="mouth_mirror", field="variants", value=["4"])], "Ada", WHEN)
    composed = compose(pack, [gone])
    assert "5 of it is on a tray" in str(composed.conflicts[0])
    assert composed.pack.tray("look").slots[0].variants == ("5",)


def test_how_an_item_is_passed_may_have_been_changed_when_it_was_still_a_sentence() -> None:
    """Layers from before handing was a record hold plain sentences."""
    noted = item("etchant", "etchant", "etch", handing="Low.")
    old = Layer(name="clinic", pack="small", pack_version="1").with_changes(
        [SetField(item="etchant", field="handing", value="Slowly.", base="Low.")], "Ada", WHEN
    )
    composed = compose(with_item(noted), [old])
    assert composed.conflicts == () and composed.pack.item("etchant").handing == Handing(note="Slowly.")
    other = item("etchant", "etchant", "etch", handing={"grasp": "pen"})
    assert kinds(compose(with_item(other), [old])) == ["changed"]


@pytest.mark.parametrize("name", ["x" * 5_000, "zonk\u202e", "two\nlines", "\x1b[31m red"])
def test_a_name_of_an_old_layer_that_would_hurt_is_listed_and_the_rest_counts(name: str) -> None:
    local = layer(
        AddName(item="etchant", name=Name(text=name)),
        AddItem(item=item("ours", name)),
        Mean(name=name, item="bonding_agent"),
        SetField(item="etchant", field="variants", value=[{"text": "gel", "names": [name]}]),
        AddName(item="etchant", name=Name(text="acid")),
    )
    composed = compose(PACK, [local])
    assert kinds(composed) == ["unfit"] * 4 and "acid" in names(composed, "etchant")
    told = "\n".join(map(str, composed.conflicts))
    assert len(told) < 4_000 and not {"\u202e", "\x1b"} & set(told)
    assert max(len(n.text) for i in composed.pack.items for n in i.names) < 40


def test_an_item_has_two_hundred_names_at_most() -> None:
    many = [AddName(item="etchant", name=Name(text=f"acid {i}")) for i in range(250)]
    composed = compose(PACK, [layer(*many)])
    assert len(names(composed, "etchant")) == 200 and set(kinds(composed)) == {"unfit"}
    sizes = SetField(item="bur_330", field="variants", value=[f"size {i}" for i in range(150)])
    patterns = SetField(item="bur_330", field="variant_names", value=["{} bur", "{} carbide"])
    composed = compose(PACK, [layer(sizes, patterns)])
    assert "at most 200 are allowed" in str(composed.conflicts[0])


def test_a_layer_with_every_new_change_is_written_and_read_back(tmp_path: Path) -> None:
    operations = (
        AskBack(items=("etchant", "mouth_mirror")),
        SetInjuryCard(lines=("Stop.", "Make safe.")),
        SetKept(called="mirror", items=("mouth_mirror", "hand_mirror"), kept="mouth_mirror"),
        SetDentists(dentists=(Dentist(id="grey", name="Dr. Grey", hand="left"),)),
        SetPlace(kind="tray", id="look", place="cupboard 2, top drawer"),
        SetPlace(kind="item", id="etchant"),
    )
    known = layer(*operations)
    (tmp_path / "clinic.yaml").write_bytes(to_text(known).encode())
    assert read_layer(tmp_path / "clinic.yaml") == known
    with pytest.raises(ValueError, match="not one of mouth_mirror, hand_mirror"):
        SetKept(called="mirror", items=("mouth_mirror", "hand_mirror"), kept="etchant")
    with pytest.raises(ValueError, match="two different items"):
        AskBack(items=("etchant", "etchant"))


def test_times_are_kept_in_utc() -> None:
    east = datetime(2026, 1, 2, 12, 0, tzinfo=timezone(timedelta(hours=2)))
    change = Change(id="c1", who="Ada", when=east, do=RetireItem(item="etchant"))
    assert change.when == east and change.when.tzinfo == UTC


def test_every_kind_of_change_can_be_read_back() -> None:
    reader = TypeAdapter(Change)
    for change in layer(
        SetHandedness(hand="left"), Undo(change="c1"), AddItem(item=item("ours", "ours"))
    ).changes:
        assert reader.validate_json(change.model_dump_json(by_alias=True)) == change
