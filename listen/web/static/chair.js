// The chair screen: shows what the server says, sends sound, keys and touches.

import { h, keep, kept } from "./dom.js";
import { Link } from "./link.js";
import { nextHere } from "./role.js";
import { draw, fit, inWords, shownFor } from "./stage.js";
import { Talk } from "./talk.js";
import { Tone } from "./tone.js";
import { Tray } from "./tray.js";
import { Voice } from "./voice.js";
import { Whereabouts } from "./whereabouts.js";

const $ = (id) => document.getElementById(id);
const body = document.body;
const base = `/chair/${body.dataset.session}`;

let view = JSON.parse($("first").textContent);
let received = performance.now();
let announced = view.number;
let problem = "";
let ear = "quiet";
let lost = ""; // why there is no connection
let unknown = null; // the name typed here that nothing has, and the number of the stage that says so

const link = new Link(`${base}/live`, { message: onMessage, up: onUp, down: onDown });
const voice = new Voice(`${base}/say`);
const tone = new Tone();
const ownOffered = $("which") !== null;
const talk = new Talk(link, {
  options: () => ({
    own: ownOffered && kept("microphone", "browser") === "own",
    echo: voice.on,
    held: held !== "",
    waiting: !holding() && kept("spoken-start", "no") === "yes" && view.microphone !== "open",
  }),
  onlevel: showLevel,
  onproblem: tell,
});
const tray = new Tray($("tray"), (slot) => whereabouts.open(slot));
const whereabouts = new Whereabouts((message) => link.send(message), tray, (text) => ($("live").textContent = text));
const stage = $("stage");
const faculty = $("faculty");
const stays = new Set([faculty, $("timers")]); // while the stage around them is redrawn

// --- from the server ---------------------------------------------------------------------------

function onMessage(data) {
  if (data.type === "room") {
    if (data.layout !== view.layout) return location.reload(); // the tray was laid out again
    view = data;
    received = performance.now();
    talk.saw(view.microphone);
    show();
  } else if (data.type === "unknown") {
    unknown = data;
    show();
  } else if (data.type === "ear") {
    ear = data.state;
    voice.hears(ear === "speaking");
    tone.somebodySpeaks = ear === "speaking";
    showEar();
  } else if (data.type === "level") {
    showLevel(data.level);
  } else if (data.type === "lost") {
    talk.lost(data.text);
  } else if (data.type === "problem") {
    tell(data.text);
  }
}

function onUp() {
  lost = "";
  $("lost").hidden = true;
  talk.again();
}

function onDown(reason) {
  lost = reason;
  $("lost").replaceChildren(h("b", {}, `${LOST[reason].title}.`), h("span", {}, ` ${LOST[reason].how}`));
  $("lost").hidden = false;
  view.microphone = "closed";
  ear = "quiet";
  voice.hears(false);
  tone.somebodySpeaks = false;
  show();
}

const LOST = {
  gone: { title: "Session gone", how: "This session is not on the server any more." },
  "too many": { title: "Too many screens", how: "Close one and load this page again." },
  lost: { title: "Not connected", how: "Trying again. What was noted is safe." },
};

// --- showing -----------------------------------------------------------------------------------

let fadeTimer = 0;
let drawn = "";

function show() {
  view.stage.asked = unknown?.number === view.number ? unknown.called : "";
  const age = view.stage.age_s + (performance.now() - received) / 1000;
  const left = shownFor(view.stage) - age;
  const shown = left > 0 && !view.closed && view.stage.kind !== "injury";
  const kind = view.closed ? "closed" : "idle";
  const large = shown ? view.stage : { ...view.stage, kind, session: body.dataset.session, answers: [], choices: [] };
  const waits = view.faculty !== null && !["check", "closed"].includes(large.kind);
  const why = unheard(large.kind);
  const next = nextHere(view);
  const now = JSON.stringify([view.number, large.kind, next, large.asked, large.choices, large.chosen, waits && view.faculty, why?.title, why?.how]);
  if (now !== drawn) {
    drawn = now;
    const focused = document.activeElement;
    const within = stage.contains(focused);
    stage.dataset.kind = large.kind;
    faculty.hidden = !waits;
    $("faculty-step").textContent = view.faculty ?? "";
    for (const child of [...stage.children]) if (!stays.has(child)) child.remove();
    stage.prepend(...draw(large, waits && (large.kind === "answer" || why) ? [] : next, choose, why));
    fit(stage);
    if (focused?.dataset?.choose) stage.querySelector(`[data-choose="${focused.dataset.choose}"]`)?.focus();
    if (within && document.activeElement === body) stage.focus();
  }
  tray.show({ ...view, stage: large }, shown);
  clearTimeout(fadeTimer);
  if (shown && left < Infinity) fadeTimer = setTimeout(show, left * 1000 + 50);
  if (view.number !== announced) {
    announced = view.number;
    $("live").textContent = inWords(view.stage);
    if (view.stage.kind === "answer" || view.stage.kind === "check") voice.say(view.number);
    else voice.stop();
  }
  $("step").textContent = view.step ?? "";
  $("latex-free").hidden = !view.latex_free;
  showUndo();
  showClosed();
  showCard();
  whereabouts.show(view);
  showTimers();
  showMicrophone();
  showEar();
}

