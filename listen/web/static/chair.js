// The chair screen: shows what the server says, sends sound, keys and touches.

import { h, keep, kept, picture } from "./dom.js";
import { Link } from "./link.js";
import { Microphone } from "./microphone.js";
import { draw, inWords, shownFor } from "./stage.js";
import { Tray } from "./tray.js";
import { Voice } from "./voice.js";

const $ = (id) => document.getElementById(id);
const body = document.body;
const base = `/chair/${body.dataset.session}`;

let view = JSON.parse($("first").textContent);
let received = performance.now();
let announced = view.number;
let wantOpen = false; // the person opened the microphone and has not closed it
let problem = "";
let ear = "quiet";

const link = new Link(`${base}/live`, { message: onMessage, up: onUp, down: onDown });
const microphone = new Microphone({
  onsound: (pcm) => link.sound(pcm),
  onlevel: (level) => $("mic").style.setProperty("--level", level.toFixed(2)),
  onlost: () => closeMicrophone("The microphone was unplugged or taken away."),
});
const voice = new Voice(`${base}/say`);
const tray = new Tray($("tray"), openSlot);

// --- from the server ---------------------------------------------------------------------------

function onMessage(data) {
  if (data.type === "room") {
    if (data.layout !== view.layout) return location.reload(); // the tray was laid out anew
    view = data;
    received = performance.now();
    if (view.microphone === "elsewhere" && microphone.isOpen) closeMicrophone("");
    show();
  } else if (data.type === "ear") {
    ear = data.state;
    voice.hears(ear === "speaking");
    showEar();
  } else if (data.type === "problem") {
    tell(data.text);
  }
}

function onUp() {
  $("lost").hidden = true;
  if (wantOpen && microphone.isOpen) sendOpen();
}

function onDown(reason) {
  const words = {
    gone: "This session is not on the server any more.",
    "too many": "Too many screens are connected. Close one and load this page again.",
    lost: "Not connected. Trying again; what was noted is safe.",
  };
  $("lost").textContent = words[reason];
  $("lost").hidden = false;
  view.microphone = "closed";
  ear = "quiet";
  showMicrophone();
  showEar();
}

// --- showing -----------------------------------------------------------------------------------

let fadeTimer = 0;
let drawn = "";

function show() {
  const age = view.stage.age_s + (performance.now() - received) / 1000;
  const left = shownFor(view.stage) - age;
  const shown = left > 0;
  const stage = shown ? view.stage : { ...view.stage, kind: "idle", answers: [], choices: [] };
  const now = JSON.stringify([view.number, stage.kind, view.next, stage.choices]);
  if (now !== drawn) {
    drawn = now;
    const focused = document.activeElement?.dataset?.choose;
    $("stage").dataset.kind = stage.kind;
    $("stage").replaceChildren(...draw(stage, view.next, choose));
    if (focused) $("stage").querySelector(`[data-choose="${focused}"]`)?.focus();
  }
  tray.show({ ...view, stage }, shown);
  clearTimeout(fadeTimer);
  if (shown && left < Infinity) fadeTimer = setTimeout(show, left * 1000 + 50);
  if (view.number !== announced) {
    announced = view.number;
    $("live").textContent = inWords(view.stage);
    if (view.stage.kind === "answer" || view.stage.kind === "check") voice.say(view.number);
    else voice.stop();
  }
  $("step").textContent = view.step ? ` — ${view.step}` : "";
  $("ended").hidden = !view.closed;
  showOut();
  showTimers();
  showMicrophone();
  showEar();
}

function showOut() {
  const sharps = view.out.filter((one) => one.sharp);
  const others = view.out.filter((one) => !one.sharp);
  const words = (one) => one.name + (one.count > 1 ? ` (${one.count})` : "");
  $("out").replaceChildren();
  if (!view.out.length) return;
  $("out").append("Out, as far as noted: ");
  sharps.forEach((one, i) => $("out").append(i ? ", " : "", h("b", { class: "sharp", title: "sharp" }, words(one))));
  if (others.length) $("out").append(sharps.length ? "; " : "", others.map(words).join(", "));
}

function showTimers() {
  const gone = (performance.now() - received) / 1000;
  const timers = view.timers.map((timer) => {
    const left = Math.max(0, Math.ceil(timer.left_s - gone));
    return h(
      "button",
      { type: "button", "data-over": left === 0, "aria-label": `Stop the ${timer.name} timer`, onclick: () => link.send({ do: "timer", name: timer.name, on: false }) },
      `${timer.name}: ${left ? `${left} s` : "time is over"}`,
      h("span", { "aria-hidden": "true" }, "■ stop"),
    );
  });
  const focused = document.activeElement?.closest?.("#timers") !== null && document.activeElement !== body;
  if (!focused || timers.length !== $("timers").children.length) $("timers").replaceChildren(...timers);
  else [...$("timers").children].forEach((button, i) => (button.firstChild.textContent = timers[i].firstChild.textContent));
}

setInterval(() => view.timers.length && showTimers(), 500);

const key = matchMedia("(pointer: coarse)").matches ? "touch or pedal" : "space";
const MIC = {
  open: ["Microphone open", `${key} closes it`],
  waiting: ["Microphone waits", "for “start listening”"],
  closed: ["Microphone closed", `${key} opens it`],
  elsewhere: ["Microphone closed here", "open at another screen"],
};

function showMicrophone() {
  const state = link.up ? (view.microphone ?? "closed") : "closed";
  body.dataset.mic = state;
  const [first, second] = MIC[state];
  $("mic-state").textContent = first;
  $("mic-how").textContent = problem && state === "closed" ? "see below" : second;
  $("mic").setAttribute("aria-pressed", String(state === "open" || state === "waiting"));
}

