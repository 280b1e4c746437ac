"""What became of an item, as said at the chair: "mirror back", "that one fell", "throat pack out".

It takes text and, for "it" and "that one", the state of the tray. It gives `Told`s and, from them, events; it
gives none for anything else, above all not for questions, requests and talk. A sentence counts only if all of
it is one of the forms below and the pack knows the name in it. Call this before
`vocab.requests.understand`, which takes "mirror back" for a request.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from listen.chairside.events import Event, EventKind, Source
from listen.chairside.tray_state import Holding, TrayState
from vocab.language.english import ARTICLES, HESITATIONS
from vocab.language.forms import forms_of
from vocab.language.numerals import whole_number
from vocab.language.tokens import Token, tidy, tokens
from vocab.pack.schema import ItemClass
from vocab.requests.lexicon import Candidate, Lexicon, fold
from vocab.requests.understand import NEAR_P_BARE, PART_P_BARE


@dataclass(frozen=True)
class Told:
    """One thing told about one item.

    candidates: the items that may be meant, likeliest first; () where it was pointed at ("it", "that
    one") and for "undo". quantity: None where every piece of it is meant ("we're out of gauze", "rolls
    out").
    """

    kind: EventKind
    candidates: tuple[Candidate, ...] = ()
    quantity: int | None = 1


@dataclass(frozen=True)
class ReturnsTold:
    """What was told, and the rest of the text, which may hold requests."""

    told: tuple[Told, ...]
    rest: str


def _words_of(text: str) -> frozenset[str]:
    return frozenset(text.split())


_N = "N"
_FORMS: dict[EventKind, tuple[str, ...]] = {
    EventKind.RETURNED: (
        "N back",
        "N returned",
        "N came back",
        "N has come back",
        "N coming back",
        "N back on tray",
        "N on tray again",
        "got N back",
        "take N back",
        "taking N back",
        "took N back",
        "put N back",
        "can have N back",
        "heres N back",
        "here N back",
        "done with N",
        "im done with N",
        "finished with N",
        "im finished with N",
        "put away N",
        "put N away",
        "take away N",
        "take N away",
    ),
    EventKind.DROPPED: (
        "dropped N",
        "N dropped",
        "N fell",
        "N fell down",
        "N fell on floor",
        "N fell off tray",
        "N fell off",
        "N fallen",
        "N on floor",
        "N hit floor",
        "N touched floor",
        "N contaminated",
        "contaminated N",
    ),
    EventKind.WIPED: ("wiped N", "N wiped", "wiped N off", "N wiped off", "wiped off N"),
    EventKind.USED_UP: (
        "N empty",
        "N used up",
        "used up N",
        "used N up",
        "N all gone",
        "N ran out",
        "that last N",
        "that was last N",
        "threw away N",
        "threw N away",
        "threw out N",
        "emptied N",
    ),
    EventKind.IN_MOUTH: ("N in", "N on", "N in place", "N in mouth", "placed N", "N placed"),
    EventKind.OUT_OF_MOUTH: (
        "N out",
        "N off",
        "N out of mouth",
        "took N out",
        "taking N out",
        "took N off",
        "taking N off",
        "N removed",
        "removed N",
    ),
    EventKind.BROKEN: (
        "N broke",
        "N broken",
        "broke N",
        "N snapped",
        "snapped N",
        "N tore",
        "N torn",
        "tore N",
        "N ripped",
        "N cracked",
        "N split",
        "N fractured",
        "N came apart",
        "N in 2",
        "N in 2 pieces",
        "N in pieces",
    ),
    EventKind.SHORT: (
        "were short N",
        "we are short N",
        "im short N",
        "were missing N",
        "we are missing N",
        "im missing N",
        "missing N",
        "N missing",
        "N gone missing",
        "lost N",
        "N lost",
    ),
    EventKind.ADDED: (
        "add N to tray",
        "added N",
        "added N to tray",
        "N added",
        "N added to tray",
        "put N on tray",
        "opened N",
        "brought N",
        "replaced N",
        "N replaced",
        "new N on tray",
        "sterile N on tray",
        "fresh N on tray",
    ),
    EventKind.PASSED: ("passed N", "N passed", "handed over N", "gave her N", "gave him N", "doctor has N"),
}
"""N stands for names or for "it"; articles and auxiliaries are left out."""
_ALL_OF = ("out of N", "ran out of N", "run out of N", "all out of N")
_UNDO = frozenset({("undo",), ("undo", "that"), ("undo", "last", "1"), ("scratch", "that")})
_PLAIN = frozenset({("wiped",), ("wiped", "off"), ("used", "up"), ("dropped",)})
"""Forms that are complete without a name if nothing else is said."""

_ORDERS = frozenset({"take", "put", "add", "undo"})
"""Only a form that begins with one of these may end with "please": "mirror back please" asks for it."""
POINTERS = frozenset(
    {("it",), ("that",), ("this",), ("that", "1"), ("this", "1"), ("them",), ("those",), ("these",)}
)
_ENDINGS = frozenset({"now", "already", "again", "thanks", "sorry", "okay", "ok"})
_OPENERS = (
    _ENDINGS | HESITATIONS | {"oh", "oops", "ah", "so", "well", "and", "then", "alright", "yes", "yeah"}
)
_SUBJECTS = _words_of("i ive we weve were he hes she shes they you youve just have already")
_AUXILIARIES = _words_of("is are has have was were just got been all now")
_QUESTIONS = _words_of(
    "is are did does do was has can could where who when what why how if should will would wheres whos"
)
_NOT_HERE = _words_of(
    "not isnt arent never no hasnt havent didnt dont wont wasnt cant yet unless until almost nearly my your "
    "his need want get give hand pass bring please ill id lets can could may"
)
"""Words that make a sentence a denial, a request or talk about one's own things."""
_CONTRACTED = {"its": "it", "thats": "that", "thatll": "that", "theyre": "them"}
LEAST_SHARE = 0.5
LEAST_P = 0.25
"""Where the tray does not decide, an item must be this likely, among the candidates and by itself."""
MOUTH = frozenset({EventKind.IN_MOUTH, EventKind.OUT_OF_MOUTH})
_NAMED_ONLY = MOUTH | {EventKind.SHORT}
"""With these, "it" is mostly talk ("it's out", "they're in")."""
_MOUNTED = frozenset({ItemClass.ANAESTHESIA, ItemClass.BUR, ItemClass.FINISHING, ItemClass.SURGICAL})
"""Counted items of these classes go in or on an instrument, not in the mouth ("the cartridge is in")."""
_EVERY = frozenset({"all", "both"})
_MORE = frozenset({"more", "another", "new", "fresh", "sterile", "spare", "extra"})
"""Before a name these mean one more of it."""


def understand(text: str, lexicon: Lexicon) -> ReturnsTold:
    """What the text says about items, in the order it was said; everything else stays in `rest`."""
    plain = tidy(text)
    told: list[Told] = []
    rest: list[str] = []
    for sentence in _cut(tokens(text), stops_only=True):
        end = sentence[-1].end
        asked = "?" in plain[end : end + 2]
        whole = () if asked else _told(_words(sentence), lexicon)
        pieces = [(sentence, whole)] if whole or asked else _pieces(sentence, lexicon)
        for piece, of_piece in pieces:
            told += of_piece
            if not of_piece:
                rest.append(plain[piece[0].start : piece[-1].end])
    return ReturnsTold(tuple(told), ", ".join(rest) if told else text)


def events_of(
    told: Sequence[Told], state: TrayState, at_s: float, source: Source = Source.SPEECH
) -> tuple[Event, ...]:
    """The events, with "it" and ambiguous names resolved by where each item is believed to be.

    What stays open ("the glasses fell", with several on the tray) gives no event; somebody can touch the
    screen instead.
    """
    out: list[Event] = []
    for one in told:
        if one.kind is EventKind.CORRECTED:
            last = state.last_standing
            if last is not None:
                out.append(Event(EventKind.CORRECTED, at_s, source, corrects=last.seq))
            continue
        item = _settled(one, state)
        if item is None:
            continue
        quantity = _all_of(one.kind, state.of(item)) if one.quantity is None else one.quantity
        out.append(Event(one.kind, at_s, source, item=item, quantity=quantity))
    return tuple(out)


def return_events(
    text: str, lexicon: Lexicon, state: TrayState, at_s: float, source: Source = Source.SPEECH
) -> tuple[Event, ...]:
    """`understand` and `events_of` in one step."""
    return events_of(understand(text, lexicon).told, state, at_s, source)


def unknown_names(text: str) -> tuple[tuple[EventKind, str], ...]:
    """What would be told if the words in the place of a name were one; for names that were misheard."""
    sentences = _cut(tokens(text), stops_only=True)
    if len(sentences) != 1 or "?" in text:
        return ()
    said = _words(sentences[0])
    if not said or said[0] in _QUESTIONS or said[-1] == "please":
        return ()
    bare = tuple(word for word in said if word not in ARTICLES - {"my", "your"})
    named = dict.fromkeys(n for words in (bare, _without_subject(bare)) for n in _named(words))
    return tuple((kind, " ".join(name)) for kind, name in named if not _NOT_HERE & set(name))


# --- sentences ----------------------------------------------------------------------------------

Words = tuple[str, ...]


def _cut(said: Sequence[Token], stops_only: bool) -> list[tuple[Token, ...]]:
    parts: list[tuple[Token, ...]] = []
    part: list[Token] = []
    for token in said:
        part.append(token)
        if token.stop or (token.comma and not stops_only):
            parts.append(tuple(part))
            part = []
    return [*parts, tuple(part)] if part else parts


def _pieces(
    sentence: tuple[Token, ...], lexicon: Lexicon
) -> list[tuple[tuple[Token, ...], tuple[Told, ...]]]:
    """ "mirror back, explorer please": the parts between commas, each by itself."""
    return [(piece, _told(_words(piece), lexicon)) for piece in _cut(sentence, stops_only=False)]


def _words(sentence: Sequence[Token]) -> Words:
    said = [_CONTRACTED.get(token.text, token.text) for token in sentence]
    while said and (said[0] in _OPENERS):
        said.pop(0)
    while said and said[-1] in _ENDINGS:
        said.pop()
    return tuple(said)


def _told(said: Words, lexicon: Lexicon) -> tuple[Told, ...]:
    if not said or said[0] in _QUESTIONS - _AUXILIARIES or said[0] in ("is", "are", "has", "was"):
        return ()
    if said[-1] == "please":
        if said[0] not in _ORDERS:
            return ()
        said = said[:-1]
    bare = tuple(word for word in said if word not in ARTICLES - {"my", "your"})
    if bare in _UNDO:
        return (Told(EventKind.CORRECTED),)
    if bare in _PLAIN:
        return (Told(_kind_of_plain(bare)),)
    for words in dict.fromkeys((bare, _without_subject(bare))):
        for form in _ALL_OF:
            name = _name_in(words, form)
            if name:
                return _about(EventKind.USED_UP, name, lexicon, everything=True)
        for kind, name in _named(words):
            found = _about(kind, name, lexicon)
            if found:
                return found
    return ()


def _named(said: Words) -> list[tuple[EventKind, Words]]:
    """Every form that fits and the words in the place of its name, longest form first."""
    matches = [(kind, form, _name_in(said, form)) for kind, forms in _FORMS.items() for form in forms]
    return [(kind, name) for kind, _, name in sorted(matches, key=lambda m: -len(m[1])) if name]


def _kind_of_plain(said: Words) -> EventKind:
    return next(kind for kind, forms in _FORMS.items() if " ".join((*said, _N)) in forms)


def _without_subject(said: Words) -> Words:
    while said and said[0] in _SUBJECTS:
        said = said[1:]
    return said


def _name_in(said: Words, form: str) -> Words:
    """The words in the place of N, without auxiliaries at their end; () if the form does not fit."""
    words = form.split()
    at = words.index(_N)
    before, after = tuple(words[:at]), tuple(words[at + 1 :])
    end = len(said) - len(after)
    if end <= at or said[:at] != before or said[end:] != after:
        return ()
    name = said[at:end]
    while after and len(name) > 1 and name[-1] in _AUXILIARIES:
        name = name[:-1]
    return name


# --- names --------------------------------------------------------------------------------------


def _about(kind: EventKind, name: Words, lexicon: Lexicon, everything: bool = False) -> tuple[Told, ...]:
    """What is told about each of the names; () unless all of them are names."""
    if name in POINTERS:
        return () if kind in _NAMED_ONLY else (Told(kind, (), None if everything else 1),)
    one = _one(kind, name, lexicon, everything)
    if one:
        return (one,)
    for at in range(1, len(name) - 1):
        if name[at] == "and":
            left = _one(kind, name[:at], lexicon, everything)
            right = _about(kind, name[at + 1 :], lexicon, everything) if left else ()
            if left and right:
                return (left, *right)
    return ()


def _one(kind: EventKind, name: Words, lexicon: Lexicon, everything: bool) -> Told | None:
    if _NOT_HERE & set(name):
        return None
    if kind in MOUTH and len(name) > 1 and name[0] in _EVERY:
        everything, name = True, name[1:]
    quantity = 1
    if not lexicon.is_name(name):
        quantity, name = _quantity(name, lexicon)
    while len(name) > 1 and name[0] in _MORE and not lexicon.is_name(name):
        name = name[1:]
    candidates = lexicon.find(name)
    if kind in MOUTH:
        candidates = tuple(c for c in candidates if c.p >= LEAST_P and goes_in_a_mouth(lexicon, c.item))
        everything = everything or (quantity == 1 and said_as_many(name[-1], lexicon))
    if not candidates:
        return None
    total = sum(candidate.p for candidate in candidates)
    least = PART_P_BARE if candidates[0].how == "exact" else NEAR_P_BARE
    if not lexicon.is_name(name) and total < least:
        return None
    return Told(kind, candidates, None if everything else quantity)


def goes_in_a_mouth(lexicon: Lexicon, item: str) -> bool:
    """Whether "in" and "out" can mean the mouth: for counted items, but no instrument parts or needles."""
    known = lexicon.pack.item(item)
    needle = known.sharp and known.item_class is not ItemClass.MATRIX
    return known.counted and not needle and known.item_class not in _MOUNTED


def said_as_many(word: str, lexicon: Lexicon) -> bool:
    """Whether a word was said in the plural: "rolls"."""
    return word.endswith("s") and fold((word,), lexicon.pack.language) != (word,)


def _quantity(name: Words, lexicon: Lexicon) -> tuple[int, Words]:
    """ "two more cotton roll": 2 and the name."""
    quantities = forms_of(lexicon.pack.speech).quantities
    as_tokens = tuple(Token(word, 0, 0) for word in name)
    content, after = quantities.at_start(as_tokens)
    if after and after < len(name):
        return int(quantities.meaning(content)), name[after:]
    count = whole_number(name[0]) or 0
    if len(name) > 1 and 0 < count <= 12:
        return count, name[1:]
    return 1, name


def _settled(told: Told, state: TrayState) -> str | None:
    """The one item that is meant, as far as the tray can tell; None where that stays open."""
    if not told.candidates:
        return pointed_at(told.kind, state)
    best = told.candidates[0]
    fitting = [c for c in told.candidates if _surely_fits(told.kind, state.of(c.item))]
    fitting = fitting or [c for c in told.candidates if fits(told.kind, state.of(c.item))]
    if len(fitting) == 1:
        return fitting[0].item
    if best not in fitting and any(c.item == state.last_item for c in fitting):
        return state.last_item
    chosen = fitting or told.candidates
    likeliest = max(chosen, key=lambda c: c.p)
    share = likeliest.p / sum(c.p for c in chosen)
    return likeliest.item if share >= LEAST_SHARE and likeliest.p >= LEAST_P else None


def fits(kind: EventKind, held: Holding) -> bool:
    """Whether this can have happened to a piece, as far as is known."""
    if kind is EventKind.WIPED:
        return held.to_wipe > 0
    if kind in (EventKind.RETURNED, EventKind.DROPPED, EventKind.OUT_OF_MOUTH):
        return held.out > 0
    if kind in (EventKind.ADDED, EventKind.SHORT):
        return held.total > 0
    if kind in (EventKind.IN_MOUTH, EventKind.BROKEN):
        return held.clean + held.out + held.back > 0
    return held.clean + held.out > 0


def _surely_fits(kind: EventKind, held: Holding) -> bool:
    """For the mouth: what was recorded as in it comes out, what was handed over goes in."""
    if kind is EventKind.OUT_OF_MOUTH:
        return held.in_mouth > 0
    return kind is EventKind.IN_MOUTH and held.out > held.in_mouth


def _all_of(kind: EventKind, held: Holding) -> int:
    """How many pieces "all of them" means, at least one."""
    if kind is EventKind.OUT_OF_MOUTH:
        return max(1, held.in_mouth or held.out)
    if kind is EventKind.IN_MOUTH:
        return max(1, held.out - held.in_mouth)
    return max(1, held.clean + held.out)


def pointed_at(kind: EventKind, state: TrayState) -> str | None:
    """ "it": the last item if that fits, else the only one that does."""
    last = state.last_item
    if last is not None and fits(kind, state.of(last)):
        return last
    fitting = [item for item, held in state.holdings.items() if fits(kind, held)]
    only = (EventKind.RETURNED, EventKind.DROPPED, EventKind.WIPED, EventKind.BROKEN)
    if kind in only and len(fitting) == 1:
        return fitting[0]
    return last if kind in (EventKind.DROPPED, EventKind.USED_UP, EventKind.BROKEN) else None
