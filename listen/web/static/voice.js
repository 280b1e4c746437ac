// Speaks answers, if asked to: one at a time, never over a person.

export class Voice {
  #audio = new Audio();
  #wanted = 0;
  #url = "";

  constructor(path) {
    this.path = path;
    this.on = false;
    this.somebodySpeaks = false;
  }

  /** Say what stands on the stage with this number. */
  async say(number) {
    this.stop();
    if (!this.on || this.somebodySpeaks) return;
    this.#wanted = number;
    try {
      const reply = await fetch(`${this.path}?n=${number}`);
      if (reply.status !== 200) return;
      const sound = await reply.blob();
      if (this.#wanted !== number || this.somebodySpeaks || !this.on) return;
      this.#url = URL.createObjectURL(sound);
      this.#audio.src = this.#url;
      await this.#audio.play();
    } catch {
      // silence is all right
    }
  }

  /** Somebody began or stopped speaking. */
  hears(speaking) {
    this.somebodySpeaks = speaking;
    if (speaking) this.stop();
  }

  stop() {
    this.#wanted = 0;
    this.#audio.pause();
    if (this.#url) URL.revokeObjectURL(this.#url);
    this.#url = "";
  }
}
