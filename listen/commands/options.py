"""The options that several commands share: a vocabulary's name, the clinic's changes, a dentist's; the store.

Only declarations for the command line: `open_vocabulary` and `PracticeStore` take what they hold.
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
STORE = "TRAYCALL_STORE"
StoreOption = Annotated[
    str | None,
    typer.Option(
        "--store",
        metavar="URL",
        envvar=STORE,
        show_envvar=False,
        help="Where practice is kept: sqlite:///FILE or postgresql://USER@HOST/NAME; may stand in "
        f"{STORE} instead. [default: a file in your data folder]",
    ),
]
