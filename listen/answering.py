"""From a judgement, a touch or a line of the log to the answer that may be given.

Every `Answer` of a chair is made here, so that what is always checked, offered in pairs, kept in sizes or
made of latex is treated alike however it was asked for. Nothing is heard or remembered here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from listen.answer import Answer, Likely
from listen.verdict import Judgement, Verdict, allowed
from vocab.pack.schema import Item, Pack, Tray

MOST_OFFERED = 3
"""A check offers so many, and whatever belongs beside one of them."""
LEAST_OFFERED_P = 0.03
"""What is less likely than this is not offered."""
SURE_VARIANT = 0.8
"""A size or pattern counts as said from this share of its item's probability on."""
PLAIN_SHARE = 0.8
"""What has so much of the probability of a check was plainly asked for."""
RELATIVE_SIZES = frozenset({"smaller", "larger", "next"})

LATEX_FREE = "Contains latex, and this session is marked latex-free."


@dataclass(frozen=True)
class Choice:
    """One thing that a check offers; `size` is its variant, None where it has none or none was said."""

    item: str
    size: str | None = None


def choices_of(answer: Answer) -> tuple[Choice, ...]:
    """What a check offers, likeliest first."""
    first = () if answer.item is None else (Choice(answer.item, answer.size),)
    return (*first, *(Choice(other.item, other.size) for other in answer.alternatives))


def is_plain(answer: Answer) -> bool:
    """Whether one item was plainly asked for, though it is checked."""
    return answer.p >= PLAIN_SHARE * (answer.p + sum(other.p for other in answer.alternatives))


