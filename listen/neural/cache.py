"""What is made once from the model and kept: its graphs, and the prior tables of vocabularies.

Comes in: a cache folder. Goes out: paths of complete files; a half-written one is never seen, since
everything is made beside its place and renamed into it. Deleting the folder loses nothing but time.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from platformdirs import user_cache_path

from listen.neural.network import write_graphs
from listen.neural.weights import ADAPTER, fingerprint, merged, model_folder, read_adapter, read_weights

_RECIPE = "1"
"""Raise it when the graphs made from the same weights change."""


def default_cache() -> Path:
    """The user's own cache folder for this tool."""
    return user_cache_path("traycall", appauthor=False)


def identity(model: Path | None = None, adapter: Path | None = ADAPTER) -> str:
    """Tells one engine from another by the checksums of what it hears with; all that is kept goes by it.

    Args:
        model: the folder of the model; the installed one when left out.
        adapter: as in `graphs`.

    Raises:
        listen.neural.weights.ModelMissing: no model is installed.
    """
    base = fingerprint(model or model_folder())
    return base if adapter is None else f"{base}-{hashlib.sha256(adapter.read_bytes()).hexdigest()[:16]}"


def graphs(model: Path, cache: Path, adapter: Path | None = ADAPTER) -> Path:
    """The folder with the graphs of the model's weights, made on first use (2 s, 145 MB).

    Args:
        adapter: what is added to the weights; None leaves the model as it comes.

    Raises:
        listen.neural.weights.AdapterMismatch: the adapter is missing, broken or made for another model.
    """
    taught = None if adapter is None else read_adapter(adapter)

    def make(part: Path) -> None:
        weights = read_weights(model)
        write_graphs(weights if taught is None else merged(weights, taught, fingerprint(model)), part)

    return made(cache / f"graphs-{_RECIPE}-{identity(model, adapter)}", make)


def made(folder: Path, make: Callable[[Path], None]) -> Path:
    """`folder`, filled by `make` in a place beside it unless it is there already."""
    if folder.is_dir():
        return folder
    folder.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=f"{folder.name}.", dir=folder.parent))
    try:
        make(part)
        part.rename(folder)
    except OSError:
        if not folder.is_dir():  # another process was not quicker
            raise
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder
