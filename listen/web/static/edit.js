// Live findings about a name while it is typed, a name into the microphone, and whether speech is up to date.

import { h } from "./dom.js";
import { Link } from "./link.js";
import { Microphone } from "./microphone.js";

const WAIT_MS = 250;
const TRY_MS = 1500; // a name that stands so long is said to the engine
const TRIED_MS = 1000;
const LOOK_MS = 500;
const LEAST_P = 0.05; // an item less likely than this is not worth naming

for (const form of document.querySelectorAll("[data-lint]")) lintOf(form);
for (const button of document.querySelectorAll("[data-speak]")) speakOf(button);
document.querySelector(".edit-nav [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
const hears = document.querySelector("[data-hears]");
if (hears) look();

/**
 * What a name would bring, a moment after the last key: in a form's own place, where it is also tried by voice, or for
 * one of many names in the page's only one. `data-of` is the vocabulary.
 */
function lintOf(form) {
  const field = form.querySelector("[data-name]");
  const own = form.querySelector("[data-findings]");
  const place = own ?? document.querySelector("[data-findings]");
  let timer = 0;
  let asked = 0;
  let shown = "";
  const ask = async (wanted = "no") => {
    const number = ++asked;
    const name = own ? field.value.trim() : field.value.split(/[,;]/).at(-1).trim();
    if (!name) {
      shown = "";
      return place.replaceChildren();
    }
    const query = new URLSearchParams({ name, item: form.dataset.lint, try: wanted });
    if (form.dataset.of) query.set("vocabulary", form.dataset.of);
    const reply = await fetch(`/edit/lint?${query}`).catch(() => null);
    if (!reply?.ok || number !== asked || (!own && document.activeElement !== field)) return;
    const told = await reply.json();
    if (number !== asked) return;
    if (shown !== JSON.stringify(told)) place.replaceChildren(...findings(told)); // else it would be read out again
    shown = JSON.stringify(told);
    if (!own || told.tried === "done" || told.problem || (told.tried === "not" && wanted === "yes")) return;
    timer = setTimeout(() => ask("yes"), told.tried === "not" ? TRY_MS : TRIED_MS);
  };
  field.addEventListener("input", () => {
    clearTimeout(timer);
    asked++;
    timer = setTimeout(ask, WAIT_MS);
  });
  if (own && field.value) ask();
  if (!own)
    field.addEventListener("focus", () => {
      shown = "";
      place.replaceChildren();
      ask();
    });
}

function findings({ findings, tried, taken, problem }) {
  const passed = tried === "done" && !taken && "Said in chair noise, it was not taken for any other name.";
  const fine = passed || "Does not sound like any other name here.";
  const note = problem
    ? `By sound only: ${problem}.`
    : tried === "being said" ? "Saying it in chair noise to see what it would be taken for…" : findings.length && passed;
  return [
    ...findings.map((one) => finding(one.severity, sentence(one.message), `${one.help}.`)),
    ...(findings.length ? [] : [finding("good", fine)]),
    ...(note ? [h("p", { class: "soft" }, note)] : []),
  ];
}

function finding(severity, text, help = "", ...more) {
  return h("div", { class: "finding", "data-severity": severity }, h("p", {}, text), help && h("p", { class: "soft" }, help), ...more);
}

function sentence(text) {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}

/** The name is said; the server tells what it heard and tries the new name on it. */
function speakOf(button) {
  const form = button.form;
  const ear = form.querySelector("[data-ear]");
  const place = form.querySelector("[data-spoken]");
  const say = form.querySelector("[data-say]");
  let link = null;
  const wish = (open) => ({ open, item: form.dataset.lint, name: form.querySelector("[data-name]").value.trim() });
  const words = { speaking: "Someone is speaking.", thinking: "Listening again…", quiet: "Microphone open: say the name." };
  const microphone = new Microphone({
    onsound: (pcm) => link?.sound(pcm),
    onlevel: () => {},
    onlost: () => close("The microphone was unplugged or taken away."),
  });
  const close = (why) => {
    microphone.close();
    link?.send(wish(false));
    button.textContent = "Try it by voice";
    ear.textContent = why;
  };
  const show = (message) => {
    if (message.type === "ear") {
      if (microphone.isOpen) ear.textContent = words[message.state];
    } else if (message.type === "heard") {
      place.replaceChildren(...told(message, say));
    } else if (message.type === "problem") {
      ear.textContent = message.text;
    }
  };
  form.querySelector("[data-name]").addEventListener("input", () => link?.send(wish(microphone.isOpen)));
  button.addEventListener("click", async () => {
    if (microphone.isOpen) return close("Microphone closed.");
    try {
      await microphone.open(false);
    } catch (error) {
      ear.textContent = error.message;
      return;
    }
    button.textContent = "Close the microphone";
    ear.textContent = words.quiet;
    const begin = () => microphone.isOpen && link?.send(wish(true));
    if (link) begin();
    else link = new Link("/edit/listen", { message: show, up: () => begin(), down: () => close("The connection is lost.") });
  });
}

function told(message, say) {
  const now = message.now.p >= LEAST_P
    ? `Today it would be taken for ${message.now.name} (${Math.round(100 * message.now.p)} in 100).`
    : "Today it would not be taken for a request.";
  const lines = [finding(message.now.item === message.wanted ? "good" : "low", `The engine wrote “${message.heard.replace(/[.?!]+$/, "") || "nothing"}”.`, now)];
  for (const one of message.tries) {
    const how = one.say ? `“${message.name}”, said “${one.say}”` : `“${message.name}”, as it is written`;
    const then = one.good
      ? "would be understood."
      : one.taken.p >= LEAST_P
        ? `would be taken for ${one.taken.name} (${Math.round(100 * one.taken.p)} in 100).`
        : "would not be understood.";
    const use = one.good && one.say
      ? h("button", { type: "button", class: "plain", onclick: () => (say.value = one.say) }, `Use “${one.say}”`)
      : "";
    lines.push(finding(one.good ? "good" : "high", `${how}, ${then}`, "", use));
  }
  if (!message.name) lines.push(h("p", { class: "soft" }, "Type the new name above, then say it: it is tried at once."));
  return lines;
}

/** Asks until speech is understood with the newest names. */
async function look() {
  const reply = await fetch("/edit/state").catch(() => null);
  if (!reply?.ok) return setTimeout(look, LOOK_MS);
  const state = await reply.json();
  if (state.hears) hears.textContent = "Understood at once, typed and spoken.";
  else if (state.problem) hears.textContent = `Understood when typed; not when spoken: ${state.problem}`;
  else {
    hears.textContent = "Understood when typed; when spoken in a moment.";
    setTimeout(look, LOOK_MS);
  }
}
