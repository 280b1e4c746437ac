"""Several vocabularies in one practice: what a stored topic or an observed point belongs to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import pytest

from listen.practice.facts import Facts, facts_beside
from listen.practice.fields import belongs, latest, observed_in, point_of
from listen.practice.store import Observed
from listen.practice.topics import Drill, Topic, curriculum
from tests.listen.practice.classroom import NOON
from vocab.lint.findings import HEARD_LANGUAGES
from vocab.pack.load import shipped_languages, shipped_pack
from vocab.pack.schema import Pack

MIRROR = Topic(Drill.NAME, "mouth_mirror").key
HYGIENE = Topic(Drill.NEXT, "anything", "prophylaxis").key


@pytest.fixture(scope="module")
def packs() -> dict[str, Pack]:
    """Every shipped pack in the language that is heard."""
    heard = (name for name, language in shipped_languages().items() if language in HEARD_LANGUAGES)
    return {name: shipped_pack(name) for name in heard}


@pytest.fixture(scope="module")
def facts(packs: dict[str, Pack]) -> dict[str, Facts]:
    return {name: facts_beside(name, pack) for name, pack in packs.items()}


def test_trays_and_procedures_have_an_id_of_their_own_over_all_fields(packs: dict[str, Pack]) -> None:
    def places(pack: Pack) -> Iterator[str]:
        yield from {place for p in pack.procedures for place in (p.id, p.tray)} | {t.id for t in pack.trays}

    having: dict[str, list[str]] = defaultdict(list)
    for name, pack in packs.items():
        for place in places(pack):
            having[place].append(name)
    assert {place: names for place, names in having.items() if len(names) > 1} == {}
    assert len(having) > 60


def test_facts_of_one_id_ask_and_answer_the_same(facts: dict[str, Facts]) -> None:
    told: dict[str, tuple[str, str]] = {}
    for name, known in facts.items():
        for fact in known.facts:
            said = fact.asks, fact.answer.text
            assert told.setdefault(fact.id, said) == said, f"{name}: give the fact {fact.id} another id"
    assert len(told) > 400


def test_every_topic_of_a_field_belongs_to_it_and_places_to_no_other(
    packs: dict[str, Pack], facts: dict[str, Facts]
) -> None:
    for name in ("operative", "hygiene"):
        pack = packs[name]
        for procedure in (None, *(p.id for p in pack.procedures)):
            for topic in curriculum(pack, facts[name], procedure):
                assert belongs(topic.key, pack, facts[name])
                if topic.place:
                    assert [n for n, p in packs.items() if belongs(topic.key, p, facts[n])] == [name]


def test_a_common_item_is_one_item_in_every_field_that_has_it(packs: dict[str, Pack]) -> None:
    having = [name for name, pack in packs.items() if belongs(MIRROR, pack, Facts())]
    assert {"operative", "hygiene"} <= set(having)
    assert not belongs("sing:here:something", packs["hygiene"], Facts())


def test_the_field_used_most_lately_is_the_one_that_only_one_answer_fits(packs: dict[str, Pack]) -> None:
    some = [packs["operative"], packs["hygiene"]]
    slot = Topic(Drill.SLOT, "wedge", "composite_class_two").key
    assert latest([MIRROR, "fact::shade_when", HYGIENE, slot], some) is packs["hygiene"]
    assert latest([MIRROR, slot, HYGIENE], some) is packs["operative"]
    assert latest([MIRROR], some) is None


def test_a_point_seen_in_one_field_is_not_seen_in_another() -> None:
    old = Observed("sharps_wipe", True, "Dr. Grey", NOON)
    new = Observed(point_of("hygiene", "sharps_wipe"), False, "Dr. Reed", NOON)
    assert observed_in("hygiene", [old, new], unsaid=False) == (
        Observed("sharps_wipe", False, "Dr. Reed", NOON),
    )
    assert observed_in("operative", [old, new], unsaid=True) == (old,)
    assert observed_in("children", [old, new], unsaid=False) == ()
