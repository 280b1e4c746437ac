"""A browser's microphone that a test speaks into when it likes.

`navigator.mediaDevices.getUserMedia` gives the stream of an `AudioContext` into which samples are played; the
page's resampling, its blocks and its connection are the real ones.
"""

from __future__ import annotations

import base64
import io
from typing import Any

import numpy as np
import soundfile

from listen.engine import SAMPLE_RATE_HZ, Samples

_MICROPHONE = """() => {
  const heard = new AudioContext({ sampleRate: 48000 });
  const mouth = heard.createMediaStreamDestination();
  const decoded = async (wav) => {
    const bytes = Uint8Array.from(atob(wav), (c) => c.charCodeAt(0));
    return heard.decodeAudioData(bytes.buffer);
  };
  const play = async (wav, loop) => {
    const source = heard.createBufferSource();
    source.buffer = await decoded(wav);
    source.loop = loop;
    source.connect(mouth);
    source.start();
    if (!loop) await new Promise((done) => source.addEventListener("ended", done));
  };
  window.mouth = { say: (wav) => play(wav, false), around: (wav) => play(wav, true) };
  navigator.mediaDevices.getUserMedia = async () => {
    await heard.resume();
    return mouth.stream.clone();
  };
}"""


class Mouth:
    """Speaks into the microphone of one page; made before the page is loaded."""

    def __init__(self, page: Any) -> None:
        self._page = page
        page.add_init_script(f"({_MICROPHONE})()")

    def say(self, samples: Samples) -> None:
        """Say this, shape = (n,), 16 kHz, and wait until it was said."""
        self._page.evaluate("(wav) => window.mouth.say(wav)", _wav(samples))

    def around(self, samples: Samples) -> None:
        """From now on this is heard all the time, over and over."""
        self._page.evaluate("(wav) => { window.mouth.around(wav); }", _wav(samples))


def _wav(samples: Samples) -> str:
    file = io.BytesIO()
    soundfile.write(file, np.clip(samples, -1, 1), SAMPLE_RATE_HZ, format="WAV", subtype="FLOAT")
    return base64.b64encode(file.getvalue()).decode()
