// The live connection to the server; it comes back by itself after the server or the network was away.

const FIRST_WAIT_MS = 250;
const LONGEST_WAIT_MS = 3000;
const GONE = 4404;
const TOO_MANY = 4429;

/** Calls `on.message(data)`, `on.up()` and `on.down(reason)`. */
export class Link {
  #socket = null;
  #wait = FIRST_WAIT_MS;
  #timer = 0;

  constructor(path, on) {
    this.url = `${location.protocol === "https:" ? "wss:" : "ws:"}//${location.host}${path}`;
    this.on = on;
    this.#open();
    addEventListener("online", () => this.#again(0));
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden && !this.up) this.#again(0);
    });
  }

  get up() {
    return this.#socket?.readyState === WebSocket.OPEN;
  }

  /** A wish; false where nobody is there to hear it. */
  send(wish) {
    if (!this.up) return false;
    this.#socket.send(JSON.stringify(wish));
    return true;
  }

  /** Sound, as an ArrayBuffer. What would only pile up is dropped. */
  sound(buffer) {
    if (this.up && this.#socket.bufferedAmount < 64_000) this.#socket.send(buffer);
  }

  #open() {
    const socket = new WebSocket(this.url);
    this.#socket = socket;
    socket.addEventListener("open", () => {
      this.#wait = FIRST_WAIT_MS;
      this.on.up();
    });
    socket.addEventListener("message", (event) => this.on.message(JSON.parse(event.data)));
    socket.addEventListener("close", (event) => {
      if (socket !== this.#socket) return;
      if (event.code === GONE || event.code === TOO_MANY) {
        this.on.down(event.code === GONE ? "gone" : "too many");
        return;
      }
      this.on.down("lost");
      this.#again(this.#wait);
      this.#wait = Math.min(LONGEST_WAIT_MS, this.#wait * 2);
    });
  }

  #again(delay) {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => {
      if (this.#socket && this.#socket.readyState <= WebSocket.OPEN) return;
      this.#open();
    }, delay);
  }
}
