"""What the pages of one trainee show: the trainee's own, and the lead's.

Takes the places of a server, a trainee and a choice of procedure; gives a template's values. Nothing here
answers a request.
"""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from listen.practice.days import days_in_a_row, practice_days
from listen.practice.places import Places
from listen.practice.plan import known_in, path, seen_well, went_well
from listen.practice.progress import progress
from listen.practice.standing import readiness, requests
from listen.practice.today import hours_left, last_procedure, minutes_for


def measured(
    places: Places, trainee: str, procedure: str | None, field: str | None, zone: tzinfo | None
) -> dict[str, Any]:
    """A trainee's progress in a procedure (a choice as in `Places.chosen`, None for what was practised last,
    or is proposed) of a vocabulary (None for the one used most lately)."""
    used = field or places.field_used(trainee)
    chosen_field, chosen = (used, None) if procedure is None else places.chosen(procedure, used)
    matter, here, now = places.matter(chosen_field), places.asked_in(chosen_field), places.now()
    pack = matter.pack
    answers = [one.answer for one in places.store.reviews(trainee) if here(one.answer.topic)]
    if chosen is None:
        chosen = last_procedure(pack, answers) or matter.chair.options.procedure or ""
    topics = matter.topics(chosen or None)
    deck = places.store.deck(trainee)
    found, memories = progress(topics, deck, answers, now), known_in(deck)
    asked = sum(standing.asked for standing in found.standings)
    objections = places.store.objections(trainee)
    checklist, seen = matter.facts.checklist, seen_well(places.observations(trainee, pack.id))
    days = practice_days(answers, {topic.key for topic in topics}, now.astimezone(zone))
    wanted = requests(pack, pack.procedure(chosen), matter.trays.confirmed) if chosen else ()
    rehearsals = [one for _, one in places.store.rehearsals(trainee) if one.field == pack.id]
    played = any(went_well(one.requests, one.right) for one in rehearsals if one.procedure == chosen)
    return {
        "pack": pack,
        "rehearsals": rehearsals,
        "procedure": chosen,
        "course": pack.procedure(chosen).name if chosen else pack.name,
        "found": found,
        "path": path(topics, memories, checklist if chosen else (), seen, played if chosen else None),
        "ready": readiness(chosen, wanted, checklist, memories, seen) if chosen else None,
        "names": pack.called,
        "days": days,
        "in_a_row": days_in_a_row(days),
        "hours_left": hours_left(found.known, asked, found.topics, answers),
        "minutes": minutes_for(found.due[0], answers),
        "objections": [(places.label(o.answer.topic), o) for o in objections if here(o.answer.topic)],
    }