function showEar() {
  body.dataset.ear = ear;
  const loading = view.ears?.state === "loading";
  const missing = view.ears?.state === "missing";
  $("ear").textContent = loading
    ? "hearing gets ready"
    : missing
      ? "typing only"
      : view.microphone === "open"
        ? { speaking: "somebody speaks", thinking: "working it out", quiet: "listening" }[ear]
        : "";
  $("problem").textContent = missing ? view.ears.problem : problem;
  $("problem").hidden = !$("problem").textContent;
}

function tell(text) {
  problem = text;
  $("live").textContent = text;
  showEar();
  showMicrophone();
}

// --- microphone --------------------------------------------------------------------------------

function sendOpen() {
  link.send({ do: "microphone", open: true, waiting: kept("spoken-start", "no") === "yes" && view.microphone !== "open" });
}

async function toggleMicrophone() {
  if (microphone.isOpen) {
    closeMicrophone("");
    return;
  }
  tell("");
  wantOpen = true;
  try {
    await microphone.open(voice.on);
    if (!wantOpen) microphone.close();
    else sendOpen();
  } catch (error) {
    wantOpen = false;
    tell(error.message);
  }
}

function closeMicrophone(why) {
  wantOpen = false;
  microphone.close();
  link.send({ do: "microphone", open: false });
  ear = "quiet";
  tell(why);
}

$("mic").addEventListener("click", toggleMicrophone);

// --- keys --------------------------------------------------------------------------------------

const typing = (element) => element?.matches?.("input:not([type=checkbox]), select, textarea");

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (setPedal(event)) return;
  const pedal = kept("pedal", "");
  if (pedal && event.code === pedal && !typing(event.target)) {
    event.preventDefault();
    if (!event.repeat) toggleMicrophone();
    return;
  }
  if (document.querySelector("dialog[open]") || typing(event.target)) return;
  const onSlot = event.target.closest?.(".slot");
  if (event.code === "Space" && (onSlot || !event.target.closest?.("button, a, summary"))) {
    event.preventDefault();
    if (!event.repeat) toggleMicrophone();
  } else if (view.stage.kind === "check" && /^[0-9]$/.test(event.key)) {
    event.preventDefault();
    choose(Number(event.key), "keyboard");
  } else if (view.stage.kind === "check" && event.key === "Escape") {
    choose(0, "keyboard");
  } else if (event.key === "/") {
    event.preventDefault();
    $("text").focus();
  }
});

// Space on a slot opens the microphone; Enter opens the slot.
addEventListener("keyup", (event) => {
  if (event.code === "Space" && event.target.closest?.(".slot")) event.preventDefault();
});

// A button that was touched does not keep the keyboard, so that the pedal's space reaches the microphone.
addEventListener("pointerup", (event) => {
  const button = event.target.closest?.("button");
  if (button && !button.closest("dialog")) setTimeout(() => button.blur(), 0);
});

function choose(number, by = "touch") {
  link.send({ do: "choose", number, by });
}

// --- typed requests ----------------------------------------------------------------------------

$("type").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = $("text").value.trim();
  if (!text) return;
  tell("");
  if (link.send({ do: "ask", text })) {
    $("text").value = "";
    $("text").blur();
  }
});

$("undo").addEventListener("click", () => link.send({ do: "undo" }));

// --- a slot ------------------------------------------------------------------------------------

let picked = "";

function openSlot(slot) {
  picked = slot.dataset.item;
  $("slot-name").textContent = slot.dataset.name;
  $("slot-place").textContent = slot.dataset.place;
  $("slot-picture").replaceChildren(picture(picked));
  $("slot-page").href = `/items/${picked}`;
  $("slot-dialog").showModal();
}

$("slot-dialog").addEventListener("click", (event) => {
  const button = event.target.closest("button[data-kind]");
  if (!button) return;
  const kind = button.dataset.kind;
  link.send(kind === "request" ? { do: "request", item: picked } : { do: "touch", kind, item: picked });
  $("slot-dialog").close();
});

for (const dialog of document.querySelectorAll("dialog")) {
  dialog.querySelector(".close").addEventListener("click", () => dialog.close());
}

// --- options -----------------------------------------------------------------------------------

$("more").addEventListener("click", () => $("options").showModal());

const spoken = $("voice");
if (spoken) {
  voice.on = kept("voice", "no") === "yes";
  spoken.checked = voice.on;
  spoken.addEventListener("change", () => {
    voice.on = spoken.checked;
    keep("voice", spoken.checked ? "yes" : "no");
    if (!voice.on) voice.stop();
  });
}

$("spoken-start").checked = kept("spoken-start", "no") === "yes";
$("spoken-start").addEventListener("change", () => keep("spoken-start", $("spoken-start").checked ? "yes" : "no"));

let waitingForPedal = false;
const showPedal = () => {
  const key = kept("pedal", "");
  $("pedal").textContent = waitingForPedal ? "Press the pedal now …" : key ? `Pedal sends ${key}. Change` : "Choose the pedal's key";
};
showPedal();
$("pedal").addEventListener("click", () => {
  waitingForPedal = true;
  showPedal();
});

function setPedal(event) {
  if (!waitingForPedal) return false;
  event.preventDefault();
  waitingForPedal = false;
  if (event.key !== "Escape") keep("pedal", event.code || event.key);
  showPedal();
  return true;
}

// A touched screen is a clinical contact surface; said once on each machine.
addEventListener("pointerdown", (event) => {
  if (event.pointerType === "touch" && kept("barrier", "") === "") $("barrier").hidden = false;
});
$("barrier-ok").addEventListener("click", () => {
  keep("barrier", "told");
  $("barrier").hidden = true;
});

show();
body.dataset.ready = "yes";
