"""What the web app is started with.

The command line's options become one frozen record that every page may read. It opens nothing and decides
nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

from vocab.errors import Declined

SHORTEST_PASS_CODE = 6
"""Characters; wrong guesses are also slowed down (see `listen.web.access.guard`)."""


@dataclass(frozen=True)
class ServerSettings:
    """The settings of one server.

    data: folder of the session log and the app's own small files; log: the session log, a file in `data`
    unless given; pass_code: None keeps the app to this machine; host_names: names besides addresses that
    this machine may be called by; spoken: whether replies can be spoken at all (each screen starts
    silent); microphone: which of this machine's own a screen may open, None for the system's default;
    endpoint_s: silence that ends an utterance; clock: seconds since 1970; zone: the clinic's, None for the
    machine's own.

    Raises:
        Declined: a pass code that is too short.
    """

    data: Path
    log: Path | str | None = None
    pass_code: str | None = None
    host_names: tuple[str, ...] = ()
    spoken: bool = True
    microphone: int | str | None = None
    endpoint_s: float = 0.35
    clock: Callable[[], float] = time.time
    zone: tzinfo | None = None

    def __post_init__(self) -> None:
        if self.pass_code is not None and len(self.pass_code) < SHORTEST_PASS_CODE:
            raise Declined(f"the pass code is too short: take at least {SHORTEST_PASS_CODE} characters.")

    @property
    def is_open(self) -> bool:
        """Whether other machines may connect."""
        return self.pass_code is not None

    @property
    def where_log(self) -> Path | str:
        """Where sessions are kept."""
        return self.log if self.log is not None else self.data / "sessions.db"
