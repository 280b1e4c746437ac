"""The options by which every command is told its vocabulary: its name, the clinic's changes, a dentist's.

Only declarations for the command line; `vocab.layers.open_vocabulary` takes what they hold.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

VocabularyOption = Annotated[
    str,
    typer.Option("--vocabulary", metavar="NAME|FOLDER", help="One that comes with traycall, or a folder."),
]
VocabulariesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--vocabulary",
        metavar="NAME|FOLDER",
        help="One that comes with traycall, or a folder; it is offered first. May be given several times. "
        "Every one that comes with traycall and that the engine understands is there, too.",
    ),
]
ChangesOption = Annotated[
    Path | None,
    typer.Option(
        "--changes", metavar="FOLDER", help="Our changes to it. [default: where `traycall edit` keeps them]"
    ),
]
DentistOption = Annotated[
    str | None, typer.Option("--dentist", metavar="ID", help="The dentist whose own changes apply, too.")
]
