"""What came of lines and rounds, in words: the same on the page and at the terminal."""

from __future__ import annotations

from collections.abc import Callable

from listen.voicecheck.lines import Kind, Line
from listen.voicecheck.outcome import Outcome, Result

Called = Callable[[str], str]
"""The name of an item, by its id."""

HOW = {
    Kind.READ: "Read this aloud, as you would at the chair:",
    Kind.TALK: "Read this aloud. It asks for nothing, so nothing should happen:",
    Kind.PICTURE: "Ask for this as you would at the chair:",
}
OUTCOME_NAMES = {
    Outcome.RIGHT: "right",
    Outcome.ASKED: "asked back",
    Outcome.MISSED: "missed",
    Outcome.WRONG: "answered wrong",
}


def told(line: Line, result: Result, called: Called) -> str:
    """What came of a line."""
    names = ", ".join(called(item) for item in result.shown)
    if line.item is None:
        if result.outcome is Outcome.RIGHT:
            return "It kept quiet, as it should: nothing was asked for."
        return f"It took this for a request{f' ({names})' if names else ''}; nothing was asked for."
    meant = called(line.item)
    match result.outcome:
        case Outcome.RIGHT:
            return f"Understood: {meant}."
        case Outcome.ASKED:
            return f"Asked back, the right one among them: {names}."
        case Outcome.WRONG:
            return f"Answered wrong: {names or result.heard or 'something else'}; it was {meant}."
        case Outcome.MISSED if names:
            return f"Missed: it asked about {names}; it was {meant}."
    return f"Missed: nothing happened; it was {meant}."
