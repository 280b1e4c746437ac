"""Text to canonical words, and names to the ways they are said or written.

Text comes in, as typed, transcribed or phrased by an engine; lower-case words without punctuation
go out, with every number in one form ("three thirty", "three-thirty" and "330" are all "330").
Separate numbers stay separate: "two four rounds" is a quantity and a size. It never looks at a pack.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from vocab.language.english import (
    AND,
    BY,
    BY_WORD,
    DIGITS,
    FRACTION_WORDS,
    FRACTIONS,
    HUNDRED,
    LETTERS,
    NUMBER,
    OH,
    OH_WORD,
    ONE_WORDS,
    POINT,
    SIGNS,
    SIZE_LETTERS,
    TEENS,
    TENS,
    ZERO,
)
from vocab.language.numerals import whole_number

MOST_FORMS = 48
"""A name with many numbers is cut to this many forms."""

_VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4"}
_TOKEN = re.compile(
    r"(?P<clock>[0-9]{1,2}:[0-9]{2}\b)"
    r"|(?P<by>[0-9]+\s*[x×]\s*[0-9]+(?=s?\b))"
    r"|(?P<fraction>[0-9]/[0-9]+)"
    r"|(?P<ordinal>[0-9]+(?:st|nd|rd|th)\b)"
    r"|(?P<lettered>[0-9]+[la]\b)"
    r"|(?P<formula>[0-9]+(?:-[0-9]+){2,3}\b)"
    r"|(?P<suture>[0-9]{1,2}-0\b)"
    r"|(?P<shade>\b[a-d][1-9](?:\.5)?\b)"
    r"|(?P<digits>[0-9]+(?:\.[0-9]+)?)"
    r"|(?P<number>\bno\.\s*(?=[0-9])|\bnos\.\s*(?=[0-9]))"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<sign>[#%&])"
)
_SHADE = re.compile(r"[a-d][1-9](\.5)?")
_CAPITAL_S = re.compile(r"(?<=[0-9])S\b")
"""150S is a pattern of its own; 150s are several."""
_JOINED_GAP = re.compile(r"[\s\-‐‑–]*")
_REMEMBERED = 32_768
"""Texts whose words and forms are remembered: several times the names of a practice's whole vocabulary."""
_SENTENCE_GAP = re.compile(r"[.!?;…](?:\s|$)")


def _number_values() -> dict[str, int]:
    values = {word: i for i, word in enumerate(DIGITS)}
    values.update({word: 10 + i for i, word in enumerate(TEENS)})
    values.update({word: 10 * i for i, word in enumerate(TENS) if word})
    return values


_VALUES = _number_values()
_PLURAL_VALUES = {
    **{
        (w[:-1] + "ies" if w.endswith("y") else w + ("es" if w.endswith("x") else "s")): v
        for w, v in _VALUES.items()
    }
}


@dataclass(frozen=True)
class Token:
    """One canonical word. `start` and `end` are offsets in the text that `tidy` returns.

    `numeric` marks a number; `said_number` that the word "number" stood before it; `comma` and
    `stop` that a comma or a sentence's end follows.
    """

    text: str
    start: int
    end: int
    numeric: bool = False
    said_number: bool = False
    comma: bool = False
    stop: bool = False

    @property
    def value(self) -> int | None:
        """What it counts, where it is a whole number that could be a size, a tooth or an amount."""
        return whole_number(self.text, 6)


@dataclass(frozen=True)
class _Raw:
    """A token before numbers are read. `value` is its number; `form` is word, digits or other."""

    text: str
    start: int
    end: int
    form: str
    value: int | None = None
    plural: bool = False
    glued: bool = False
    """Only spaces or hyphens lie between this token and the next."""


def tidy(text: str) -> str:
    """The text in lower case with one kind of apostrophe and plain digits; `Token` offsets refer to it."""
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, plain)
    text = _CAPITAL_S.sub(" S", unicodedata.normalize("NFKC", text)).lower()
    return text.replace("’", "'").replace("‘", "'").replace("`", "'")


