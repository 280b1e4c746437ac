"""How long after the last word a slot lights, on a chair screen that is served and fed in real time.

Clips come in; each is streamed through the WebSocket of a running `traycall screen` as a page streams its
microphone, block by block as it would be spoken, and the moments at which the screen is told something come
out. The true end of the words is known from the clip. What the page needs to draw it is not in the figures.
"""

from __future__ import annotations

import json
import math
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect
from websockets.typing import Origin

from listen.bench import clips as clips_of
from listen.bench.clips import Clip
from listen.engine import SAMPLE_RATE_HZ, Samples
from listen.speech import noise
from vocab.errors import TraycallError

BLOCK = 512
"""Samples that a page sends at a time."""
BEFORE_S, AFTER_S = 0.6, 2.2
"""Sound around the words: the room before them, and the time that an answer is waited for."""
ROOM_DB = -66.0
"""Level of the noise of a silent room and its microphone, against full scale."""
START_S = 120.0
"""Longest time that the server may take until it hears."""


class NoScreen(TraycallError):
    """The server does not start or has gone."""


@dataclass(frozen=True)
class Moments:
    """What the screen was told of one clip; milliseconds after the true end of its words, None for never.

    ended: the server took the utterance as ended; shown: an answer or a question stood there; item: the
    one that was answered, or the first that was offered; asked: whether it was a question; early: answers
    and questions that stood there before the words had ended.
    """

    clip: str
    text: str
    wanted: str | None
    seconds: float
    ended: float | None
    shown: float | None
    item: str | None
    asked: bool
    early: int


@contextmanager
def served(
    arguments: Sequence[str], data: Path, environment: Mapping[str, str] | None = None
) -> Iterator[str]:
    """The address of a `traycall screen` of its own, which ends with the block.

    Args:
        environment: variables besides those there are.

    Raises:
        NoScreen: it ended by itself; its message says why.
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable,
        "-c",
        "from listen.commands.main import main; main()",
        "screen",
        "--port",
        str(port),
    ]
    command += ["--data", str(data), "--changes", str(data / "layers"), "--silent", *arguments]
    variables = {**os.environ, **(environment or {})}
    server = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=variables)
    address = f"http://127.0.0.1:{port}"
    try:
        until = time.monotonic() + START_S
        while not _answers(address):
            if server.poll() is not None:
                raise NoScreen((server.stderr.read() if server.stderr else "").strip())
            if time.monotonic() > until:
                raise NoScreen(f"the screen's server did not start within {START_S:g} s.")
            time.sleep(0.1)
        yield address
    finally:
        server.terminate()
        server.communicate()


def measured(address: str, tray: str | None, todo: Sequence[Clip], folder: Path) -> Iterator[Moments]:
    """Stream clips, one after the other, to one session at this address.

    Args:
        tray: what lies at the chair; None for no tray.
        folder: where spoken sentences are kept.
    """
    screen = _DrivenScreen(address, tray)
    try:
        screen.open()
        for clip in todo:
            samples = clips_of.speech(clip, folder)
            words = noise.pad(clips_of.without_silence(samples), BEFORE_S, AFTER_S)
            heard = clips_of.in_noise(
                words, clip.kind, clip.snr_db, (clip.text, clip.voice), clips_of.babblers(clip.voice, folder)
            )
            rng = noise.generator_for("silent room", clip.text, clip.voice)
            chair_session = rng.normal(0, 10 ** (ROOM_DB / 20), len(heard)).astype(np.float32)
            yield screen.hear(clip, heard + chair_session, len(heard) / SAMPLE_RATE_HZ - AFTER_S)
    finally:
        screen.close()


def counts(found: Sequence[Moments]) -> dict[str, float]:
    """What is kept for the model card: of requests, in ms after the last word."""
    wanted, shown, right = _requests(found)
    out: dict[str, float] = {"requests": len(wanted), "shown": len(shown), "right": len(right)}
    for name, values in (("", [one.shown for one in shown]), ("ended_", [one.ended for one in shown])):
        known = [value for value in values if value is not None]
        if known:
            out[f"{name}median_ms"], out[f"{name}p95_ms"] = (round(q) for q in np.percentile(known, [50, 95]))
    return out


def _requests(found: Sequence[Moments]) -> tuple[list[Moments], list[Moments], list[Moments]]:
    """All requests; those shown after their last word; those of them that were right."""
    wanted = [one for one in found if one.wanted is not None]
    shown = [one for one in wanted if one.shown is not None and not one.early]
    return wanted, shown, [one for one in shown if one.item == one.wanted]


def table(found: Sequence[Moments], about: str) -> str:
    """The figures as lines of text."""
    wanted, shown, right = _requests(found)
    rows = {
        "end of speech to utterance taken as ended": [one.ended for one in shown if one.ended is not None],
        "from then to the answer": [
            one.shown - one.ended for one in shown if one.shown is not None and one.ended is not None
        ],
        "end of speech to lit slot": [one.shown for one in shown if one.shown is not None],
    }
    lines = [about, f"{'':44}{'median':>9}{'p95':>9}{'n':>6}"]
    for name, values in rows.items():
        median, high = np.percentile(values, [50, 95]) if values else (math.nan, math.nan)
        lines.append(f"{name:44}{median:6.0f} ms{high:6.0f} ms{len(values):6}")
    lines.append(
        f"{len(wanted)} requests: {len(shown)} shown, {len(right)} of them right; "
        f"{sum(one.early > 0 for one in wanted)} answered before their last word."
    )
    talk = [one for one in found if one.wanted is None]
    if talk:
        answered = sum(one.shown is not None or one.early > 0 for one in talk)
        lines.append(f"{len(talk)} pieces of chatter: {answered} answered.")
    return "\n".join(lines)


def write(found: Sequence[Moments], file: Path) -> None:
    """One line of JSON a clip."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text("".join(json.dumps(asdict(one)) + "\n" for one in found), encoding="utf-8")


