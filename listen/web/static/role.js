// Whose screen this is, where two assistants work: what the other one fetches is small on it.

import { keep, kept } from "./dom.js";

export const role = ["chairside", "roving"].includes(kept("role", "")) ? kept("role", "") : "";
const NAMES = { chairside: "Chairside", roving: "Rover" };

if (role) document.body.dataset.role = role;

/** What is likely next for this screen. */
export function nextHere(view) {
  return role === "roving" ? view.to_fetch : view.next;
}

/** Whose it is to fetch a thing, if not this screen's: "Rover: ". */
export function others(one) {
  return role && one.item && one.by && one.by !== role ? `${NAMES[one.by]}: ` : "";
}

const choice = document.getElementById("role");
choice.value = role;
choice.addEventListener("change", () => {
  keep("role", choice.value);
  location.reload();
});
