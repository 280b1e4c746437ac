"""Reads a hand-written value as plain data: texts, numbers, and lists and mappings of them.

Takes a few lines of YAML and gives plain data of limited size, or says what is wrong with it.
"""

from __future__ import annotations

from typing import Any

import yaml

from vocab.errors import TraycallError
from vocab.pack.labels import shown

LARGEST = 1_000_000
"""Characters."""
MOST_PARTS, MOST_LEVELS = 20_000, 12


class UnreadableValue(TraycallError):
    """A value that cannot be read; the text says why."""


def plain_value(text: str, where: str) -> Any:
    """The plain data in a YAML text.

    Args:
        where: what messages call it.

    Raises:
        UnreadableValue: it is not YAML, is more than texts, numbers, lists and mappings, or is too large.
    """
    if len(text) > LARGEST:
        raise UnreadableValue(f"{where} has {len(text):,} characters, and at most {LARGEST:,} are read")
    try:
        value = yaml.safe_load(text)
    except RecursionError:
        raise UnreadableValue(_deep(where)) from None
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        said = shown(" ".join(str(error).split()), 300)
        raise UnreadableValue(f"{where} is not valid YAML ({said}); check brackets and quotes") from None
    problem = _problem(value, where)
    if problem:
        raise UnreadableValue(problem)
    return value


def _problem(value: Any, where: str) -> str | None:
    """What is wrong with plain data; an alias counts every time it is used."""
    waiting, parts = [(value, 1)], 0
    while waiting:
        one, level = waiting.pop()
        parts += 1
        if level > MOST_LEVELS:
            return _deep(where)
        if parts > MOST_PARTS:
            return f"{where} has more than {MOST_PARTS:,} values; write less at once"
        if isinstance(one, dict):
            if not all(isinstance(key, str | int) for key in one):
                return f"{where} has a field name that is not a plain word"
            waiting += [(held, level + 1) for held in one.values()]
        elif isinstance(one, list):
            waiting += [(held, level + 1) for held in one]
        elif not isinstance(one, str | int | float | None):
            return f"{where} contains {shown(str(one), 40)}, which means something else; put it in quotes"
    return None


def _deep(where: str) -> str:
    return f"{where} has brackets nested too deeply; use at most {MOST_LEVELS} levels"
