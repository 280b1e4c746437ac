// A rehearsal: plays each line, waits for what is done about it, tells what came of it, and goes on.
//
// A line is fetched as sound by its number alone. What it says is told by the server once it is done.

import { flag, h, picture } from "./dom.js";
import { Link } from "./link.js";
import { Microphone, NoSound } from "./microphone.js";
import { ask as askServer, token } from "./server.js";
import { Tray } from "./tray.js";

const PATH = `/practice/rehearsal/${document.body.dataset.seat}`;
const EARS = { deaf: "", loading: "Hearing is starting", listening: "Listening", speaking: "Hearing you", thinking: "One moment" };
const UNDERSTOOD_MS = 500; // nobody has understood a line before: what is touched then was meant for the last one
const TYPING_MS = 8000; // who has begun to type is waited for
const by = (id) => document.getElementById(id);
const audio = new Audio();
const tray = new Tray(by("tray"), (slot) => act("touch", slot.dataset.at));

let line = null; // the open line
let begunAt = null; // when it first began to sound, ms
let endedAt = null; // when it ended
let typedAt = null; // when an answer to it began to be typed
let busy = false; // something is being sent
let timer = 0;
let link = null;

// --- lines -----------------------------------------------------------------------------------------------

async function load() {
  clearTimeout(timer);
  const now = await ask(`${PATH}/now`);
  if (!now) return;
  if (now.type === "count") return count(now);
  if (now.type === "over") return over(now.record);
  if (now.type !== "line") return;
  line = now;
  begunAt = null;
  by("progress").textContent = `· ${line.number} of ${line.of}`;
  mark([]);
  tray.close(); // every place can be reached again
  state("speaking");
  await speak();
}

async function speak() {
  const { number } = line;
  endedAt = typedAt = null;
  clearTimeout(timer);
  link?.send({ do: "deaf" });
  let sound = null;
  try {
    const reply = await fetch(`${PATH}/say?n=${number}`);
    if (reply.status === 200) sound = await reply.blob();
    else if (reply.status === 204) return await unheard(number);
    else return await load();
  } catch {
    tell("The server cannot be reached; this goes on by itself.");
    timer = setTimeout(load, 1500);
    return;
  }
  if (line?.number !== number || busy) return;
  try {
    await play(sound);
  } catch {
    return stalled();
  }
  if (line?.number === number && !busy && endedAt === null) waiting();
}

/** Nobody can answer what was not spoken. */
async function unheard(number) {
  if (line?.number === number) await send({ number, kind: "unheard" });
}

/** The browser plays nothing before it was touched. */
function stalled() {
  state("waiting");
  line = null;
  by("go").hidden = false;
  by("go").focus();
}

function play(sound) {
  const url = URL.createObjectURL(sound);
  return new Promise((done, failed) => {
    audio.onplaying = () => (begunAt ??= performance.now());
    audio.onended = audio.onpause = done;
    audio.onerror = failed;
    audio.src = url;
    audio.play().catch(failed);
  }).finally(() => URL.revokeObjectURL(url));
}

/** The line has ended: its time runs. */
function waiting() {
  const { number, wait_s } = line;
  endedAt = performance.now();
  state("listening");
  listen();
  timer = setTimeout(() => send({ number, kind: "silence" }), wait_s * 1000);
}

async function again() {
  if (!line || busy) return;
  const { number } = line;
  audio.pause();
  clearTimeout(timer);
  await ask(`${PATH}/again`, { number });
  if (line?.number === number && !busy) await speak();
}

// --- what is done ----------------------------------------------------------------------------------------

function act(kind, value) {
  const now = performance.now();
  if (!line || busy || !value.trim() || begunAt === null || now - begunAt < UNDERSTOOD_MS) return;
  const at = kind === "text" ? (typedAt ?? now) : now;
  const response_s = endedAt === null ? 0 : Math.max(0, (at - endedAt) / 1000);
  send({ number: line.number, kind, value, response_s });
}

async function send(given) {
  if (busy) return;
  busy = true;
  clearTimeout(timer);
  audio.pause();
  link?.send({ do: "deaf" });
  const reply = await ask(`${PATH}/done`, { token: token(), ...given });
  busy = false;
  if (reply) take(reply);
}

function take(reply) {
  if (reply.type === "problem") return tell(reply.text);
  if (reply.stale || reply.number !== line?.number) return load();
  by("text").value = "";
  if (reply.open) return stillOpen(reply);
  line = null;
  if (reply.came) show(reply);
  state("between");
  timer = setTimeout(load, reply.pause_s * 1000);
}

/** It was not understood, or is wanted once more: the same line waits on. */
function stillOpen(reply) {
  if (reply.repeat) return speak();
  say("again", document.body.dataset.unclear);
  const { number, wait_s } = line;
  typedAt = null;
  state("listening");
  listen();
  timer = setTimeout(() => send({ number, kind: "silence" }), wait_s * 1000);
}

function show(reply) {
  say(reply.came, reply.told);
  mark(reply.right, reply.chosen);
}

function say(came, text) {
  by("told").dataset.came = came;
  by("told").textContent = `${text[0]?.toUpperCase() ?? ""}${text.slice(1)}`;
}

