"""Every mistake in a pack is named with file, line, field and what would be right.

The packs here are made up for the tests; no outside source is needed for what our own messages say.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vocab.errors import TraycallError
from vocab.pack.load import PackError, Problem, load_pack, shipped_names, shipped_pack
from vocab.pack.references import normalised

PACK = """\
id: tiny
name: Tiny pack
language: en
version: "1"
wide_margin:
  - [mouth_mirror, wedge]
"""

ITEMS = """\
items:
  - id: mouth_mirror
    class: examination
    name: mouth mirror
    synonyms:
      - mirror
      - {text: no 5, say: [number five]}
    purpose: To see.
    look: A round mirror.
    reprocessing: clean and heat-sterilise
    confused_with:
      - {item: wedge, tell: Not alike.}
  - id: wedge
    class: matrix
    name: wedge
    purpose: To hold a band.
    look: A small triangle.
    reprocessing: single use
"""

TRAYS = """\
trays:
  - id: look
    name: Look
    rows:
      - name: far row
        slots:
          - {at: 1, item: mouth_mirror}
    chair_side:
      - {at: counter one, item: wedge}
"""

PROCEDURES = """\
procedures:
  - id: look
    name: Look
    tray: look
    any_time: {wedge: 1}
    steps:
      - id: see
        name: See
        items: {mouth_mirror: 2, wedge: 1}
"""

SPEECH = """\
speech:
  cues: [can i have the]
  endings: [please]
  actions: {rinse: [rinse]}
  quantities: {1: [one], 2: [two]}
