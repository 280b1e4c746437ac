// What the drills and the rehearsal have in common: asking the server, playing what is said, and answers by voice.

import { h } from "./dom.js";
import { Link } from "./link.js";
import { Microphone, NoSound } from "./microphone.js";
import { ask } from "./server.js";

const EARS = { deaf: "", loading: "Hearing is starting", listening: "Listening", speaking: "Hearing you", thinking: "One moment" };

const by = (id) => document.getElementById(id);

/** Asks the server for this page, and tells in #problem what is in the way; `home` (its address and what a
 * link to it says) is offered where nothing goes on here. */
export class Desk {
  constructor(home) {
    this.home = home;
  }

  /** The server's answer; null where there is none, which was told. */
  async ask(path, given, leaving = false) {
    const said = await ask(path, given, (text, gone) => this.tell(text, gone));
    if (said?.type === "problem") {
      this.tell(said.text, leaving);
      return null;
    }
    if (said) by("problem").hidden = true;
    return said;
  }

  tell(text, leaving = false) {
    by("problem").replaceChildren(text, ...(leaving ? [" ", h("a", { href: this.home.href }, this.home.text)] : []));
    by("problem").hidden = false;
  }
}

/** Plays a sound (a Blob); done when it has ended or was paused. Fails where the browser does not play. */
export function play(audio, sound) {
  const url = URL.createObjectURL(sound);
  return new Promise((done, failed) => {
    audio.onended = audio.onpause = done;
    audio.onerror = failed;
    audio.src = url;
    audio.play().catch((error) => {
      audio.removeAttribute("src"); // nothing more of it is wanted
      audio.load();
      failed(error);
    });
  }).finally(() => URL.revokeObjectURL(url));
}

/** Answers by voice: the button #mic, the line #ear that says what is heard, and the connection. */
export class SpokenAnswers {
  #link = null;
  #microphone = new Microphone({
    onsound: (pcm) => this.#link?.sound(pcm),
    onlevel: () => {},
    onlost: () => this.shut("The microphone was unplugged."),
  });

  /** `on.asked()` gives the number of what may be answered now, or null; `on.answer(reply)` takes what came of
   * a spoken answer, `on.state(state)` what the server does with the sound, `on.problem(text)` what is in the
   * way, `on.opened(open)` that the microphone is open or closed, `on.gone()` that the session is over. */
  constructor(path, on) {
    this.path = path;
    this.on = on;
    by("mic").addEventListener("click", () => this.#toggle());
  }

  get isOpen() {
    return this.#microphone.isOpen;
  }

  /** Hear an answer from now on, if one may be given. */
  listen() {
    const number = this.on.asked();
    if (this.isOpen && number !== null) this.#link?.send({ do: "listen", number });
  }

  /** Hear nothing from now on. */
  deaf() {
    this.#link?.send({ do: "deaf" });
  }

  shut(why) {
    this.#microphone.close();
    this.deaf();
    this.#show(false);
    if (why) this.on.problem(why);
  }

  async #toggle() {
    if (this.isOpen) return this.shut();
    try {
      await this.#microphone.open(true);
    } catch (error) {
      if (!(error instanceof NoSound)) throw error;
      return this.on.problem(error.message);
    }
    this.#show(true);
    this.#connect();
    this.listen();
  }

  #show(open) {
    by("mic").setAttribute("aria-pressed", String(open));
    if (!open) by("ear").textContent = "";
    this.on.opened(open);
  }

  #connect() {
    this.#link ??= new Link(this.path, {
      message: (message) => this.#heard(message),
      up: () => this.listen(),
      down: (why) => {
        by("ear").textContent = "";
        if (why === "gone") this.on.gone();
      },
    });
  }

  #heard(message) {
    if (message.type === "ear") {
      by("ear").dataset.state = message.state;
      by("ear").textContent = EARS[message.state] ?? "";
      this.on.state(message.state);
    } else if (message.type === "problem") {
      this.on.problem(message.text);
      this.listen();
      this.on.state("listening");
    } else this.on.answer(message);
  }
}
