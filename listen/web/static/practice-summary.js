// What a session came to.

import { fill, h } from "./dom.js";

/** The elements of the summary. */
export function drawSummary(view, words) {
  const time = view.response_s === null ? "" : ` ${fill(words.pace, { seconds: view.response_s })}`;
  const missed = view.missed.map((one) => h("li", {}, h("strong", {}, one.prompt), h("br"), one.explain));
  return [
    h("h1", { tabindex: "-1" }, words.done),
    h("p", { class: "lead" }, `${fill(words.score, view)}${time}`),
    ...(missed.length ? [h("h2", {}, words.look_again), h("ul", { class: "plain-list" }, ...missed)] : []),
    h(
      "p",
      { class: "actions later" },
      h("a", { class: "button main", href: "/practice" }, "Practise again"),
      h("a", { class: "button", href: "/practice/progress" }, "See progress"),
    ),
  ];
}
