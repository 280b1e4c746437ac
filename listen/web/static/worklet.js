// Runs in the audio thread: microphone blocks in, 16-bit PCM of 32 ms at 16 kHz out.

import { Resampler } from "./resample.js";

const BLOCK = 512;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.resampler = new Resampler(sampleRate);
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
    this.loudest = 0;
  }

  process([channels]) {
    if (!channels?.length) return true;
    const mono = channels.length === 1 ? channels[0] : channels[0].map((_, i) =>
      channels.reduce((sum, channel) => sum + channel[i], 0) / channels.length);
    for (const value of this.resampler.push(mono)) {
      this.loudest = Math.max(this.loudest, Math.abs(value));
      this.block[this.filled++] = Math.round(Math.max(-1, Math.min(1, value)) * 32767);
      if (this.filled === BLOCK) this.#send();
    }
    return true;
  }

  #send() {
    const pcm = this.block.buffer;
    this.port.postMessage({ pcm, loudest: this.loudest }, [pcm]);
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
    this.loudest = 0;
  }
}

registerProcessor("capture", Capture);