def tokens(text: str) -> tuple[Token, ...]:
    """Canonical tokens with their places in `tidy(text)`."""
    plain = tidy(text)
    raw = _raw_tokens(plain)
    out: list[Token] = []
    at = 0
    said_number_at: int | None = None
    while at < len(raw):
        token = raw[at]
        if token.text == NUMBER and at + 1 < len(raw) and _starts_number(raw, at + 1):
            said_number_at = token.start
            at += 1
            continue
        read = _read_number(raw, at)
        canonical, after = read if read else (token.text, at + 1)
        start = token.start if said_number_at is None else said_number_at
        end = raw[after - 1].end
        gap = plain[end : raw[after].start] if after < len(raw) else plain[end:]
        tapered = gap.endswith(".") and after < len(raw) and raw[after].text[:1].isdigit()  # "25/.04"
        out.append(
            Token(
                text=canonical,
                start=start,
                end=end,
                numeric=read is not None,
                said_number=said_number_at is not None,
                comma="," in gap,
                stop=_SENTENCE_GAP.search(gap) is not None and not tapered,
            )
        )
        said_number_at = None
        at = after
    return tuple(out)


@lru_cache(maxsize=_REMEMBERED)
def words(text: str) -> tuple[str, ...]:
    """Canonical words: lower case, hyphens split, apostrophes folded, numbers in one form.

    >>> words("the Shepherd's hook, number three-thirty")
    ('the', 'shepherds', 'hook', '330')
    """
    return tuple(token.text for token in tokens(text))


def is_number(word: str) -> bool:
    """True for a canonical number ("330", "1/4", "33 1/2", "2x2", "169l", "4-0", the shade "a2")."""
    return bool(word) and (word[0].isascii() and word[0].isdigit() or _is_shade(word))


def _is_shade(word: str) -> bool:
    return _SHADE.fullmatch(word) is not None


@lru_cache(maxsize=_REMEMBERED)
def spoken_forms(text: str) -> tuple[str, ...]:
    """Every way the written name is said, the likeliest first; lower case, no punctuation.

    >>> spoken_forms("330 bur")
    ('three thirty bur', 'three three zero bur', 'three hundred thirty bur')
    """
    return _forms(text, _said)


@lru_cache(maxsize=_REMEMBERED)
def written_forms(text: str) -> tuple[str, ...]:
    """Every way a recogniser may write the name, digits and hyphens included; lower case."""
    return tuple(dict.fromkeys((*_forms(text, _written), *_apostrophe_forms(text))))


def _forms(text: str, number_forms: Callable[[str], tuple[str, ...]]) -> tuple[str, ...]:
    choices: list[tuple[str, ...]] = []
    for token in tokens(text):
        if not token.numeric:
            choices.append((token.text,))
            continue
        said = number_forms(token.text)
        if token.said_number:
            said = (*(f"{NUMBER} {form}" for form in said), *said)
        choices.append(said)
    joined = (" ".join(choice) for choice in itertools.product(*choices))
    return tuple(dict.fromkeys(form for form in itertools.islice(joined, MOST_FORMS) if form))


def _apostrophe_forms(text: str) -> tuple[str, ...]:
    plain = " ".join(tidy(text).split())
    return (plain,) if "'" in plain and not any(c.isdigit() for c in plain) else ()


# --- numbers said and written -------------------------------------------------------------------


def _said(number: str) -> tuple[str, ...]:
    """Spoken forms of one canonical number."""
    if number in FRACTION_WORDS:
        return FRACTION_WORDS[number]
    if " " in number:
        whole, fraction = number.split(" ", 1)
        halves = FRACTION_WORDS.get(fraction, (_digit_by_digit(fraction),))
        return tuple(
            f"{said} {AND} {part}" for said in _said(whole)[:1] for part in (f"a {halves[0]}", *halves[1:])
        )
    if "x" in number:
        left, right = number.split("x", 1)
        return (f"{_said(left)[0]} {BY_WORD} {_said(right)[0]}",)
    if _is_shade(number):
        return (f"{number[0]} {_said(number[1:])[0]}",)
    if number.count("-") > 1:
        return (" ".join(_said(part)[0] for part in number.split("-")),)
    if number.endswith("-0"):
        return tuple(f"{_said(number[:-2])[0]} {nought}" for nought in (OH_WORD, *ZERO))
    if number[-1] in LETTERS:
        return tuple(f"{said} {number[-1]}" for said in _said(number[:-1]))
    if "." in number:
        whole, part = number.split(".", 1)
        return (f"{_said(whole)[0]} {POINT} {_digit_by_digit(part)}",)
    if not number.isdigit():
        return (_digit_by_digit(number),)
    if number[0] == "0" and len(number) > 1 or len(number) > 4:
        return (_digit_by_digit(number),)
    if len(number) <= 2:
        return (_below_hundred(int(number)),)
    pairs = (_in_pairs(number),) if _has_pairs(number) else ()
    return tuple(dict.fromkeys((*pairs, _digit_by_digit(number), *_in_hundreds(number))))


