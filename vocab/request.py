"""What an utterance asks for: items, actions, corrections, refusals, or nothing.

Text comes in, typed or transcribed or phrased by an engine, and requests go out; no request at all
for chatter. An utterance is a request only if what is left of it, once fillers, cue and ending are
gone, *is* a name or another form of asking; holding an instrument word is not enough. It never
decides between candidates and never remembers an earlier utterance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from vocab.lexicon import Candidate, Lexicon
from vocab.schema import Speech
from vocab.spoken import Token, tidy, tokens, words

Kind = Literal["item", "action", "correction", "refusal", "repeat", "modifier"]

# The words of the language. Another language replaces these tables.
HESITATIONS = frozenset("um uh er erm ah hm hmm mm uhm".split())
FILLERS = (
    "okay",
    "ok",
    "alright",
    "all right",
    "right",
    "so",
    "well",
    "now",
    "yeah",
    "yes",
    "yep",
    "good",
    "great",
    "perfect",
    "lets see",
    "let me see",
    "and",
    "and then",
    "then",
    "oh",
    "hey",
    "also",
    "maybe",
    "just",
    "please",
    "there we go",
)
LAST_FILLERS = ("okay", "ok", "then", "too", "right", "yeah", "there", "as well", "this time", "real quick")
ARTICLES = frozenset({"the", "a", "an", "some", "my", "our", "your"})
POINTERS = frozenset({"that", "this", "those", "these", "his", "her", "one"})
POLITE = frozenset({"please", "just", "quickly", "also"})
QUESTIONS = (
    "where is",
    "wheres",
    "where are",
    "where do i find",
    "which slot is",
    "which slot has",
    "what slot is",
    "which slot are",
    "which one is",
    "what is",
    "whats",
    "what are",
    "what does",
    "what do we use",
    "which is",
    "show me",
    "find",
    "find me",
    "look up",
    "tell me about",
    "how do i pass",
    "how do i hand",
    "how do i hold",
    "how do you pass",
)
QUESTION_ENDINGS = (
    "for",
    "used for",
    "for again",
    "look like",
    "looks like",
    "in",
    "at",
    "on",
    "called",
    "kept",
    "do",
    "again",
    "on tray",
)
NOT = "not"
BUT = frozenset({"but", "its", "i", "want", "need", "meant", "said", "rather"})
NO = "no"
MORE = frozenset({"more", "another"})
THEM = (("of", "those"), ("of", "them"), ("of", "these"), ("of", "that"), ("of", "same"))
OF = "of"
SITE_PREPOSITIONS = frozenset({"on", "for", "at", "in", "to", "around", "over", "under"})
SITES = frozenset(
    "tooth teeth number upper lower left right mesial distal buccal lingual occlusal facial palatal incisal side "
    "molar premolar bicuspid canine incisor quadrant class surface margin box floor proximal back front "
    "this that these those other one first second third next here there second seconds minute minutes "
    "i ii iii iv v mm".split()
)
DEVICES = frozenset(
    "slow low high fast speed straight contra angle contraangle latch handpiece nose piece hand motor turbine".split()
)
LAST_TOOTH = 48
MOST_PIECES = 12

NAME_P = 0.7
"""Candidates that are parts of a name count as the name from this total on."""
NEAR_P_BARE = 0.6
NEAR_P_CUED = 0.38
"""Names that only sound or look like the words count from this total on, without and with a cue."""
REFUSED_P = 0.5


@dataclass(frozen=True)
class Request:
    """One thing asked for.

    `heard` holds the words of the name (or action, refusal ...) as they were given; `candidates`
    the items that may be meant, likeliest first; `rejected` the ids of items that were said not to
    be meant or wanted. What was not said is None.
    """

    kind: Kind
    heard: str
    candidates: tuple[Candidate, ...] = ()
    action: str | None = None
    end: str | None = None
    size: str | None = None
    quantity: int | None = None
    rejected: tuple[str, ...] = ()


def understand(text: str, lexicon: Lexicon, speech: Speech) -> tuple[Request, ...]:
    """The requests in one utterance, in the order they were said; () where it asks for nothing."""
    reader = _Reader(lexicon, _forms_of(speech), tidy(text))
    sentences = [reader.read_sentence(part) for part in _sentences(tokens(text))]
    told = [sentence for sentence in sentences if sentence is not None]
    chatter = any(not sentence.requests for sentence in told)
    requests: list[Request] = []
    for sentence in told:
        if chatter and not sentence.cued:
            continue
        for request in sentence.requests:
            if request.kind == "correction" and requests and requests[-1].kind == "item":
                wrong = _best(requests.pop())
                rejected = (*request.rejected, *(i for i in wrong if i not in _best(request)))
                request = replace(request, rejected=tuple(dict.fromkeys(rejected)))
            if request not in requests:
                requests.append(request)
    return tuple(requests)


# --- phrases ------------------------------------------------------------------------------------


class _Phrases:
    """A set of phrases, each with a meaning, that is found at either end of some tokens.

    Articles are optional everywhere, in the phrases and in what is said.
    """

    def __init__(self, meanings: Mapping[str, str | int]) -> None:
        self._by_first: dict[str, list[tuple[str, ...]]] = {}
        self._meanings: dict[tuple[str, ...], str | int] = {}
        for phrase, meaning in meanings.items():
            content = tuple(word for word in words(phrase) if word not in ARTICLES)
            if content and content not in self._meanings:
                self._meanings[content] = meaning
                self._by_first.setdefault(content[0], []).append(content)
        self._longest_first = sorted(self._meanings, key=len, reverse=True)

    def at_start(self, said: Sequence[Token]) -> tuple[tuple[str, ...], int]:
        """The longest phrase that opens the tokens, and how many tokens it takes; ((), 0) for none."""
        start = _skip(said, 0, ARTICLES | POLITE - self._by_first.keys())
        best: tuple[tuple[str, ...], int] = ((), 0)
        if start >= len(said):
            return best
        for content in self._by_first.get(said[start].text, ()):
            end = _match(said, start, content)
            if end and (end, len(content)) > (best[1], len(best[0])):
                best = (content, end)
        return best

    def at_end(self, said: Sequence[Token]) -> int:
        """How many tokens stand before the longest phrase that closes them; all of them for none."""
        for start in range(len(said)):
            if said[start].text in self._by_first:
                for content in self._by_first[said[start].text]:
                    if _match(said, start, content) == len(said):
                        while start and said[start - 1].text in ARTICLES:
                            start -= 1
                        return start
        return len(said)

    def whole(self, said: Sequence[Token]) -> str | int | None:
        """The meaning of the phrase that is all of the tokens, or None."""
        return self._meanings.get(tuple(token.text for token in said if token.text not in ARTICLES))

    def meaning(self, content: tuple[str, ...]) -> str | int:
        """What a phrase returned by `at_start` means."""
        return self._meanings[content]


def _match(said: Sequence[Token], start: int, content: tuple[str, ...]) -> int:
    """The index after `content` in `said` from `start` on, skipping small words; 0 for no match."""
    at = start
    for i, word in enumerate(content):
        while i and at < len(said) and said[at].text != word and said[at].text in ARTICLES | POLITE:
            at += 1
        if at >= len(said) or said[at].text != word:
            return 0
        at += 1
    return at


def _skip(said: Sequence[Token], at: int, skipped: frozenset[str]) -> int:
    while at < len(said) and said[at].text in skipped:
        at += 1
    return at


@dataclass(frozen=True)
class _Forms:
    """The pack's speech lists, ready for matching."""

    cues: _Phrases
    questions: _Phrases
    question_endings: _Phrases
    endings: _Phrases
    fillers: _Phrases
    last_fillers: _Phrases
    joiners: _Phrases
    corrections: _Phrases
    refusals: _Phrases
    name_refusals: _Phrases
    actions: _Phrases
    ends: _Phrases
    sizes: _Phrases
    quantities: _Phrases
    repeats: _Phrases


