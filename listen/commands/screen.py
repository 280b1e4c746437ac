"""The `traycall screen` command, which starts the web app.

Takes command-line options and runs a server until it is stopped. The server is for this machine only, unless
--open is given together with a pass code.
"""

from __future__ import annotations

import gc
import os
import socket
import ssl
import sys
from pathlib import Path
from typing import Annotated

import typer

from listen.chair import ChairOptions, EngineName, open_chairs, vocabularies
from listen.commands.options import ChangesOption, DentistOption, StoreOption, VocabulariesOption
from listen.live.settings import ServerSettings
from listen.web.access.editors import LEAD_CODE
from vocab.errors import Declined
from vocab.files import data_folder

PASS_CODE = "TRAYCALL_PASS_CODE"
PORT = 8465
LARGEST_MESSAGE = 65_536
"""Most bytes in one message of a live connection."""
_OBJECTS_BEFORE_SEARCH = 50_000
"""New objects after which Python looks for unreachable ones; by default 700, which a start of a server meets
a thousand times."""


def serve(
    procedure: Annotated[
        str | None, typer.Option("--procedure", metavar="ID", help="The procedure offered first.")
    ] = None,
    packs: VocabulariesOption = None,
    port: Annotated[int, typer.Option(metavar="N", min=1, max=65535, help="The port of the pages.")] = PORT,
    open_: Annotated[
        bool, typer.Option("--open", help=f"Let other machines in; needs a pass code in {PASS_CODE}.")
    ] = False,
    host_name: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Another name of this machine, with --open.")
    ] = None,
    certificate: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Serve https; other machines' microphones need it."),
    ] = None,
    key: Annotated[Path | None, typer.Option(metavar="FILE", help="The certificate's key.")] = None,
    engine: Annotated[str, typer.Option(metavar="neural|vosk", help="The engine to use.")] = "neural",
    model: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="The Vosk model, for --engine vosk.")
    ] = None,
    data: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Where sessions are kept. [default: your data folder]"),
    ] = None,
    store: StoreOption = None,
    layers: ChangesOption = None,
    dentist: DentistOption = None,
    microphone: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|NUMBER",
            help="Which of this machine's microphones a screen may open. [default: the system's]",
        ),
    ] = None,
    silent: Annotated[bool, typer.Option("--silent", help="Never offer spoken replies.")] = False,
) -> None:
    """Show the chair screen and the desk pages in a browser."""
    gc.freeze()  # what was imported stays, and so do vocabularies and their tables: no use in searching them
    gc.set_threshold(_OBJECTS_BEFORE_SEARCH)
    import uvicorn

    from listen.audio import microphone_called
    from listen.practice.places import PracticeOptions
    from listen.practice.store import PracticeStore
    from listen.web import consent
    from listen.web.access.door import allow_files, entrance, seldom_logged
    from listen.web.app import create_app
    from listen.web.edit import pages as edit
    from listen.web.practice import pages as practice
    from listen.web.voice import pages as voice

    settings = ServerSettings(
        data=data or data_folder(),
        pass_code=_pass_code(open_),
        host_names=tuple(host_name or ()),
        spoken=not silent,
        microphone=microphone_called(microphone),
    )
    if (certificate is None) != (key is None):
        raise Declined("--certificate and --key go together.")
    try:
        http = entrance(certificate, key)
    except OSError as error:
        why = "no certificate with its key" if isinstance(error, ssl.SSLError) else error.strerror
        raise Declined(
            f"{certificate} and {key} cannot be used ({why}): give a certificate and its own key, "
            "both as PEM files."
        ) from error
    options = ChairOptions("", None, procedure, _engine_name(engine), model, layers, dentist)
    lead_code = os.environ.get(LEAD_CODE) or None
    host = "0.0.0.0" if open_ else "127.0.0.1"
    _see_that_port_is_free(host, port)
    if store:  # whoever names one learns now, not at the first practice, that it cannot be used
        PracticeStore(store).close()
    first, *further = open_chairs(options, vocabularies(packs or (), options.engine))
    app = create_app(
        lambda: first,
        settings,
        more_routes=(
            *edit.routes(lead_code),
            *practice.routes(PracticeOptions(store, lead_code)),
            *consent.routes(lead_code),
            *voice.routes(lead_code),
        ),
        more_links=(*practice.links(), edit.LINK, consent.LINK, voice.LINK),
        further=further,
    )
    scheme = "http" if certificate is None else "https"
    where = "this machine only" if not open_ else "every machine that knows the pass code"
    print(f"traycall: {scheme}://localhost:{port} - for {where}; Ctrl-C ends it.", file=sys.stderr)
    allow_files()
    seldom_logged()
    uvicorn.run(
        app,
        host=host,
        port=port,
        log_level="warning",
        access_log=False,
        server_header=False,
        http=http,  # type: ignore[arg-type]
        ws="websockets-sansio",
        ws_max_size=LARGEST_MESSAGE,
        timeout_graceful_shutdown=2,
    )


def _see_that_port_is_free(host: str, port: int) -> None:
    with socket.socket() as tried:
        if os.name != "nt":  # on Windows it would let two servers share a port
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind((host, port))
        except OSError as error:
            raise Declined(
                f"port {port} cannot be opened ({error.strerror}): if a traycall screen is already running "
                "there, use that one; otherwise choose another port with --port."
            ) from error


def _pass_code(is_open: bool) -> str | None:
    """The pass code, from the environment because everyone on a machine can read arguments."""
    code = os.environ.get(PASS_CODE)
    if not is_open:
        return None
    if not code:
        raise Declined(f"--open needs a pass code: put one of at least 6 characters in {PASS_CODE}.")
    return code


def _engine_name(name: str) -> EngineName:
    try:
        return EngineName(name)
    except ValueError:
        known = ", ".join(EngineName)
        raise Declined(f"there is no engine {name!r}; there are: {known}.") from None
