"""The microphone of the machine that serves the screens; one screen at a time has it.

A screen asks for it and says where its sound goes; 16 kHz blocks are then handed on as they come. It is open
only while a screen has it, and keeps no sound. Who may open it is decided in `listen.web.access.guard`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future

from listen.audio import AudioError, Microphone, microphone_blocks
from listen.engine import Samples

_CLOSES_WITHIN_S = 2.0
_ELSEWHERE = "the server's microphone is open at another chair: close it there first."


class OwnMicrophone:
    """Opens and closes it; safe to call from several threads.

    Args:
        device: None for the system's default, else its number or part of its name.
    """

    def __init__(self, device: int | str | None = None) -> None:
        self._device = device
        self._lock = threading.Lock()
        self._reading: _Recorder | None = None

    def open(self, screen: str, take: Callable[[Samples], None], lost: Callable[[str], None]) -> str:
        """Open it for a screen and return the device's name; waits until it is open.

        Args:
            take: called with each block, shape = (n,), in a thread of the microphone's own.
            lost: called there once, with what to do, if it stops by itself.

        Raises:
            AudioError: another screen has it, or it will not open.
        """
        with self._lock:
            last = self._reading
            if last is not None and not last.ended and last.is_alive():
                raise AudioError(_ELSEWHERE)
            if last is not None:
                last.join(_CLOSES_WITHIN_S)
            self._reading = _Recorder(self._device, screen, take, lost)
            self._reading.start()
            return self._reading.opened.result()

    def close(self, screen: str | None = None) -> None:
        """Close it if this screen has it (None: any screen); it hears nothing from now on."""
        reading = self._reading
        if reading is not None and screen in (None, reading.screen):
            reading.end()


class _Recorder(threading.Thread):
    """One recording, from opening to closing."""

    def __init__(
        self,
        device: int | str | None,
        screen: str,
        take: Callable[[Samples], None],
        lost: Callable[[str], None],
    ) -> None:
        super().__init__(name="own microphone", daemon=True)
        self.screen, self.ended = screen, False
        self.opened: Future[str] = Future()
        self._device, self._take, self._lost = device, take, lost
        self._microphone: Microphone | None = None

    def end(self) -> None:
        self.ended = True
        if self._microphone is not None:
            self._microphone.stop()

    def run(self) -> None:
        try:
            with microphone_blocks(self._device) as self._microphone:
                self.opened.set_result(self._microphone.name)
                if self.ended:
                    return
                for block in self._microphone:
                    if self.ended:
                        return
                    self._take(block)
        except AudioError as error:
            if not self.opened.done():
                self.opened.set_exception(error)
            elif not self.ended:
                self._lost(str(error))
        except Exception as error:  # the thread waiting for it to open must be told
            if self.opened.done():
                raise
            self.opened.set_exception(AudioError(f"the microphone will not open ({error})."))