_REMEMBERED_FORMS: dict[int, tuple[Speech, _Forms]] = {}


def _forms_of(speech: Speech) -> _Forms:
    """Prepared once for each `Speech`."""
    known = _REMEMBERED_FORMS.get(id(speech))
    if known is None or known[0] is not speech:
        if len(_REMEMBERED_FORMS) >= MOST_PIECES:
            _REMEMBERED_FORMS.clear()
        known = _REMEMBERED_FORMS[id(speech)] = (speech, _prepare(speech))
    return known[1]


def _prepare(speech: Speech) -> _Forms:
    def meaning(groups: Mapping[str, Iterable[str]] | Mapping[int, Iterable[str]]) -> _Phrases:
        return _Phrases({phrase: key for key, phrases in groups.items() for phrase in phrases})

    def plain(phrases: Iterable[str]) -> _Phrases:
        return _Phrases(dict.fromkeys(phrases, ""))

    return _Forms(
        cues=plain(speech.cues),
        questions=plain(QUESTIONS),
        question_endings=plain(QUESTION_ENDINGS),
        endings=plain(speech.endings),
        fillers=plain(FILLERS),
        last_fillers=plain(LAST_FILLERS),
        joiners=plain(speech.joiners),
        corrections=plain(speech.corrections),
        refusals=plain(speech.refusals),
        name_refusals=plain(speech.name_refusals),
        actions=meaning(speech.actions),
        ends=meaning(speech.ends),
        sizes=meaning(speech.sizes),
        quantities=meaning(speech.quantities),
        repeats=plain(speech.repeats),
    )


