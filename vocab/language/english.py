"""English: the words about numbers, names and requests that no pack needs to give.

Only tables. A pack in another language comes with a module like this one.
"""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _phrases(text: str) -> tuple[str, ...]:
    return tuple(phrase.strip() for phrase in text.split(","))


# --- numbers (vocab.language.tokens) ---------------------------------------------------------------------

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = _phrases("ten, eleven, twelve, thirteen, fourteen, fifteen, sixteen, seventeen, eighteen, nineteen")
TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
HUNDRED = "hundred"
POINT = "point"
OH = _words("oh o")
OH_WORD = "oh"
ZERO = _words("zero")
AND = "and"
ONE_WORDS = _words("a one 1")
FRACTIONS = {"quarter": "1/4", "quarters": "1/4", "half": "1/2", "halves": "1/2"}
FRACTION_WORDS = {"1/4": ("quarter", "one quarter"), "1/2": ("half", "one half"), "3/4": ("three quarter",)}
BY = _words("by x")
BY_WORD = "by"
NUMBER = "number"
SIZE_LETTERS = _words("l")
"""Letters that belong to the number before them: a 169L is the long form of a 169."""
LETTERS = SIZE_LETTERS | _words("a")
"""The same where it is written without a gap: a 14A is a clamp, "a" after a gap is mostly the article."""
SIGNS = {"#": NUMBER, "%": "percent", "&": AND}

# --- names (vocab.requests.lexicon) ----------------------------------------------------------------------

NAME_ARTICLES = _words("the a an")
BUR = "bur"
GENERIC = _words("bur instrument size type kind")
"""Words that may be added to any name without changing it ("the discoid instrument")."""
PLAIN = _words(
    "small large big little high low slow fast hard soft hand long short fine medium coarse air water "
    "side end left right front back plain universal safety patient dental clear temporary single double "
    "straight round white black blue red green yellow gold number no of for and with in on to from up "
    "down out over under tooth teeth working wet dry new old first second third next other class mesial "
    "distal buccal lingual occlusal facial palatal incisal proximal upper lower"
)
"""Words too plain to name an item alone, unless they are a whole name."""
SHADE_LETTERS = _words("a b c d")
"""With a digit behind them they are a shade."""
NO_PLURAL = _words("glasses")
SPELLINGS = {
    "disk": "disc",
    "dentin": "dentine",
    "anesthetic": "anaesthetic",
    "anesthesia": "anaesthesia",
    "burr": "bur",
    "mold": "mould",
    "fiber": "fibre",
    "sterilizing": "sterilising",
    "sterilization": "sterilisation",
    "color": "colour",
}

# --- requests (vocab.requests.understand) -------------------------------------------------------------------

HESITATIONS = _words("um uh er erm ah hm hmm mm uhm")
MILLIMETRES = "mm"
FILLERS = _phrases(
    "okay, ok, alright, all right, right, so, well, now, yeah, yes, yep, good, great, perfect, lets "
    "see, let me see, i think, and, and then, then, oh, hey, also, maybe, just, please, there we go"
)
LAST_FILLERS = _phrases("okay, ok, then, too, right, yeah, there, as well, this time, real quick")
ARTICLES = _words("the a an some my our your")
POINTERS = _words("that this those these his her one")
POLITE = _words("please just quickly also")
QUESTIONS = _phrases(
    "where is, wheres, where are, where do i find, which slot is, which slot has, what slot is, which "
    "slot are, which one is, what is, whats, what are, what does, what do we use, which is, show me, "
    "find, find me, look up, tell me about, how do i pass, how do i hand, how do i hold, how do you "
    "pass"
)
QUESTION_ENDINGS = _phrases(
    "for, used for, for again, look like, looks like, in, at, on, called, kept, do, again, on tray"
)
NOT = "not"
NO = "no"
BUT = _words("but its i want need meant said rather")
MORE = _words("more another")
THEM = (
    ("of", "those"),
    ("of", "these"),
    ("of", "that"),
    ("of", "them"),
    ("those",),
    ("these",),
    ("them",),
    ("same",),
)
OF = "of"
SITE_PREPOSITIONS = _words("on for at in to around over under before after")
SITES = _words(
    "tooth teeth number upper lower left right mesial distal buccal lingual occlusal facial palatal "
    "incisal side molar premolar bicuspid canine incisor quadrant class surface margin box floor "
    "proximal back front this that these those other one first second third next here there seconds "
    "minute minutes i ii iii iv v mm enamel dentine dentin cavity cusp restoration filling prep "
    "preparation gum cheek tongue patient her him us"
)
DEVICES = _words(
    "slow low high fast speed straight contra angle contraangle latch handpiece nose piece hand motor turbine"
)
LAST_TOOTH = 48
"""Teeth are numbered up to here in the two-digit system; larger numbers are sizes."""

OF_ANOTHER = _words("upper lower left")
"""Right before a name they make it another thing's ("upper cowhorn")."""
ALSO_ADJECTIVES = _words("light round flat clear plain fine short long slow sharp white green brown")
"""Names that are adjectives in most sentences."""
BEFORE_A_THING = _words("the a my your that this some no his her our")
AFTER_A_THING = _words(
    "please over here now for on in to and if when then while up back off thanks at by from"
)
"""What may stand before and after such a word where it is a thing that is asked for."""