def _written(number: str) -> tuple[str, ...]:
    """Written forms of one canonical number: as digits, and as words with and without hyphens."""
    digits = (number, number.replace("x", " x ")) if "x" in number else (number,)
    said = _said(number)
    hyphened = tuple(form.replace(" ", "-") for form in said if f" {AND} " not in form)
    partly = tuple(_hyphen_tens(form) for form in said)
    return tuple(dict.fromkeys((*digits, *said, *hyphened, *partly)))


def _hyphen_tens(said: str) -> str:
    return re.sub(rf"\b({'|'.join(t for t in TENS if t)}) ({'|'.join(DIGITS[1:])})\b", r"\1-\2", said)


def _below_hundred(value: int) -> str:
    if value < 10:
        return DIGITS[value]
    if value < 20:
        return TEENS[value - 10]
    return TENS[value // 10] + (f" {DIGITS[value % 10]}" if value % 10 else "")


def _has_pairs(number: str) -> bool:
    """False where two pairs would be heard as two numbers ("thirty five ten")."""
    head, tail = int(number[:-2]), int(number[-2:])
    return len(number) == 3 or 0 < tail < 10 or (head < 20 <= tail)


def _in_pairs(number: str) -> str:
    """ "330" is "three thirty", "1157" "eleven fifty seven", "303" "three oh three"."""
    head, tail = int(number[:-2]), int(number[-2:])
    if tail == 0:
        return f"{_below_hundred(head)} {HUNDRED}"
    return f"{_below_hundred(head)} {'oh ' if tail < 10 else ''}{_below_hundred(tail)}"


def _in_hundreds(number: str) -> tuple[str, ...]:
    if len(number) != 3:
        return ()
    tail = int(number[1:])
    return (f"{DIGITS[int(number[0])]} {HUNDRED}" + (f" {_below_hundred(tail)}" if tail else ""),)


def _digit_by_digit(number: str) -> str:
    return " ".join(DIGITS[int(c)] if c.isdigit() else c for c in number if c.isalnum())


# --- reading numbers ----------------------------------------------------------------------------


def _raw_tokens(plain: str) -> list[_Raw]:
    found = list(_TOKEN.finditer(plain))
    out: list[_Raw] = []
    for i, match in enumerate(found):
        next_start = found[i + 1].start() if i + 1 < len(found) else len(plain)
        glued = i + 1 < len(found) and _JOINED_GAP.fullmatch(plain, match.end(), next_start) is not None
        text = match.group()
        form, value, plural = "other", None, False
        match match.lastgroup:
            case "number":
                text, glued = NUMBER, True
            case "sign":
                text = SIGNS[text]
                glued = glued or text == NUMBER
            case "by":
                text, form = re.sub(r"\s*[x×]\s*", "x", text), "number"
            case "fraction" | "lettered" | "formula" | "suture" | "shade" | "clock" | "ordinal":
                form = "number"
            case "digits":
                form, value = "digits", whole_number(text, 5)
            case _:
                text = text.replace("'", "")
                if text in _VALUES:
                    form, value = "word", _VALUES[text]
                elif text in _PLURAL_VALUES:
                    form, value, plural = "word", _PLURAL_VALUES[text], True
                elif text in FRACTIONS:
                    text, form = FRACTIONS[text], "number"
        if text == "s" and out and out[-1].form in ("digits", "number") and out[-1].end == match.start():
            continue  # the plural of a number written in digits: "330s", "2x2s"
        out.append(_Raw(text, match.start(), match.end(), form, value, plural, glued))
    return out


def _starts_number(raw: list[_Raw], at: int) -> bool:
    return raw[at - 1].glued and raw[at].form in ("word", "digits", "number")


def _read_number(raw: list[_Raw], at: int) -> tuple[str, int] | None:
    """The longest number that starts at `at`, in canonical form, and the index after it."""
    token = raw[at]
    if token.form == "number":
        return token.text, at + 1
    if token.form not in ("word", "digits"):
        return None
    if _is_digit(token) and token.value == 1 and _glued_fraction(raw, at + 1):
        return raw[at + 1].text, at + 2
    by = _read_by(raw, at)
    if by:
        return by
    number, after = _read_whole(raw, at)
    return _with_suffix(raw, number, after)


def _read_by(raw: list[_Raw], at: int) -> tuple[str, int] | None:
    left = _read_below_hundred(raw, at)
    if left is None or not _follows(raw, left[1]) or raw[left[1]].text not in BY:
        return None
    if not _follows(raw, left[1] + 1):
        return None
    right = _read_below_hundred(raw, left[1] + 1)
    return (f"{left[0]}x{right[0]}", right[1]) if right else None


def _read_whole(raw: list[_Raw], at: int) -> tuple[str, int]:
    token = raw[at]
    digit = _is_digit(token) and not token.plural
    if digit and token.value and _follows(raw, at + 1):
        following = raw[at + 1]
        if following.text == HUNDRED:
            return _read_hundreds(raw, at)
        if not _is_digit(following):
            tail = _read_below_hundred(raw, at + 1)
            if tail and tail[0] >= 10:
                return str(token.value * 100 + tail[0]), tail[1]
    run = _read_digit_run(raw, at)
    if run:
        return run
    simple = _read_below_hundred(raw, at)
    if simple is None:
        return token.text, at + 1
    value, after = simple
    if value >= 10 and token.form == "word" and _follows(raw, after) and not raw[after - 1].plural:
        tail = _read_tail(raw, after, teen=value < 20)
        if tail:
            return str(value * 100 + tail[0]), tail[1]
    return str(value), after


def _read_hundreds(raw: list[_Raw], at: int) -> tuple[str, int]:
    value, after = (raw[at].value or 0) * 100, at + 2
    tail_at = (
        after + 1 if _follows(raw, after) and raw[after].text == AND and _follows(raw, after + 1) else after
    )
    if _follows(raw, tail_at):
        tail = _read_below_hundred(raw, tail_at)
        if tail:
            return str(value + tail[0]), tail[1]
    return str(value), after


_SUTURES = "23456789"
"""Suture sizes are said as a figure and a nought: 4-0 is "four oh"."""


def _read_digit_run(raw: list[_Raw], at: int) -> tuple[str, int] | None:
    """ "three three zero": three or more digits said one by one."""
    digits, after = "", at
    while after < len(raw) and (after == at or _follows(raw, after)):
        token = raw[after]
        if _is_digit(token):
            digits += str(token.value)
        elif after > at and token.text in OH:
            digits += "0"
        else:
            break
        after += 1
        if token.plural:
            break
    if len(digits) == 2 and digits[0] in _SUTURES and digits[1] == "0" and raw[after - 1].text in OH | ZERO:
        return f"{digits[0]}-0", after  # "four oh silk"
    if len(digits) < 3:
        return None
    following = raw[after] if _follows(raw, after) else None
    if following is not None and following.form == "word" and (following.value or 0) >= 10:
        return None  # "two two forty five": the last digit belongs to what follows
    return digits, after


def _read_tail(raw: list[_Raw], at: int, teen: bool) -> tuple[int, int] | None:
    """What follows two spoken figures to make four: "eleven fifty seven", "seventy nine oh one"."""
    if raw[at].text in OH and _follows(raw, at + 1) and _is_digit(raw[at + 1]):
        return raw[at + 1].value or 0, at + 2
    if not teen or raw[at].form != "word" or (raw[at].value or 0) < 20:
        return None
    return _read_below_hundred(raw, at)


def _read_below_hundred(raw: list[_Raw], at: int) -> tuple[int, int] | None:
    token = raw[at]
    value = token.value
    if value is None or value >= 100 or token.form == "digits" and token.text != str(value):
        return None
    if token.form == "word" and value >= 20 and not token.plural and _follows(raw, at + 1):
        unit = raw[at + 1]
        if _is_digit(unit) and unit.value:
            return value + unit.value, at + 2
    return value, at + 1


def _with_suffix(raw: list[_Raw], number: str, after: int) -> tuple[str, int]:
    """Adds "and a half" or a size letter to a whole number."""
    if not _follows(raw, after) or raw[after - 1].plural:
        return number, after
    token = raw[after]
    if token.text in SIZE_LETTERS:
        return number + token.text, after + 1
    if token.text in FRACTION_WORDS and (whole_number(number) or 0) >= 10:
        return f"{number} {token.text}", after + 1
    if token.text == AND:
        fraction_at = after + 1
        if _follows(raw, fraction_at) and raw[fraction_at].text in ONE_WORDS:
            fraction_at += 1
        if _glued_fraction(raw, fraction_at):
            return f"{number} {raw[fraction_at].text}", fraction_at + 1
    return number, after


def _glued_fraction(raw: list[_Raw], at: int) -> bool:
    return _follows(raw, at) and raw[at].text in FRACTION_WORDS


def _follows(raw: list[_Raw], at: int) -> bool:
    return 0 < at < len(raw) and raw[at - 1].glued


def _is_digit(token: _Raw) -> bool:
    return token.value is not None and token.value < 10 and (token.form == "word" or len(token.text) == 1)
