"""The local web app: the chair screen, the desk pages and the sound of a browser's microphone.

`create_app` is imported on first use, so that the command line, which only needs `serve`, starts quickly.
"""

from __future__ import annotations

from typing import Any

from listen.live.settings import ServerSettings

__all__ = ["ServerSettings", "create_app"]


def __getattr__(name: str) -> Any:
    if name == "create_app":
        from listen.web.app import create_app

        return create_app
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
