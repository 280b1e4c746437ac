"""`python -m listen.bench`: the measuring stick of traycall. See `--help` of each command."""

from __future__ import annotations

from listen.bench.commands import figures, hearing, peers, practice, rooms, times  # noqa: F401
from listen.bench.commands.common import app

if __name__ == "__main__":
    app()
