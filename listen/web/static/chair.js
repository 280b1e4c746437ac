// The chair screen: shows what the server says, sends sound, keys and touches.

import { h, keep, kept, picture } from "./dom.js";
import { Link } from "./link.js";
import { draw, fit, inWords, shownFor } from "./stage.js";
import { Talk } from "./talk.js";
import { Tray } from "./tray.js";
import { Voice } from "./voice.js";

const $ = (id) => document.getElementById(id);
const body = document.body;
const base = `/chair/${body.dataset.session}`;

let view = JSON.parse($("first").textContent);
let received = performance.now();
let announced = view.number;
let problem = "";
let ear = "quiet";
let unknown = null; // the name typed here that nothing has, and the number of the stage that says so

const link = new Link(`${base}/live`, { message: onMessage, up: onUp, down: onDown });
const voice = new Voice(`${base}/say`);
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
const tray = new Tray($("tray"), openSlot);
const faculty = $("faculty"); // stays while the stage around it is redrawn

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
  $("lost").hidden = true;
  talk.again();
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
  voice.hears(false);
  showMicrophone();
  showEar();
}

// --- showing -----------------------------------------------------------------------------------

let fadeTimer = 0;
let drawn = "";

function show() {
  view.stage.asked = unknown?.number === view.number ? unknown.called : "";
  const age = view.stage.age_s + (performance.now() - received) / 1000;
  const left = shownFor(view.stage) - age;
  const shown = left > 0 && !view.closed && view.stage.kind !== "injury";
  const kind = view.closed ? "closed" : "idle";
  const stage = shown ? view.stage : { ...view.stage, kind, session: body.dataset.session, answers: [], choices: [] };
  const waits = view.faculty !== null && !["check", "closed"].includes(stage.kind);
  const now = JSON.stringify([view.number, stage.kind, view.next, stage.asked, stage.choices, stage.chosen, waits && view.faculty]);
  if (now !== drawn) {
    drawn = now;
    const focused = document.activeElement;
    $("stage").dataset.kind = stage.kind;
    faculty.hidden = !waits;
    $("faculty-step").textContent = view.faculty ?? "";
    $("stage").replaceChildren(...draw(stage, waits && stage.kind === "answer" ? [] : view.next, choose), faculty);
    fit($("stage"));
    if (focused?.dataset?.choose) $("stage").querySelector(`[data-choose="${focused.dataset.choose}"]`)?.focus();
    else if (faculty.contains(focused)) focused.focus();
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
  $("step").textContent = view.step ?? "";
  $("latex-free").hidden = !view.latex_free;
  if (view.closed) $("end")?.remove();
  showCard();
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
  if (view.missed.length) $("out").append(h("b", {}, `Missing: ${view.missed.map(words).join(", ")}. `));
  if (!view.out.length) return;
  $("out").append("Noted as out: ");
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
      `${timer.name}: ${left ? `${left} s` : "time is up"}`,
      h("span", { "aria-hidden": "true" }, "■ stop"),
    );
  });
  const focused = document.activeElement?.closest?.("#timers") !== null && document.activeElement !== body;
  if (!focused || timers.length !== $("timers").children.length) $("timers").replaceChildren(...timers);
  else [...$("timers").children].forEach((button, i) => (button.firstChild.textContent = timers[i].firstChild.textContent));
}

addEventListener("resize", () => fit($("stage")));
setInterval(() => view.timers.length && showTimers(), 500);

const coarse = matchMedia("(pointer: coarse)").matches;
const holding = () => kept("pedal-way", "toggle") === "hold";

function howTo(state) {
  if (state === "elsewhere") return view.own ? "the server's is open at another screen" : "open at another screen";
  if (state === "waiting") return "for “start listening”";
  const isOpen = state === "open";
  if (holding()) return isOpen ? "let go to end" : coarse ? "hold this or the pedal to speak" : "hold space to speak";
  return `${coarse ? "touch or pedal" : "space"} ${isOpen ? "closes" : "opens"} it`;
}

const MIC = {
  open: "Microphone open",
  waiting: "Microphone waiting",
  closed: "Microphone closed",
  elsewhere: "Microphone closed here",
};

function showMicrophone() {
  const state = link.up ? (view.microphone ?? "closed") : "closed";
  const mine = state === "open" || state === "waiting";
  const which = !mine || !ownOffered ? "" : view.own ? ` · the server's: ${view.own}` : " · this browser's";
  body.dataset.mic = state;
  body.dataset.own = String(mine && Boolean(view.own));
  $("mic-state").textContent = MIC[state];
  $("mic-how").textContent = problem && state === "closed" ? "see below" : howTo(state) + which;
  $("mic-how").title = $("mic-how").textContent;
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
  if (typing(event.target)) return false;
  if (keyOf(event) === kept("pedal", "")) return true;
  if (event.code !== "Space" || document.querySelector("dialog[open]")) return false;
  const button = event.target.closest?.("button, a, summary");
  return !button || button.matches(".slot") || (button === mic && holding());
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
  }
});

// Space on a slot opens the microphone; Enter opens the slot.
addEventListener("keyup", (event) => {
  if (event.code === "Space" && event.target.closest?.(".slot, #mic") && (held || event.target !== mic)) event.preventDefault();
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

$("undo").addEventListener("click", () => link.send({ do: "undo" }));

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

// --- a slot ------------------------------------------------------------------------------------

let picked = "";

function openSlot(slot) {
  picked = slot.dataset.item;
  $("slot-name").textContent = slot.dataset.name;
  $("slot-place").textContent = [slot.dataset.place, slot.dataset.sizes].filter(Boolean).join(" · ");
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
  dialog.addEventListener("close", () => touched && document.activeElement?.blur());
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
  showMicrophone();
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