/** What the button takes back is said before it is pressed. */
function showUndo() {
  const what = view.undo?.what ?? "nothing to take back";
  if ($("undo-what").textContent !== what) $("undo-what").textContent = what;
  $("undo").setAttribute("aria-label", `Undo: ${what}`); // in full, though the button may cut it off
  $("undo").title = view.undo ? `Undo: ${what}` : "";
  $("undo").setAttribute("aria-disabled", String(view.undo === null));
}

/** What a closed session has no use for. */
function showClosed() {
  if (!view.closed) return;
  for (const one of [$("end"), $("undo"), $("mic"), $("type")]) {
    if (one?.contains(document.activeElement)) stage.focus();
    one?.classList.add("gone"); // its place stays, so that no slot moves
  }
}

/** On a wide screen beside what is shown, otherwise on the foot. */
const wide = matchMedia("(min-width: 1000px) and (min-height: 600px)");
const placeTimers = () => (wide.matches ? stage : document.querySelector(".foot")).append($("timers"));
wide.addEventListener("change", placeTimers);
placeTimers();

const running = new Map(); // button by name of the timer
const counting = new Set(); // names of those that this screen has seen run: it was there when their time was up

function showTimers() {
  const gone = (performance.now() - received) / 1000;
  const names = new Set(view.timers.map((timer) => timer.name));
  for (const [name, button] of running) {
    if (names.has(name)) continue;
    const focused = document.activeElement === button;
    button.remove();
    running.delete(name);
    counting.delete(name);
    if (focused) ($("timers").firstElementChild ?? stage).focus();
  }
  for (const { name, left_s } of view.timers) {
    const left = Math.max(0, Math.ceil(left_s - gone));
    if (!running.has(name)) running.set(name, $("timers").appendChild(timerButton(name)));
    const button = running.get(name);
    button.querySelector("b").textContent = left ? clock(left) : "time is up";
    button.toggleAttribute("data-over", left === 0);
    if (left) counting.add(name);
    else if (counting.delete(name)) timeIsUp(name);
  }
  if (!$("timers").querySelector("[data-over]")) tone.stop();
  const many = String(view.timers.length);
  if (stage.dataset.timers === many) return;
  stage.dataset.timers = many;
  $("timers").hidden = many === "0";
  fit(stage);
}

function timerButton(name) {
  const stop = () => link.send({ do: "timer", name, on: false });
  return h("button", { type: "button", onclick: stop }, h("span", {}, name), h("b"), h("small", {}, h("i", { "aria-hidden": "true" }, "■ "), "stop"));
}

