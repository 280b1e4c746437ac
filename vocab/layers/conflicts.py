"""Disagreements between layers, or between a layer and a newer pack, in words a lead can act on.

Takes a change and what is below it and gives a `Conflict`, which says what holds until someone
decides. It does not resolve anything itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from vocab.layers.changes import Change, Layer, Subject, in_words, short, subject
from vocab.pack.labels import shown

Kind = Literal["gone", "shared", "changed", "unfit", "missing"]
"""gone: what is changed no longer exists. shared: two items hold one name. changed: what was replaced has
itself changed. unfit: the change cannot be carried out. missing: a step asks for what its tray lacks."""


@dataclass(frozen=True)
class Conflict:
    """One disagreement. `holds` says what is in effect until it is settled."""

    kind: Kind
    layer: str
    change: str
    who: str
    when: str
    subject: Subject
    what: str
    holds: str
    remedy: str

    @property
    def by(self) -> str:
        """Whose change it is, and when it was made."""
        whose = "" if self.layer == "clinic" else f" for {self.layer}"
        return f"{self.change}{whose} ({self.who}, {self.when})" if self.change else self.layer

    def __str__(self) -> str:
        return f"{self.by}: {self.what}. {self.holds}. {self.remedy}."


def conflict(
    kind: Kind,
    layer: Layer,
    change: Change,
    why: str,
    holds: str,
    remedy: str,
    called: Mapping[str, str],
) -> Conflict:
    """A conflict of one change; `why` follows what the change does."""
    return Conflict(
        kind=kind,
        layer=layer.name,
        change=change.id,
        who=short(change.who),
        when=f"{change.when:%Y-%m-%d}",
        subject=subject(change.do),
        what=shown(f"it {in_words(change.do, called)}, but {why}"),
        holds=holds,
        remedy=remedy,
    )
