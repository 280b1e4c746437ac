// Brings sound of any rate to 16 kHz: windowed-sinc interpolation with a low-pass below 8 kHz, in blocks.

export const OUT_HZ = 16000;
const ZEROS = 16; // zero crossings of the kernel on each side
const STEPS = 256; // table entries between two zero crossings
const PASS = 0.92; // share of the band that is kept

/** Kernel values from its middle to its end, Blackman window. */
function table() {
  const length = ZEROS * STEPS;
  return Float32Array.from({ length: length + 2 }, (_, i) => {
    if (i >= length) return 0;
    const x = i / STEPS;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    const w = (i / length) * Math.PI;
    return sinc * (0.42 + 0.5 * Math.cos(w) + 0.08 * Math.cos(2 * w));
  });
}

/** A stream of blocks; the output lags by the kernel's half width. */
export class Resampler {
  constructor(inHz) {
    this.step = inHz / OUT_HZ;
    this.scale = Math.min(1, OUT_HZ / inHz) * PASS; // cut-off as a share of the input's band
    this.half = Math.ceil(ZEROS / this.scale);
    this.kernel = table();
    this.held = new Float32Array(this.half); // silence before the stream
    this.at = this.half; // place of the next output sample in `held`
  }

  /** The next block (Float32Array); gives what of 16 kHz can be told by now. */
  push(block) {
    const input = new Float32Array(this.held.length + block.length);
    input.set(this.held);
    input.set(block, this.held.length);
    const out = [];
    while (this.at + this.half < input.length) {
      out.push(this.#value(input, this.at));
      this.at += this.step;
    }
    const drop = Math.max(0, Math.floor(this.at) - this.half);
    this.held = input.slice(drop);
    this.at -= drop;
    return Float32Array.from(out);
  }

  #value(input, at) {
    let sum = 0;
    const first = Math.max(0, Math.ceil(at - this.half));
    const last = Math.min(input.length - 1, Math.floor(at + this.half));
    for (let i = first; i <= last; i++) {
      const place = Math.abs(i - at) * this.scale * STEPS;
      const k = Math.floor(place);
      if (k >= ZEROS * STEPS) continue;
      sum += input[i] * (this.kernel[k] + (place - k) * (this.kernel[k + 1] - this.kernel[k]));
    }
    return sum * this.scale;
  }
}
