"""The command that starts the app says what is wrong before it opens anything."""

import socket
from pathlib import Path

import pytest
import typer
import uvicorn
from starlette.testclient import TestClient
from typer.testing import CliRunner

from listen.commands.options import STORE
from listen.commands.screen import PASS_CODE, serve
from listen.practice.store import sqlite_url
from vocab.errors import TraycallError

Given = dict[str, object]


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> Given:
    """What the server would have been started with."""
    given: Given = {}
    monkeypatch.setattr(uvicorn, "run", lambda app, **settings: given.update(settings, app=app))
    monkeypatch.delenv(PASS_CODE, raising=False)
    monkeypatch.delenv(STORE, raising=False)
    return given


def screen(*arguments: object) -> object:
    """Run the command; the error that it ends with, if any."""
    app = typer.Typer()
    app.command()(serve)
    return CliRunner().invoke(app, [str(argument) for argument in arguments]).exception


def test_it_is_for_this_machine_only_unless_told_otherwise(started: Given, tmp_path: Path) -> None:
    assert screen("--data", tmp_path) is None
    assert started["host"] == "127.0.0.1"
    assert started["app"].state.codes is None  # type: ignore[attr-defined]


def test_opening_it_needs_a_pass_code(
    started: Given, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused = screen("--data", tmp_path, "--open")
    assert isinstance(refused, TraycallError) and PASS_CODE in str(refused)
    monkeypatch.setenv(PASS_CODE, "short")
    assert "too short" in str(screen("--data", tmp_path, "--open"))
    assert not started
    monkeypatch.setenv(PASS_CODE, "molar-17-spoon")
    assert screen("--data", tmp_path, "--open") is None
    assert started["host"] == "0.0.0.0"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--engine", "psychic"], "there are: neural, vosk"),
        (["--procedure", "root_canal"], "composite_class_two"),
        (["--vocabulary", "nowhere"], "no folder"),
        (["--certificate", "here.pem"], "go together"),
        (["--store", "nowhere"], "is not a database URL"),
        (["--store", "postgresql://nobody@127.0.0.1:1/none"], "cannot be used"),
        (["--certificate", "here.pem", "--key", "here.pem"], "give a certificate and its own key"),
    ],
)
def test_bad_options_are_told_apart(started: Given, tmp_path: Path, arguments: list[str], told: str) -> None:
    error = screen("--data", tmp_path, *arguments)
    assert isinstance(error, TraycallError) and told in str(error)
    assert not started


def test_practice_is_kept_where_the_store_says(
    started: Given, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Named in the command or, so that nobody reads it there, in the environment."""
    for number, (option, environment) in enumerate(((True, False), (False, True))):
        store = tmp_path / f"school {number}.sqlite"
        if environment:
            monkeypatch.setenv(STORE, sqlite_url(store))
        data = tmp_path / f"data {number}"
        assert screen("--data", data, *(("--store", sqlite_url(store)) if option else ())) is None
        assert store.exists()
        with TestClient(started["app"], base_url="http://localhost") as client:  # type: ignore[arg-type]
            assert client.get("/practice").status_code == 200
        assert not (data / "practice.sqlite").exists()


def test_a_port_that_is_taken_is_said_before_anything_is_opened(started: Given, tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        error = screen("--data", tmp_path / "new", "--port", other.getsockname()[1])
    assert isinstance(error, TraycallError) and "choose another port with --port" in str(error)
    assert not started and not (tmp_path / "new").exists()
