"""A small pack with a tray and a timed procedure, made by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from listen.chairside.events import Event, EventKind, Source
from vocab.pack.schema import Pack

_ITEMS: dict[str, dict[str, Any]] = {
    "mouth_mirror": {
        "class": "examination",
        "name": "mouth mirror",
        "synonyms": ["mirror"],
        "handing": {
            "offered": "handle",
            "hand": "other",
            "grasp": "pen",
            "part": "glass",
            "faces": "teeth",
            "note": "Mirror face clean.",
        },
    },
    "explorer_shepherd": {
        "class": "examination",
        "name": "shepherd's hook explorer",
        "synonyms": ["explorer"],
        "sharp": True,
        "handing": {
            "offered": "handle",
            "hand": "working",
            "grasp": "pen",
            "exchange": "one hand",
            "part": "tip",
            "faces": "teeth",
        },
    },
    "explorer_pigtail": {"class": "examination", "name": "pigtail explorer", "sharp": True},
    "hollenback_carver": {
        "class": "placing and shaping",
        "name": "Hollenback carver",
        "synonyms": ["carver"],
        "sharp": True,
        "ends": 2,
    },
    "cotton_roll": {
        "class": "isolation",
        "name": "cotton roll",
        "reprocessing": "single use",
        "counted": True,
    },
    "gauze_square": {
        "class": "isolation",
        "name": "gauze square",
        "synonyms": ["gauze", {"text": "2x2", "say": ["two by two"]}],
        "reprocessing": "single use",
        "counted": True,
    },
    "wedge": {"class": "matrix", "name": "wedge", "reprocessing": "single use", "counted": True},
    "matrix_band": {
        "class": "matrix",
        "name": "matrix band",
        "synonyms": ["band"],
        "reprocessing": "single use",
        "sharp": True,
        "counted": True,
    },
    "etchant": {
        "class": "adhesive and composite",
        "name": "etchant",
        "synonyms": ["etch"],
        "reprocessing": "multi-dose container, no touch",
        "handing": {"offered": "plunger end", "part": "tip", "faces": "teeth", "note": "Fresh tip on."},
    },
    "curing_light": {
        "class": "adhesive and composite",
        "name": "curing light",
        "synonyms": ["light"],
        "reprocessing": "barrier and disinfect",
    },
    "patient_bib": {"class": "consumable", "name": "patient bib", "reprocessing": "single use"},
    "needle_long": {
        "class": "anaesthesia",
        "name": "long needle",
        "reprocessing": "single use",
        "sharp": True,
        "always_check": True,
        "handing": {"out_of_sight": True, "note": "Mounted and capped on the syringe."},
    },
    "cartridge_plain": {
        "class": "anaesthesia",
        "name": "plain cartridge",
        "reprocessing": "single use",
        "always_check": True,
        "handing": "Label held up to be read back before it is loaded.",
    },
    "sharps_container": {"class": "consumable", "name": "sharps container", "reprocessing": "single use"},
}

_SPEECH = {
    "cues": ["the", "a", "can i have the", "another"],
    "endings": ["please", "back", "back please"],
    "quantities": {1: ["one"], 2: ["two", "two more", "a couple of"], 3: ["three", "three more"]},
}

_TRAY = {
    "id": "composite",
    "name": "Composite",
    "rows": [
        {
            "name": "far row",
            "slots": [
                {"at": 1, "item": "mouth_mirror"},
                {"at": 2, "item": "explorer_shepherd"},
                {"at": 3, "item": "explorer_pigtail"},
                {"at": 4, "item": "hollenback_carver"},
            ],
        },
        {
            "name": "near row",
            "slots": [
                {"at": 5, "item": "cotton_roll", "count": 4},
                {"at": 6, "item": "gauze_square", "count": 6},
                {"at": 7, "item": "wedge", "count": 2},
                {"at": 8, "item": "matrix_band"},
                {"at": 9, "item": "etchant"},
                {"at": 10, "item": "patient_bib"},
            ],
        },
    ],
    "chair_side": [
        {"at": "light holder", "item": "curing_light"},
        {"at": "counter one", "item": "sharps_container"},
    ],
}

_PROCEDURE = {
    "id": "composite",
    "name": "Composite",
    "tray": "composite",
    "steps": [
        {
            "id": "etch",
            "name": "Etch",
            "items": {"etchant": 1},
            "timer": "etch",
            "cautions": ["Not too long."],
        },
        {"id": "cure", "name": "Cure", "items": {"curing_light": 1}, "timer": "cure"},
        {"id": "check", "name": "Teacher checks", "items": {"mouth_mirror": 1}, "faculty_check": True},
    ],
}

_SHARED = {"purpose": "For tests.", "look": "Like its name.", "reprocessing": "clean and heat-sterilise"}

PACK = Pack.model_validate(
    {
        "id": "chair",
        "name": "Chair",
        "language": "en",
        "version": "1",
        "items": [{**_SHARED, "id": item_id, **fields} for item_id, fields in _ITEMS.items()],
        "trays": [_TRAY],
        "procedures": [_PROCEDURE],
        "speech": _SPEECH,
    }
)
TRAY = PACK.tray("composite")


def at_chair(kind: EventKind, item: str | None = None, quantity: int = 1, seq: int = 0, **more: Any) -> Event:
    """An event by touch, one second after the other; requests are answered ones."""
    if kind is EventKind.ASKED:
        more.setdefault("verdict", "answer")
    more.setdefault("at_s", float(seq))
    return Event(kind, source=Source.TOUCH, item=item, quantity=quantity, seq=seq, **more)


def in_order(*events: Event) -> tuple[Event, ...]:
    """The events with seqs 1, 2, 3 ... and times to match."""
    return tuple(replace(event, seq=i, at_s=float(i)) for i, event in enumerate(events, 1))
