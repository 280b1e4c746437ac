"""`traycall edit try-name`: a name said to the engine in chair noise, and what it would be mixed up with.

Options in, calls to `listen.speech.try_name` and `vocab.lint.findings`, text out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from listen.commands.edit import ItemArgument, NameArgument
from listen.commands.say import say

if TYPE_CHECKING:
    from listen.commands.edit import Opened


def try_name(ctx: typer.Context, item: ItemArgument, name: NameArgument) -> None:
    """Say a name with this machine's voices in chair noise, and tell what it would be mixed up with.

    It need not be saved yet.
    """
    from listen.chair import cache_folder
    from listen.neural.engine import NeuralEngine
    from listen.readings import load_calibration
    from listen.speech.try_name import check_name, findings, tried
    from vocab.language.pronounce import Pronouncer
    from vocab.lint.findings import lint_name
    from vocab.lint.similar_names import NameSounds

    desk: Opened = ctx.obj()
    check_name(name)
    item_id, cache, pronouncer = desk.item(item), cache_folder(), Pronouncer()
    engine = NeuralEngine(desk.pack, cache)
    heard = tried(desk.pack, item_id, name, engine, load_calibration(), pronouncer, cache / "names_spoken")
    found = lint_name(name, item_id, desk.pack, NameSounds(desk.pack, pronouncer), findings(heard))
    say(f"{name} ({desk.pack.item(item_id).name.text})")
    for finding in found:
        say(f"  {finding.severity.heading}: {finding.message}. {finding.help}.")
    if not findings(heard):
        say("  taken for no other name when it was said")
