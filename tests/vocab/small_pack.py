"""A tiny pack made by hand, for tests that must not depend on the shipped one."""

from __future__ import annotations

from typing import Any

from vocab.pack.schema import Pack

SPEECH = {
    "cues": [
        "the",
        "a",
        "can i have the",
        "can i have a",
        "hand me the",
        "i need",
        "another",
        "more",
        "now the",
    ],
    "endings": ["please", "thanks", "thank you", "when you get a chance"],
    "joiners": ["and", "and then", "with"],
    "corrections": ["no", "no i meant the", "sorry", "make that a"],
    "refusals": ["not yet", "hold on", "no thank you"],
    "name_refusals": ["no", "no more", "hold the", "i don't need the"],
    "actions": {"rinse": ["rinse"], "cure": ["cure", "cure it"], "load": ["load"]},
    "ends": {"other": ["the other end", "flip it"], "small": ["the small end"]},
    "sizes": {"smaller": ["smaller", "a smaller one"]},
    "quantities": {1: ["one", "one more"], 2: ["two", "two more", "a couple of"], 3: ["three"]},
    "repeats": ["another one", "same again"],
}

_NAMES: dict[str, tuple[str, list[Any]]] = {
    "mouth_mirror": ("examination", ["mouth mirror", "mirror"]),
    "hand_mirror": ("examination", ["hand mirror", "patient mirror"]),
    "explorer_shepherd": ("examination", ["shepherd's hook explorer", "shepherd's hook"]),
    "explorer_pigtail": ("examination", ["pigtail explorer"]),
    "cotton_roll": ("isolation", ["cotton roll"]),
    "gauze_square": ("isolation", ["gauze square", {"text": "2x2", "say": ["two by two"]}]),
    "amalgam_carrier": ("placing and shaping", ["amalgam carrier", "carrier"]),
    "hollenback_carver": ("placing and shaping", ["Hollenback carver", "carver"]),
    "ball_burnisher": ("placing and shaping", ["ball burnisher"]),
    "egg_burnisher": ("placing and shaping", ["egg burnisher"]),
    "plastic_instrument": ("placing and shaping", [{"text": "PFI", "say": ["p f i"]}, "plastic instrument"]),
    "matrix_band": ("matrix", ["matrix band", "band"]),
    "etchant": ("adhesive and composite", ["etchant", "etch"]),
    "bonding_agent": ("adhesive and composite", ["bonding agent", "bond"]),
    "curing_light": ("adhesive and composite", ["curing light", "light"]),
    "high_speed_handpiece": ("handpiece", ["high speed handpiece", "high speed"]),
    "bur_330": ("bur", ["330 bur", "330"]),
    "bur_round_2": ("bur", ["2 round bur", "round 2"]),
    "bur_round_4": ("bur", ["4 round bur", "round 4"]),
    "bur_fissure_56": ("bur", ["56 bur", "56"]),
    "bur_round_quarter": ("bur", ["1/4 round bur", "quarter round"]),
}


def small_pack(extra_items: int = 0) -> Pack:
    """21 items, and `extra_items` more with two made-up names each."""
    items: list[dict[str, Any]] = [
        {
            "id": item_id,
            "class": item_class,
            "name": names[0],
            "synonyms": names[1:],
            "purpose": "For tests.",
            "look": "Like its name.",
            "reprocessing": "single use",
        }
        for item_id, (item_class, names) in _NAMES.items()
    ]
    items += [
        {
            **items[0],
            "id": f"extra_{i}",
            "name": f"{_made_up(i)} scaler",
            "synonyms": [f"{_made_up(i)} curette"],
        }
        for i in range(extra_items)
    ]
    return Pack.model_validate(
        {"id": "small", "name": "Small", "language": "en", "version": "1", "items": items, "speech": SPEECH}
    )


def _made_up(i: int) -> str:
    """A different pronounceable word for each number below 10,000."""
    starts, ends = (
        ["b", "d", "f", "g", "k", "l", "m", "n", "p", "t"],
        ["a", "e", "i", "o", "u", "an", "en", "in", "on", "un"],
    )
    digits = f"{i:04d}"
    return "".join(starts[int(d)] + ends[(int(d) + at) % 10] for at, d in enumerate(digits))
