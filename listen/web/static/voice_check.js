// A voice check: the microphone, the room, the lines that are read, and what was understood.

import { h, keep, kept, picture } from "./dom.js";
import { Link } from "./link.js";
import { DEVICE, Microphone } from "./microphone.js";

const NEXT_MS = 900; // how long a line's result stands before the next one
const EAR = { speaking: "Listening…", thinking: "Working out what was meant…", quiet: "Listening: speak now." };

const find = (name) => document.querySelector(`[data-${name}]`);
const steps = [...document.querySelectorAll("[data-step]")];
const running = () => document.querySelector("[name=running]:checked").value;
let lines = [];
let at = 0;
let next = 0;
let begun = false;

const link = new Link("/voice-check/live", {
  message: (told) => hear[told.type](told),
  up: () => (document.body.dataset.ready = ""),
  down: () => {
    if (begun) problem("The connection was lost, and this round with it: begin again.");
    begun = false;
    go("microphone");
  },
});

const microphone = new Microphone({
  onsound: (pcm) => link.sound(pcm),
  onlevel: (level) => {
    find("level").value = level;
    if (microphone.isOpen) find("loud").textContent = loud(level);
  },
  onlost: () => {
    problem("The microphone was unplugged or taken away: open it again.");
    closed();
  },
});

const hear = {
  lines: (told) => {
    lines = told.lines;
    at = 0;
    begun = true;
    ready(true);
    find("go='read'").disabled = true;
    for (const room of document.querySelectorAll("[data-room]")) measured(room, "Not measured yet.", []);
    go("room");
  },
  room: (told) => {
    const room = document.querySelector(`[data-room="${told.running}"]`);
    measured(room, told.advice.length ? told.told : `${told.told} That is fine.`, told.advice);
    for (const one of document.querySelectorAll("[data-measure]")) one.disabled = false;
    if (told.running === "quiet") find("go='read'").disabled = told.dead;
  },
  ear: ({ state }) => (find("ear").textContent = EAR[state]),
  heard: (told) => {
    find("before").textContent = told.told;
    Object.assign(find("before").dataset, { outcome: told.outcome, number: told.number + 1 });
    find("ear").textContent = "";
    clearTimeout(next);
    next = setTimeout(() => read(told.number + 1), NEXT_MS);
  },
  result: show,
  kept: (told) => {
    find("kept").textContent = `Kept: ${told.number} recordings of ${told.who}. They can be deleted at any time.`;
    find("keep-now").disabled = true;
  },
  problem: (told) => {
    problem(told.text);
    if (document.body.dataset.at !== "read") ready(microphone.isOpen);
  },
};

find("open").addEventListener("click", open);
find("device").addEventListener("change", () => {
  keep(DEVICE, find("device").value);
  microphone.close();
  open();
});
for (const button of document.querySelectorAll("[data-go]")) {
  button.addEventListener("click", () => {
    problem("");
    if (button.dataset.go === "room") begin();
    else if (button.dataset.go === "read") read(0);
    else go(button.dataset.go);
  });
}
for (const button of document.querySelectorAll("[data-measure]")) {
  button.addEventListener("click", () => {
    problem("");
    for (const one of document.querySelectorAll("[data-measure]")) one.disabled = true;
    measured(button.closest("[data-room]"), "Listening for three seconds…", []);
    link.send({ do: "measure", running: button.dataset.measure });
  });
}
find("skip").addEventListener("click", () => read(at + 1));
find("finish").addEventListener("click", finish);
find("again-now").addEventListener("click", () => location.reload());
find("agreed").addEventListener("change", mayKeep);
find("who").addEventListener("input", mayKeep);
find("keep").addEventListener("submit", (event) => {
  event.preventDefault();
  problem("");
  link.send({ do: "keep", who: find("who").value.trim(), agreed: find("agreed").checked });
});
for (const one of document.querySelectorAll("[name=running]")) {
  one.addEventListener("change", () => ask());
}

async function open() {
  problem("");
  try {
    await microphone.open(true);
    find("open").textContent = "The microphone is open";
    find("open").disabled = true;
    ready(true);
    await listDevices();
  } catch (error) {
    problem(error.message);
    closed();
  }
}

function closed() {
  find("open").textContent = "Open the microphone";
  find("open").disabled = false;
  ready(false);
  find("go='room'").textContent = "Go on";
  find("loud").textContent = "The microphone is closed.";
}

