// The tray as it is laid: which slots are lit, asked about, away or likely next.

const AWAY = [
  ["in_mouth", "in mouth"],
  ["out", "out"],
  ["dropped", "fell"],
  ["broken", "broke"],
  ["to_wipe", "wipe"],
  ["back", "back"],
  ["used_up", "used"],
];

const WITH_SOMEBODY = new Set(["in_mouth", "out"]);

export class Tray {
  #lit = "";

  /** `onpick(slot)` is called for a chosen slot. */
  constructor(root, onpick) {
    this.root = root;
    this.slots = [...root.querySelectorAll(".slot")];
    if (this.slots.length) this.slots[0].tabIndex = 0;
    root.addEventListener("click", (event) => {
      const slot = event.target.closest(".slot");
      if (slot) onpick(slot);
    });
    root.addEventListener("keydown", (event) => this.#move(event));
    this.#fit();
    addEventListener("resize", () => this.#fit());
  }

  /** A tray with more than the screen holds gets narrower slots. */
  #fit() {
    flag(this.root, "full", null);
    this.#fitNames();
    if (this.root.scrollHeight <= this.root.clientHeight) return;
    flag(this.root, "full", "");
    this.#fitNames();
  }

  /** A long name that would cover its address gets the drawing's room, then a taller row, at the others' cost. */
  #fitNames() {
    this.root.querySelectorAll(".group").forEach((group) => flag(group, "tall", null));
    this.slots.forEach((slot) => flag(slot, "tight", null));
    for (let times = 0; times < 2; times++) {
      this.slots.filter(covered).forEach((slot) => flag(slot, "tight", ""));
      const low = new Set(this.slots.filter(covered).map((slot) => slot.closest(".group")));
      low.forEach((group) => flag(group, "tall", ""));
    }
  }

  show(view, stageShown) {
    const answers = stageShown ? view.stage.answers : [];
    const choices = stageShown ? view.stage.choices : [];
    const next = new Set(view.next.filter((likely) => !likely.always_check).map((likely) => likely.item));
    for (const slot of this.slots) {
      const item = slot.dataset.item;
      const place = view.places[item] ?? null;
      const away = place === null ? undefined : AWAY.find(([what]) => place[what] && (WITH_SOMEBODY.has(what) || !place.clean));
      const lit = answers.some((one) => liesIn(one, slot));
      const asked = choices.flatMap((choice, i) => (liesIn(choice, slot) ? [i + 1] : []));
      flag(slot, "lit", lit ? "" : null);
      flag(slot, "choice", asked.length ? asked.join(" ") : null);
      flag(slot, "away", away && !place.clean ? away[0] : null);
      const many = away && place[away[0]] > 1 ? `${place[away[0]]} ` : "";
      const tag = away ? many + away[1] : "";
      slot.querySelector(".tag").textContent = tag;
      slot.querySelector(".tag").hidden = !tag || lit;
      flag(slot, "next", next.has(item) && !lit ? "" : null);
      slot.querySelector(".state").textContent = lit ? " asked for" : next.has(item) ? " likely next" : "";
    }
    this.#bringIntoView(answers.map((one) => `${one.item} ${one.place}`).join("; "));
  }

  #bringIntoView(lit) {
    if (lit === this.#lit) return;
    this.#lit = lit;
    const slot = this.slots.find((one) => "lit" in one.dataset);
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    slot?.parentElement.scrollIntoView({ block: "nearest", inline: "nearest", behavior: calm ? "auto" : "smooth" });
  }

  #move(event) {
    const at = this.slots.indexOf(document.activeElement);
    if (at < 0) return;
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: this.slots.length - 1 }[event.key] ?? this.#across(event.key, at);
    const slot = this.slots[to];
    if (to === undefined || !slot) return;
    event.preventDefault();
    this.slots[at].tabIndex = -1;
    slot.tabIndex = 0;
    slot.focus();
  }

  /** The nearest slot above or below. */
  #across(key, at) {
    const down = { ArrowDown: 1, ArrowUp: -1 }[key];
    if (!down) return undefined;
    const from = this.slots[at].getBoundingClientRect();
    let best;
    let least = Infinity;
    this.slots.forEach((slot, i) => {
      const box = slot.getBoundingClientRect();
      const dy = (box.top - from.top) * down;
      if (dy < from.height / 2) return;
      const distance = dy * 4 + Math.abs(box.left - from.left);
      if (distance < least) [best, least] = [i, distance];
    });
    return best;
  }
}

/** Whether a slot holds this; for an item that is in several, the size that was said is in one. */
function liesIn(one, slot) {
  return one.item === slot.dataset.item && (!one.size || !one.place || one.place === slot.dataset.place);
}

function covered(slot) {
  const at = slot.querySelector(".at").getBoundingClientRect();
  const name = slot.querySelector(".name").getBoundingClientRect();
  return at.bottom - name.top > at.height / 4 || at.top < slot.getBoundingClientRect().top - 0.5;
}

function flag(element, name, value) {
  if (value === null) delete element.dataset[name];
  else if (element.dataset[name] !== String(value)) element.dataset[name] = value;
}
