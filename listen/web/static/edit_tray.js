// Lays out a tray: by dragging, by touching two slots, or by keyboard. The server saves each move.

const root = document.querySelector("[data-tray]");
const form = document.querySelector("[data-move]");
const said = document.querySelector("[data-said]");
const fields = document.querySelector("[data-slot-form]");
const slots = [...root.querySelectorAll(".slot")];
let up = null; // the slot that was taken up
const kept = sessionStorage.getItem("traycall.slot");

if (slots.length && !slots[0].disabled) {
  slots.forEach((slot) => slot.setAttribute("tabindex", "-1"));
  (slots.find((slot) => slot.dataset.at === kept) ?? slots[0]).setAttribute("tabindex", "0");
  if (kept !== null) slots.find((slot) => slot.dataset.at === kept)?.focus();
  sessionStorage.removeItem("traycall.slot");
  root.addEventListener("click", (event) => pick(event.target.closest(".slot")));
  root.addEventListener("keydown", key);
  root.addEventListener("dragstart", (event) => {
    const slot = event.target.closest(".slot");
    if (!slot) return;
    event.dataTransfer.setData("text/plain", slot.dataset.at);
    event.dataTransfer.effectAllowed = "move";
    take(slot);
  });
  root.addEventListener("dragover", (event) => {
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
}

function pick(slot) {
  if (!slot) return;
  if (!up) take(slot);
  else if (up === slot) drop("Put back.");
  else move(up, slot);
}

function take(slot) {
  drop();
  up = slot;
  slot.dataset.up = "";
  slot.setAttribute("aria-pressed", "true");
  tell(`${slot.dataset.name} taken up from ${slot.dataset.at}. Choose where it goes; Escape puts it back.`);
  if (fields) {
    fields.elements.at.value = slot.dataset.at;
    fields.elements.item.value = slot.dataset.item;
    fields.elements.count.value = slot.dataset.count;
    fields.elements.variants.value = slot.dataset.variants;
  }
}

function drop(words = "") {
  if (!up) return;
  delete up.dataset.up;
  up.removeAttribute("aria-pressed");
  up = null;
  tell(words);
}

function move(from, to) {
  if (from === to) return drop("Put back.");
  tell(`${from.dataset.name} goes to ${to.dataset.at}, ${to.dataset.name} to ${from.dataset.at}.`);
  sessionStorage.setItem("traycall.slot", to.dataset.at);
  form.elements.source.value = from.dataset.at;
  form.elements.target.value = to.dataset.at;
  form.submit();
}

function key(event) {
  const at = slots.indexOf(document.activeElement);
  if (at < 0) return;
  if (event.key === "Escape") return drop("Put back.");
  const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: slots.length - 1 }[event.key] ?? across(event.key, at);
  const slot = slots[to];
  if (to === undefined || !slot) return;
  event.preventDefault();
  if (event.altKey) return move(slots[at], slot);
  slots[at].setAttribute("tabindex", "-1");
  slot.setAttribute("tabindex", "0");
  slot.focus();
  if (up) tell(`${slot.dataset.at}: ${slot.dataset.name}. Enter puts ${up.dataset.name} here.`);
}

/** The nearest slot above or below. */
function across(name, at) {
  const down = { ArrowDown: 1, ArrowUp: -1 }[name];
  if (!down) return undefined;
  const from = slots[at].getBoundingClientRect();
  let best;
  let least = Infinity;
  slots.forEach((slot, i) => {
    const box = slot.getBoundingClientRect();
    const dy = (box.top - from.top) * down;
    if (dy < from.height / 2) return;
    const distance = dy * 4 + Math.abs(box.left - from.left);
    if (distance < least) [best, least] = [i, distance];
  });
  return best;
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
