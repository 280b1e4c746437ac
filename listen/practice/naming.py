"""What a topic is called for people: the items, step, row or number that it is about."""

from __future__ import annotations

from listen.practice.facts import Facts
from listen.practice.topics import KIT, Drill, Topic
from vocab.pack.schema import Pack


def topic_label(key: str, pack: Pack, facts: Facts) -> str:
    """A topic (its stored key) in words of the pack; what has left the vocabulary as well as can be said."""
    try:
        topic = Topic.read(key)
    except ValueError:  # written by a later version
        return key
    if topic.drill is Drill.FACT:
        asked = next((fact.asks for fact in facts.facts if fact.id == topic.subject), None)
        return asked or _plain(topic.subject)
    if topic.drill is Drill.NEXT:
        steps = {step.id: step.name for procedure in pack.procedures for step in procedure.steps}
        return steps.get(topic.subject, _plain(topic.subject))
    names = {**{f"{KIT}{kit.id}": kit.name for kit in pack.kits}, **pack.called}
    return " / ".join(names.get(part, _plain(part)) for part in topic.subject.split("+"))


def _plain(subject: str) -> str:
    return subject.removeprefix(KIT).replace("_", " ")
