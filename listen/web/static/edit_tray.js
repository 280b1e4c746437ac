// Lays out a tray: by dragging, by touching two slots, or by keyboard; a slot that is taken up opens its form beside
// the tray. The server saves each change.

import { across, h } from "./dom.js";

const root = document.querySelector("[data-tray]");
const form = document.querySelector("[data-move]");
const panel = document.querySelector("[data-panel]");
const said = panel.querySelector("[data-said]");
const chosen = panel.querySelector("[data-chosen]");
const fields = panel.querySelector("[data-slot-form]");
const item = fields.elements.namedItem("item"); // `.item` is a method of every list of controls
const which = panel.querySelector("[data-which]");
const sizes = JSON.parse(document.querySelector("[data-sizes]").dataset.sizes);
const slots = [...root.querySelectorAll(".slot")];
const NONE = said.textContent;
let up = null; // the slot that was taken up
const kept = sessionStorage.getItem("traycall.slot");
const kits = [...root.querySelectorAll("[data-kit]")];

if (slots.length) {
  const open = JSON.parse(sessionStorage.getItem("traycall.kits") ?? "[]");
  for (const kit of kits) kit.open = open.includes(kit.dataset.kit);
  const last = slots.find((slot) => slot.dataset.at === kept);
  if (last) reveal(last).focus();
  stopAt(last ?? slots[0]);
  sessionStorage.removeItem("traycall.slot");
  sessionStorage.removeItem("traycall.kits");
  root.addEventListener("click", (event) => pick(event.target.closest(".slot")));
  root.addEventListener("keydown", key);
  root.addEventListener("dragstart", (event) => {
    const slot = event.target.closest(".slot");
    if (!slot) return;
    event.dataTransfer.setData("text/plain", slot.dataset.at);
    event.dataTransfer.effectAllowed = "move";
    take(slot, false);
  });
  root.addEventListener("dragover", (event) => {
    const kit = event.target.closest("summary")?.parentElement;
    if (kit && up) kit.open = true;
    const slot = event.target.closest(".slot");
    mark(slot);
    if (slot && up) event.preventDefault();
  });
  root.addEventListener("drop", (event) => {
    const slot = event.target.closest(".slot");
    if (!slot || !up) return;
    event.preventDefault();
    move(up, slot);
  });
  root.addEventListener("dragend", () => {
    mark(null);
    drop();
  });
  panel.addEventListener("keydown", (event) => event.key === "Escape" && back());
  panel.querySelector("[data-close]").addEventListener("click", back);
  item.addEventListener("change", () => ticks(item.value.trim(), []));
  fields.addEventListener("submit", () => {
    const ticked = [...which.querySelectorAll("input:checked")].map((one) => one.value);
    fields.elements.variants.value = ticked.join("|");
    remember(up);
  });
  document.querySelector("[data-clear]").addEventListener("submit", () => {
    const at = slots.indexOf(up);
    remember(slots[at + 1] ?? slots[at - 1]);
  });
}

function pick(slot) {
  if (!slot) return;
  if (!up) take(slot);
  else if (up === slot) drop("Put back.");
  else move(up, slot);
}

function take(slot, open = true) {
  drop();
  up = slot;
  slot.dataset.up = "";
  slot.setAttribute("aria-pressed", "true");
  tell(`${slot.dataset.name} taken up from ${slot.dataset.at}: choose where it goes, or change it here.`);
  if (open) show(slot);
}

function show(slot) {
  const { at, item: held, count, variants } = slot.dataset;
  panel.querySelector("[data-title]").textContent = /^\d+$/.test(at) ? `Slot ${at}` : at.charAt(0).toUpperCase() + at.slice(1);
  panel.querySelector("[data-picture]").replaceChildren(slot.querySelector("svg").cloneNode(true));
  fields.elements.at.value = document.querySelector("[data-clear]").elements.at.value = at;
  item.value = held;
  fields.elements.count.value = count;
  ticks(held, variants ? variants.split("|") : []);
  chosen.hidden = false;
}

/** The sizes or patterns that an item has, to be ticked. */
function ticks(name, on) {
  const texts = sizes[name] ?? [];
  which.hidden = texts.length === 0;
  which.querySelector(".which").replaceChildren(...texts.map((text) =>
    h("label", { class: "tick" }, h("input", { type: "checkbox", value: text, checked: on.includes(text) }), text)));
}

function drop(words = NONE) {
  if (!up) return;
  delete up.dataset.up;
  up.removeAttribute("aria-pressed");
  up = null;
  chosen.hidden = true;
  tell(words);
}

/** From the form back to its slot. */
function back() {
  const slot = up;
  drop();
  slot?.focus();
}

/** Opens the kit that a slot is in. */
function reveal(slot) {
  const kit = slot.closest("[data-kit]");
  if (kit) kit.open = true;
  return slot;
}

/** The slot that the tab key comes to. */
function stopAt(slot) {
  for (const one of slots) one.setAttribute("tabindex", one === slot ? "0" : "-1");
}

/** What the page shows again after the change is saved. */
function remember(slot) {
  if (slot) sessionStorage.setItem("traycall.slot", slot.dataset.at);
  sessionStorage.setItem("traycall.kits", JSON.stringify(kits.filter((kit) => kit.open).map((kit) => kit.dataset.kit)));
}

function move(from, to) {
  if (from === to) return drop("Put back.");
  tell(`${from.dataset.name} goes to ${to.dataset.at}, ${to.dataset.name} to ${from.dataset.at}.`);
  remember(to);
  form.elements.source.value = from.dataset.at;
  form.elements.target.value = to.dataset.at;
  form.submit();
}

function key(event) {
  const shown = slots.filter((slot) => slot.checkVisibility());
  const at = shown.indexOf(document.activeElement);
  if (at < 0) return;
  if (event.key === "Escape") return drop("Put back.");
  if (event.key === "Tab" && !event.shiftKey && up) {
    event.preventDefault(); // kits stand between
    return item.focus();
  }
  const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: shown.length - 1 }[event.key] ?? across(event.key, at, shown);
  const slot = shown[to];
  if (to === undefined || !slot) return;
  event.preventDefault();
  if (event.altKey) return move(shown[at], slot);
  stopAt(slot);
  slot.focus();
  if (up) tell(`${slot.dataset.at}: ${slot.dataset.name}. Enter puts ${up.dataset.name} here.`);
}

function mark(slot) {
  for (const one of slots) {
    if (one === slot && one !== up) one.dataset.over = "";
    else delete one.dataset.over;
  }
}

function tell(words) {
  said.textContent = words;
}
