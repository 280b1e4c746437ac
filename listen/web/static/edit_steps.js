// Edits a procedure's steps, each a line that opens, and shows after each change the usual order of its items.

import { h } from "./dom.js";

const WAIT_MS = 300;
const SHOWN = 4; // items named in a folded line
const page = document.querySelector("[data-steps]");
const { procedure, steps, items } = JSON.parse(page.dataset.steps);
const $ = (name) => page.querySelector(`[data-${name}]`);
const ids = new Map(Object.entries(items).map(([id, name]) => [name.toLowerCase(), id]));
const OFTEN = [["very often", 4], ["often", 2], ["sometimes", 1], ["rarely", 0.3]];
const open = new Set(); // the steps that are open
let dragged = null;
let unsaved = false;
let timer = 0;
let asked = 0;

page.append(h("datalist", { id: "all-items" }, ...Object.values(items).map((name) => h("option", { value: name }))));
draw();
$("add").addEventListener("click", () => {
  const step = { name: "", items: {} };
  steps.push(step);
  open.add(step);
  draw();
  focusOn(step, "[data-name]");
});
$("save").addEventListener("click", () => send(true));
$("list").addEventListener("dragover", (event) => {
  const line = event.target.closest("li");
  if (!dragged || !line) return;
  event.preventDefault();
  for (const one of $("list").children) one.toggleAttribute("data-over", one === line);
});
$("list").addEventListener("drop", (event) => {
  const line = event.target.closest("li");
  if (!dragged || !line) return;
  event.preventDefault();
  place(dragged, [...$("list").children].indexOf(line), ".step-open");
});
addEventListener("beforeunload", (event) => unsaved && event.preventDefault());

function draw() {
  $("list").replaceChildren(...steps.map(drawStep));
}

function drawStep(step, i) {
  const called = step.name || `step ${i + 1}`;
  const is = open.has(step);
  const title = h("strong", {}, `${i + 1}. ${step.name || "a step without a name"}`);
  const shown = h("button", { type: "button", class: "step-open", "aria-expanded": String(is), onclick: () => {
    if (is) open.delete(step);
    else open.add(step);
    draw();
    focusOn(step, ".step-open");
  }, onkeydown: (event) => keyed(event, step) }, h("span", {}, title, summary(step)), h("span", { class: "soft short" }, some(step)));
  const arrow = (by, text, words) => h("button", { type: "button", class: `plain step-${words}`, "aria-label": `${called}: ${words}`, disabled: !steps[i + by], onclick: () => place(step, i + by, `.step-${words}`) }, text);
  const line = h("div", { class: "step-head", draggable: "true", ondragstart: (event) => {
    dragged = step;
    event.dataTransfer.setData("text/plain", called);
    event.dataTransfer.effectAllowed = "move";
  }, ondragend: () => {
    dragged = null;
    for (const one of $("list").children) one.removeAttribute("data-over");
  } }, h("span", { class: "grip", "aria-hidden": "true" }, "⠿"), shown, arrow(-1, "↑", "earlier"), arrow(1, "↓", "later"));
  return h("li", { "data-open": is }, line, is ? drawInside(step, i, called, title) : "");
}

function drawInside(step, i, called, title) {
  const name = h("input", { type: "text", value: step.name, maxlength: 80, "data-name": true, oninput: () => {
    step.name = name.value;
    title.textContent = `${i + 1}. ${step.name}`;
    changed();
  } });
  const add = h("input", { type: "text", list: "all-items", "data-add-item": true, autocomplete: "off", onchange: () => {
    const id = ids.get(add.value.trim().toLowerCase());
    if (!id) return tell(add.value ? `No item is called “${add.value}”; choose one from the list.` : "");
    step.items[id] ??= 1;
    redraw(step, "[data-add-item]");
  } });
  const timed = h("input", { type: "text", value: (step.timers ?? []).join(", "), maxlength: 200, autocomplete: "off", onchange: () => {
    step.timers = timed.value.split(",").map((one) => one.trim()).filter(Boolean);
    changed();
  } });
  return h("div", { class: "step-inside fields" },
    h("label", {}, "Name of the step", name),
    h("div", { class: "step-ticks" }, tick(step, "optional", "may be left out"), tick(step, "faculty_check", "a teacher looks before it goes on")),
    h("div", { class: "asked", role: "group", "aria-label": `What ${called} asks for` }, ...Object.entries(step.items).map(([id, weight]) => drawItem(step, id, weight))),
    h("div", { class: "line-fields" },
      h("label", {}, "Add an item", add),
      h("label", {}, h("span", {}, "What is timed ", h("span", { class: "soft" }, "(commas between; the times are set under Setting up the clinic)")), timed)),
    ...(step.cautions ?? []).map((text) => h("p", { class: "notice" }, text)),
    h("div", { class: "actions" }, h("button", { type: "button", class: "plain", onclick: () => {
      steps.splice(i, 1);
      redraw(steps[Math.min(i, steps.length - 1)], ".step-open");
    } }, "Take this step out")));
}

