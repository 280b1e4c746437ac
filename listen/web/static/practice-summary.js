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
    days(view.days, words),
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

/** What was known at the end of each day; the sentence above says the same. */
function days(all, words) {
  if (all.length < 2) return null;
  const most = Math.max(1, ...all.map(([, , known]) => known));
  const wide = 10 * Math.max(all.length, 7);
  const up = (known) => (100 - (92 * known) / most).toFixed(1);
  const area = all.map(([, , known]) => `V${up(known)}h10`).join("");
  const picture = svg("svg", { viewBox: `0 0 ${wide} 100`, preserveAspectRatio: "none", "aria-hidden": "true" }, [
    svg("path", { class: "base", d: `M0 100H${wide}` }),
    svg("path", { class: "area", d: `M0 100${area}V100Z` }),
  ]);
  const [, , count] = all.at(-1);
  const told = fill(words.known_now, { count, before: all[0][2] });
  return h("figure", { class: "chart later" }, h("figcaption", {}, h("strong", {}, words.day_by_day), h("span", { class: "soft" }, told)), picture);
}

function svg(name, attributes, inside = []) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

function when(one, words) {
  const day = one.days === 1 ? words.tomorrow : fill(words.in_days, one);
  return [h("dt", {}, day), h("dd", {}, named(one.about, words))];
}

function named(all, words) {
  const more = all.length - MOST_NAMED;
  return all.slice(0, MOST_NAMED).join("; ") + (more > 0 ? ` ${fill(words.and_more, { count: more })}` : "");
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
