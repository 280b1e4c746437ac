"""Runs a command with only loopback and reports what it tried to look up or reach beyond it.

Takes a command and gives what strace saw it and all its children, native code included, ask of the kernel.
In a network namespace of its own nothing can get out, however hard it tries.
"""

from __future__ import annotations

import ipaddress
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TRAYCALL = Path(sys.executable).with_name("traycall")
LONGEST_S = 240
_ALONE = ["unshare", "--net", *([] if os.geteuid() == 0 else ["--map-root-user"])]
_WITH_LOOPBACK = [*_ALONE, "sh", "-c", 'ip link set lo up && exec "$@"', "sh"]
_CALLS = "connect,sendto,sendmsg,sendmmsg,open,openat,openat2,io_uring_setup"
_LOOK_UP_FILES = ("/etc/hosts", "/etc/resolv.conf")
"""Any name look-up through the C library reads these first."""
_LOOK_UP_PORTS = {53, 853, 5353}
_LOOK_UP_SOCKETS = ("/run/systemd/resolve/", "/run/avahi-daemon/")

_KEPT = ("PATH", "PYTHONPATH", "TMPDIR", "LANG", "LC_", "OPENBLAS_")

_CALL = re.compile(r"^\d+ +(?:<\.\.\. )?(\w+)[( ]")
_OPENED = re.compile(r'open\w*\((?:[\w./]+, )?"([^"]*)"')
_ADDRESS = re.compile(r"\{sa_family=(AF_\w+)([^}]*)\}")
_PORT = re.compile(r"htons\((\d+)\)")
_NUMBER = re.compile(r'inet_(?:addr|pton)\((?:AF_INET6, )?"([^"]+)"')


@dataclass(frozen=True)
class Run:
    """What a command printed, how it ended, and what it tried that is not offline."""

    code: int
    out: str
    err: str
    tried: tuple[str, ...]


def need_guard() -> None:
    """Skips the test where a tool the guard needs is missing or may not be used."""
    missing = [program for program in ("strace", "unshare", "ip") if shutil.which(program) is None]
    if missing:
        pytest.skip(f"{', '.join(missing)} not installed: apt install strace iproute2 util-linux")
    watched = ["strace", "-qq", "-o", os.devnull, "true"]
    tried = subprocess.run([*_WITH_LOOPBACK, *watched], capture_output=True, text=True)
    if tried.returncode:
        pytest.skip(f"no network namespace or no strace is allowed here: {tried.stderr.strip()}")


def watched(command: Sequence[str | Path], record: Path) -> list[str]:
    """The command that runs another one, writing what it asks of the kernel into `record`."""
    strace = ["strace", "-f", "-qq", "--seccomp-bpf", "-e", f"trace={_CALLS}", "-e", "signal=none"]
    return [*strace, "-o", str(record), *map(str, command)]


def alone(command: Sequence[str | Path]) -> list[str]:
    """The command that runs another one where there is no network but loopback."""
    return [*_WITH_LOOPBACK, *map(str, command)]


def run(
    command: Sequence[str | Path],
    home: Path,
    typed: str = "",
    cwd: Path = ROOT,
    longest_s: float = LONGEST_S,
    **variables: str,
) -> Run:
    """Run a command to its end, alone and watched.

    Args:
        home: the folder that it takes for the user's.
        typed: its standard input.
        cwd: the folder that it runs in.
        longest_s: after so long it is given up.
        variables: added to its environment.
    """
    record = home / "calls.txt"
    done = subprocess.run(
        alone(watched(command, record)),
        input=typed,
        capture_output=True,
        text=True,
        cwd=cwd,
        env=environment(home, **variables),
        timeout=longest_s,
    )
    tried = tuple(not_offline(record))
    record.unlink()
    return Run(done.returncode, done.stdout, done.stderr, tried)


def environment(home: Path, **variables: str) -> dict[str, str]:
    """As on any user's machine: what a program needs to run, and nothing by which a library might see that it
    is only being tested, and keep quiet (onnxruntime does where `CI` is set)."""
    kept = {name: value for name, value in os.environ.items() if name.startswith(_KEPT)}
    return {**kept, "HOME": str(home), **variables}


def not_offline(record: Path) -> Iterator[str]:
    """What a record holds of names looked up and of addresses beyond loopback."""
    for line in record.read_text(errors="replace").splitlines():
        call = _CALL.match(line)
        if call is None:
            continue
        opened = _OPENED.search(line)
        if opened is not None:
            if opened[1] in _LOOK_UP_FILES:
                yield f"looked a name up: {line}"
        elif call[1] == "io_uring_setup":
            yield f"may reach out unseen: {line}"
        elif any(not _stays_here(family, where) for family, where in _ADDRESS.findall(line)):
            yield f"reached out: {line}"


def _stays_here(family: str, where: str) -> bool:
    if family in ("AF_UNIX", "AF_LOCAL"):
        return not any(socket in where for socket in _LOOK_UP_SOCKETS)
    if family in ("AF_UNSPEC", "AF_NETLINK"):
        return True
    port, number = _PORT.search(where), _NUMBER.search(where)
    if family not in ("AF_INET", "AF_INET6") or port is None or number is None:
        return False
    return ipaddress.ip_address(number[1]).is_loopback and int(port[1]) not in _LOOK_UP_PORTS


def files_in(home: Path) -> set[str]:
    """Paths of all files that were made in a home folder."""
    return {str(path.relative_to(home)) for path in home.rglob("*") if path.is_file()}
