"""Runs speech programs as they are packaged, and says what went wrong with one."""

from __future__ import annotations

import subprocess

from vocab.errors import TraycallError

RUN_LIMIT_S = 60.0


class VoiceMissing(TraycallError):
    """A speech program, its voice or the voice changer is not installed; the text says how to get it."""


class VoiceFailed(TraycallError):
    """A speech program ran but gave no sound."""


def run(command: list[str], stdin: str) -> bytes:
    """What a speech program writes to its standard output.

    Raises:
        VoiceFailed: it failed, or took longer than `RUN_LIMIT_S`.
    """
    try:
        done = subprocess.run(
            command, input=stdin.encode(), capture_output=True, timeout=RUN_LIMIT_S, check=True
        )
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace").strip()
        raise VoiceFailed(f"{command[0]} failed: {said or 'no message'}") from error
    except subprocess.TimeoutExpired as error:
        raise VoiceFailed(f"{command[0]} took longer than {RUN_LIMIT_S:.0f} s") from error
    return done.stdout
