// A soft tone for a timer whose time is up, made here: no file, and nothing that sounds like speech.

const NOTES_HZ = [880, 1175];
const NOTE_S = 0.45; // from the beginning of a note until it has died away
const APART_S = 0.22;
const LOUD = 0.18; // of full scale
const QUIET = 0.0001;
const SOFT_S = 0.02; // how long a note swells, so that it does not click
const REPEATS = 2;
const EVERY_MS = 4000;
const LATER_MS = 400; // how long to wait when somebody is speaking

/** Put the tone into a sound context (also one that only computes), from `at_s` on; how long it is, in seconds. */
export function sound(context, at_s) {
  NOTES_HZ.forEach((hz, i) => {
    const begin = at_s + i * APART_S;
    const note = new OscillatorNode(context, { type: "sine", frequency: hz });
    const volume = new GainNode(context, { gain: 0 });
    volume.gain.setValueAtTime(QUIET, begin);
    volume.gain.exponentialRampToValueAtTime(LOUD, begin + SOFT_S);
    volume.gain.exponentialRampToValueAtTime(QUIET, begin + NOTE_S);
    note.connect(volume).connect(context.destination);
    note.start(begin);
    note.stop(begin + NOTE_S);
  });
  return (NOTES_HZ.length - 1) * APART_S + NOTE_S;
}

export class Tone {
  #context = null;
  #left = 0; // how often it still sounds
  #timer = 0;
  on = true;
  somebodySpeaks = false;

  constructor() {
    // A browser gives a page its loudspeaker once somebody has touched it or pressed a key.
    for (const kind of ["pointerdown", "keydown"]) addEventListener(kind, () => this.#ready(), { capture: true });
  }

  /** Sound now and twice more; as soon as nobody speaks. */
  ring() {
    if (!this.on) return;
    this.#left = 1 + REPEATS;
    clearTimeout(this.#timer);
    this.#next();
  }

  stop() {
    this.#left = 0;
    clearTimeout(this.#timer);
  }

  #ready() {
    this.#context ??= new AudioContext();
    if (this.#context.state === "suspended") this.#context.resume();
  }

  #next() {
    if (this.#left === 0 || !this.on) return;
    if (!this.somebodySpeaks) {
      this.#left -= 1;
      if (this.#context?.state === "running") sound(this.#context, this.#context.currentTime);
    }
    this.#timer = setTimeout(() => this.#next(), this.somebodySpeaks ? LATER_MS : EVERY_MS);
  }
}