/** Seconds as they are read at a glance: "45 s", "2:05". */
function clock(left) {
  return left < 100 ? `${left} s` : `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
}

function timeIsUp(name) {
  $("live").textContent = `${name}: time is up.`;
  tone.ring();
}

addEventListener("resize", () => fit(stage));
setInterval(() => view.timers.length && showTimers(), 250);

const coarse = matchMedia("(pointer: coarse)").matches;
const holding = () => kept("pedal-way", "toggle") === "hold";

/** What opens and closes it: "space", "space or pedal", "touch or pedal". */
function opener() {
  if (coarse) return "touch or pedal";
  return kept("pedal", "") ? "space or pedal" : "space";
}

function howTo(state) {
  if (state === "elsewhere") return view.own ? "the server's is open at another screen" : "open at another screen";
  if (state === "waiting") return `for “${body.dataset.start}”`;
  const isOpen = state === "open";
  if (holding()) return isOpen ? "let go to end" : coarse ? "hold this or the pedal to speak" : `hold ${opener()} to speak`;
  return `${opener()} ${isOpen ? "closes" : "opens"} it`;
}

/** Why nobody is heard at this screen, for a stage of this kind: { title, how, brief, sign }, or null. */
function unheard(kind) {
  const state = micState();
  const sign = mic.querySelector(state === "closed" ? ".off" : ".on").cloneNode(true);
  const waiting = `Waiting for “${body.dataset.start}”`;
  if (lost) return { ...LOST[lost], brief: `${LOST[lost].title}.`, sign };
  if (view.ears?.state === "missing") {
    return kind === "idle" ? { title: "Typing only", how: "Nobody is heard. Type a request, or touch a place.", sign } : null;
  }
  if (state === "waiting") return { title: waiting, how: "Nothing else is heard until then", brief: waiting, sign };
  if (state === "elsewhere") return kind === "idle" ? { title: "Open at another screen", how: `${openIt()} here`, sign } : null;
  return state === "closed" ? { title: "Microphone closed", how: openIt(), brief: `Microphone closed. ${openIt()}`, sign } : null;
}

/** "Space opens it", as a sentence. */
function openIt() {
  const way = holding() ? (coarse ? "Hold the button or the pedal to speak" : `Hold ${opener()} to speak`) : `${opener()} opens it`;
  return way[0].toUpperCase() + way.slice(1);
}

const micState = () => (link.up ? (view.microphone ?? "closed") : "closed");

const MIC = {
  open: "Microphone open",
  waiting: "Microphone waiting",
  closed: "Microphone closed",
  elsewhere: "Microphone closed here",
};

function showMicrophone() {
  const state = micState();
  const mine = state === "open" || state === "waiting";
  const which = state !== "open" || !ownOffered ? "" : view.own ? ` · the server's: ${view.own}` : " · this browser's";
  body.dataset.mic = state;
  body.dataset.own = String(mine && Boolean(view.own));
  $("mic-state").textContent = MIC[state];
  $("mic-how").replaceChildren(problem && state === "closed" ? "see below" : howTo(state), h("span", { class: "which" }, which));
  $("mic-how").title = howTo(state) + which;
  $("mic").setAttribute("aria-pressed", String(mine));
  if (!mine) showLevel(0);
}

function showLevel(level) {
  $("mic").style.setProperty("--level", level.toFixed(2));
}

function showEar() {
  body.dataset.ear = ear;
  const loading = view.ears?.state === "loading";
  const missing = view.ears?.state === "missing";
  $("ear").textContent = loading
    ? "hearing is starting"
    : missing
      ? "typing only"
      : view.microphone === "open"
        ? { speaking: "someone is speaking", thinking: "working it out", quiet: "listening" }[ear]
        : ear === "thinking"
          ? "working it out"
          : "";
  const told = loading || missing || ear !== "quiet"; // in the place of how it is opened and closed
  $("ear").hidden = !told || !$("ear").textContent;
  $("mic-how").hidden = !$("ear").hidden;
  $("problem").textContent = missing ? view.ears.problem : problem;
  $("problem").hidden = !$("problem").textContent;
}

function tell(text) {
  problem = text;
  $("live").textContent = text;
  showEar();
  showMicrophone();
}

// --- microphone: by key, pedal and touch ---------------------------------------------------------

let held = ""; // what holds it open: a key's code or "pointer"

function press(by) {
  if (held) return;
  held = by;
  talk.open();
}

function release(by = held) {
  if (!held || held !== by) return;
  held = "";
  talk.finish();
}

function toggle() {
  if (talk.isOpen) talk.close("");
  else talk.open();
}

const mic = $("mic");
mic.addEventListener("click", (event) => {
  if (!holding() || event.detail === 0) toggle(); // detail 0: Enter, or a screen reader
});
mic.addEventListener("pointerdown", (event) => {
  if (!holding() || event.button !== 0) return;
  mic.setPointerCapture(event.pointerId);
  press("pointer");
});
for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) mic.addEventListener(kind, () => release("pointer"));
mic.addEventListener("contextmenu", (event) => holding() && event.preventDefault());

// A key that is let go while the page is not looked at is never told.
addEventListener("blur", () => release());
document.addEventListener("visibilitychange", () => document.hidden && release());

// --- keys --------------------------------------------------------------------------------------

const keyOf = (event) => event.code || event.key;
const typing = (element) => element?.matches?.("input:not([type=checkbox]), select, textarea");

