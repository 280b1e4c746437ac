// Draws what stands large: an answer, a question, a note, or what is likely next.

import { h, picture } from "./dom.js";
import { others } from "./role.js";

const LENGTHS = [17, 21, 26]; // letters of a name from which on it is set smaller
const SMALLEST = 5; // steps by which text is set smaller, see `fit`
const EDGE = 4; // pixels that stay free around it
const SHOWN_S = { answer: 25, wait: 5, note: 8, asked: 25 };
const HOW = "Say “the first one” or its name, press its number, or touch it.";
const AGAIN = { label: "Read it back, then touch again", other: "Touch again to confirm" };

/** How long this stays, in seconds; a question stays as long as the server asks it. */
export function shownFor(stage) {
  return SHOWN_S[stage.asked ? "asked" : stage.kind] ?? Infinity;
}

/** The stage's content. `choose(number)` is called for a touched choice; `unheard` is why nobody is heard now,
 * { title, how, brief, sign }, or null. */
export function draw(stage, next, choose, unheard = null) {
  if (stage.kind === "closed") return [closed(stage.session)];
  if (stage.kind === "check") return [question(stage, choose, unheard)];
  if (stage.kind === "idle") return unheard ? [silent(unheard), ...(next.length ? [then(next)] : [])] : [idle(next)];
  return [...shown(stage, next), ...(unheard ? [h("p", { class: "unheard" }, unheard.brief)] : [])];
}

function shown(stage, next) {
  if (stage.kind === "answer") {
    const many = stage.answers.length > 1;
    const box = h("div", { class: many ? "answers many" : "answers" }, ...stage.answers.map((one) => answer(one, many)));
    return next.length ? [box, then(next)] : [box];
  }
  if (stage.kind === "wait") {
    return [h("p", { class: "note" }, h("span", {}, "Waiting", stage.wait.length ? ": not the " : ".", h("strong", {}, stage.wait.join(", "))))];
  }
  return [h("p", { class: "note" }, stage.note, stage.asked ? whatIsIt(stage.asked) : null)];
}

/** For what was typed on this screen and is not known: the way to say which item it is. */
function whatIsIt(text) {
  const href = `/find?${new URLSearchParams({ q: text })}`;
  return h("span", { class: "what-is-it" }, `You called it “${text}”. `, h("a", { href, target: "_blank", rel: "noopener" }, "What is it?"));
}

/** Sets what is drawn smaller, step by step, until nothing is cut off. */
export function fit(stage) {
  for (let step = 0; step <= SMALLEST; step++) {
    stage.dataset.fit = step;
    if (![...stage.querySelectorAll(".answer, .choices button")].some(isCut)) return;
  }
}

function isCut(box) {
  const text = box.querySelector(".named, .what-is");
  const widest = text.querySelector("h2, b");
  return text.offsetHeight + EDGE > box.clientHeight || widest.scrollWidth > widest.clientWidth + 1;
}

/** The same in words, for those who hear the screen. */
export function inWords(stage) {
  if (stage.kind === "check") {
    const chosen = stage.choices[stage.chosen ?? -1];
    const choices = stage.choices.map((choice, i) => `${i + 1}, ${sized(choice)}${choice.place ? `, ${choice.place}` : ""}`);
    const ask = chosen ? `${sized(chosen)}: ${again(stage)}.` : stage.choices.length > 1 ? "Which one?" : "Check:";
    const beside = stage.answers.map((one) => `${nameOf(one)}, ${one.place}. `).join("");
    return `${beside}${ask} ${chosen ? "" : `${choices.join("; ")}. `}${stage.warning ?? ""} ${stage.read_back ?? ""}`;
  }
  if (stage.kind === "answer") {
    return stage.answers
      .map((one) => [nameOf(one), one.item ? one.place || one.elsewhere || "" : "", one.warning, one.passing].filter(Boolean).join(". "))
      .join(". ");
  }
  if (stage.kind === "note") return stage.note;
  if (stage.kind === "injury") return `Needle stick or cut. ${stage.lines.join(" ")}`;
  return "";
}

function nameOf(one) {
  const many = one.quantity > 1 ? `${one.quantity} × ` : "";
  if (!one.item) return one.action ?? "";
  return many + (one.action ? `${one.action}: ${sized(one)}` : sized(one));
}

/** The name with the size, pattern or shank that was said or chosen: "dam clamp W8A". */
function sized(one) {
  return one.size ? `${one.name} ${one.size}` : one.name;
}

