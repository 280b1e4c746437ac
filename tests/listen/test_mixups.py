"""What is learnt of mix-ups from hearings, and how lint is held against others. Sums by hand, no source."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from listen.bench import mixups
from listen.bench.__main__ import app
from listen.bench.mixups import Met, Utterance
from listen.mixing import Names, taken_for
from listen.readings import Reading, Readings
from vocab.lexicon import Candidate
from vocab.lint_sounds import Sounds
from vocab.load import shipped_pack
from vocab.mixed_up import Taken, _read
from vocab.pronounce import Pronouncer, all_costs
from vocab.request import Request

SAY = Pronouncer()
OPERATIVE = shipped_pack()


def said(item: str, name: str, text: str = "", right: float = 0.9, **taken: float) -> Utterance:
    text = text or f"Pass me the {name}."
    return Utterance(text, item, name, "ada", text, right, {i: Taken(p, i) for i, p in taken.items()})


def test_the_longest_name_in_a_sentence_is_the_one_that_was_said() -> None:
    names = Names(OPERATIVE)
    assert names.of("Can I have the rubber dam clamp, please?", "dam_clamp") == "rubber dam clamp"
    assert names.of("Two more 2x2s.", "gauze_square") is not None
    assert names.of("Pass me the wedge.", "dam_clamp") is None
    assert names.called("Pass me the wedge.", "dam_clamp") == OPERATIVE.item("dam_clamp").name.text


def test_other_items_an_utterance_may_have_asked_for_are_added_up() -> None:
    def way(item: str, text: str, p: float) -> Reading:
        candidate = Candidate(item, OPERATIVE.item(item).name, 1.0, "exact")
        return Reading((Request("item", text, (candidate,)),), text, p)

    readings = Readings(
        (
            way("hollenback_carver", "the carver", 0.4),
            way("amalgam_carrier", "the carrier", 0.3),
            way("amalgam_carrier", "an amalgam carrier", 0.2),
        ),
        0.1,
    )
    taken = taken_for(readings, "hollenback_carver", Names(OPERATIVE))
    assert taken == {"amalgam_carrier": Taken(pytest.approx(0.5), "carrier")}  # type: ignore[arg-type]


def test_phones_are_aligned_the_cheapest_way() -> None:
    pairs, cost = mixups.aligned(("B", "AE", "N", "D"), ("B", "AA", "N"), all_costs())
    assert pairs == [("B", "B"), ("AE", "AA"), ("N", "N"), ("D", "")]
    assert cost == pytest.approx(all_costs()["AE", "AA"] + all_costs()["D", ""])


def test_phones_that_are_written_down_as_others_become_cheap() -> None:
    heard = [
        Utterance("Pass me the mirror.", "mouth_mirror", "mirror", "ada", "Pass knee the nearer.", 1, {})
    ]
    before, after = mixups.phone_costs([], SAY), mixups.phone_costs(20 * heard, SAY)
    assert after["M", "N"] < before["M", "N"]
    assert after["M", "K"] > before["M", "K"]


def test_how_often_near_names_are_mixed_up_is_found_again() -> None:
    """Utterances drawn with log-odds -2 - 1.5 cost give about these numbers back."""
    sounds, rng = Sounds(OPERATIVE, SAY), np.random.default_rng(3)
    drawn = []
    for item in OPERATIVE.items:
        for name in item.names[:1]:
            near = {i: c for i, c in sounds.costs(name.text).items() if i != item.id}
            p = {i: 1 / (1 + math.exp(2 + 1.5 * cost)) for i, cost in near.items()}
            for turn in range(4):
                met = {i: 1.0 for i in p if rng.random() < p[i]}
                drawn.append(said(item.id, name.text, f"{name.text} {turn}", **met))
    chance = mixups.fit_chance(drawn, sounds)
    assert chance.bias == pytest.approx(-2, abs=0.4)
    assert chance.by_cost == pytest.approx(-1.5, abs=0.3)
    assert chance.pull > 20  # nothing but the sound told anything


MET = (
    said("carver", "carver", "a", 0.6, carrier=0.4),
    said("carver", "carver", "b", 0.9, carrier=0.1),
    said("carrier", "carrier", "c", 0.3, carver=0.7),
    said("carrier", "carrier", "d", 1.0),
    said("wedge", "wedge", "e", 0.9, etchant=0.06),
    said("wedge", "wedge", "f", 1.0, etchant=0.001),
)


def test_pairs_are_confused_by_share_by_sentences_and_by_the_forced_choice() -> None:
    met = Met(MET)
    carver, wedge = frozenset(("carver", "carrier")), frozenset(("wedge", "etchant"))
    assert met.shares[carver] == pytest.approx(0.35)  # (0.4 + 0.1) / 2 and (0.7 + 0) / 2
    assert met.once == {carver, wedge}
    assert met.again == {carver}
    assert met.forced == {carver}


def test_recall_and_precision_count_pairs_that_were_asked_for() -> None:
    told = [frozenset(("carver", "carrier")), frozenset(("wedge", "carrier")), frozenset(("hoe", "gown"))]
    rows = {row.definition: row for row in mixups.agreement(told, MET)}
    row = rows["at least 1 in 50 on average"]
    assert (row.recall.k, row.recall.n) == (1, 2)
    assert (row.precision.k, row.precision.n) == (1, 2)  # nobody asked for the hoe or the gown


def test_promises_are_held_against_what_came() -> None:
    from vocab.lint import Finding, Kind, Severity

    finding = Finding(Kind.HEARD, Severity.HIGH, ("carver", "carrier"), ("carver", "carrier"), "", "", 0.2)
    assert mixups.promised([finding], MET) == (1, pytest.approx(0.2), pytest.approx(0.25))
    assert mixups.promised([], MET)[0] == 0


def record(side: str, item: str, text: str, phrasings: list[tuple[str, float]]) -> str:
    hearing = {
        "phrasings": phrasings,
        "free_text": text,
        "log_p_free": -2.0,
        "log_p_best": phrasings[0][1],
        "duration_s": 1.5,
    }
    plain = {"engine": "neural", "clip": f"{side} {text}", "side": side, "item": item, "text": text}
    return json.dumps(
        {**plain, "level": "10 dB", "voice": f"{side}-voice", "speaker": side, "hearing": hearing}
    )


def test_the_command_learns_from_one_side_and_reports_on_the_other(tmp_path: Path) -> None:
    folder, out = tmp_path / "heard", tmp_path / "mixed_up.json"
    folder.mkdir()
    lines = []
    for side in ("tune", "test"):
        for cue in ("Pass me the", "I need the"):
            heard = [(f"{cue} bond".lower(), -2.0), (f"{cue} band".lower(), -2.1)]
            lines.append(record(side, "matrix_band", f"{cue} band.", heard))
            lines.append(record(side, "wedge", f"{cue} wedge.", [(f"{cue} wedge".lower(), -2.0)]))
    (folder / "hearings.jsonl").write_text("\n".join(lines) + "\n")
    result = CliRunner().invoke(app, ["lint", str(folder), "--write", str(out)])
    assert result.exit_code == 0, result.output
    assert "learnt from 4 requests of the tune side" in result.output
    assert "4 requests for 2 items by 2 names" in result.output
    known = _read(out.read_text(), str(out))
    band = known.trial("band")
    assert band is not None and band.times == 2 and band.mass("bonding_agent") > 0.5
    assert known.about["voices"] == ["tune-voice"]


def test_without_hearings_it_says_what_to_do(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["lint", str(tmp_path)])
    assert result.exit_code == 2
    assert "make some" in result.output