function opensMicrophone(event) {
  if (typing(event.target) || view.closed) return false;
  if (keyOf(event) === kept("pedal", "")) return true;
  if (event.code !== "Space" || document.querySelector("dialog[open]")) return false;
  const button = event.target.closest?.("button, a, summary");
  return !button || button.matches(".slot, .box") || (button === mic && holding());
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (setPedal(event)) return;
  if (opensMicrophone(event)) {
    event.preventDefault();
    if (event.repeat) return;
    if (holding()) press(keyOf(event));
    else toggle();
    return;
  }
  if (document.querySelector("dialog[open]") || typing(event.target)) return;
  if (view.stage.kind === "check" && /^[0-9]$/.test(event.key)) {
    event.preventDefault();
    choose(Number(event.key), "keyboard");
  } else if (view.stage.kind === "check" && event.key === "Escape") {
    choose(0, "keyboard");
  } else if (event.key === "/") {
    event.preventDefault();
    $("text").focus();
  } else if (event.key === "?") {
    event.preventDefault();
    showKeys();
  }
});

function showKeys() {
  const way = holding() ? "held while speaking" : "opens the microphone, and closes it";
  const pedal = kept("pedal", "") ? ", and the pedal (or its key) does the same" : "";
  $("keys-space").textContent = `${way}${pedal}`;
  $("keys").showModal();
}

// Space on a slot or a kit opens the microphone; Enter opens the slot or the kit.
addEventListener("keyup", (event) => {
  if (event.code === "Space" && event.target.closest?.(".slot, .box, #mic") && (held || event.target !== mic)) event.preventDefault();
  release(keyOf(event));
});

// What was touched does not keep the keyboard, so that the pedal's space reaches the microphone.
let touched = false;
addEventListener("keydown", () => (touched = false), true);
addEventListener("pointerdown", () => (touched = true), true);
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

$("undo").addEventListener("click", (event) => {
  if (view.undo) link.send({ do: "undo", seq: view.undo.seq, by: event.detail === 0 ? "keyboard" : "touch" });
});

// --- what faculty has looked at ------------------------------------------------------------------

faculty.addEventListener("submit", (event) => {
  event.preventDefault();
  if (link.send({ do: "looked", who: $("faculty-by").value.trim() })) {
    $("faculty-by").value = "";
    document.activeElement?.blur();
  }
});

// --- after a needle stick ------------------------------------------------------------------------

const card = $("injury-card");
let cardShown = false; // as the server said last

/** The card opens on every screen of the session; the button needs no connection. */
function showCard() {
  const open = view.stage.kind === "injury";
  if (open === cardShown) return;
  cardShown = open;
  if (!open) card.close();
  else if (!card.open) openCard();
}

function openCard() {
  for (const dialog of document.querySelectorAll("dialog[open]")) dialog.close();
  card.showModal();
}

$("injury").addEventListener("click", (event) => {
  openCard();
  if (!view.closed) link.send({ do: "injury", open: true, by: event.detail === 0 ? "keyboard" : "touch" });
});
card.addEventListener("close", () => cardShown && link.send({ do: "injury", open: false }));

// --- dialogs -----------------------------------------------------------------------------------

for (const dialog of document.querySelectorAll("dialog")) {
  dialog.querySelector(".close").addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => touched && document.activeElement?.blur());
}

// --- options -----------------------------------------------------------------------------------

$("more").addEventListener("click", () => $("options").showModal());
$("show-keys").addEventListener("click", () => {
  $("options").close();
  showKeys();
});

tone.on = kept("tone", "yes") === "yes";
$("tone").checked = tone.on;
$("tone").addEventListener("change", () => {
  tone.on = $("tone").checked;
  keep("tone", tone.on ? "yes" : "no");
  if (!tone.on) tone.stop();
});

const spoken = $("voice");
if (spoken) {
  voice.on = kept("voice", "no") === "yes";
  spoken.checked = voice.on;
  spoken.addEventListener("change", () => {
    voice.on = spoken.checked;
    keep("voice", spoken.checked ? "yes" : "no");
    if (!voice.on) voice.stop();
    else if (talk.isOpen) talk.openAgain(); // so that it does not hear the voice
  });
}

$("which")?.addEventListener("change", (event) => {
  if (talk.isOpen) talk.close("");
  keep("microphone", event.target.value);
  showMicrophone();
});
if (ownOffered) $("which").value = kept("microphone", "browser");

$("pedal-way").value = kept("pedal-way", "toggle");
$("pedal-way").addEventListener("change", (event) => {
  if (talk.isOpen) talk.close("");
  keep("pedal-way", event.target.value);
  showWay();
});

/** Who holds needs no spoken start. */
function showWay() {
  body.dataset.way = holding() ? "hold" : "toggle";
  $("spoken-start").disabled = holding();
  show();
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
  if (event.key !== "Escape") keep("pedal", keyOf(event));
  showPedal();
  show();
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
showWay();
body.dataset.ready = "yes";