/** Light the right places, and mark the one that was chosen; what was marked before no longer is. */
function mark(right, chosen) {
  for (const slot of tray.slots) {
    const is = right.includes(slot.dataset.at);
    flag(slot, "lit", is ? "" : null);
    flag(slot, "mark", !is && slot.dataset.at === chosen ? "chosen" : null);
  }
  if (chosen === null || !right.includes(chosen)) tray.reveal(tray.slots.filter((slot) => "lit" in slot.dataset));
}

function state(now) {
  document.body.dataset.state = now;
  const running = now !== "waiting";
  for (const id of ["again", "fetch", "say"]) by(id).hidden = !running;
  by("again").disabled = line === null;
}

// --- the count -------------------------------------------------------------------------------------------

function count(now) {
  shut();
  line = null;
  if (!now.items.length) return counted({});
  document.body.dataset.state = "count";
  for (const id of ["stage", "tray", "stop", "mic"]) by(id).hidden = true;
  by("counted").replaceChildren(...now.items.map((item) => one(item, now.places)));
  by("ending").hidden = false;
  by("count-name").focus();
}

function one(item, places) {
  return h(
    "fieldset",
    {},
    h("legend", {}, item.name),
    h(
      "div",
      { class: "counting" },
      picture(item.picture),
      h(
        "div",
        { class: "spots" },
        ...places.map((place) => h("label", {}, h("input", { type: "radio", name: item.id, value: place, required: true }), h("span", {}, place))),
      ),
    ),
  );
}

async function counted(answers) {
  const reply = await ask(`${PATH}/count`, { answers });
  if (reply?.type === "problem") return tell(reply.text);
  if (reply) over(reply.record);
}

function over(record) {
  location.replace(`/practice/rehearsal/record/${record}`);
}

// --- the server and the microphone -----------------------------------------------------------------------

async function ask(path, given) {
  const said = await askServer(path, given, (text, gone) => tell(text, gone ? "/practice/rehearsal" : undefined));
  if (said?.type === "problem") {
    tell(said.text);
    return null;
  }
  if (said) by("problem").hidden = true;
  return said;
}

function tell(text, href) {
  by("problem").replaceChildren(text, ...(href ? [" ", h("a", { href }, "To rehearsals")] : []));
  by("problem").hidden = false;
}

const microphone = new Microphone({
  onsound: (pcm) => link?.sound(pcm),
  onlevel: () => {},
  onlost: () => shut("The microphone was unplugged."),
});

function listen() {
  if (microphone.isOpen && !busy && line && endedAt !== null) link?.send({ do: "listen", number: line.number });
}

function connect() {
  link ??= new Link(`${PATH}/live`, {
    message: (message) => {
      if (message.type === "ear") {
        by("ear").textContent = EARS[message.state] ?? "";
        if (message.state === "speaking" || message.state === "thinking") clearTimeout(timer); // an answer has begun
        else if (message.state === "listening" && document.body.dataset.state === "listening") onward();
      } else if (message.type === "problem") {
        tell(message.text);
        listen();
        onward();
      } else if (!busy) {
        audio.pause();
        take(message);
      }
    },
    up: listen,
    down: () => (by("ear").textContent = ""),
  });
}

/** The line's time runs on after a sound that was no answer. */
function onward() {
  if (!line || endedAt === null) return;
  const { number, wait_s } = line;
  clearTimeout(timer);
  timer = setTimeout(() => send({ number, kind: "silence" }), Math.max(500, wait_s * 1000 - (performance.now() - endedAt)));
}

async function toggle() {
  if (microphone.isOpen) return shut();
  try {
    await microphone.open(true);
  } catch (error) {
    if (!(error instanceof NoSound)) throw error;
    return tell(error.message);
  }
  document.body.dataset.mic = "open";
  by("mic").setAttribute("aria-pressed", "true");
  connect();
  listen();
}

function shut(why) {
  microphone.close();
  link?.send({ do: "deaf" });
  document.body.dataset.mic = "closed";
  by("mic").setAttribute("aria-pressed", "false");
  by("ear").textContent = "";
  if (why) tell(why);
}

by("go").addEventListener("click", () => {
  by("go").hidden = true;
  say("", document.body.dataset.listen);
  tray.focus(tray.slots[0]);
  load();
});
by("again").addEventListener("click", again);
by("fetch").addEventListener("click", () => act("touch", "fetch"));
by("mic").addEventListener("click", toggle);
by("say").addEventListener("submit", (event) => {
  event.preventDefault();
  act("text", by("text").value);
});
by("text").addEventListener("input", () => {
  if (!line || busy) return;
  typedAt ??= performance.now();
  if (endedAt === null) return;
  const { number } = line;
  clearTimeout(timer);
  timer = setTimeout(() => send({ number, kind: "silence" }), TYPING_MS);
});
by("stop").addEventListener("click", async () => {
  clearTimeout(timer);
  audio.pause();
  const now = await ask(`${PATH}/stop`, {});
  if (now?.type === "over") return over(now.record);
  if (now?.type === "count") count(now);
});
by("count").addEventListener("submit", (event) => {
  event.preventDefault();
  counted(Object.fromEntries(new FormData(by("count"))));
});
by("go").disabled = false;
by("go").focus();
