// The story before "what comes next": its requests are played one after the other, or stand there to be read.

import { play } from "./answering.js";
import { flag, h } from "./dom.js";

const WORD_MS = 252; // of silent reading, 238 words a minute (M. Brysbaert, Journal of Memory and Language 109, 2019)

/** How long reading these lines takes, in milliseconds. */
export function readingTime(lines) {
  return WORD_MS * lines.join(" ").split(/\s+/).length;
}

export class Story {
  #audio = new Audio();
  #turn = 0; // rises with every playing and stopping: what an older one still waits for is not wanted

  /** `list` is the element that shows the lines. */
  constructor(list) {
    this.list = list;
  }

  /** Play lines 0 to `count` - 1 from where `address(line)` has them. Gives "heard", "stopped", "blocked" (the
   * browser plays nothing before it is touched) or "unspoken" (there was no sound). */
  async play(count, address) {
    const turn = ++this.#turn;
    this.#audio.pause();
    this.#draw(Array(count).fill(""));
    let next = fetched(address(0));
    for (let line = 0; line < count; line++) {
      const sound = await next;
      if (turn !== this.#turn) return "stopped";
      if (sound === null) return "unspoken";
      next = line + 1 < count ? fetched(address(line + 1)) : null;
      [...this.list.children].forEach((one, at) => flag(one, "now", at === line ? "" : null));
      flag(this.list.children[line], "heard", "");
      try {
        await play(this.#audio, sound);
      } catch {
        return turn === this.#turn ? "blocked" : "stopped";
      }
      if (turn !== this.#turn) return "stopped";
    }
    for (const one of this.list.children) flag(one, "now", null);
    return "heard";
  }

  /** Show the lines to be read. */
  write(lines) {
    this.stop();
    this.#draw(lines);
  }

  stop() {
    this.#turn++;
    this.#audio.pause();
    for (const one of this.list.children) flag(one, "now", null);
  }

  #draw(lines) {
    const written = lines.some((line) => line !== "");
    this.list.dataset.way = written ? "written" : "heard";
    if (written) this.list.removeAttribute("aria-hidden");
    else this.list.setAttribute("aria-hidden", "true");
    this.list.replaceChildren(...lines.map((line) => h("li", {}, line && `“${line}”`)));
  }
}

async function fetched(address) {
  try {
    const reply = await fetch(address);
    return reply.status === 200 ? await reply.blob() : null;
  } catch {
    return null;
  }
}
