"""The options by which every command is told its vocabulary: a pack, the clinic's changes, a dentist's.

Only declarations for the command line; `vocab.layers.open_vocabulary` takes what they hold.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PackOption = Annotated[str, typer.Option("--pack", metavar="NAME|FOLDER", help="A shipped pack or a folder.")]
PacksOption = Annotated[
    list[str] | None,
    typer.Option(
        "--vocabulary",
        "--pack",
        metavar="NAME|FOLDER",
        help="A shipped vocabulary or a folder, offered first; may be given several times. Every shipped "
        "one that the engine understands is there, too.",
    ),
]
LayersOption = Annotated[
    Path | None,
    typer.Option(
        "--layers", metavar="FOLDER", help="The clinic's changes. [default: where `traycall edit` keeps them]"
    ),
]
DentistOption = Annotated[
    str | None, typer.Option("--dentist", metavar="ID", help="Whose changes apply beside the clinic's.")
]
