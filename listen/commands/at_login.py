"""Starts the chair screen when somebody logs in: the unit that systemd reads on a Linux machine.

Takes the program; gives the text of the unit, and installs nothing.
"""

from __future__ import annotations

import platform
import sys
from pathlib import Path

from vocab.errors import Declined

UNIT = "traycall.service"
_TEXT = """\
[Unit]
Description=traycall: the chair screen of this machine

[Service]
ExecStart="{path}" screen
Restart=on-failure
RestartSec=5

[Install]
WantedBy=default.target
"""


def program() -> Path:
    """The `traycall` of this installation.

    Raises:
        Declined: it is not beside the Python that runs.
    """
    found = Path(sys.executable).with_name("traycall")
    if not found.is_file():
        raise Declined(f"there is no {found}: install traycall with pip, then ask again.")
    return found


def unit(traycall: Path, system: str | None = None) -> str:
    """The text of a unit for `systemctl --user`; it starts the screen again where it broke off.

    Args:
        system: as `platform.system` names it; None for this machine's.

    Raises:
        Declined: the system has no systemd.
    """
    system = system or platform.system()
    if system != "Linux":
        raise Declined(f"a unit is for Linux; the README says how a log-in starts traycall on {system}.")
    path = str(traycall).replace("\\", "\\\\").replace("%", "%%")  # as systemd.service(5) reads it
    return _TEXT.format(path=path)
