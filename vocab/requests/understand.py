"""What an utterance asks for: items, actions, corrections, refusals, or nothing.

Text comes in, typed or transcribed or phrased by an engine, and requests go out; no request at all
for chatter. An utterance is a request only if what is left of it, once fillers, cue and ending are
gone, *is* a name or another form of asking; holding an instrument word is not enough. It never
decides between candidates and never remembers an earlier utterance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from vocab.language.by_language import read_numbers
from vocab.language.english import (
    AFTER_A_THING,
    ALSO_ADJECTIVES,
    ARTICLES,
    BABY_TEETH,
    BEFORE_A_THING,
    BUT,
    DEVICES,
    HESITATIONS,
    LAST_TOOTH,
    MILLIMETRES,
    MORE,
    NO,
    NOT,
    OF,
    OF_ANOTHER,
    POINTERS,
    POLITE,
    SITE_PREPOSITIONS,
    SITES,
    THEM,
)
from vocab.language.forms import Forms, forms_of, skip
from vocab.language.tokens import Token, tidy, tokens
from vocab.pack.schema import Speech
from vocab.requests.lexicon import Candidate, Lexicon

Kind = Literal["item", "action", "correction", "refusal", "repeat", "modifier"]

MOST_PIECES = 12
MOST_SAID_TOGETHER = 4
"""More pieces than this are not said together with a size ("two fifty sixes")."""
_BESIDE = 4
"""Words on either side of a name that may tell how many or which end of it."""
MOST_WORDS = 30
"""A longer sentence is chatter."""

PART_P_BARE = 0.7
PART_P_CUED = 0.55
"""A part of a name counts as the name from this total on, without and with a cue ("spit" is no order)."""
NEAR_P_BARE = 0.6
NEAR_P_CUED = 0.38
"""Names that only sound or look like the words count from this total on, without and with a cue."""
REFUSED_P = 0.5
SURE_P = 0.9


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
    language = lexicon.pack.language
    text = read_numbers(text, language)
    reader = _TextReader(lexicon, forms_of(speech, language), tidy(text))
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


def is_not_ours(text: str, lexicon: Lexicon, speech: Speech) -> bool:
    """Whether all that was said is about something that is on no tray ("lights, please")."""
    language = lexicon.pack.language
    text = read_numbers(text, language)
    reader = _TextReader(lexicon, forms_of(speech, language), tidy(text))
    sentences = [sentence for sentence in _sentences(tokens(text)) if sentence]
    return bool(sentences) and all(reader.is_not_ours(sentence) for sentence in sentences)


@dataclass(frozen=True)
class Named:
    """A name somewhere in a sentence: what it would ask for with the amount, end or size beside it, and where
    the name itself stands (offsets in the text that `names_within` gives back)."""

    request: Request
    start: int
    end: int


def names_within(text: str, lexicon: Lexicon, speech: Speech) -> tuple[str, tuple[Named, ...]]:
    """The text as it is read, and every name of the pack in it, longest first where they overlap; whether
    any of them is asked for is not decided here."""
    plain = tidy(read_numbers(text, lexicon.pack.language))
    return plain, _TextReader(lexicon, forms_of(speech, lexicon.pack.language), plain).names_within(
        tokens(plain)
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


class _TextReader:
    """Reads the sentences of one utterance; `text` is what the tokens' places refer to."""

    def __init__(self, lexicon: Lexicon, forms: Forms, text: str) -> None:
        self._lexicon = lexicon
        self._forms = forms
        self._text = text
        self._lists: dict[tuple[int, str, int, _How], tuple[Request, ...]] = {}

    def read_sentence(self, sentence: Said) -> _Sentence | None:
        """None for a sentence of fillers and courtesies only."""
        said = _without_hesitations(sentence)
        if len(said) > MOST_WORDS:
            return _Sentence((), False)
        starts = self._starts(said)
        cuts = [(start, end, cued) for start, cued in starts for end, _ in self._ends(said[start:])]
        if self._is_among_not_ours(said, cuts):
            return _Sentence((), False)
        if not said or starts[-1][0] >= len(said) or all(t.text in ARTICLES for t in said[starts[-1][0] :]):
            whole = self._phrase(said, _How(exact=True, cued=False))
            return _Sentence((whole,), True) if whole else None
        for read in (self._whole, self._read):
            for start, length, cued in cuts:
                requests = read(said[start : start + length], _How(exact=True, cued=cued))
                if not requests:
                    continue
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

    def names_within(self, said: Said) -> tuple[Named, ...]:
        """Every name in what was said, from left to right."""
        taken, found = set[int](), list[Named]()
        for length in range(min(len(said), self._lexicon.longest_name), 0, -1):
            for at in range(len(said) - length + 1):
                end = at + length
                free = said[at].text not in ARTICLES and taken.isdisjoint(range(at, end))
                if free and self._may_be_named(said[at:end]) and self._may_be_thing(said, at, end):
                    taken.update(range(at, end))
                    found.append(Named(self._widest(said, at, end), said[at].start, said[end - 1].end))
        return tuple(sorted(found, key=lambda one: one.start))

    def _may_be_named(self, said: Said) -> bool:
        """Whether this is exactly a name, within one sentence, and no mere number of a tooth or of things."""
        if any(token.stop for token in said[:-1]) or not self._is_name(said):
            return False
        mere = all(token.value is not None and not _above_teeth(token) for token in said)
        return not mere or said[0].said_number

    def _may_be_thing(self, said: Said, at: int, end: int) -> bool:
        """Whether these words stand here as a thing does: not as the end of another's name ("upper cowhorn"),
        and where they are also adjectives ("light contact") behind "the" or the like, with nothing but small
        words after them."""
        if at and said[at - 1].text in OF_ANOTHER and not (said[at - 1].comma or said[at - 1].stop):
            return False
        if end - at > 1 or said[at].text not in ALSO_ADJECTIVES:
            return True
        before = self._text[: said[at].start].split()
        follows = end == len(said) or said[at].comma or said[at].stop or said[end].text in AFTER_A_THING
        return follows and bool(before) and before[-1] in BEFORE_A_THING

    def _widest(self, said: Said, at: int, end: int) -> Request:
        """What the name asks for with as many words beside it as still make one request for it."""
        own = self._lexicon.find(_texts(said[at:end]))
        how = _How(exact=True, cued=True)
        for before in range(max(0, at - _BESIDE), at + 1):
            for after in range(min(len(said), end + _BESIDE), end - 1, -1):
                window = said[before:after]
                if any(token.stop or token.comma for token in window[:-1]) and (before, after) != (at, end):
                    continue
                one = self._one(window, how)
                if one and one[0].kind == "item" and _best(one[0]) == _best(Request("item", "", own)):
                    return one[0]
        return Request("item", self._heard(said[at:end]), own)

    def is_not_ours(self, sentence: Said) -> bool:
        """Whether a sentence is about something that is on no tray."""
        said = _without_hesitations(sentence)
        starts = self._starts(said)
        cuts = [(start, end, cued) for start, cued in starts for end, _ in self._ends(said[start:])]
        return len(said) <= MOST_WORDS and self._is_among_not_ours(said, cuts)

    def _is_among_not_ours(self, said: Said, cuts: Iterable[tuple[int, int, bool]]) -> bool:
        return any(
            self._forms.not_ours.whole(said[start : start + length]) is not None for start, length, _ in cuts
        )

    # --- what stands around a name ------------------------------------------------------------------

    def _starts(self, said: Said) -> list[tuple[int, bool]]:
        """Where the request may start, from nothing stripped to everything, and if a cue was."""
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
        after = skip(said, last, ARTICLES | (POINTERS if cued else frozenset()))
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

    def _whole(self, said: Said, how: _How) -> tuple[Request, ...]:
        """A name or another form of asking, and nothing else ("air turbine" is no air with a turbine)."""
        said = self._without_article(said)
        request = (self._phrase(said, how) or self._name(said, how)) if said else None
        return (request,) if request else ()

    def _read(self, said: Said, how: _How) -> tuple[Request, ...]:
        if not said:
            return ()
        if how.exact and self._is_name(said):
            return self._one(said, how)
        for read in (self._correction, self._contrast, self._refusal, self._second_thoughts):
            requests = read(said, how)
            if requests:
                return requests
        return self._list(said, how)

    def _list(self, said: Said, how: _How) -> tuple[Request, ...]:
        """One request, or several with joiners or commas between them."""
        if not said:
            return ()
        place = (said[0].start, said[0].text, len(said), how)
        if place not in self._lists:
            self._lists[place] = self._parted(said, how)
        return self._lists[place]

    def _parted(self, said: Said, how: _How) -> tuple[Request, ...]:
        one = self._one(said, how if how.exact else replace(how, exact=True))
        if one:
            return one
        joints = [(at, after) for at in range(1, len(said)) if (after := self._joint(said, at)) is not None]
        for at, after in sorted(joints, key=lambda joint: self._name_length(said[: joint[0]])):
            left = self._one(said[:at], how)
            right = self._list(self._inner(said[after:]), how) if left else ()
            if left and right:
                one = _merged(left[0], right[0], self._heard(said)) if after == at and len(right) == 1 else ()
                return one or (*left, *right)
        return self._run(said) if how.exact else self._one(said, how)

    def _run(self, said: Said) -> tuple[Request, ...]:
        """Names one after the other with nothing between them: two names of one item are that item ("33 1/2
        inverted cone"); else it may be two things ("mirror explorer") or one that nobody listed ("upper
        cowhorn"), so all of them are one request, to be asked back."""
        exact = _How(exact=True, cued=False)
        for at in range(len(said) - 1, 0, -1):
            if not self._is_name(said[:at]):
                continue
            left, right = self._one(said[:at], exact), self._list(said[at:], exact)
            if left and right and all(request.kind == "item" for request in (*left, *right)):
                heard = self._heard(said)
                return _merged(left[0], right[0], heard) or (_either((*left, *right), heard),)
        return ()

    def _name_length(self, said: Said) -> tuple[int, int]:
        """Sorts the longest names first, then everything else from the shortest on."""
        return (-len(said), 0) if self._is_name(said) else (0, len(said))

    def _joint(self, said: Said, at: int) -> int | None:
        """The index of the next part where one may end before `at`, or None."""
        joiner = self._forms.joiners.at_start(said[at:])[1]
        if joiner and said[at].text not in ARTICLES | POLITE:
            return at + joiner
        return at if said[at - 1].comma else None

    def _inner(self, said: Said) -> Said:
        """A later part of a list without its own fillers and cue, but with every word of a name."""
        starts = self._starts(said)
        for start, _ in starts:
            for length, _ in self._ends(said[start:]):
                if self._is_name(said[start : start + length]):
                    return said[start : start + length]
        return said[starts[-1][0] :]

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
        if opener[-1].comma or opener[-1].stop or rest[0].text in ARTICLES or rest[0].text == NOT:
            return True
        return self._asks(rest)  # "no give me the explorer"

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
            after = skip(rest, joint, ARTICLES | BUT)
            if after >= len(rest):
                continue
            unwanted = self._items_of(rest[:joint])
            wanted = self._list(self._inner(rest[after:]), how) if unwanted else ()
            if wanted:
                return tuple(_as_correction(request, unwanted) for request in wanted)
        return ()

    def _refusal(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "not yet"; "no more etch"; "bond, not yet"; "wait, the explorer"."""
        return self._refused_for_another(said, how) or self._refused(said)

    def _refused(self, said: Said) -> tuple[Request, ...]:
        """A refusal and nothing else."""
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
        return ()

    def _refused_for_another(self, said: Said, how: _How) -> tuple[Request, ...]:
        """ "never mind the wedge, give me the ring"; "not yet, mirror first": one refused, another asked for.

        What comes after the comma must be asked for in some way; a bare name goes on with what is not wanted
        ("no wedge, ring"), unless nothing was named before.
        """
        if not (self._forms.refusals.at_start(said)[1] or self._forms.name_refusals.at_start(said)[1]):
            return ()
        for at in range(1, len(said)):
            if not (said[at - 1].comma or said[at].text in BUT or self._asks(said[at:])):
                continue
            refused = self._refused(said[:at])
            if not refused:
                continue
            rest = said[skip(said, at, BUT) :]
            named = bool(refused[0].rejected)
            asked = rest and (
                rest[0].text in ARTICLES or self._starts(rest)[-1][0] or self._ends(rest)[-1][1]
            )
            if not rest or named and not asked:
                continue
            wanted = self._list(self._inner(rest), replace(how, cued=True))
            listed = (
                named and rest[0].text in ARTICLES and len(wanted) > 1
            )  # "no wedge, the ring and the band"
            if wanted and not listed and all(request.kind != "refusal" for request in wanted):
                return (*refused, *wanted)
        return ()

    def _asks(self, said: Said) -> bool:
        """Whether a request begins here that nobody could take for part of a name: "give me the ..."."""
        after = self._forms.cues.at_start(said)[1]
        return after > 1 and said[0].text not in ARTICLES and not self._forms.joiners.at_start(said)[1]

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
        said = self._without_article(said)
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
        if not self._is_name(said):
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
        if not exact and how.exact or exact and self._is_number_of(said):
            return None
        candidates = self._lexicon.find(texts)
        total = sum(candidate.p for candidate in candidates)
        part = bool(candidates) and candidates[0].how == "exact"
        if exact:
            least = 0.0
        elif part:
            least = PART_P_CUED if how.cued else PART_P_BARE
        else:
            least = NEAR_P_CUED if how.cued else NEAR_P_BARE
        if candidates and (total >= least or part and how.cued and self._is_size_alone(said)):
            return Request("item", self._heard(said), candidates)
        return None

    def _is_size_alone(self, said: Said) -> bool:
        """ "number 330"; a smaller number alone is a tooth's."""
        return len(said) == 1 and said[0].said_number and _above_teeth(said[0])

    def _sited(self, said: Said, how: _How) -> Request | None:
        """A request with a tooth, a surface, a time or a handpiece after it: "wedge on thirty"."""
        for at in range(len(said) - 1, 0, -1):
            if said[at].text not in SITE_PREPOSITIONS:
                continue
            where = [token for token in said[at + 1 :] if token.text not in ARTICLES]
            if where and all(token.text in DEVICES for token in where):
                return self._in_handpiece(said[:at], how)
            beside = self._is_name(said[:at]) and self._is_part(where)  # "the paper in the forceps"
            if where and (beside or all(_is_site(token) for token in where)):
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
        quantity, rest = self._quantity_after(said)
        if quantity is None:
            quantity, rest = self._quantity(said)
        if quantity is None or not rest:
            return None
        inner = self._one(rest, how)
        if inner and inner[0].kind == "item" and inner[0].quantity is None:
            return replace(inner[0], quantity=quantity)
        return None

    def _quantity_after(self, said: Said) -> tuple[int | None, Said]:
        """ "two by twos, three of them"."""
        for at in range(1, len(said)):
            content, after = self._forms.quantities.at_start(said[at:])
            tail = _texts(said[at + after :])
            if after and (tail in THEM or not tail and said[at - 1].comma):
                return int(self._forms.quantities.meaning(content)), said[:at]
        return None, said

    def _quantity(self, said: Said) -> tuple[int | None, Said]:
        if said[0].said_number or self._follows_article(said[0]):
            return None, said
        content, after = self._forms.quantities.at_start(said)
        if after:
            after = skip(said, after, ARTICLES | MORE | POINTERS | {OF})
            return int(self._forms.quantities.meaning(content)), said[after:]
        first = said[0]
        if not first.numeric or first.value is None:
            return None, said
        if len(first.text) == 3 and not self._lexicon.knows_word(first.text) and self._is_plural(said):
            # "two fifty six burs": 256 is no size, so it was a 2 and a 56.
            rest = (replace(first, text=first.text[1:]), *said[1:])
            few = 1 < int(first.text[0]) <= MOST_SAID_TOGETHER
            if few and first.text[1] != "0" and self._is_name(rest):
                return int(first.text[0]), rest
        if 1 < first.value <= MOST_PIECES:
            return first.value, said[skip(said, 1, ARTICLES | MORE | POINTERS | {OF}) :]
        return None, said

    def _follows_article(self, token: Token) -> bool:
        """ "a two flow" is a shade, not two of them; "a couple" is no number."""
        before = self._text[: token.start].split()
        return token.numeric and bool(before) and before[-1] in ("a", "an")

    def _is_number_of(self, said: Said) -> bool:
        """ "two bands", "one cord": so many of them; "number two band" and "a two band" are a size. The "s"
        of names that always have one tells nothing where one of them has the number ("four pliers")."""
        first, rest = said[0], said[1:]
        if not rest or first.value is None or first.said_number or self._follows_article(first):
            return False
        one = first.text == "1" and self._text[first.start : first.end] != "1"
        many = 1 < first.value <= MOST_PIECES and self._text[rest[-1].start : rest[-1].end].endswith("s")
        if not (one or many) or not self._is_name(rest):
            return False
        always = any(found.name.text.endswith("s") for found in self._lexicon.find(_texts(rest)))
        named = any(found.variant is None for found in self._lexicon.find(_texts(said)))
        return one or not (always and named)

    def _is_plural(self, said: Said) -> bool:
        """Whether a number said in words stands before a plural."""
        spoken = not any(letter.isdigit() for letter in self._text[said[0].start : said[0].end])
        return spoken and self._text[said[-1].start : said[-1].end].endswith("s")

    def _sized(self, said: Said, how: _How) -> Request | None:
        """ "smaller condenser", "the other end of the explorer", "explorer, the other end"."""
        for forms, key in ((self._forms.ends, "end"), (self._forms.sizes, "size")):
            content, after = forms.at_start(said)
            if content and after < len(said):
                rest = said[skip(said, after, ARTICLES | {OF, "on"}) :]
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

    def _without_article(self, said: Said) -> Said:
        """Without a leading article, unless it may be a shade's letter ("a two flow")."""
        after = skip(said, 0, ARTICLES)
        if (
            0 < after < len(said)
            and said[after - 1].text == "a"
            and said[after].numeric
            and self._is_name(said)
        ):
            return said[after - 1 :]
        return said[after:]

    def _is_name(self, said: Sequence[Token]) -> bool:
        return self._lexicon.is_name(_texts(said))

    def _is_part(self, said: Sequence[Token]) -> bool:
        """True for a name or a good part of one."""
        candidates = self._lexicon.find(_texts(said))
        return sum(c.p for c in candidates if c.how == "exact") >= PART_P_BARE

    def _heard(self, said: Sequence[Token]) -> str:
        said = tuple(said[skip(said, 0, ARTICLES) :]) or said
        return " ".join(self._text[said[0].start : said[-1].end].split()) if said else ""


# --- small parts --------------------------------------------------------------------------------


def _sentences(said: Said) -> Iterable[Said]:
    start = 0
    for i, token in enumerate(said):
        if token.stop or i + 1 == len(said):
            yield said[start : i + 1]
            start = i + 1


def _without_hesitations(sentence: Said) -> Said:
    """Without "um" and "mm", which after a number are millimetres."""
    kept: list[Token] = []
    for token in sentence:
        if token.text not in HESITATIONS or token.text == MILLIMETRES and kept and kept[-1].numeric:
            kept.append(token)
    return tuple(kept)


def _texts(said: Sequence[Token]) -> tuple[str, ...]:
    return tuple(token.text for token in said)


def _above_teeth(token: Token) -> bool:
    return token.value is not None and token.value > LAST_TOOTH


def _is_site(token: Token) -> bool:
    if token.numeric:
        return token.said_number or token.value is not None and _is_tooth(token.value)
    return token.text in SITES


def _is_tooth(number: float) -> bool:
    return number <= LAST_TOOTH or number in BABY_TEETH


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


def _merged(left: Request, right: Request, heard: str) -> tuple[Request, ...]:
    """One request where a sure name and another can mean the same item ("33 1/2 inverted cone", "the
    finishing bur, the flame"); the variant is that of whichever says one."""
    if left.kind != "item" or right.kind != "item":
        return ()
    for sure, other in ((left, right), (right, left)):
        first = sure.candidates[0]
        same = next((c for c in other.candidates if c.item == first.item), None)
        if first.p >= SURE_P and same is not None:
            first = replace(first, variant=first.variant or same.variant)
            return (replace(sure, heard=heard, candidates=(first,)),)
    return ()


def _either(requests: Sequence[Request], heard: str) -> Request:
    """One request for any of what several ask for, none of it likely enough to be answered."""
    mass: dict[tuple[str, str | None], Candidate] = {}
    for request in requests:
        for candidate in request.candidates:
            part = replace(candidate, p=candidate.p / len(requests))
            mass.setdefault((candidate.item, candidate.variant), part)
    return Request("item", heard, tuple(sorted(mass.values(), key=lambda c: (-c.p, c.item))))


def _with_modifier(request: Request, key: str, meaning: str) -> Request:
    return replace(request, end=meaning) if key == "end" else replace(request, size=meaning)
