// Tells the server something and gives what it says; what was done is sent again until it has arrived.

const TRIES = 8;

/** A name for something that is sent, by which it counts once. */
export function token() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** The server's answer as JSON; null where it gave none. `away(text, gone)` is told why, in words. */
export async function ask(path, given, away) {
  const wish = given === undefined ? {} : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(given) };
  for (let tried = 0; tried < TRIES; tried++) {
    try {
      const reply = await fetch(path, wish);
      if (reply.status === 404) {
        away("This session is no longer open; start a new one. What was answered is kept.", true);
        return null;
      }
      if (reply.status < 500) return await reply.json();
    } catch {
      // away; tried again below
    }
    away("The server cannot be reached. Your answer is kept here and sent again.", false);
    await new Promise((done) => setTimeout(done, Math.min(4000, 300 * 2 ** tried)));
  }
  away("The server does not answer. Load this page again once it is back.", false);
  return null;
}
