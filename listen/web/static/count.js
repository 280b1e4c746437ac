// The count: sends touches, keys and sound, and shows what the server makes of them without a reload.

import { kept } from "./dom.js";
import { Link } from "./link.js";
import { Talk } from "./talk.js";

const $ = (id) => document.getElementById(id);
const body = document.body;
const base = `/chair/${body.dataset.session}`;
const address = `${base}/count?part`;

// --- showing -------------------------------------------------------------------------------------

const drawnFrom = new WeakMap(); // what the server sent for an element, however it was opened since
for (const element of [...$("part").children]) drawnFrom.set(element, element.outerHTML);

/** Put the server's newest in place of what differs; what is open stays open. */
function renew(html) {
  const fresh = new DOMParser().parseFromString(html, "text/html");
  const [old, now] = [$("part"), fresh.getElementById("part")];
  if (!now) return location.reload();
  const there = new Map([...old.children].map((child) => [child.id, child]));
  const wanted = [...now.children].map((child) => {
    const source = child.outerHTML;
    const was = there.get(child.id);
    if (was && drawnFrom.get(was) === source) return was;
    const element = document.adoptNode(child);
    drawnFrom.set(element, source);
    if (was?.querySelector("details")?.open) element.querySelector("details").open = true;
    return element;
  });
  const sameOnes = wanted.length === old.children.length && wanted.every((one, i) => one.id === old.children[i].id);
  if (sameOnes) wanted.forEach((one, i) => one !== old.children[i] && old.children[i].replaceWith(one));
  else old.replaceChildren(...wanted);
  Object.assign(old.dataset, now.dataset);
  for (const id of ["standing", "end"]) {
    const [was, comes] = [$(id), fresh.getElementById(id)];
    if (!was || !comes) continue; // the session was ended
    for (const field of was.querySelectorAll("input")) {
      const same = comes.querySelector(`input[name="${field.name}"]`);
      if (same) same.value = field.value;
    }
    for (const list of was.querySelectorAll("details[open]")) comes.querySelector(`#${list.id}`)?.setAttribute("open", "");
    was.replaceWith(document.adoptNode(comes));
  }
}

const asText = (element) => element.textContent.replace(/\s+/g, " ").trim();

/** What the next key is for: the first thing after `from` that one key would count, else the end. */
function next(from) {
  const open = [...document.querySelectorAll("[data-open]")].filter((one) => !one.disabled);
  const at = from ? open.find((one) => from.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING) : null;
  return at ?? open[0] ?? $("close");
}

// --- counting ------------------------------------------------------------------------------------

let touched = false; // whether the last thing done was done by touch, not by key
addEventListener("keydown", () => (touched = false), true);
addEventListener("pointerdown", () => (touched = true), true);

let turn = Promise.resolve();

function later(act) {
  turn = turn.then(act).catch(() => tell("The server does not answer; what was touched last is not counted. Touch it again."));
}

let ending = false; // by a form of this page, whose answer leads on

document.addEventListener("submit", (event) => {
  const button = event.submitter;
  if (event.target.id !== "count" || !button || button.hasAttribute("formaction")) return (ending = true);
  event.preventDefault();
  const [name, value, id] = [button.name, button.value, button.id];
  const stays = name === "less" || name === "more";
  const home = button.closest(".line, .kit, .row")?.id;
  const byTouch = touched;
  later(async () => {
    const answer = await fetch(address, { method: "POST", body: new URLSearchParams([[name, value]]) });
    if (!answer.ok) throw new Error();
    tell("");
    const focused = document.activeElement?.id;
    const moved = focused && focused !== id && focused !== home; // gone on while the server answered
    renew(await answer.text());
    $("told").textContent = asText($("standing").querySelector(".told"));
    if (moved && $(focused)) return $(focused).focus({ preventScroll: true });
    // A pedal's key must not count what was touched last, so a touch leaves the keyboard beside the button.
    if (byTouch) return ($(home) ?? $("part")).focus({ preventScroll: true });
    if (stays && $(id)) return $(id).focus({ preventScroll: true });
    next($(id) ?? $(home)).focus();
  });
});

function look() {
  later(async () => {
    if (isNew(view) && !view.closed) {
      const focused = document.activeElement?.id;
      const answer = await fetch(address);
      if (!answer.ok) throw new Error();
      renew(await answer.text());
      $("told").textContent = asText($("standing").querySelector(".told"));
      (focused && $(focused))?.focus({ preventScroll: true });
    }
  });
}

const isNew = ({ events, said }) => {
  const shown = JSON.parse($("part").dataset.said);
  const same = Object.keys(said).length === Object.keys(shown).length && Object.keys(said).every((item) => said[item] === shown[item]);
  return events !== Number($("part").dataset.events) || !same;
};

function tell(text) {
  $("problem").textContent = text;
  $("problem").hidden = !text;
  if (text) $("told").textContent = text;
}

// --- microphone: by key, pedal and touch ---------------------------------------------------------

let view = null;
const mic = $("mic");
const link = new Link(`${base}/live`, {
  message(data) {
    if (data.type === "room") {
      view = data;
      if (view.closed) return mic && !ending && location.assign(`/sessions/${body.dataset.session}`);
      talk.saw(view.microphone);
      if (isNew(view)) look();
      showMicrophone();
    } else if (data.type === "lost") talk.lost(data.text);
    else if (data.type === "problem") tell(data.text);
  },
  up() {
    talk.again();
    showMicrophone();
  },
  down: () => showMicrophone(),
});
const holding = () => kept("pedal-way", "toggle") === "hold";
let held = "";
const talk = new Talk(link, {
  options: () => ({
    own: "ownOffered" in body.dataset && kept("microphone", "browser") === "own",
    echo: false,
    waiting: false,
    held: held !== "",
  }),
  onlevel: () => {},
  onproblem: tell,
});

function showMicrophone() {
  if (!mic) return;
  const open = link.up && view?.microphone === "open";
  body.dataset.mic = open ? "open" : "closed";
  mic.hidden = false;
  mic.disabled = !link.up;
  mic.textContent = open ? "Listening" : "Speak";
  mic.setAttribute("aria-pressed", String(open));
}

function toggle() {
  if (talk.isOpen) talk.close("");
  else talk.open();
}

mic?.addEventListener("click", toggle);

const keyOf = (event) => event.code || event.key;

/** Space opens the microphone, as the pedal does, wherever it would count something: a pedal never counts. */
function opensMicrophone(event) {
  if (!mic || event.target.matches?.("input")) return false;
  if (keyOf(event) === kept("pedal", "")) return true;
  return event.code === "Space" && !event.target.closest?.("a, summary, .actions, .top, #mic");
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || !opensMicrophone(event)) return;
  event.preventDefault();
  if (event.repeat) return;
  if (!holding()) return toggle();
  held = keyOf(event);
  talk.open();
});
addEventListener("keyup", (event) => {
  if (event.code === "Space" && opensMicrophone(event)) event.preventDefault();
  if (!held || held !== keyOf(event)) return;
  held = "";
  talk.finish();
});

// -------------------------------------------------------------------------------------------------

if (!location.hash && mic) next(null).focus({ preventScroll: true });
body.dataset.ready = "yes";
