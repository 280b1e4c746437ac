// Opens and closes the browser's microphone and hands its sound on.

import { kept } from "./dom.js";

const FLOOR_DB = -60;
export const DEVICE = "microphone-device"; // under which name the chosen one is kept in this browser

/** Why there is no sound, in words that say what to do. */
export class NoSound extends Error {}

export class Microphone {
  #stream = null;
  #context = null;
  #nodes = [];
  #turn = 0; // rises with every opening and closing: what an older one still waits for is not wanted

  /** `onsound(ArrayBuffer)`, `onlevel(0..1)` and `onlost()`. */
  constructor({ onsound, onlevel, onlost }) {
    Object.assign(this, { onsound, onlevel, onlost });
  }

  get isOpen() {
    return this.#stream !== null;
  }

  /** `ready()` is called once the microphone is given, before its first sound. */
  async open(echoCancellation, ready = () => {}) {
    if (this.isOpen) return;
    const turn = ++this.#turn;
    if (!navigator.mediaDevices?.getUserMedia) {
      throw new NoSound(
        "This browser gives a page its microphone only on this machine itself or over https. " +
          "Open the page at localhost, or start the server with --certificate and --key.",
      );
    }
    const audio = { channelCount: 1, echoCancellation, noiseSuppression: false, autoGainControl: false };
    const device = kept(DEVICE, "");
    if (device) audio.deviceId = { ideal: device }; // if it is gone, the browser's usual one
    try {
      const [stream, context] = await Promise.all([navigator.mediaDevices.getUserMedia({ audio }), this.#ready()]);
      if (turn !== this.#turn) return stream.getTracks().forEach((track) => track.stop());
      this.#stream = stream;
      ready();
      const source = context.createMediaStreamSource(stream);
      const capture = new AudioWorkletNode(context, "capture", { numberOfOutputs: 0 });
      this.#nodes = [source, capture];
      capture.port.onmessage = ({ data }) => {
        if (stream !== this.#stream) return;
        this.onsound(data.pcm);
        this.onlevel(Math.max(0, 1 - (20 * Math.log10(data.loudest + 1e-6)) / FLOOR_DB));
      };
      source.connect(capture);
      stream.getAudioTracks()[0].addEventListener("ended", () => {
        this.close();
        this.onlost();
      });
      await context.resume();
    } catch (error) {
      if (turn !== this.#turn) return;
      this.close();
      throw new NoSound(why(error));
    }
  }

  close() {
    this.#turn++;
    this.#stream?.getTracks().forEach((track) => track.stop());
    this.#nodes.forEach((node) => node.disconnect());
    this.#context?.suspend();
    this.#stream = null;
    this.#nodes = [];
    this.onlevel(0);
  }

  /** The sound thread, made once; it sleeps while the microphone is closed. */
  async #ready() {
    if (!this.#context) {
      const context = new AudioContext({ latencyHint: "interactive" });
      await context.audioWorklet.addModule("/static/worklet.js");
      this.#context ??= context;
    }
    return this.#context;
  }
}

function why(error) {
  if (error.name === "NotAllowedError") {
    return "The microphone is not allowed. Allow it in the browser's address bar, then try again. Typing works meanwhile.";
  }
  if (error.name === "NotFoundError") {
    return "No microphone was found. Plug one in, then try again. Typing works meanwhile.";
  }
  return "The microphone does not open. Close other programs that use it, then try again. Typing works meanwhile.";
}
