// Draws what stands large: an answer, a question, a note, or what is likely next.

import { h, picture } from "./dom.js";

const LENGTHS = [17, 21, 26]; // letters of a name from which on it is set smaller
const MUCH = 125; // letters of a line on passing from which on it is set smaller
const SHOWN_S = { answer: 25, wait: 5, note: 8 };
const HOW = "Say “the first one” or its name, press its number, or touch it.";

/** How long this stays, in seconds; a question stays as long as the server asks it. */
export function shownFor(stage) {
  return SHOWN_S[stage.kind] ?? Infinity;
}

/** The stage's content; `choose(number)` is called for a touched choice. */
export function draw(stage, next, choose) {
  if (stage.kind === "check") return [question(stage, choose)];
  if (stage.kind === "answer") {
    const many = stage.answers.length > 1;
    const box = h("div", { class: many ? "answers many" : "answers" }, ...stage.answers.map((one) => answer(one, many)));
    return next.length ? [box, then(next)] : [box];
  }
  if (stage.kind === "wait") {
    return [h("p", { class: "note" }, h("span", {}, "Waiting", stage.wait.length ? ": not the " : ".", h("strong", {}, stage.wait.join(", "))))];
  }
  if (stage.kind === "note") return [h("p", { class: "note" }, stage.note)];
  if (stage.kind === "closed") return [closed(stage.session)];
  return [idle(next)];
}

/** The same in words, for those who hear the screen. */
export function inWords(stage) {
  if (stage.kind === "check") {
    const choices = stage.choices.map((choice, i) => `${i + 1}, ${choice.name}${choice.place ? `, ${choice.place}` : ""}`);
    const ask = stage.choices.length > 1 ? "Which one?" : "Check:";
    const beside = stage.answers.map((one) => `${nameOf(one)}, ${one.place}. `).join("");
    return `${beside}${ask} ${choices.join("; ")}. ${stage.read_back ?? ""}`;
  }
  if (stage.kind === "answer") {
    return stage.answers
      .map((one) => [nameOf(one), one.item ? one.place || one.elsewhere || "" : "", one.passing ?? ""].filter(Boolean).join(". "))
      .join(". ");
  }
  if (stage.kind === "note") return stage.note;
  return "";
}

function nameOf(one) {
  const many = one.quantity > 1 ? `${one.quantity} × ` : "";
  if (!one.item) return one.action ?? "";
  return many + (one.action ? `${one.action}: ${one.name}` : one.name);
}

function place(choice, readBack) {
  const at = choice.place || "not on this tray";
  return readBack ? `${at} · say “yes” once it is right` : at;
}

function answer(one, many) {
  const name = nameOf(one);
  const extra = [
    one.size ? `${one.size} size` : "",
    one.end ? `${one.end} end` : "",
    one.instead_of ? `not the ${one.instead_of}` : "",
    one.sharp ? "▲ sharp" : "",
    one.counted ? "counted" : "",
  ].filter(Boolean);
  const long = LENGTHS.filter((most) => name.length > most).length;
  const named = h(
    "div",
    { class: "named" },
    h("h2", {}, name),
    extra.length || one.passing
      ? h("p", { class: (one.passing ?? "").length > MUCH ? "much" : "" }, h("b", {}, extra.join(" · ")), extra.length ? " " : "", h("span", { class: "passing" }, one.passing ?? ""))
      : null,
  );
  if (!one.item) return h("div", { class: "answer under", "data-long": 3 }, named);
  const under = many || long > 1 || (one.slot && !isNumber(one.slot));
  return h("div", { class: under ? "answer under" : "answer", "data-long": long }, where(one), picture(one.item), named);
}

function isNumber(slot) {
  return /^[\d ]+$/.test(slot ?? "");
}

function where(one) {
  if (!one.slot) return h("div", { class: "where none" }, one.elsewhere ?? "no tray chosen");
  if (isNumber(one.slot)) return h("div", { class: "where" }, h("small", {}, "slot"), one.slot);
  return h("div", { class: "where words" }, one.slot);
}

function then(next) {
  return h(
    "p",
    { class: "then" },
    "Next, likely:",
    ...next.map((likely) => h("span", {}, h("b", {}, likely.name), likely.slot ? ` ${likely.slot}` : "")),
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

function closed(session) {
  return h(
    "div",
    { class: "closed" },
    h("h2", {}, "This session is closed."),
    h("p", { class: "actions" }, h("a", { class: "button main", href: `/sessions/${session}` }, "Its report"), h("a", { class: "button", href: "/" }, "Start page")),
  );
}

function question(stage, choose) {
  const single = stage.choices.length === 1;
  const label = stage.read_back;
  const title = label && single ? "Check first" : single ? "Is it this?" : "Which one?";
  const how = label ? h("strong", {}, label) : single ? "Say “yes” or “no”, or press 1 or 0." : HOW;
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
            { type: "button", onclick: () => choose(i + 1), "data-choose": i + 1 },
            h("span", { class: "nr" }, String(i + 1)),
            h("span", {}, h("b", {}, choice.name), h("small", {}, place(choice, single && label))),
            picture(choice.item),
          ),
        ),
      ),
    ),
  );
}
