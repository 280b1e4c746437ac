"""What the browser tests of the pages share: a server with a stand-in for the engine, and the axe checker."""

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from tests.listen.web.browser import Server, served
from tests.listen.web.desk_app import StandIn


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A server over an empty data folder."""
    with served(tmp_path / "data", StandIn()) as server:
        yield server


@pytest.fixture(scope="session")
def axe() -> str:
    """The axe-core checker (an outside source), which axe-playwright-python carries."""
    return files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
