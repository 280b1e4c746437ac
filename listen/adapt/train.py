"""Training: the loss, the loop, and a quick check by ranking.

From the base weights, spoken utterances and noises it makes low-rank factors, and reports how often the
right request beats thirty others before and after. Taught names are trained as text. Everything else is to
be heard in noise as the untaught network hears it in quiet, and what the network expects in mere noise is to
stay unchanged too, so that names are heard and not guessed. A taught request that has rivals must also score
better than the closest of them. It reads no files.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import torch
from torch import Tensor

from listen.adapt.data import Part, TeachingUtterance
from listen.adapt.model import Weights, follow, listen, log_p_next, merged, new_factors
from listen.adapt.sound import SpeechBatch, Surroundings
from listen.engine import SAMPLE_RATE_HZ
from listen.neural.tokenizer import END, Tokenizer

_T = TypeVar("_T")
Factors = dict[str, tuple[Tensor, Tensor]]

CHECK_LEVELS_DB = (None, 10.0, 5.0, 0.0)
PRIOR_SHARE = 0.7
"""Share of a sentence's score on silence that is taken off in the check, as the engine does."""
HARDEST = 6
"""How many of an utterance's rivals are learnt from: those that the untaught network likes best."""
_DECODED_TOKENS = 40
_ROWS = 512


@dataclass(frozen=True)
class TrainSettings:
    """How to train: limits on steps and seconds, utterances per step, the peak step size.

    silent: share of utterances of which only the noise is left; keep: weight of hearing what is not taught as
    the base does; likeness: weight of encoding noisy sound as the base encodes it clear; rivalry: weight of
    scoring better than a rival.
    """

    steps: int = 2_600
    seconds: float = 400.0
    batch: int = 384
    rate: float = 1.2e-3
    silent: float = 0.15
    keep: float = 1.5
    likeness: float = 0.5
    rivalry: float = 2.0
    seed: int = 8


@dataclass(frozen=True)
class Rival:
    """Tokens of a wrong text for an utterance; `ahead` is their lead over the right ones in nats of prior."""

    tokens: tuple[int, ...]
    ahead: float


@dataclass(frozen=True)
class Checked:
    """One line of the check: share of requests whose right text scores best, and its mean nats per token.
    For general English: share of tokens that stay the likeliest."""

    part: Part
    level_db: float | None
    right: float
    nats: float
    count: int


# ---------------------------------------------------------------- what to write


def targets(
    weights: Weights,
    said: Sequence[TeachingUtterance],
    speech: SpeechBatch,
    surroundings: Surroundings,
    tokenizer: Tokenizer,
) -> list[tuple[int, ...]]:
    """The tokens of each utterance: the likeliest of its written forms, or what the network itself hears."""
    found: list[tuple[int, ...]] = [()] * len(said)
    own = [i for i, one in enumerate(said) if not one.written]
    for part in _chunks(_by_length(own, speech), _ROWS):
        for i, tokens in zip(
            part, _decoded(weights, *_alone(weights, speech, surroundings, part)), strict=True
        ):
            found[i] = tokens
    written = [i for i, one in enumerate(said) if one.written]
    for part in _chunks(_by_length(written, speech), _ROWS // 2):
        heard, sound = _alone(weights, speech, surroundings, part)
        choices = [[tokenizer.encode(text) for text in said[i].written] for i in part]
        scores = _scores(weights, heard, sound, choices)
        for i, forms, score in zip(part, choices, scores, strict=True):
            found[i] = forms[int(np.argmax(score))]
    return found


def rivals(
    weights: Weights,
    said: Sequence[TeachingUtterance],
    speech: SpeechBatch,
    texts: Sequence[tuple[int, ...]],
    surroundings: Surroundings,
    tokenizer: Tokenizer,
) -> list[tuple[Rival, ...]]:
    """The `HARDEST` rivals of each taught utterance, by the untaught network on clear sound."""
    found: list[tuple[Rival, ...]] = [()] * len(said)
    which = [i for i, one in enumerate(said) if one.part == "train" and one.rivals and texts[i]]
    mute, still = _silence(weights, speech)
    for part in _chunks(_by_length(which, speech), _ROWS // 8):
        forms = [[texts[i], *map(tokenizer.encode, said[i].rivals)] for i in part]
        heard = _scores(weights, *_alone(weights, speech, surroundings, part), forms)
        favours = _scores(weights, mute.expand(len(part), -1, -1), still.expand(len(part), -1), forms)
        for i, others, score, favour in zip(part, forms, heard, favours, strict=True):
            ahead = PRIOR_SHARE * (np.array(favour) - favour[0])
            order = np.argsort(ahead - np.array(score))
            hardest = [int(k) for k in order if k > 0 and others[k] != texts[i]][:HARDEST]
            found[i] = tuple(Rival(tuple(others[k]), float(ahead[k])) for k in hardest)
    return found


@torch.no_grad()
def _silence(weights: Weights, speech: SpeechBatch) -> tuple[Tensor, Tensor]:
    """What the network hears in a second and a half of nothing, as `listen` gives it."""
    silence = torch.zeros(1, round(1.5 * SAMPLE_RATE_HZ), device=speech.sound.device)
    return listen(weights, silence, torch.tensor([silence.shape[1]], device=silence.device))


@torch.no_grad()
def _alone(
    weights: Weights, speech: SpeechBatch, surroundings: Surroundings, which: Sequence[int]
) -> tuple[Tensor, Tensor]:
    batch = surroundings.batch(speech, which)
    with _half(batch.alone):
        return listen(weights, batch.alone, batch.lengths)


@torch.no_grad()
def _decoded(weights: Weights, heard: Tensor, sound: Tensor) -> list[tuple[int, ...]]:
    """Greedy: the likeliest token each time, until all have ended."""
    tokens = torch.zeros(len(heard), 0, dtype=torch.int64, device=heard.device)
    ended = torch.zeros(len(heard), dtype=torch.bool, device=heard.device)
    while not bool(ended.all()) and tokens.shape[1] < _DECODED_TOKENS:
        with _half(heard):
            best = log_p_next(weights, follow(weights, heard, sound, tokens)[:, -1]).argmax(-1)
        ended |= best == END
        tokens = torch.cat([tokens, torch.where(ended, END, best)[:, None]], dim=1)
    return [tuple(t for t in row if t != END) for row in tokens.tolist()]


@torch.no_grad()
def _scores(
    weights: Weights, heard: Tensor, sound: Tensor, choices: Sequence[Sequence[tuple[int, ...]]]
) -> list[list[float]]:
    """Log-probability of each of some texts, end mark included, for each utterance."""
    rows = [(i, tokens) for i, forms in enumerate(choices) for tokens in forms]
    flat: list[float] = []
    for part in _chunks(rows, _ROWS):
        index = torch.tensor([i for i, _ in part], device=heard.device)
        tokens, following, counted = _padded([t for _, t in part], heard.device)
        with _half(heard):
            log_p = log_p_next(weights, follow(weights, heard[index], sound[index], tokens))
        flat += (log_p.gather(2, following[..., None])[..., 0] * counted).sum(1).tolist()
    given = iter(flat)
    return [[next(given) for _ in forms] for forms in choices]


def _padded(texts: Sequence[tuple[int, ...]], device: torch.device) -> tuple[Tensor, Tensor, Tensor]:
    """Tokens (n, k), what follows each place (n, k + 1), and which places count."""
    longest = max(map(len, texts))
    tokens = torch.tensor([[*t, *[END] * (longest - len(t))] for t in texts], device=device).view(-1, longest)
    following = torch.cat([tokens, tokens.new_full((len(tokens), 1), END)], dim=1)
    counts = torch.tensor([len(t) for t in texts], device=device)
    return tokens, following, torch.arange(longest + 1, device=device) <= counts[:, None]


# ---------------------------------------------------------------- the loop


def teach(
    weights: Weights,
    said: Sequence[TeachingUtterance],
    speech: SpeechBatch,
    texts: Sequence[tuple[int, ...]],
    others: Sequence[tuple[Rival, ...]],
    surroundings: Surroundings,
    settings: TrainSettings,
) -> Factors:
    """The factors after some minutes of training on the utterances marked for it."""
    factors = new_factors(weights, settings.seed)
    flat = [part for pair in factors.values() for part in pair]
    optimizer = torch.optim.AdamW(
        flat, settings.rate, betas=(0.9, 0.98), weight_decay=0.0, fused=flat[0].is_cuda
    )
    which = [
        i
        for i, one in enumerate(said)
        if one.part == "train" and texts[i] and len(texts[i]) <= _DECODED_TOKENS
    ]
    rng = np.random.default_rng(settings.seed)
    start, seen = time.monotonic(), np.zeros(5)
    for step, batch in enumerate(_batches(which, speech, settings)):
        share = max(step / settings.steps, (time.monotonic() - start) / settings.seconds)
        if share >= 1.0:
            break
        for group in optimizer.param_groups:
            group["lr"] = (
                settings.rate * min(1.0, (step + 1) / 100) * (0.02 + 0.98 * np.cos(share * np.pi / 2) ** 2)
            )
        against = [_one_of(others[i], rng) for i in batch]
        losses = _losses(
            weights, merged(weights, factors), said, speech, texts, against, surroundings, batch, settings
        )
        weighed = zip(losses, (1.0, settings.keep, settings.likeness, settings.rivalry), strict=True)
        loss = torch.stack([weight * part for part, weight in weighed]).sum()
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(flat, 1.0)
        optimizer.step()
        if step % 50 == 0:
            seen = np.array([float(part.detach()) for part in (loss, *losses)])
            print(f"step {step} {time.monotonic() - start:.0f} s  loss {seen.round(3)}", flush=True)
    return {name: (down.detach(), up.detach()) for name, (down, up) in factors.items()}


def _losses(
    base: Weights,
    taught: Weights,
    said: Sequence[TeachingUtterance],
    speech: SpeechBatch,
    texts: Sequence[tuple[int, ...]],
    against: Sequence[Rival | None],
    surroundings: Surroundings,
    which: Sequence[int],
    settings: TrainSettings,
) -> tuple[Tensor, Tensor, Tensor, Tensor]:
    """Nats per token of taught texts; nats per token of divergence from the base on the others; unlikeness of
    what is encoded; and nats by which a choice between the text and its rival goes wrong."""
    batch = surroundings.batch(speech, which, silent=settings.silent)
    device = batch.heard.device
    tokens, following, counted = _padded([texts[i] for i in which], device)
    with torch.no_grad(), _half(batch.alone):
        clear, sound = listen(base, batch.alone, batch.lengths)
        expected = log_p_next(base, follow(base, clear, sound, tokens)[counted])
    with _half(batch.heard):
        heard, _ = listen(taught, batch.heard, batch.lengths)
        log_p = log_p_next(taught, follow(taught, heard, sound, tokens)[counted])
    spoken = batch.alone.abs().amax(1) > 0
    by_text = torch.tensor([bool(said[i].written) for i in which], device=device) & spoken
    taught_places = by_text[:, None].expand_as(counted)[counted]
    nats = -log_p.gather(1, following[counted][:, None])[:, 0]
    apart = (expected.exp() * (expected - log_p)).sum(1)
    places = len(nats)
    likeness = (heard - clear).float().square().mean(2) / clear.float().var()
    own = log_p.new_zeros(len(which)).index_add(0, counted.nonzero()[:, 0], -nats)
    return (
        (nats * taught_places).sum() / places,
        (apart * ~taught_places).sum() / places,
        (likeness * (sound & spoken[:, None])).sum() / sound.sum(),
        _lost(taught, heard, sound, own, against, spoken) / len(which),
    )


def _lost(
    taught: Weights,
    heard: Tensor,
    sound: Tensor,
    own: Tensor,
    against: Sequence[Rival | None],
    spoken: Tensor,
) -> Tensor:
    """-log of the share of the right text against its rival, prior taken off, summed over what is spoken."""
    chosen = [(row, rival) for row, rival in enumerate(against) if rival is not None]
    if not chosen:
        return own.new_zeros(())
    index = torch.tensor([row for row, _ in chosen], device=own.device)
    tokens, following, counted = _padded([rival.tokens for _, rival in chosen], own.device)
    with _half(heard):
        log_p = log_p_next(taught, follow(taught, heard[index], sound[index], tokens))
    theirs = (log_p.gather(2, following[..., None])[..., 0] * counted).sum(1)
    ahead = torch.tensor([rival.ahead for _, rival in chosen], device=own.device)
    return (torch.nn.functional.softplus(theirs - ahead - own[index]) * spoken[index]).sum()


def _batches(which: Sequence[int], speech: SpeechBatch, settings: TrainSettings) -> Iterator[list[int]]:
    """Shuffled without end; utterances of similar length come together."""
    rng = np.random.default_rng(settings.seed)
    while True:
        order = rng.permutation(np.asarray(which)).tolist()
        for part in _chunks(order, settings.batch * 8):
            batches = list(_chunks(_by_length(part, speech), settings.batch))
            for i in rng.permutation(len(batches)):
                yield list(batches[int(i)])


# ---------------------------------------------------------------- the check


def check(
    weights: Weights,
    said: Sequence[TeachingUtterance],
    speech: SpeechBatch,
    texts: Sequence[tuple[int, ...]],
    surroundings: Surroundings,
    tokenizer: Tokenizer,
) -> list[Checked]:
    """Rank the right text among its rivals, at each level, on utterances that training leaves out.

    Make new `surroundings` for each network, so that all are tested on the same sound.
    """
    lines: list[Checked] = []
    device = speech.sound.device
    mute, still = _silence(weights, speech)
    for level_db in CHECK_LEVELS_DB:
        for part in ("known", "new", "general"):
            which = [i for i, one in enumerate(said) if one.part == part and texts[i]]
            right: list[float] = []
            nats: list[float] = []
            for some in _chunks(_by_length(which, speech), 64):
                with torch.no_grad():
                    batch = surroundings.batch(speech, some, level_db)
                    with _half(batch.heard):
                        heard, sound = listen(weights, batch.heard, batch.lengths)
                if part == "general":
                    with torch.no_grad(), _half(heard):
                        tokens, following, counted = _padded([texts[i] for i in some], device)
                        log_p = log_p_next(weights, follow(weights, heard, sound, tokens)[counted])
                    right += (log_p.argmax(1) == following[counted]).float().tolist()
                    nats += (-log_p.gather(1, following[counted][:, None])[:, 0]).tolist()
                    continue
                forms = [[tokenizer.encode(t) for t in (*said[i].rivals, *said[i].written)] for i in some]
                scores = _scores(weights, heard, sound, forms)
                favours = _scores(weights, mute.expand(len(some), -1, -1), still.expand(len(some), -1), forms)
                for i, score, favour in zip(some, scores, favours, strict=True):
                    corrected = np.array(score) - PRIOR_SHARE * np.array(favour)
                    rivals = len(said[i].rivals)
                    right.append(float(corrected[rivals:].max() > corrected[:rivals].max()))
                    nats.append(-max(score[rivals:]) / len(texts[i]))
            if right:
                lines.append(Checked(part, level_db, float(np.mean(right)), float(np.mean(nats)), len(which)))
    return lines


# ---------------------------------------------------------------- building blocks


def _half(like: Tensor) -> torch.autocast:
    """Half precision where the device is fast at it."""
    return torch.autocast(like.device.type, torch.bfloat16, enabled=like.is_cuda)


def _by_length(which: Sequence[int], speech: SpeechBatch) -> list[int]:
    return sorted(which, key=lambda i: int(speech.lengths[i]))


def _one_of(some: Sequence[_T], rng: np.random.Generator) -> _T | None:
    return some[int(rng.integers(len(some)))] if some else None


def _chunks(rows: Sequence[_T], size: int) -> Iterator[Sequence[_T]]:
    for start in range(0, len(rows), size):
        yield rows[start : start + size]
