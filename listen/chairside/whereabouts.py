"""What is known of where one item is, in a sentence, and how a mistake in it is put right.

From a `Holding` it makes words and a few `Correction`s, the likely ones first. It records nothing: a
correction is what a person may choose, see `ChairSession.touch`, `request` and `not_asked`.
"""

from __future__ import annotations

from dataclasses import dataclass

from listen.chairside.events import EventKind
from listen.chairside.tray_state import Holding

REQUEST, NOT_ASKED = "request", "not_asked"
"""Corrections that are no events of their own: it was asked for; its last request was none."""
UNTOUCHED = "Nothing is noted of it since the tray was laid."


@dataclass(frozen=True)
class Correction:
    """Something that a person may say of so many pieces of an item, in words; `kind` is the value of an
    `EventKind`, `REQUEST` or `NOT_ASKED`."""

    kind: str
    words: str
    quantity: int = 1


CORRECTIONS: tuple[Correction, ...] = (
    Correction(REQUEST, "It was asked for"),
    Correction(NOT_ASKED, "Not asked for: take it back"),
    Correction(EventKind.PASSED, "It was passed"),
    Correction(EventKind.RETURNED, "It was given back"),
    Correction(EventKind.WIPED, "It was wiped"),
    Correction(EventKind.DROPPED, "It fell"),
    Correction(EventKind.USED_UP, "It is used up"),
    Correction(EventKind.ADDED, "Another one was brought"),
    Correction(EventKind.IN_MOUTH, "It is in the mouth"),
    Correction(EventKind.OUT_OF_MOUTH, "It came out of the mouth"),
    Correction(EventKind.BROKEN, "It broke"),
    Correction(EventKind.SHORT, "One is missing"),
)
"""All of them, each of one piece."""
_BY_KIND = {correction.kind: correction for correction in CORRECTIONS}


def likely_corrections(held: Holding, asked: bool) -> tuple[Correction, ...]:
    """The two or three that are likeliest, in order; `asked`: a request for it stands."""
    kinds: list[str]
    if held.in_mouth:
        kinds = [EventKind.OUT_OF_MOUTH, EventKind.DROPPED]
    elif held.out:
        kinds = [EventKind.RETURNED, EventKind.DROPPED]
    elif held.to_wipe:
        kinds = [EventKind.WIPED, EventKind.PASSED]
    elif held.back:
        kinds = [EventKind.PASSED, EventKind.SHORT]
    elif held.clean or not held.total:
        kinds = [REQUEST, EventKind.DROPPED, EventKind.SHORT]
    else:
        kinds = [EventKind.ADDED, EventKind.SHORT]
    found = [_BY_KIND[kind] for kind in kinds]
    if held.out > 1 and not held.in_mouth:
        found[0] = Correction(EventKind.RETURNED, f"All {held.out} were given back", held.out)
        found.insert(1, Correction(EventKind.RETURNED, "One was given back"))
        if asked:
            found.pop()  # it is among the rest
    if asked and held.out:
        found.append(_BY_KIND[NOT_ASKED])
    return tuple(found)


def whereabouts(held: Holding) -> str:
    """Where its pieces are noted to be, as one sentence."""
    handed = max(0, held.out - held.presumed - held.in_mouth)
    presumed = held.out - held.in_mouth - handed
    parts = [
        (held.in_mouth, "in the mouth"),
        (handed, "passed and not given back"),
        (presumed, "asked for and not given back"),
        (held.back - held.to_wipe, "given back"),
        (held.to_wipe, "given back, to be wiped"),
        (held.dropped, "fallen, to be replaced by a sterile one" if held.to_replace else "fallen"),
        (held.broken, "broken"),
        (held.used_up, "used up"),
        (held.clean, "in place"),
    ]
    told = [(count, words) for count, words in parts if count]
    if not told:
        return UNTOUCHED
    if held.total == 1:
        return f"Noted as {told[0][1]}."
    return f"Noted, of {held.total}: {'; '.join(f'{count} {words}' for count, words in told)}."
