// What a session came to.

import { h } from "./dom.js";

/** The elements of the summary. */
export function drawSummary(view, trainee) {
  const time = view.response_s === null ? "" : ` Half of the right answers began within ${view.response_s} s.`;
  const missed = view.missed.map((one) => h("li", {}, h("strong", {}, one.prompt), h("br"), one.explain));
  return [
    h("h1", { tabindex: "-1" }, "Done for now"),
    h("p", { class: "lead" }, `${view.right} of ${view.asked} right.${time}`),
    ...(missed.length ? [h("h2", {}, "Worth another look"), h("ul", { class: "plain-list" }, ...missed)] : []),
    h(
      "p",
      { class: "actions later" },
      h("a", { class: "button main", href: "/practice" }, "Practise again"),
      h("a", { class: "button", href: `/practice/progress?trainee=${encodeURIComponent(trainee)}` }, "See progress"),
    ),
  ];
}