"""

FILES = {
    "pack.yaml": PACK,
    "items.yaml": ITEMS,
    "trays.yaml": TRAYS,
    "procedures.yaml": PROCEDURES,
    "speech.yaml": SPEECH,
}


def write(folder: Path, files: dict[str, str] | None = None) -> Path:
    """A folder that holds the tiny pack, with some files replaced or added."""
    for name, text in {**FILES, **(files or {})}.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def changed(name: str, old: str, new: str) -> dict[str, str]:
    """One file of the tiny pack with a piece of its text replaced."""
    assert FILES[name].count(old) == 1, f"{old!r} must stand once in {name}"
    return {name: FILES[name].replace(old, new)}


def problems(folder: Path) -> tuple[Problem, ...]:
    """What is wrong with the pack in `folder`."""
    with pytest.raises(PackError) as caught:
        load_pack(folder)
    assert str(caught.value) == "\n".join(str(p) for p in caught.value.problems)
    return caught.value.problems


def only(folder: Path) -> Problem:
    """The one thing that is wrong with the pack in `folder`."""
    found = problems(folder)
    assert len(found) == 1, "\n".join(str(p) for p in found)
    return found[0]


def test_a_sound_pack_loads(tmp_path: Path) -> None:
    pack = load_pack(write(tmp_path))
    assert [i.id for i in pack.items] == ["mouth_mirror", "wedge"]
    assert pack.tray("look").slot_of("wedge") == "counter one"
    assert pack.speech.quantities[2] == ("two",)
    assert pack.item("mouth_mirror").synonyms[1].say == ("number five",)


def test_a_pack_may_stand_in_one_file(tmp_path: Path) -> None:
    (tmp_path / "pack.yaml").write_text("".join(FILES.values()), encoding="utf-8")
    assert load_pack(tmp_path) == load_pack(write(tmp_path / ".." / tmp_path.name, {"pack.yaml": PACK}))


def test_items_add_up_over_files(tmp_path: Path) -> None:
    head, wedge = ITEMS.split("  - id: wedge")
    write(tmp_path, {"items.yaml": head, "items_more.yaml": "items:\n  - id: wedge" + wedge})
    assert [i.id for i in load_pack(tmp_path).items] == ["mouth_mirror", "wedge"]


def test_a_mistake_reads_as_file_line_field_and_remedy(tmp_path: Path) -> None:
    problem = only(write(tmp_path, changed("items.yaml", "class: matrix", "class: matrx")))
    assert problem.file == tmp_path / "items.yaml"
    assert problem.line == 14
    assert problem.field == "items[wedge].class"
    assert str(problem).startswith(f"{tmp_path / 'items.yaml'}:14: items[wedge].class: 'matrx' is not valid")
    assert "did you mean matrix?" in problem.message
    assert "allowed: examination, isolation" in problem.message


@pytest.mark.parametrize(
    ("file", "old", "new", "line", "field", "message"),
    [
        ("items.yaml", "    look: A small triangle.\n", "", 13, "items[wedge].look", "is missing; add it"),
        ("items.yaml", "    look: A small", "    lok: A small", 17, "items[wedge].lok", "did you mean look?"),
        ("items.yaml", "look: A small triangle.", "look: ''", 17, "items[wedge].look", "is empty"),
        ("items.yaml", "name: wedge", "name: 330", 15, "items[wedge].name", 'quotes: "330"'),
        ("items.yaml", "look: A small triangle.", "look: 330", 17, "items[wedge].look", 'quotes: "330"'),
        ("items.yaml", "look: A small triangle.", "look: no", 17, "items[wedge].look", 'quotes: "no"'),
        (
            "items.yaml",
            "look: A small triangle.",
            "look: 2026-13-99",
            17,
            "items[wedge].look",
            "cannot be read",
        ),
        (
            "items.yaml",
            "reprocessing: single use",
            "reprocessing: boil",
            18,
            "items[wedge].reprocessing",
            "single use",
        ),
        (
            "items.yaml",
            "purpose: To see.",
            "purpose: To see.\n    ends: 3",
            9,
            "items[mouth_mirror].ends",
            "or equal to 2",
        ),
        (
            "items.yaml",
            "purpose: To see.",
            "purpose: To see.\n    sharp: maybe",
            9,
            "items[mouth_mirror].sharp",
            "boolean",
        ),
        ("items.yaml", "id: wedge", "id: Big Wedge", 13, "items[Big Wedge].id", "use lower-case letters"),
        (
            "items.yaml",
            "name: wedge",
            "name: wedge\n    name: peg",
            16,
            "items[wedge].name",
            "first on line 15",
        ),
        (
            "items.yaml",
            "name: wedge",
            "name: Mirror!",
            15,
            "items[wedge].name",
            "already belongs to mouth_mirror",
        ),
        (
            "items.yaml",
            "name: wedge",
            "name: Number  Five",
            15,
            "items[wedge].name",
            "belongs to mouth_mirror",
        ),
        (
            "items.yaml",
            "      - mirror",
            "      - Mouth-Mirror",
            6,
            "items[mouth_mirror].synonyms[0]",
            "given twice",
        ),
        ("items.yaml", "      - mirror", "      - '...'", 6, "items[mouth_mirror].synonyms[0]", "no letter"),
        (
            "items.yaml",
            "item: wedge",
            "item: wedg",
            12,
            "items[mouth_mirror].confused_with[0].item",
            "mean wedge?",
        ),
        (
            "items.yaml",
            "item: wedge",
            "item: mouth_mirror",
            12,
            "items[mouth_mirror].confused_with[0].item",
            "itself",
        ),
        (
            "items.yaml",
            "    synonyms:\n      - mirror\n",
            "    synonyms: mirror\n    oops:\n",
            6,
            "items[mouth_mirror].oops",
            "no such field",
        ),
        ("pack.yaml", "language: en", "language: English", 3, "language", "two lower-case letters"),
        ("pack.yaml", 'version: "1"', "version: 1", 4, "version", 'put it in quotes: "1"'),
        ("pack.yaml", "name: Tiny pack\n", "", 0, "name", "is missing"),
        (
            "pack.yaml",
            "mouth_mirror, wedge]",
            "mouth_miror, wedge]",
            6,
            "wide_margin[0][0]",
            "mean mouth_mirror?",
        ),
        ("pack.yaml", "mouth_mirror, wedge]", "wedge, wedge]", 6, "wide_margin[0]", "must differ"),
        ("pack.yaml", "mouth_mirror, wedge]", "wedge]", 6, "wide_margin[0][1]", "a pair needs two entries"),
        ("pack.yaml", "id: tiny", "id: tiny\ntrais: []", 2, "trais", "did you mean trays?"),
        ("pack.yaml", "id: tiny", "id: tiny\n[a, b]: 1", 2, "", "plain word"),
        (
            "trays.yaml",
            "item: mouth_mirror",
            "item: mouth_miror",
            7,
            "trays[look].rows[0].slots[0].item",
            "mean mouth_mirror?",
        ),
        ("trays.yaml", "at: counter one", "at: 1", 2, "trays[look]", "slot '1' is used twice"),
        ("procedures.yaml", "tray: look", "tray: lok", 4, "procedures[look].tray", "did you mean look?"),
        (
            "procedures.yaml",
            "mouth_mirror: 2",
            "mouth_miror: 2",
            9,
            "procedures[look].steps[see].items.mouth_miror",
            "did you mean mouth_mirror?",
        ),
        (
            "procedures.yaml",
            "any_time: {wedge: 1}",
            "any_time: {wege: 1}",
            5,
            "procedures[look].any_time.wege",
            "did you mean wedge?",
        ),
        (
            "procedures.yaml",
            "mouth_mirror: 2",
            "mouth_mirror: 0",
            9,
            "procedures[look].steps[see].items.mouth_mirror",
            "greater than 0",
        ),
        (
            "procedures.yaml",
            "    steps:\n",
            "    steps: []\n    extra:\n",
            7,
            "procedures[look].extra",
            "no such field",
        ),
        (
            "speech.yaml",
            "endings: [please]",
            "endings: [Please]",
            3,
            "speech.endings[0]",
            "must be lower case",
        ),
        (
            "speech.yaml",
            "2: [two]",
            "2: [one]",
            5,
            "speech.quantities[2][0]",
            "already used in speech.yaml, line 5",
        ),
        ("speech.yaml", "rinse: [rinse]", "no: [rinse]", 4, "speech.actions", 'put it in quotes: "no"'),
        ("speech.yaml", "endings: [please]", "endings: please", 3, "speech.endings", "must be a list"),
    ],
)
def test_each_mistake_names_its_line_and_field(
    tmp_path: Path, file: str, old: str, new: str, line: int, field: str, message: str
) -> None:
    found = problems(write(tmp_path, changed(file, old, new)))
    assert any(
        p.file.name == file and p.line == line and p.field == field and message in p.message for p in found
    ), "\n".join(str(p) for p in found)


def test_an_item_of_a_procedure_must_lie_on_its_tray(tmp_path: Path) -> None:
    new = "".join(line for line in TRAYS.splitlines(True) if "chair_side" not in line and "wedge" not in line)
    found = problems(write(tmp_path, {"trays.yaml": new}))
    assert {p.field for p in found} == {
        "procedures[look].any_time.wedge",
        "procedures[look].steps[see].items.wedge",
    }
    assert all("wedge is not on tray look; give it a slot" in p.message for p in found)


@pytest.mark.parametrize(
    ("section", "text"),
    [("items", ITEMS), ("trays", TRAYS), ("procedures", PROCEDURES)],
)
def test_an_id_is_used_once(tmp_path: Path, section: str, text: str) -> None:
    again = text.replace("name: mouth mirror", "name: other glass").replace("- mirror\n", "- other\n")
    again = again.replace("no 5, say: [number five]", "x").replace("name: wedge", "name: peg")
    found = problems(write(tmp_path, {"twice.yaml": again}))
    assert found[0].field.startswith(section) and found[0].field.endswith(".id")
    assert f"is already used in {section}.yaml, line 2" in found[0].message


def test_all_mistakes_are_told_at_once_in_file_and_line_order(tmp_path: Path) -> None:
    files = {
        **changed("items.yaml", "class: matrix", "class: matrx"),
        **changed("trays.yaml", "item: wedge", "item: wege"),
        **changed("pack.yaml", "language: en", "language: English"),
    }
    found = [(p.file.name, p.line) for p in problems(write(tmp_path, files))]
    assert found == sorted(found)
    assert {("items.yaml", 14), ("pack.yaml", 3), ("trays.yaml", 9)} <= set(found)


def test_a_mistake_inside_an_item_does_not_make_the_item_unknown(tmp_path: Path) -> None:
    assert "look" in only(write(tmp_path, changed("items.yaml", "    look: A small triangle.\n", ""))).field


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("", 0, "the file is empty"),
        ("# only a remark\n", 0, "the file is empty"),
        ("- a\n- b\n", 1, "not a mapping; start with a field such as items:"),
        ("just words\n", 1, "not a mapping"),
        ("items:\n\t- id: x\n", 2, "there is a tab here; indent with spaces"),
        ("items:\n  - look: one: two\n", 2, "put the text in quotes"),
        ("items: [a, b\n", 2, "not valid YAML"),
        ('items:\n  - look: "no end\n', 3, "not valid YAML"),
        ("a: 1\n---\nb: 2\n", 2, "not valid YAML"),
        ("a: *nowhere\n", 1, "not valid YAML"),
        ("items:\n  - id: \x07\n", 2, "U+0007"),
        ("[" * 5000, 1, "deep"),
        ("a: " + "[" * 900 + "]" * 900, 1, "deep"),
    ],
)
def test_a_file_that_is_no_pack_file_says_why(tmp_path: Path, text: str, line: int, message: str) -> None:
    found = [p for p in problems(write(tmp_path, {"extra.yaml": text})) if p.file.name == "extra.yaml"]
    assert any(message in p.message and p.line == line for p in found), found


def test_a_file_that_is_not_utf8_names_the_line(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "items.yaml").write_bytes(
        ITEMS.replace("A small", "Ein kleines d\u00fcnnes").encode("latin-1")
    )
    first = next(p for p in problems(tmp_path) if p.file.name == "items.yaml")
    assert (first.line, first.message) == (17, "this is not UTF-8 text; save the file as UTF-8")


def test_an_unreadable_file_is_not_also_reported_as_missing_fields(tmp_path: Path) -> None:
    found = problems(write(tmp_path, {"speech.yaml": "speech: ["}))
    assert [p.file.name for p in found] == ["speech.yaml"]


def test_a_byte_order_mark_is_allowed(tmp_path: Path) -> None:
    assert load_pack(write(tmp_path, {"items.yaml": "\ufeff" + ITEMS}))


def test_an_alias_saves_writing(tmp_path: Path) -> None:
    text = ITEMS.replace("look: A round mirror.", "look: &same A thing.").replace(
        "A small triangle.", "*same"
    )
    assert load_pack(write(tmp_path, {"items.yaml": text})).item("wedge").look == "A thing."


def test_an_alias_that_contains_itself_is_refused(tmp_path: Path) -> None:
    found = problems(write(tmp_path, {"extra.yaml": "x: &a [*a]\n"}))
    assert any("contain itself" in p.message for p in found)


def test_aliases_cannot_blow_up_the_memory(tmp_path: Path) -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 12)]
    found = problems(write(tmp_path, {"extra.yaml": "\n".join(lines)}))
    assert any("expand this" in p.message for p in found)


def test_a_field_given_in_two_files_names_both(tmp_path: Path) -> None:
    problem = only(write(tmp_path, {"twice.yaml": SPEECH}))
    assert problem.file.name == "twice.yaml" and "already given in speech.yaml, line 1" in problem.message


def test_a_missing_folder_says_what_to_give(tmp_path: Path) -> None:
    assert "no such folder; give the folder that holds pack.yaml" in only(tmp_path / "nowhere").message


def test_a_file_instead_of_a_folder_says_what_to_give(tmp_path: Path) -> None:
    assert "this is a file" in only(write(tmp_path) / "pack.yaml").message


def test_an_empty_folder_asks_for_pack_yaml(tmp_path: Path) -> None:
    assert "there is no pack.yaml; write one with id" in only(tmp_path).message


def test_a_missing_section_is_named(tmp_path: Path) -> None:
    write(tmp_path)
    (tmp_path / "speech.yaml").unlink()
    assert (only(tmp_path).field, only(tmp_path).file.name) == ("speech", "pack.yaml")


def test_a_yml_ending_is_pointed_out(tmp_path: Path) -> None:
    assert "ends in .yaml" in only(write(tmp_path, {"more.yml": ITEMS})).message


def test_a_folder_named_like_a_file_is_reported(tmp_path: Path) -> None:
    (tmp_path / "odd.yaml").mkdir()
    assert any("cannot be read" in p.message for p in problems(write(tmp_path)))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_damage_to_a_pack_gives_a_pack_or_a_pack_error(tmp_path: Path, data: st.DataObject) -> None:
    write(tmp_path)
    name = data.draw(st.sampled_from(sorted(FILES)))
    raw = FILES[name].encode()
    start = data.draw(st.integers(0, len(raw)))
    length = data.draw(st.integers(0, 20))
    junk = data.draw(
        st.binary(max_size=8) | st.sampled_from([b": ", b"- ", b"{", b"&a ", b"*a", b"!!set ", b"<<: "])
    )
    (tmp_path / name).write_bytes(raw[:start] + junk + raw[start + length :])
    try:
        load_pack(tmp_path)
    except PackError as error:
        assert all(p.message for p in error.problems)


def test_an_unknown_shipped_pack_is_answered_with_the_names_there_are() -> None:
    with pytest.raises(TraycallError, match="did you mean operative.*those that do: .*operative"):
        shipped_pack("operativ")
    with pytest.raises(TraycallError):
        shipped_pack("../packs/operative")


def test_the_shipped_pack_is_sound_and_large_enough() -> None:
    pack = shipped_pack()
    assert "operative" in shipped_names()
    assert len(pack.items) >= 75  # the figure
    assert len({normalised(n.text) for i in pack.items for n in i.names}) >= 250  # the figure
    assert len(pack.trays) >= 8 and len(pack.procedures) >= 8
    assert len(pack.speech.cues) >= 25


def test_every_shipped_item_lies_on_a_tray() -> None:
    pack = shipped_pack()
    assert {i.id for i in pack.items} == {s.item for t in pack.trays for s in t.slots}


def test_no_shipped_item_lies_twice_on_a_tray() -> None:
    for tray in shipped_pack().trays:
        items = [s.item for s in tray.slots]
        assert len(items) == len(set(items)), tray.id


def test_a_shipped_action_end_size_quantity_repeat_or_refusal_is_never_also_a_request_for_an_item() -> None:
    pack = shipped_pack()
    speech = pack.speech
    names = [normalised(form) for i in pack.items for n in i.names for form in (n.text, *n.say)]
    requests = {f"{cue} {n}".strip() for cue in ("", *map(normalised, speech.cues)) for n in names}
    groups = (speech.actions, speech.ends, speech.sizes, speech.quantities)
    forms = [f for group in groups for meanings in group.values() for f in meanings]
    forms += [*speech.repeats, *speech.refusals]
    assert [f for f in forms if normalised(f) in requests] == []
    assert len({normalised(f) for f in forms}) == len(forms)


def test_yaml_stays_readable_without_the_c_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vocab.pack.yaml_source._Loader", yaml.SafeLoader)
    assert load_pack(write(tmp_path)).id == "tiny"
