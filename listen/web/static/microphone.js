// Opens and closes the browser's microphone and hands its sound on.

const FLOOR_DB = -60;

/** Why there is no sound, in words that say what to do. */
export class NoSound extends Error {}

export class Microphone {
  #stream = null;
  #context = null;

  /** `onsound(ArrayBuffer)`, `onlevel(0..1)` and `onlost()`. */
  constructor({ onsound, onlevel, onlost }) {
    Object.assign(this, { onsound, onlevel, onlost });
  }

  get isOpen() {
    return this.#stream !== null;
  }

  async open(echoCancellation) {
    if (this.isOpen) return;
    if (!navigator.mediaDevices?.getUserMedia) {
      throw new NoSound(
        "This browser gives a page its microphone only on this machine itself or over https. " +
          "Open the page at localhost, or start the server with --certificate and --key.",
      );
    }
    const audio = { channelCount: 1, echoCancellation, noiseSuppression: false, autoGainControl: false };
    try {
      this.#stream = await navigator.mediaDevices.getUserMedia({ audio });
      this.#context = new AudioContext({ latencyHint: "interactive" });
      await this.#context.audioWorklet.addModule("/static/worklet.js");
      const source = this.#context.createMediaStreamSource(this.#stream);
      const capture = new AudioWorkletNode(this.#context, "capture", { numberOfOutputs: 0 });
      capture.port.onmessage = ({ data }) => {
        this.onsound(data.pcm);
        this.onlevel(Math.max(0, 1 - (20 * Math.log10(data.loudest + 1e-6)) / FLOOR_DB));
      };
      source.connect(capture);
      await this.#context.resume();
      this.#stream.getAudioTracks()[0].addEventListener("ended", () => {
        this.close();
        this.onlost();
      });
    } catch (error) {
      this.close();
      throw new NoSound(why(error));
    }
  }

  close() {
    this.#stream?.getTracks().forEach((track) => track.stop());
    this.#context?.close();
    this.#stream = this.#context = null;
    this.onlevel(0);
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