def cores() -> int:
    """Processor cores that may be used."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def load() -> float:
    """How many programs wanted a core in the last minute; NaN where the system does not count them."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else math.nan


# ---------------------------------------------------------------- a page without a browser


class _DrivenScreen:
    """One session's live connection."""

    def __init__(self, address: str, tray: str | None) -> None:
        self._origin = address
        form = urllib.parse.urlencode({"tray": tray} if tray else {}).encode()
        request = urllib.request.Request(f"{address}/start", form, {"origin": address})
        with urllib.request.urlopen(request) as page:
            path = urllib.parse.urlparse(page.url).path
        live = f"{address.replace('http', 'ws', 1)}{path}/live"
        self._ending = ExitStack()
        self._socket = self._ending.enter_context(connect(live, origin=Origin(address), compression=None))
        self._told: list[tuple[float, dict[str, Any]]] = []
        self._news = threading.Condition()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def open(self) -> None:
        """Open the microphone once the server hears."""
        self._until(lambda message: message.get("ears", {}).get("state") != "loading", START_S)
        problem = self._last("room").get("ears", {}).get("problem")
        if problem:
            raise NoScreen(problem)
        self._wish(do="microphone", open=True)
        self._until(lambda message: message.get("microphone") == "open", 10)

    def hear(self, clip: Clip, samples: Samples, end_s: float) -> Moments:
        """Stream one clip, whose words end at `end_s`, and gather what is told meanwhile."""
        with self._news:
            self._told = self._told[-1:]
        before = self._last("room").get("number", 0)
        pcm = (np.clip(samples, -1, 1) * 32767).astype("<i2")
        began = time.perf_counter()
        try:
            for at in range(BLOCK, len(pcm), BLOCK):
                time.sleep(max(0.0, began + at / SAMPLE_RATE_HZ - time.perf_counter()))
                self._socket.send(pcm[at - BLOCK : at].tobytes())
        except ConnectionClosed:
            raise NoScreen("the screen's server has gone; was it ended by somebody?") from None
        with self._news:
            told = list(self._told)
        end = began + end_s
        states = [(at, m["state"]) for at, m in told if m["type"] == "ear"]
        ended = [at for at, state in states if state in ("thinking", "quiet")]
        views = [
            (at, m) for at, m in told
            if m["type"] == "room" and m["number"] > before and m["stage"]["kind"] in ("answer", "check")
        ]  # fmt: skip
        last = [view for view in views if view[0] >= end]
        shown, view = last[0] if last else (None, None)
        offered = [] if view is None else [*view["stage"]["answers"], *view["stage"]["choices"]]
        if any(m["stage"]["kind"] == "check" for _, m in views):
            self._wish(do="choose", number=0)
        after = [at for at in ended if at >= end]
        return Moments(
            clip.id,
            clip.text,
            clip.item,
            round(end_s - BEFORE_S, 3),
            _ms(after[0] - end if after else None),
            _ms(shown - end if shown is not None else None),
            offered[0]["item"] if offered else None,
            view is not None and view["stage"]["kind"] == "check",
            len({m["number"] for at, m in views if at < end}),
        )

    def close(self) -> None:
        self._ending.close()
        self._thread.join(5)

    def _wish(self, **wish: object) -> None:
        self._socket.send(json.dumps(wish))

    def _read(self) -> None:
        try:
            for message in self._socket:
                now = time.perf_counter()
                with self._news:
                    self._told.append((now, json.loads(message)))
                    self._news.notify_all()
        except ConnectionClosed:
            pass

    def _last(self, kind: str) -> dict[str, Any]:
        with self._news:
            return next((m for _, m in reversed(self._told) if m["type"] == kind), {})

    def _until(self, wanted: Any, seconds: float) -> None:
        with self._news:
            if not self._news.wait_for(
                lambda: any(m["type"] == "room" and wanted(m) for _, m in self._told), seconds
            ):
                raise NoScreen("the screen's server does not hear; try `traycall machine`.")


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(1000 * seconds, 1)


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/static/icon.svg", timeout=2):
            return True
    except (urllib.error.URLError, OSError):
        return False
