"""What became of an item, as said at the chair: "mirror back", "that one fell", "throat pack out".

It takes text and, for "it" and "that one", the state of the tray. It gives `Told`s and, from them, events; it
gives none for anything else, above all not for questions, requests and talk. A sentence counts only if all of
it is one of the language's forms and the pack knows the name in it. Call this before
`vocab.requests.understand`, which takes "mirror back" for a request.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial

from listen.chairside.events import Event, EventKind, Source, taking_back
from listen.chairside.tray_state import Holding, TrayState
from vocab.language.by_language import plain_word, read_numbers, read_words, tables
from vocab.language.forms import GAP, Fitting, Templates, Words, forms_of
from vocab.language.numerals import whole_number
from vocab.language.tables import ReturnWords
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


LEAST_SHARE = 0.5
LEAST_P = 0.25
"""Where the tray does not decide, an item must be this likely, among the candidates and by itself."""
MOUTH = frozenset({EventKind.IN_MOUTH, EventKind.OUT_OF_MOUTH})
_NAMED_ONLY = MOUTH | {EventKind.SHORT}
"""With these, "it" is mostly talk ("it's out", "they're in")."""
_MOUNTED = frozenset({ItemClass.ANAESTHESIA, ItemClass.BUR, ItemClass.FINISHING, ItemClass.SURGICAL})
"""Counted items of these classes go in or on an instrument, not in the mouth ("the cartridge is in")."""


def understand(text: str, lexicon: Lexicon) -> ReturnsTold:
    """What the text says about items, in the order it was said; everything else stays in `rest`."""
    read = read_numbers(text, lexicon.pack.language)
    plain = tidy(read)
    told: list[Told] = []
    rest: list[str] = []
    for sentence in _cut(tokens(read), stops_only=True):
        end = sentence[-1].end
        asked = "?" in plain[end : end + 2]
        whole = () if asked else _told(sentence, lexicon)
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
                out += taking_back(last, state.events, at_s, source)
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


def unknown_names(text: str, language: str = "en") -> tuple[tuple[EventKind, str], ...]:
    """What would be told if the words in the place of a name were one; for names that were misheard."""
    sentences = _cut(tokens(read_numbers(text, language)), stops_only=True)
    if len(sentences) != 1 or "?" in text:
        return ()
    forms = _forms(language)
    said = forms.words_of(sentences[0])
    if not said or said[0] in forms.known.questions or forms.please.fits(said):
        return ()
    named = dict.fromkeys(n for words in forms.ways(said) for n in forms.named(words))
    return tuple((kind, " ".join(name)) for kind, name in named if not forms.known.not_here & set(name))


def is_pointer(words: Words, language: str) -> bool:
    """Whether these words point at something, courteously or not: "it", "that one please"."""
    forms = _forms(language)
    return any(forms.pointers.whole(said) for said in (words, *forms.please.gaps(words)))


# --- sentences ----------------------------------------------------------------------------------


class _ReturnForms:
    """The forms of one language, ready to be compared."""

    def __init__(self, language: str) -> None:
        self.known: ReturnWords = tables(language).returns
        self.language = language
        read = partial(read_words, language=language)
        self.forms = Templates({EventKind(kind): some for kind, some in self.known.forms.items()}, read)
        self.alone = Templates({EventKind(kind): some for kind, some in self.known.alone.items()}, read)
        self.all_of = Templates({EventKind.USED_UP: self.known.all_of}, read)
        self.undo = Templates({EventKind.CORRECTED: self.known.undo}, read)
        self.please = Templates({True: self.known.please}, read)
        self.pointers = Templates({True: self.known.pointers}, read)

    def words_of(self, sentence: Sequence[Token]) -> Words:
        """The words of a sentence without those at its ends that change nothing."""
        known = self.known
        plain = (plain_word(token.text, self.language) for token in sentence)
        said = [known.contracted.get(word, word) for word in plain]
        while said and said[0] in known.openers:
            said.pop(0)
        while said and said[-1] in known.endings:
            said.pop()
        return tuple(said)

    def ways(self, said: Words) -> tuple[Words, ...]:
        """A sentence without articles, and without the one who did it either."""
        bare = without_subject = tuple(word for word in said if word not in self.known.dropped)
        while without_subject and without_subject[0] in self.known.subjects:
            without_subject = without_subject[1:]
        return tuple(dict.fromkeys((bare, without_subject)))

    def named(self, said: Words) -> list[tuple[EventKind, Words]]:
        """Every form that fits and the words in the place of its name, longest form first."""
        fits = sorted(self.forms.fits(said), key=lambda fit: -len(fit.form))
        return [(fit.meaning, self.name_in(fit)) for fit in fits]

    def name_in(self, fit: Fitting[EventKind]) -> Words:
        """The words in the gap, without articles before it and auxiliaries at its end."""
        name = fit.gap
        while len(name) > 1 and name[-1] in self.known.auxiliaries and not fit.form.endswith(GAP):
            name = name[:-1]
        return self.without_articles(name)

    def without_articles(self, name: Words) -> Words:
        """A name without the articles before it."""
        while len(name) > 1 and name[0] in self.known.articles:
            name = name[1:]
        return name


@cache
def _forms(language: str) -> _ReturnForms:
    return _ReturnForms(language)


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
    return [(piece, _told(piece, lexicon)) for piece in _cut(sentence, stops_only=False)]


def _told(sentence: Sequence[Token], lexicon: Lexicon) -> tuple[Told, ...]:
    forms = _forms(lexicon.pack.language)
    said = forms.words_of(sentence)
    if not said or said[0] in forms.known.questions:
        return ()
    for asked in forms.please.gaps(said):
        if asked[0] not in forms.known.orders:
            return ()
        said = asked
        break
    ways = forms.ways(said)
    if forms.undo.whole(ways[0]) is not None:
        return (Told(EventKind.CORRECTED),)
    alone = forms.alone.whole(ways[0])
    if alone is not None:
        return (Told(alone),)
    for words in ways:
        for fit in forms.all_of.fits(words):
            return _about(EventKind.USED_UP, forms.name_in(fit), lexicon, everything=True)
        for kind, name in forms.named(words):
            found = _about(kind, name, lexicon)
            if found:
                return found
    return ()


# --- names --------------------------------------------------------------------------------------


def _about(kind: EventKind, name: Words, lexicon: Lexicon, everything: bool = False) -> tuple[Told, ...]:
    """What is told about each of the names; () unless all of them are names."""
    forms = _forms(lexicon.pack.language)
    if forms.pointers.whole(name):
        return () if kind in _NAMED_ONLY else (Told(kind, (), None if everything else 1),)
    one = _one(kind, name, lexicon, everything)
    if one:
        return (one,)
    for at in range(1, len(name) - 1):
        if name[at] in forms.known.joiners:
            left = _one(kind, name[:at], lexicon, everything)
            rest = forms.without_articles(name[at + 1 :])
            right = _about(kind, rest, lexicon, everything) if left else ()
            if left and right:
                return (left, *right)
    return ()


def _one(kind: EventKind, name: Words, lexicon: Lexicon, everything: bool) -> Told | None:
    known = tables(lexicon.pack.language).returns
    if known.not_here & set(name):
        return None
    if kind in MOUTH and len(name) > 1 and name[0] in known.every:
        everything, name = True, _forms(lexicon.pack.language).without_articles(name[1:])
    quantity = 1
    if not lexicon.is_name(name):
        quantity, name = _quantity(name, lexicon)
    while len(name) > 1 and name[0] in known.more and not lexicon.is_name(name):
        name = name[1:]
    while len(name) > 1 and name[-1] in known.more_after and not lexicon.is_name(name):
        name = name[:-1]
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
    quantities = forms_of(lexicon.pack.speech, lexicon.pack.language).quantities
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