class Answers:
    """Makes the answers of one chair.

    Args:
        tray: where slots and sizes are looked up; None leaves slots empty.
    """

    def __init__(self, pack: Pack, tray: Tray | None) -> None:
        self._pack, self._tray = pack, tray

    def of(self, judgement: Judgement, heard: str, last: Answer | None, latex_free: bool = False) -> Answer:
        """The answer to one request.

        Args:
            last: what was answered or asked about before, which "another one" means.
            latex_free: the session is marked so.
        """
        request, verdict = judgement.request, judgement.verdict
        item, size = judgement.item, request.size
        said = judgement.variants
        alternatives = tuple(
            Likely(other, p, _said(said.get(other, ()))) for other, p in judgement.alternatives
        )
        replaces = None
        if request.kind == "correction":
            replaces = next(iter(request.rejected), last.item if last else None)
        elif request.kind in ("repeat", "modifier") and item is None and request.action is None:
            if last is None or last.item is None:
                verdict = Verdict.QUIET  # nothing was asked for before
            else:
                item = last.item
                if last.verdict is Verdict.CHECK and verdict is Verdict.ANSWER:
                    verdict, alternatives = Verdict.CHECK, last.alternatives
                if request.kind == "repeat" or size is None:
                    said = {item: ((last.size, 1.0),)}
        if request.kind == "refusal":
            verdict = Verdict.QUIET
        answer = Answer(
            p=judgement.p,
            heard=heard,
            kind=request.kind,
            verdict=verdict,
            item=item,
            action=request.action,
            end=request.end,
            size=size,
            quantity=request.quantity,
            replaces=replaces,
            refused=request.rejected if request.kind == "refusal" else (),
            alternatives=alternatives,
        )
        last_size = last.size if last and last.item == item else None
        return self._finished(answer, said.get(item or "", ()), last_size, latex_free)

    def pointed_at(self, item: str, size: str | None = None, latex_free: bool = False) -> Answer:
        """The answer to somebody who points at an item, on the screen, in a list or in the log."""
        answer = Answer(p=1.0, kind="item", verdict=Verdict.ANSWER, item=item)
        return self._finished(answer, ((size, 1.0),), None, latex_free)

    def chosen(self, asked: Answer, choice: Choice, latex_free: bool = False) -> Answer:
        """The answer after a check was settled with one of its choices."""
        answer = replace(
            asked, verdict=Verdict.ANSWER, item=choice.item, size=None, alternatives=(), warning=None
        )
        return self._finished(answer, ((choice.size, 1.0),), None, latex_free)

    # --- what may be given --------------------------------------------------------------------------

    def _finished(
        self,
        answer: Answer,
        said: Sequence[tuple[str | None, float]],
        last_size: str | None,
        latex_free: bool,
    ) -> Answer:
        if answer.item is None:
            return answer
        item = self._pack.item(answer.item)
        answer = replace(answer, name=item.name.text)
        if answer.verdict is not Verdict.QUIET:
            answer = self._in_one_size(answer, item, said, last_size)
            answer = replace(answer, verdict=allowed(answer.verdict, item, latex_free))
            if answer.verdict is Verdict.CHECK:
                answer = replace(answer, alternatives=self._offered_beside(answer))
        variant = answer.size if self._has(item, answer.size) else None
        return replace(
            answer,
            slot=self._tray.slot_of(item.id, variant) if self._tray else None,
            warning=self._warning(answer, item, variant, latex_free),
        )

    def _in_one_size(
        self,
        answer: Answer,
        item: Item,
        said: Sequence[tuple[str | None, float]],
        last_size: str | None,
    ) -> Answer:
        """With the size or pattern that was said, or the only one there; otherwise it is asked about."""
        if not item.variants:
            return answer
        total = sum(p for _, p in said) or 1.0
        likeliest, p = max(said, key=lambda pair: pair[1], default=(None, 1.0))
        if likeliest is not None and p >= SURE_VARIANT * total:
            return replace(answer, size=likeliest)
        options = list(dict.fromkeys(text for text, q in said if text is not None and q >= 0.1 * total))
        if likeliest is None or any(text is None for text, _ in said):
            options += [
                v for v in (self._tray.variants_of(item.id) if self._tray else ()) if v not in options
            ]
        if answer.size in RELATIVE_SIZES and len(options) > 1:
            options = [option for option in options if option != last_size]
        if len(options) < 2:
            return replace(answer, size=options[0] if options else None)
        if answer.verdict is Verdict.CHECK and not is_plain(answer):  # first which item, then which size
            return replace(answer, size=None)
        others = tuple(Likely(item.id, answer.p / len(options), option) for option in options[1:])
        return replace(answer, verdict=Verdict.CHECK, size=options[0], alternatives=others)

    def _offered_beside(self, answer: Answer) -> tuple[Likely, ...]:
        """The other choices, each with what belongs beside it; a pair is never torn apart."""
        assert answer.item is not None
        sizes = any(other.item == answer.item for other in answer.alternatives)
        likely = [o for o in answer.alternatives if sizes or o.p >= LEAST_OFFERED_P]
        offered: list[Likely] = []
        for one in (Likely(answer.item, answer.p, answer.size), *likely):
            if len(offered) >= MOST_OFFERED and not sizes:
                break
            if (one.item, one.size) not in {(o.item, o.size) for o in offered}:
                offered.append(one)
            if sizes:
                continue
            for partner in self._pack.offered_with(one.item):
                if partner not in {o.item for o in offered}:
                    p = next((o.p for o in answer.alternatives if o.item == partner), 0.0)
                    offered.append(Likely(partner, p))
        if sizes:
            held = {o.item for o in offered}
            offered += [Likely(q, 0.0) for q in self._pack.offered_with(answer.item) if q not in held]
        return tuple(offered[1:])

    def _warning(self, answer: Answer, item: Item, variant: str | None, latex_free: bool) -> str | None:
        if latex_free and item.latex:
            return LATEX_FREE
        if variant is None or self._tray is None or answer.verdict is Verdict.QUIET:
            return None
        held = self._tray.variants_of(item.id)
        if held and variant not in held:
            return f"No {variant} on this tray; it holds {', '.join(held)}."
        return None

    def _has(self, item: Item, size: str | None) -> bool:
        return any(variant.text == size for variant in item.variants)


def _said(variants: Sequence[tuple[str | None, float]]) -> str | None:
    """The variant that was said beyond doubt, or None."""
    total = sum(p for _, p in variants)
    return next((text for text, p in variants if text is not None and p >= SURE_VARIANT * total), None)
