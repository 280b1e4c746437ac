// What a session came to: what was learnt, and what comes again when.

import { fill, h } from "./dom.js";

const MOST_NAMED = 6;

/** The elements of the summary. */
export function drawSummary(view, words) {
  if (!view.asked) return [head(words), h("p", { class: "lead" }, words.nothing_answered), onward()];
  const time = view.response_s === null ? "" : ` ${fill(words.pace, { seconds: view.response_s })}`;
  return [
    head(words),
    h("p", { class: "lead" }, `${fill(words.score, view)}${time}`),
    share(view),
    h(
      "div",
      { class: "two" },
      view.learnt.length ? h("section", { class: "card" }, h("h2", {}, `${words.learnt} (${view.learnt.length})`), h("p", {}, named(view.learnt, words))) : null,
      h("section", { class: "card" }, h("h2", {}, words.comes_again), h("dl", { class: "again" }, ...view.again.flatMap((one) => when(one, words)))),
    ),
    ...(view.missed.length ? [h("h2", {}, words.look_again), h("ul", { class: "lines" }, ...view.missed.map(missed))] : []),
    onward(),
  ];
}

function head(words) {
  return h("h1", { tabindex: "-1" }, words.done);
}

/** One mark for each answer that counted, the right ones first; the sentence above says the same. */
function share(view) {
  const marks = Array.from({ length: view.asked }, (_, i) => h("i", { class: i < view.right ? "right" : "wrong" }));
  return h("p", { class: "marks", "aria-hidden": "true" }, ...marks);
}

function when(one, words) {
  const day = one.days === 1 ? words.tomorrow : fill(words.in_days, one);
  return [h("dt", {}, day), h("dd", {}, named(one.about, words))];
}

function named(all, words) {
  const more = all.length - MOST_NAMED;
  return all.slice(0, MOST_NAMED).join(", ") + (more > 0 ? ` ${fill(words.and_more, { count: more })}` : "");
}

function missed(one) {
  return h("li", {}, h("strong", {}, one.prompt), h("br"), one.explain);
}

function onward() {
  return h(
    "p",
    { class: "actions later", lang: "en" },
    h("a", { class: "button main", href: "/practice" }, "Back to practice"),
    h("a", { class: "button", href: "/practice/progress" }, "See progress"),
  );
}
