// Edits a procedure's steps and shows, after each change, the usual order of its items.

import { h } from "./dom.js";

const WAIT_MS = 300;
const page = document.querySelector("[data-steps]");
const { procedure, steps, items } = JSON.parse(page.dataset.steps);
const $ = (name) => page.querySelector(`[data-${name}]`);
const ids = new Map(Object.entries(items).map(([id, name]) => [name.toLowerCase(), id]));
const OFTEN = [["very often", 4], ["often", 2], ["sometimes", 1], ["rarely", 0.3]];
let timer = 0;
let asked = 0;

if ($("add")) {
  draw();
  $("add").addEventListener("click", () => {
    steps.push({ name: "", items: {} });
    draw();
    $("list").lastElementChild.querySelector("input").focus();
  });
  $("save").addEventListener("click", () => send(true));
}

function draw() {
  const list = h("datalist", { id: "all-items" }, ...Object.values(items).map((name) => h("option", { value: name })));
  $("list").replaceChildren(...steps.map(drawStep));
  document.getElementById("all-items")?.remove();
  page.append(list);
}

function drawStep(step, i) {
  const called = step.name || `step ${i + 1}`;
  const name = h("input", { type: "text", value: step.name, maxlength: 80, "aria-label": `Name of step ${i + 1}`, oninput: () => {
    step.name = name.value;
    changed();
  } });
  const add = h("input", { type: "text", list: "all-items", placeholder: "Add an item", "aria-label": `Add an item to ${called}`, autocomplete: "off", onchange: () => {
    const id = ids.get(add.value.trim().toLowerCase());
    if (!id) return tell(add.value ? `No item is called “${add.value}”; choose one from the list.` : "");
    step.items[id] ??= 1;
    redraw();
  } });
  return h("li", {},
    h("div", { class: "step-head" }, name,
      h("button", { type: "button", class: "plain", "aria-label": `${called}: earlier`, disabled: i === 0, onclick: () => swap(i, i - 1) }, "↑"),
      h("button", { type: "button", class: "plain", "aria-label": `${called}: later`, disabled: i === steps.length - 1, onclick: () => swap(i, i + 1) }, "↓"),
      h("button", { type: "button", class: "plain", "aria-label": `${called}: take out`, onclick: () => {
        steps.splice(i, 1);
        redraw();
      } }, "✕")),
    h("div", { class: "asked" }, ...Object.entries(step.items).map(([id, weight]) => drawItem(step, id, weight)), add));
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
    redraw();
  } }, "✕"));
}

function swap(i, j) {
  [steps[i], steps[j]] = [steps[j], steps[i]];
  redraw();
  $("list").children[j].querySelector("button:not(:disabled)").focus();
}

function redraw() {
  draw();
  changed();
}

function changed() {
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
  if (told.saved) return location.assign(`${location.pathname}?saved=${told.saved}`);
  $("after-box").hidden = told.troubles.length > 0;
  $("after").replaceChildren(...told.after.map((name, i) => h("li", { class: told.before[i] === name ? null : "moved" }, name)));
  tell(...told.troubles, ...told.warnings);
  $("save").disabled = told.troubles.length > 0;
}

function tell(...lines) {
  $("told").replaceChildren(...lines.filter(Boolean).map((line) => h("p", { class: "notice" }, line)));
}
