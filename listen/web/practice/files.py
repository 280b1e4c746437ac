"""Files that the practice pages hand out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.responses import Response

from listen.practice.topics import PracticeError
from listen.practice.transfer import csv_of, json_of

_WRITTEN = {"json": (json_of, "application/json"), "csv": (csv_of, "text/csv; charset=utf-8")}


def offered(exports: Sequence[Mapping[str, Any]], form: str, whose: str) -> Response:
    """Exports of trainees as a file to keep.

    Raises:
        PracticeError: the form is neither "json" nor "csv".
    """
    if form not in _WRITTEN:
        raise PracticeError("data are handed out as JSON or CSV; load the page again.")
    write, media_type = _WRITTEN[form]
    return download(write(exports).encode(), f"trainee-{file_name(whose)}.{form}", media_type)


def download(content: bytes, name: str, media_type: str, how: str = "attachment") -> Response:
    """A file; `how` is "inline" for one that a browser may show."""
    return Response(
        content, media_type=media_type, headers={"content-disposition": f'{how}; filename="{name}"'}
    )


def file_name(name: str) -> str:
    """A trainee's name as part of a file name; plain letters only, as it goes into a header."""
    return re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-") or "trainee"