# --- reading ------------------------------------------------------------------------------------

Said = tuple[Token, ...]


@dataclass(frozen=True)
class _Sentence:
    """What one sentence asks for; `cued` when it has a cue, an ending or is no bare name."""

    requests: tuple[Request, ...]
    cued: bool


@dataclass(frozen=True)
class _How:
    """How strict a reading is: only exact names, or also parts and near names; with a cue or bare."""

    exact: bool
    cued: bool


class _Reader:
    """Reads the sentences of one utterance; `text` is what the tokens' places refer to."""

    def __init__(self, lexicon: Lexicon, forms: _Forms, text: str) -> None:
        self._lexicon = lexicon
        self._forms = forms
        self._text = text

    def read_sentence(self, sentence: Said) -> _Sentence | None:
        """None for a sentence of fillers and courtesies only."""
        said = tuple(token for token in sentence if token.text not in HESITATIONS)
        starts = self._starts(said)
        cuts = [(start, end, cued) for start, cued in starts for end, _ in self._ends(said[start:])]
        if not said or starts[-1][0] >= len(said) or all(t.text in ARTICLES for t in said[starts[-1][0] :]):
            whole = self._phrase(said, _How(exact=True, cued=False))
            return _Sentence((whole,), True) if whole else None
        for start, length, cued in cuts:
            requests = self._read(said[start : start + length], _How(exact=True, cued=cued))
            if requests:
                ended = start + length < len(said)
                return _Sentence(requests, cued or ended or requests[0].kind not in ("item", "modifier"))
        start, cued = starts[-1]
        length, ended = self._ends(said[start:])[-1]
        core = said[start : start + length]
        if not core:
            return None
        how = _How(exact=False, cued=cued or ended)
        called = core[0].comma and how.cued and len(core) > 1 and not self._lexicon.knows_word(core[0].text)
        requests = self._read(core[1:], replace(how, exact=True)) if called else ()  # "Anna, mirror please"
        return _Sentence(requests or self._read(core, how), how.cued)

    # --- what stands around a name ------------------------------------------------------------------

    def _starts(self, said: Said) -> list[tuple[int, bool]]:
        """Where the request may start, from nothing stripped to all fillers and cues, and if there was a cue."""
        out = [(0, False)]
        while len(out) <= MOST_PIECES:
            at, cued = out[-1]
            filler = self._forms.fillers.at_start(said[at:])[1]
            cue = self._forms.cues.at_start(said[at:])[1]
            question = self._question(said[at:])
            step = max(filler, cue, question)
            if not step:
                break
            asked = max(cue, question) >= filler and not all(
                t.text in ARTICLES or self._forms.fillers.whole((t,)) is not None
                for t in said[at : at + step]
            )
            out.append((at + step, cued or asked))
        last, cued = out[-1]
        after = _skip(said, last, ARTICLES | (POINTERS if cued else frozenset()))
        return out if after == last else [*out, (after, cued)]

    def _question(self, said: Said) -> int:
        return self._forms.questions.at_start(said)[1]

    def _ends(self, said: Said) -> list[tuple[int, bool]]:
        """How long the request may be, from everything to all endings stripped, and if there was one."""
        out = [(len(said), False)]
        while len(out) <= MOST_PIECES:
            length, ended = out[-1]
            ending = self._forms.endings.at_end(said[:length])
            filler = self._forms.last_fillers.at_end(said[:length])
            shorter = min(ending, filler)
            if shorter == length:
                break
            out.append((shorter, ended or ending == shorter))
        length, ended = out[-1]
        shorter = self._forms.question_endings.at_end(said[:length])
        return [*out, (shorter, ended)] if 0 < shorter < length else out

    # --- one sentence -------------------------------------------------------------------------------

    def _read(self, said: Said, how: _How) -> tuple[Request, ...]:
        if not said:
            return ()
        if how.exact and self._lexicon.is_name(_texts(said)):
            return self._one(said, how)
        for read in (self._correction, self._contrast, self._refusal, self._second_thoughts):
            requests = read(said, how)
            if requests:
                return requests
        return self._list(said, how)

    def _list(self, said: Said, how: _How) -> tuple[Request, ...]:
        """One request, or several with joiners or commas between them."""
        one = self._one(said, how if how.exact else replace(how, exact=True))
        if one:
            return one
        for at in range(1, len(said)):
            after = self._joint(said, at)
            if after is None:
                continue
            left = self._one(said[:at], how)
            right = self._list(self._inner(said[after:]), how) if left else ()
            if left and right:
                return (*left, *right)
        return () if how.exact else self._one(said, how)

    def _joint(self, said: Said, at: int) -> int | None:
        """The index of the next part where one may end before `at`, or None."""
        joiner = self._forms.joiners.at_start(said[at:])[1]
        if joiner and said[at].text not in ARTICLES | POLITE:
            return at + joiner
        return at if said[at - 1].comma else None

    def _inner(self, said: Said) -> Said:
        """A later part of a list without its own fillers, cue and ending."""
        start = self._starts(said)[-1][0]
        length = self._ends(said[start:])[0][0]
        return said[start : start + length]

    # --- corrections and refusals -------------------------------------------------------------------

    def _correction(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "no, the condenser"; "no, smaller"."""
        opener, after = self._openers(said)
        if not after or after >= len(said):
            return ()
        if opener == (NO,) and not self._is_clear_no(said[:after], said[after:]):
            return ()
        rest = said[after:]
        contrast = self._contrast(rest, how)
        if contrast:
            return contrast
        rest = self._inner(rest)
        requests = self._list(rest, replace(how, cued=True)) if rest else ()
        return tuple(_as_correction(request) for request in requests)

    def _openers(self, said: Said) -> tuple[tuple[str, ...], int]:
        content, after = self._forms.corrections.at_start(said)
        while after and after < len(said):
            more, length = self._forms.corrections.at_start(said[after:])
            if not length:
                break
            content, after = (*content, *more), after + length
        return content, after

    def _is_clear_no(self, opener: Said, rest: Said) -> bool:
        """A lone "no" corrects with a pause or an article after it; else it may be "no etch"."""
        if self._forms.name_refusals.whole(opener) is None:
            return True
        return opener[-1].comma or opener[-1].stop or rest[0].text in ARTICLES or rest[0].text == NOT

    def _contrast(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "not the carver, the carrier"; "the carrier, not the carver"."""
        marks = [i for i, token in enumerate(said) if token.text == NOT]
        if not marks:
            return ()
        at = marks[0]
        if at:
            wanted, unwanted = self._list(said[:at], how), self._items_of(said[at + 1 :])
            return tuple(_as_correction(r, unwanted) for r in wanted) if wanted and unwanted else ()
        rest = said[1:]
        joints = sorted(
            range(1, len(rest)), key=lambda i: (not rest[i - 1].comma, rest[i].text not in ARTICLES, i)
        )
        for joint in joints:
            after = _skip(rest, joint, ARTICLES | BUT)
            if after >= len(rest):
                continue
            unwanted = self._items_of(rest[:joint])
            wanted = self._list(self._inner(rest[after:]), how) if unwanted else ()
            if wanted:
                return tuple(_as_correction(request, unwanted) for request in wanted)
        return ()

    def _refusal(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "not yet"; "no more etch"; "bond, not yet"; "wait, the explorer"."""
        if self._forms.refusals.whole(said) is not None:
            return (Request("refusal", self._heard(said)),)
        after = self._forms.name_refusals.at_start(said)[1]
        if after:
            unwanted = self._items_of(said[after:])
            if unwanted:
                return (Request("refusal", self._heard(said[after:]), rejected=unwanted),)
        before = self._forms.refusals.at_end(said)
        if before < len(said):
            unwanted = self._items_of(said[:before])
            if unwanted:
                return (Request("refusal", self._heard(said[:before]), rejected=unwanted),)
        after = self._forms.refusals.at_start(said)[1]
        if 0 < after < len(said) and said[after - 1].comma:
            rest = self._list(self._inner(said[after:]), how)
            if rest:
                return (Request("refusal", self._heard(said[:after])), *rest)
        return ()

    def _second_thoughts(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "the carver, no, the carrier"."""
        for at in range(1, len(said) - 1):
            after = self._openers(said[at:])[1]
            if not after or at + after >= len(said) or said[at].text in ARTICLES:
                continue
            unwanted = self._items_of(said[:at])
            wanted = self._list(self._inner(said[at + after :]), how) if unwanted else ()
            if wanted and wanted[0].kind != "correction":
                return tuple(_as_correction(request, unwanted) for request in wanted)
        return ()

    def _items_of(self, said: Said) -> tuple[str, ...]:
        """The ids that a plain list of names stands for; () if it is none."""
        for length, _ in self._ends(said):
            requests = self._list(said[:length], _How(exact=False, cued=False))
            if requests and all(request.kind == "item" for request in requests):
                return tuple(dict.fromkeys(i for request in requests for i in _best(request)))
        return ()

    # --- one request --------------------------------------------------------------------------------

    def _one(self, said: Said, how: _How) -> tuple[Request, ...]:
        said = said[_skip(said, 0, ARTICLES) :]
        if not said:
            return ()
        for read in (self._phrase, self._name, self._sited, self._counted, self._sized, self._acted):
            request = read(said, how)
            if request:
                return (request,)
        return ()

    def _phrase(self, said: Said, how: _How) -> Request | None:
        """A request that names no item."""
        forms, heard = self._forms, self._heard(said)
        if not self._lexicon.is_name(_texts(said)):
            action, size, end = forms.actions.whole(said), forms.sizes.whole(said), forms.ends.whole(said)
            if forms.repeats.whole(said) is not None:
                return Request("repeat", heard)
            if action is not None:
                return Request("action", heard, action=str(action))
            if end is not None:
                return Request("modifier", heard, end=str(end))
            if size is not None:
                return Request("modifier", heard, size=str(size))
            return self._count_alone(said)
        return None

    def _count_alone(self, said: Said) -> Request | None:
        """ "two more", "two more of those"."""
        content, after = self._forms.quantities.at_start(said)
        rest = tuple(token.text for token in said[after:] if token.text not in ARTICLES)
        if after and (MORE & set(content) or rest in THEM) and (not rest or rest in THEM):
            return Request("repeat", self._heard(said), quantity=int(self._forms.quantities.meaning(content)))
        return None

    def _name(self, said: Said, how: _How) -> Request | None:
        """A name and nothing else."""
        texts = _texts(said)
        exact = self._lexicon.is_name(texts)
        if not exact and how.exact:
            return None
        candidates = self._lexicon.find(texts)
        total = sum(candidate.p for candidate in candidates)
        part = bool(candidates) and candidates[0].how == "exact"
        least = 0.0 if exact else NAME_P if part else NEAR_P_CUED if how.cued else NEAR_P_BARE
        numbered = part and how.cued and said[0].said_number and len(said) == 1
        if candidates and (total >= least or numbered):
            return Request("item", self._heard(said), candidates)
        return None

    def _sited(self, said: Said, how: _How) -> Request | None:
        """A request with a tooth, a surface, a time or a handpiece after it: "wedge on thirty"."""
        for at in range(len(said) - 1, 0, -1):
            if said[at].text not in SITE_PREPOSITIONS:
                continue
            where = [token for token in said[at + 1 :] if token.text not in ARTICLES]
            if where and all(token.text in DEVICES for token in where):
                return self._in_handpiece(said[:at], how)
            if where and all(_is_site(token) for token in where):
                inner = self._one(said[:at], how)
                return inner[0] if inner else None
        return None

    def _in_handpiece(self, said: Said, how: _How) -> Request | None:
        """ "number two in the slow": a lone number is a bur's."""
        if len(said) == 1 and said[0].numeric:
            candidates = self._lexicon.find((said[0].text, "bur"))
            return Request("item", self._heard(said), candidates) if candidates else None
        inner = self._one(said, how)
        return inner[0] if inner else None

    def _counted(self, said: Said, how: _How) -> Request | None:
        """ "two more cotton rolls", "two 330 burs"."""
        quantity, rest = self._quantity(said)
        if quantity is None or not rest:
            return None
        inner = self._one(rest, how)
        if inner and inner[0].kind == "item" and inner[0].quantity is None:
            return replace(inner[0], quantity=quantity)
        return None

    def _quantity(self, said: Said) -> tuple[int | None, Said]:
        content, after = self._forms.quantities.at_start(said)
        if after:
            after = _skip(said, after, ARTICLES | MORE | {OF})
            return int(self._forms.quantities.meaning(content)), said[after:]
        first = said[0]
        if not first.numeric or not first.text.isdigit():
            return None, said
        if len(first.text) == 3 and not self._lexicon.knows_word(first.text):
            # "two fifty six burs": 256 is no size, so it was a 2 and a 56.
            size = replace(first, text=first.text[1:])
            if first.text[1] != "0" and self._lexicon.knows_word(size.text):
                return int(first.text[0]), (size, *said[1:])
        if 1 < int(first.text) <= MOST_PIECES:
            return int(first.text), said[_skip(said, 1, ARTICLES | MORE | {OF}) :]
        return None, said

    def _sized(self, said: Said, how: _How) -> Request | None:
        """ "smaller condenser", "the other end of the explorer", "explorer, the other end"."""
        for forms, key in ((self._forms.ends, "end"), (self._forms.sizes, "size")):
            content, after = forms.at_start(said)
            if content and after < len(said):
                rest = said[_skip(said, after, ARTICLES | {OF, "on"}) :]
                inner = self._one(rest, how) if rest else ()
                if inner and inner[0].kind == "item":
                    return _with_modifier(inner[0], key, str(forms.meaning(content)))
            before = forms.at_end(said)
            if 0 < before < len(said):
                meaning = forms.whole(said[before:])
                inner = self._one(said[:before], how)
                if inner and inner[0].kind == "item" and meaning is not None:
                    return _with_modifier(inner[0], key, str(meaning))
        return None

    def _acted(self, said: Said, how: _How) -> Request | None:
        """An action on an item: "load the carrier"."""
        content, after = self._forms.actions.at_start(said)
        if not content or after >= len(said):
            return None
        inner = self._one(said[after:], how)
        if inner and inner[0].kind == "item":
            action = str(self._forms.actions.meaning(content))
            return replace(inner[0], kind="action", action=action)
        return None

    def _heard(self, said: Sequence[Token]) -> str:
        said = said[_skip(said, 0, ARTICLES) :] or said
        return " ".join(self._text[said[0].start : said[-1].end].split()) if said else ""


# --- small parts --------------------------------------------------------------------------------


def _sentences(said: Said) -> Iterable[Said]:
    start = 0
    for i, token in enumerate(said):
        if token.stop or i + 1 == len(said):
            yield said[start : i + 1]
            start = i + 1


def _texts(said: Sequence[Token]) -> tuple[str, ...]:
    return tuple(token.text for token in said)


def _is_site(token: Token) -> bool:
    if token.numeric:
        return token.text.isdigit() and int(token.text) <= LAST_TOOTH or token.said_number
    return token.text in SITES


def _best(request: Request) -> tuple[str, ...]:
    """The items that a name stands for: all that are at least half as likely as the likeliest."""
    if not request.candidates:
        return ()
    least = REFUSED_P * request.candidates[0].p
    return tuple(candidate.item for candidate in request.candidates if candidate.p >= least)


def _as_correction(request: Request, unwanted: Sequence[str] = ()) -> Request:
    if request.kind not in ("item", "modifier", "correction"):
        return request
    rejected = tuple(item for item in (*request.rejected, *unwanted) if item not in _best(request)[:1])
    kept = tuple(c for c in request.candidates if c.item not in rejected)
    return replace(request, kind="correction", candidates=kept, rejected=rejected)


def _with_modifier(request: Request, key: str, meaning: str) -> Request:
    return replace(request, end=meaning) if key == "end" else replace(request, size=meaning)
