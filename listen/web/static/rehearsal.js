// A rehearsal: plays each line, waits for what is done about it, tells what came of it, and goes on.
//
// A line is fetched as sound by its number alone. What it says is told by the server once it is done.

import { Desk, SpokenAnswers, play } from "./answering.js";
import { flag, h, picture } from "./dom.js";
import { token } from "./server.js";
import { Tray } from "./tray.js";

const PATH = `/practice/rehearsal/${document.body.dataset.seat}`;
const UNDERSTOOD_MS = 500; // nobody has understood a line before: what is touched then was meant for the last one
const TYPING_MS = 8000; // who has begun to type is waited for
const by = (id) => document.getElementById(id);
const audio = new Audio();
audio.onplaying = () => (begunAt ??= performance.now());
const desk = new Desk({ href: "/practice/rehearsal", text: "To rehearsals" });
const tray = new Tray(by("tray"), (slot) => act("touch", slot.dataset.at));

let line = null; // the open line
let begunAt = null; // when it first began to sound, ms
let endedAt = null; // when it ended
let typedAt = null; // when an answer to it began to be typed
let busy = false; // something is being sent
let timer = 0;

// --- lines -----------------------------------------------------------------------------------------------

async function load() {
  clearTimeout(timer);
  const now = await desk.ask(`${PATH}/now`);
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
  ear.deaf();
  let sound = null;
  try {
    const reply = await fetch(`${PATH}/say?n=${number}`);
    if (reply.status === 200) sound = await reply.blob();
    else if (reply.status === 204) return await unheard(number);
    else return await load();
  } catch {
    desk.tell("The server cannot be reached; this goes on by itself.");
    timer = setTimeout(load, 1500);
    return;
  }
  if (line?.number !== number || busy) return;
  try {
    await play(audio, sound);
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

/** The line has ended: its time runs. */
function waiting() {
  const { number, wait_s } = line;
  endedAt = performance.now();
  state("listening");
  ear.listen();
  timer = setTimeout(() => send({ number, kind: "silence" }), wait_s * 1000);
}

async function again() {
  if (!line || busy) return;
  const { number } = line;
  audio.pause();
  clearTimeout(timer);
  await desk.ask(`${PATH}/again`, { number });
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
  ear.deaf();
  const reply = await desk.ask(`${PATH}/done`, { token: token(), ...given });
  busy = false;
  if (reply) take(reply);
}

function take(reply) {
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
  ear.listen();
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
  ear.shut();
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
  const reply = await desk.ask(`${PATH}/count`, { answers });
  if (reply) over(reply.record);
}

function over(record) {
  location.replace(`/practice/rehearsal/record/${record}`);
}

// --- spoken answers --------------------------------------------------------------------------------------

const ear = new SpokenAnswers(`${PATH}/live`, {
  asked: () => (!busy && line && endedAt !== null ? line.number : null),
  answer: (reply) => {
    if (busy) return;
    audio.pause();
    take(reply);
  },
  state: (now) => {
    if (now === "speaking" || now === "thinking") clearTimeout(timer); // an answer has begun
    else if (now === "listening" && document.body.dataset.state === "listening") onward();
  },
  problem: (text) => desk.tell(text),
  opened: (open) => (document.body.dataset.mic = open ? "open" : "closed"),
  gone: () => {},
});

/** The line's time runs on after a sound that was no answer. */
function onward() {
  if (!line || endedAt === null) return;
  const { number, wait_s } = line;
  clearTimeout(timer);
  timer = setTimeout(() => send({ number, kind: "silence" }), Math.max(500, wait_s * 1000 - (performance.now() - endedAt)));
}

by("go").addEventListener("click", () => {
  by("go").hidden = true;
  say("", document.body.dataset.listen);
  tray.focus(tray.slots[0]);
  load();
});
by("again").addEventListener("click", again);
by("fetch").addEventListener("click", () => act("touch", "fetch"));
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
  const now = await desk.ask(`${PATH}/stop`, {});
  if (now?.type === "over") return over(now.record);
  if (now?.type === "count") count(now);
});
by("count").addEventListener("submit", (event) => {
  event.preventDefault();
  counted(Object.fromEntries(new FormData(by("count"))));
});
by("go").disabled = false;
by("go").focus();