function tick(step, field, words) {
  const box = h("input", { type: "checkbox", checked: Boolean(step[field]), onchange: () => {
    step[field] = box.checked;
    redraw(step, `[data-tick="${field}"]`);
  }, "data-tick": field });
  return h("label", { class: "tick" }, box, words);
}

function summary(step) {
  const marks = [step.optional && "may be left out", step.faculty_check && "a teacher looks", step.timers?.length && "timed"];
  return h("span", { class: "soft" }, marks.filter(Boolean).map((text) => ` · ${text}`).join(""));
}

/** What a step asks for most, in words. */
function some(step) {
  const most = Object.entries(step.items).sort((one, other) => other[1] - one[1]);
  const names = most.map(([id]) => items[id] ?? id);
  if (names.length <= SHOWN + 1) return names.join(", ") || "nothing is asked for yet";
  return `${names.slice(0, SHOWN).join(", ")} and ${names.length - SHOWN} more`;
}

function keyed(event, step) {
  const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
  const to = steps.indexOf(step) + by;
  if (!by || !steps[to]) return;
  event.preventDefault();
  if (event.altKey) place(step, to, ".step-open");
  else focusOn(steps[to], ".step-open");
}

function drawItem(step, id, weight) {
  const near = OFTEN.reduce((a, b) => (Math.abs(Math.log(b[1] / weight)) < Math.abs(Math.log(a[1] / weight)) ? b : a));
  const choices = OFTEN.map((one) => (one === near ? [near[0], weight] : one)); // an odd weight keeps its value
  const often = h("select", { "aria-label": `How often ${items[id] ?? id}`, onchange: () => {
    step.items[id] = Number(often.value);
    changed();
  } }, ...choices.map(([text, value]) => h("option", { value, selected: value === weight }, text)));
  return h("div", {}, items[id] ?? id, often, h("button", { type: "button", class: "plain", "aria-label": `${items[id] ?? id}: take out`, onclick: () => {
    delete step.items[id];
    redraw(step, "[data-add-item]");
  } }, "✕"));
}

/** Move a step and keep the focus on it. */
function place(step, to, control) {
  const from = steps.indexOf(step);
  if (from === to) return;
  steps.splice(to, 0, ...steps.splice(from, 1));
  redraw(step, control);
}

function redraw(step, control) {
  draw();
  if (step) focusOn(step, control);
  changed();
}

function focusOn(step, control) {
  const line = $("list").children[steps.indexOf(step)];
  const wanted = line.querySelector(control);
  (wanted && !wanted.disabled ? wanted : line.querySelector(".step-open")).focus();
}

function changed() {
  unsaved = true;
  page.dataset.unsaved = "";
  $("save").disabled = true;
  clearTimeout(timer);
  timer = setTimeout(() => send(false), WAIT_MS);
}

async function send(save) {
  const number = ++asked;
  const reply = await fetch(`/edit/steps?vocabulary=${page.dataset.vocabulary}`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ procedure, steps, save, why: $("why").value }),
  }).catch(() => null);
  if (number !== asked) return;
  const told = reply ? await reply.json().catch(() => null) : null;
  if (!told) return tell("The server cannot be reached.");
  if (told.problem) return tell(told.problem);
  if (told.saved) {
    unsaved = false;
    return location.assign(`${location.pathname}?saved=${told.saved}`);
  }
  $("after-box").hidden = told.troubles.length > 0;
  $("after").replaceChildren(...told.after.map((name, i) => h("li", { class: told.before[i] === name ? null : "moved" }, name)));
  const moved = told.after.filter((name, i) => told.before[i] !== name).length;
  if (told.troubles.length || told.warnings.length) tell(...told.troubles, ...told.warnings);
  else $("told").replaceChildren(h("p", {}, `Not saved yet. ${moved === 0 ? "The usual order stays as it is." : `${moved} ${moved === 1 ? "place" : "places"} of the usual order would change.`}`));
  $("save").disabled = told.troubles.length > 0;
}

function tell(...lines) {
  $("told").replaceChildren(...lines.filter(Boolean).map((line) => h("p", { class: "notice" }, line)));
}