function answer(one, many) {
  const name = nameOf(one);
  const extra = [
    one.end ? `${one.end} end` : "",
    one.instead_of ? `not the ${one.instead_of}` : "",
    one.sharp ? "▲ sharp" : "",
    one.counted ? "counted" : "",
  ].filter(Boolean);
  const long = LENGTHS.filter((most) => name.length > most).length;
  const theirs = others(one);
  const named = h(
    "div",
    { class: "named" },
    h("h2", {}, theirs, name),
    one.warning ? h("p", { class: "warning" }, one.warning) : null,
    extra.length || one.passing
      ? h("p", {}, h("b", {}, extra.join(" · ")), extra.length ? " " : "", h("span", { class: "passing" }, one.passing ?? ""))
      : null,
  );
  if (!one.item) return h("div", { class: "answer under", "data-long": 3 }, named);
  const under = many || long > 1 || (one.slot && !isNumber(one.slot) && !IN_A_KIT.test(one.slot));
  return h("div", { class: under ? "answer under" : "answer", "data-long": long, "data-theirs": theirs !== "" }, where(one), picture(one.item), named);
}

const IN_A_KIT = /^(.+) (\d+)$/; // "bur kit 3"

function isNumber(slot) {
  return /^[\d ]+$/.test(slot ?? "");
}

function where(one) {
  if (!one.slot) return h("div", { class: "where none" }, one.elsewhere ?? "no tray chosen");
  if (isNumber(one.slot)) return h("div", { class: "where" }, h("small", {}, "slot"), one.slot);
  const [, kit, number] = one.slot.match(IN_A_KIT) ?? [];
  if (kit) return h("div", { class: "where" }, h("small", {}, kit), " ", number);
  return h("div", { class: "where words" }, one.slot);
}

function then(next) {
  return h(
    "p",
    { class: "then" },
    "Next, likely:",
    ...next.map((likely) => h("span", {}, h("b", {}, likely.name), likely.place ? ` ${likely.place}` : "")),
  );
}

function idle(next) {
  return h(
    "div",
    { class: "idle" },
    h("p", {}, next.length ? "Likely next" : "Ready"),
    ...next.map((likely) =>
      h("div", { class: "likely" }, picture(likely.item), h("div", {}, h("b", {}, likely.name), h("span", {}, likely.place))),
    ),
  );
}

/** Nothing is shown and nobody is heard: said so that it can be read from across the room. */
function silent({ title, how, sign }) {
  return h(
    "div",
    { class: "silent", "data-long": title.length > LENGTHS[1] },
    h("div", { class: "sign", "aria-hidden": "true" }, sign),
    h("div", {}, h("h2", {}, title), h("p", {}, how)),
  );
}

function closed(session) {
  return h(
    "div",
    { class: "closed" },
    h("h2", {}, "This session is closed."),
    h("p", { class: "actions" }, h("a", { class: "button main", href: `/sessions/${session}` }, "Its report"), h("a", { class: "button", href: "/" }, "Start page")),
  );
}

/** What is to be done with a choice that waits. */
function again(stage) {
  return stage.read_back ? AGAIN.label : AGAIN.other;
}

function question(stage, choose, unheard) {
  const single = stage.choices.length === 1;
  const chosen = stage.chosen ?? null;
  const title = chosen !== null ? "Check first" : single ? "Is it this?" : "Which one?";
  const how = stage.read_back ? h("strong", {}, stage.read_back) : unheard ? `${unheard.title}: ${single ? "press 1 or 0" : "press its number"}, or touch it.` : single ? "Say “yes” or “no”, or press 1 or 0." : HOW;
  const beside = stage.answers.map((one) => h("span", { class: "beside" }, `${one.place ?? ""} `, h("b", {}, nameOf(one))));
  return h(
    "div",
    { class: "question" },
    h(
      "header",
      {},
      h("h2", {}, title),
      h("p", {}, how),
      ...beside,
      h("button", { type: "button", class: "plain", onclick: () => choose(0) }, single ? "No" : "None of these"),
      stage.warning ? h("p", { class: "warning" }, stage.warning) : null,
    ),
    h(
      "ol",
      { class: "choices" },
      ...stage.choices.map((choice, i) =>
        h(
          "li",
          {},
          h(
            "button",
            { type: "button", onclick: () => choose(i + 1), "data-choose": i + 1, "data-chosen": i === chosen, "aria-pressed": chosen === null ? null : String(i === chosen) },
            h("span", { class: "nr" }, String(i + 1)),
            h(
              "span",
              { class: "what-is" },
              h("b", {}, sized(choice)),
              h("small", {}, choice.place || "not on this tray"),
              i === chosen ? h("small", { class: "again" }, again(stage)) : null,
            ),
            picture(choice.item),
          ),
        ),
      ),
    ),
  );
}
