// Ticks of a list, kept on this machine until they are cleared or old: they are one patient's. Without this
// script the boxes work until the page is left.

const OLD_MS = 3 * 3600 * 1000;
const STARTS = "traycall.ticks.";
const list = document.querySelector("[data-ticks]");
const print = document.querySelector("[data-print]");

if (print) {
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}
if (list) begin();

function begin() {
  const boxes = [...list.querySelectorAll("[data-tick]")];
  const clear = document.querySelector("[data-clear]");
  forgetOld();
  if (list.dataset.before) takeOver(list.dataset.before, list.dataset.ticks);
  const ticked = new Set(read(list.dataset.ticks)?.ticked);
  for (const box of boxes) box.checked = ticked.has(box.dataset.tick);
  list.addEventListener("change", (event) => {
    if (event.target.matches("[data-tick]")) changed(boxes, clear);
  });
  clear.addEventListener("click", () => {
    for (const box of boxes) box.checked = false;
    changed(boxes, clear);
    boxes[0]?.focus();
  });
  show(boxes, clear);
}

function changed(boxes, clear) {
  const ticked = boxes.filter((box) => box.checked).map((box) => box.dataset.tick);
  write(list.dataset.ticks, ticked.length ? { at: Date.now(), ticked } : null);
  show(boxes, clear);
}

function show(boxes, clear) {
  const done = boxes.filter((box) => box.checked).length;
  document.querySelector("[data-ticked]").textContent = `${done} of ${boxes.length} ticked`;
  clear.hidden = done === 0;
}

/** What was ticked before the session began is this patient's, too, and nobody else's from then on. */
function takeOver(before, now) {
  const earlier = read(before);
  if (!earlier || read(now)) return;
  write(now, earlier);
  write(before, null);
}

function forgetOld() {
  try {
    for (const key of Object.keys(localStorage)) {
      if (key.startsWith(STARTS) && !(Date.now() - read(key.slice(STARTS.length))?.at < OLD_MS)) localStorage.removeItem(key);
    }
  } catch {
    // nothing is kept in this browser
  }
}

function read(name) {
  try {
    return JSON.parse(localStorage.getItem(STARTS + name));
  } catch {
    return null;
  }
}

function write(name, value) {
  try {
    value ? localStorage.setItem(STARTS + name, JSON.stringify(value)) : localStorage.removeItem(STARTS + name);
  } catch {
    // kept until the page is left
  }
}
