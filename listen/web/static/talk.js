// Opens and closes the microphone that the person chose: this browser's, or the server's own.

import { Microphone } from "./microphone.js";

const LATE_MS = 600; // the server ends what was being said long before this

export class Talk {
  #opened = ""; // "browser" or "own": what was opened here and not closed since
  #finishing = false;
  #late = 0;

  /** `link` to the server; `options()` gives { own, echo, waiting, held }; `onlevel(0..1)` and `onproblem(text)`. */
  constructor(link, { options, onlevel, onproblem }) {
    Object.assign(this, { link, options, onlevel, onproblem });
    this.microphone = new Microphone({
      onsound: (pcm) => link.sound(pcm),
      onlevel,
      onlost: () => this.close("The microphone was unplugged or taken away."),
    });
  }

  get isOpen() {
    return this.#opened !== "" && !this.#finishing;
  }

  async open() {
    if (this.isOpen) return;
    this.#done();
    this.onproblem("");
    const { own, echo } = this.options();
    this.#opened = own ? "own" : "browser";
    if (own || this.microphone.isOpen) return this.#tell();
    try {
      await this.microphone.open(echo, () => this.#tell());
    } catch (error) {
      this.#opened = "";
      this.onproblem(error.message);
    }
  }

  /** With other options. */
  openAgain() {
    this.close("");
    this.open();
  }

  /** What is being said is thrown away; `why` is for the person. */
  close(why) {
    this.#forget();
    this.link.send({ do: "microphone", open: false });
    this.onproblem(why);
  }

  /** What is being said ends here and is heard. */
  finish() {
    if (!this.isOpen) return;
    if (this.#opened === "browser" && !this.microphone.isOpen) return this.close("");
    this.#finishing = true;
    this.link.send({ do: "microphone", open: false, finish: true });
    this.#late = setTimeout(() => this.#forget(), LATE_MS);
  }

  /** The server says how it stands: "open", "waiting", "closed" or "elsewhere". */
  saw(state) {
    if (this.#finishing ? state === "closed" || state === "elsewhere" : this.#opened && state === "elsewhere") this.#forget();
  }

  /** The server closed it. */
  lost(why) {
    this.#forget();
    this.onproblem(why);
  }

  /** The server is there again and knows of nothing. */
  again() {
    if (this.#finishing) this.#forget();
    else if (this.#opened === "own" || this.microphone.isOpen) this.#tell();
  }

  #tell() {
    const { own, waiting, held } = this.options();
    this.link.send({ do: "microphone", open: true, own, waiting, held });
  }

  #done() {
    clearTimeout(this.#late);
    this.#finishing = false;
  }

  #forget() {
    this.#done();
    this.#opened = "";
    this.microphone.close();
  }
}
