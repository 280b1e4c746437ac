// The set-up check without a reload for every answer; without this script its forms work as they are.

const stands = document.querySelector("[data-stands]");
const all = document.querySelector("[data-all]");
const done = document.querySelector("[data-done]");
const chair = document.querySelector("form[data-chair]");
const kept = document.querySelector("[data-kept]");

for (const form of document.querySelectorAll("main form")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    send(form, event.submitter);
  });
}

/** What is chosen for the chair is kept at once; what is typed, once it is left. */
chair.addEventListener("change", () => chair.requestSubmit());

async function send(form, button) {
  const body = new URLSearchParams(new FormData(form, button));
  const reply = await fetch(location.pathname, { method: "POST", body, headers: { accept: "application/json" } }).catch(() => null);
  const told = reply ? await reply.json().catch(() => null) : null;
  const place = form === chair ? kept : stands;
  if (!told || told.problem) {
    place.textContent = told?.problem ?? "The server cannot be reached: try again.";
    if (place === stands) stands.dataset.ready = "no";
    return;
  }
  if (form === chair) kept.textContent = "Kept.";
  show(told, form);
}

function show(setup, form) {
  for (const row of document.querySelectorAll("[data-row]")) {
    const good = setup.answers[row.dataset.row];
    row.dataset.good = good === undefined ? "open" : good ? "yes" : "no";
    for (const button of row.querySelectorAll("button")) button.setAttribute("aria-pressed", String(button.value === row.dataset.good));
  }
  stands.textContent = setup.in_words;
  stands.dataset.ready = setup.problems ? "no" : "yes";
  done.classList.toggle("main", setup.questions_open === 0);
  done.textContent = setup.questions_open ? "Not now: to the chair" : "To the chair";
  const had = all.contains(document.activeElement);
  all.disabled = setup.open === 0;
  if (had && form.contains(all)) document.querySelector("[data-last]").focus({ preventScroll: true });
  if (setup.questions_open === 0 && !form.matches("[data-chair]")) done.focus({ preventScroll: true });
}
