"""`python -m listen.bench`: the measuring stick of traycall. See `--help` of each command."""

from __future__ import annotations

from listen.bench.commands import figures, hearing, peers, practice, rooms, speakers, times
from listen.bench.commands.common import app

__all__ = ["app", "figures", "hearing", "peers", "practice", "rooms", "speakers", "times"]
"""The application, and the modules whose commands are in it once they are imported."""

if __name__ == "__main__":
    app()
