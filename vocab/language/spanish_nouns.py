"""The gender and number of a Spanish name, by its first word, and the little words that agree with it.

For sentences that are spoken around a name ("pásame la sonda"). A pack does not say a name's gender; it is
told by the ending, with the exceptions below. What is no noun (a number, a code, a name taken from a person,
an adjective with one ending) takes the gender of the item's usual name: "la 330", a bur (fresa).
"""

from __future__ import annotations

import re
from collections.abc import Mapping


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


_FEMININE = re.compile(r"(a|[csx]ión|dad|tad|tud|umbre|ez|itis|xis)$")
_FEMININE_TOO = _set("base clave fase llave luz mano matriz nariz raíz red serie superficie torre")
_MASCULINE_TOO = _set("contra día diafragma esquema mapa problema programa sistema")
_COMPOUND = re.compile(r"^(abre|aspira(?!ci)|cubre|guarda|porta|saca|sujeta|tapa)\w*", re.IGNORECASE)
"""A verb and what it acts on: masculine, and the same for one and for many ("el portagrapas")."""
_SINGULAR = re.compile(r"(is|us|ps|ás|és|ós)$")
"""Ends in s, and is one thing."""
_EL = _set("agua ala arma asa hacha")
"""Feminine words that begin with a stressed a: "el hacha", but "otra hacha"."""
_NO_NOUN = _set(
    "articular bucal cleoide con dental discoide distal interproximal mesial provisional seccional sin tres "
    "triple"
)
"""Words at the beginning of a name that do not tell a gender."""
_WORD = re.compile(r"[^\W\d_]+")


def forms(name: str, usual: str) -> Mapping[str, str]:
    """The words that agree with a name, as fields for a sentence.

    el, El, al: its article, and with "a" before it; o: the ending of "otro", "caído"; lo: the pronoun; n: the
    ending of a verb whose subject it is.

    Args:
        usual: the item's usual name.

    >>> forms("sonda", "sonda periodontal")["el"], forms("330", "fresa 330")["el"], forms("gafas", "")["lo"]
    ('la', 'la', 'las')
    """
    noun = _noun(name) or _noun(usual) or _first_word(f"{usual} {name}")
    compound = _COMPOUND.match(noun) is not None
    many = noun.endswith("s") and not compound and _SINGULAR.search(noun) is None
    one = noun[:-1] if many else noun
    feminine = not compound and _is_feminine(one)
    ending = ("a" if feminine else "o") + ("s" if many else "")
    article = {"o": "el", "os": "los", "a": "el" if one in _EL else "la", "as": "las"}[ending]
    return {
        "el": article,
        "El": article.capitalize(),
        "al": "al" if article == "el" else f"a {article}",
        "o": ending,
        "lo": f"l{ending}",
        "n": "n" if many else "",
    }


def _noun(name: str) -> str | None:
    """The noun that a name begins with; None where it begins with something else."""
    first = name.split()[0].partition("-")[0] if name.split() else ""
    if _WORD.fullmatch(first) is None or first[:1].isupper() or first in _NO_NOUN:
        return None
    return first


def _first_word(text: str) -> str:
    """Its first word in lower case, "" where it has none."""
    found = _WORD.search(text)
    return found.group().lower() if found else ""


def _is_feminine(noun: str) -> bool:
    if noun in _MASCULINE_TOO:
        return False
    return noun in _FEMININE_TOO or _FEMININE.search(noun) is not None