/** Their names are told only once one of them was allowed. */
async function listDevices() {
  const devices = (await navigator.mediaDevices.enumerateDevices()).filter((one) => one.kind === "audioinput");
  const usual = h("option", { value: "" }, "The browser's usual one");
  const named = devices.filter((one) => one.deviceId && one.deviceId !== "default");
  find("device").replaceChildren(usual, ...named.map((one, i) => h("option", { value: one.deviceId }, one.label || `Microphone ${i + 1}`)));
  const wanted = kept(DEVICE, "");
  find("device").value = named.some((one) => one.deviceId === wanted) ? wanted : "";
  find("device").disabled = false;
}

function loud(level) {
  if (level >= 0.97) return "Too loud: it is cut off. Turn the input level down.";
  if (level < 0.25) return "Say something: the bar should move well up.";
  return "It hears you.";
}

function begin() {
  const chosen = [...document.querySelectorAll("[name=procedure]:checked")].map((one) => one.value.split("/"));
  if (!chosen.length) return problem("Choose at least one tray.");
  ready(false);
  link.send({ do: "begin", procedures: chosen });
}

/** Whether the round is ready to begin; the first time the engine may still be loading. */
function ready(yes) {
  find("go='room'").disabled = !yes;
  find("go='room'").textContent = yes ? "Go on" : "Getting ready…";
}

function measured(room, text, advice) {
  room.querySelector("[data-measured]").textContent = text;
  room.querySelector("[data-advice]").replaceChildren(...advice.map((one) => h("li", {}, one)));
}

function read(number) {
  clearTimeout(next);
  at = number;
  if (at >= lines.length) return finish();
  go("read");
  const line = lines[at];
  find("count").textContent = `${at + 1} of ${lines.length}`;
  find("how").textContent = line.how;
  find("line").textContent = line.text;
  find("shown").hidden = !line.drawn;
  find("shown").replaceChildren(...(line.drawn ? [picture(line.drawn), h("p", { class: "soft" }, line.look)] : []));
  ask();
}

/** Have the server listen to the line that is shown. */
function ask() {
  if (!begun || at >= lines.length) return;
  find("ear").textContent = EAR.quiet;
  link.send({ do: "read", number: at, running: running() });
}

function finish() {
  clearTimeout(next);
  microphone.close();
  link.send({ do: "finish" });
}

function show(told) {
  find("summary").textContent = `${told.summary}.`;
  find("again").textContent = told.again;
  find("parts").textContent = told.read ? told.parts : "";
  find("by-running").replaceChildren(...told.by_running.map((one) => h("li", {}, h("strong", {}, `${one.name}: ${one.told}. `), one.parts)));
  find("result-advice").replaceChildren(...told.advice.map((one) => h("li", {}, one)));
  find("hard-part").hidden = !told.hard.length;
  find("hard").replaceChildren(...told.hard.map(hard));
  go("result");
}

function hard(one) {
  const way = (path, more = {}) => `/edit/${path}?${new URLSearchParams({ vocabulary: one.field, ...more })}`;
  const said = one.said && one.said !== one.name ? ` (as “${one.said}”)` : "";
  const what = one.other_name ? `${one.outcome}: ${one.other_name}` : one.outcome;
  const links = [h("a", { class: "button", target: "_blank", href: way(`items/${encodeURIComponent(one.item)}/name`) }, `Another name for ${one.name}`)];
  if (one.other) links.push(h("a", { class: "button", target: "_blank", href: way("ask-back", { item: one.item, other: one.other }) }, "Always ask which of the two"));
  return h("li", {}, h("p", {}, h("strong", {}, one.name), `${said}, ${what}`), h("div", { class: "actions" }, ...links));
}

function mayKeep() {
  find("keep-now").disabled = !(find("agreed").checked && find("who").value.trim());
}

function go(name) {
  if (name === "microphone") link.send({ do: "stop" });
  const shown = steps.find((step) => !step.hidden);
  for (const step of steps) step.hidden = step.dataset.step !== name;
  document.body.dataset.at = name;
  if (shown?.dataset.step !== name) document.querySelector(`[data-step="${name}"] h2`).focus();
}

function problem(text) {
  find("problem").textContent = text;
  find("problem").hidden = !text;
  if (text) for (const one of document.querySelectorAll("[data-measure]")) one.disabled = false;
}
