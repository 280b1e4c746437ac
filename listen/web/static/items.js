// Shows the items that fit the filters as soon as one of them is changed; without it a button does.

const WAIT_MS = 200;
const form = document.querySelector("[data-filters]");
const count = document.querySelector("[data-count]");
const rest = count.textContent.replace(/^\d+/, "");
let asked = 0;
let timer = 0;

form.querySelector("[data-show]").hidden = true;
form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(() => show(), WAIT_MS);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  show();
});
form.querySelector("[data-clear]").addEventListener("click", (event) => {
  event.preventDefault();
  for (const field of form.elements) field.type === "checkbox" ? (field.checked = false) : (field.value = "");
  show(true);
});

/** What fits is open; all kinds of things are folded, unless everything is asked for. */
async function show(everything = false) {
  clearTimeout(timer);
  const number = ++asked;
  const wanted = new URLSearchParams([...new FormData(form)].filter(([, value]) => value.trim()));
  const reply = await fetch(`/find/items?${wanted}`).catch(() => null);
  if (!reply?.ok || number !== asked) return;
  const fitting = new Set(await reply.json());
  if (number !== asked) return;
  for (const tile of document.querySelectorAll("[data-id]")) tile.hidden = !fitting.has(tile.dataset.id);
  for (const section of document.querySelectorAll("[data-tiles] section")) {
    section.hidden = !section.querySelector("li:not([hidden])");
    section.querySelector("details").open = everything || wanted.size > 0;
  }
  document.querySelector("[data-none]").hidden = fitting.size > 0;
  count.textContent = `${fitting.size}${rest}`;
  history.replaceState(null, "", `/items${wanted.size ? `?${wanted}` : ""}`);
}
