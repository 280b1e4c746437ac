// The tray as it is laid, its kits and the places at the chair: what is lit, asked about, away or likely next.

import { across, flag } from "./dom.js";

const AWAY = [
  ["in_mouth", "in the mouth"],
  ["out", "out"],
  ["dropped", "dropped"],
  ["broken", "broke"],
  ["to_wipe", "to wipe"],
  ["back", "back"],
  ["used_up", "used up"],
];

const WITH_SOMEBODY = new Set(["in_mouth", "out"]);
const MOST_OPEN = 2; // kits side by side
const SMALLEST = 5; // steps by which a name is set smaller; from the last but one on it may be hyphenated

export class Tray {
  #lit = "";
  #number = null; // of the answer or question that opened kits last

  /** `onpick(slot)` is called for a chosen slot. */
  constructor(root, onpick) {
    this.root = root;
    this.slots = [...root.querySelectorAll(".slot")];
    this.kits = [...root.querySelectorAll(".kit")].map((kit) => new Kit(kit));
    root.addEventListener("click", (event) => {
      const slot = event.target.closest(".slot");
      const kit = this.kits.find((one) => one.root.contains(event.target));
      if (slot) onpick(slot);
      else if (event.target.closest(".box")) this.#open([kit]);
      else if (event.target.closest(".shut")) this.#shut(kit);
    });
    root.addEventListener("keydown", (event) => this.#move(event));
    this.#keepStop();
    fitNames(this.slots);
    this.#fitBoxes();
    addEventListener("resize", () => {
      fitNames(this.slots);
      this.#fitBoxes();
    });
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
      const many = away && place[away[0]] > 1 ? `${place[away[0]]} ` : "";
      mark(slot, { lit, asked, tag: away && !lit ? many + away[1] : "" });
      flag(slot, "away", away && !place.clean ? away[0] : null);
      flag(slot, "next", next.has(item) && !lit ? "" : null);
      slot.querySelector(".state").textContent = lit ? " asked for" : next.has(item) ? " likely next" : "";
    }
    for (const kit of this.kits) {
      const box = answers.some((one) => kit.isBox(one));
      const asked = [...new Set(kit.slots.flatMap((slot) => slot.dataset.choice?.split(" ") ?? []))];
      const out = kit.items.reduce((sum, item) => sum + (view.places[item]?.out ?? 0), 0);
      const lit = box || kit.slots.some((slot) => "lit" in slot.dataset);
      mark(kit.box, { lit, asked: asked.length > 1 ? ["?"] : asked, tag: out && !lit ? `${out} out` : "" });
      kit.box.querySelector(".state").textContent = lit ? " asked for" : kit.items.some((item) => next.has(item)) ? " likely next" : "";
    }
    this.#fitBoxes();
    if (answers.length || choices.length) this.#openAsked(view.number);
    this.#bringIntoView(answers.map((one) => `${one.item} ${one.place}`).join("; "));
  }

  /** The slot that is shown for an item: where it lies first. */
  slotOf(item) {
    return this.slots.find((slot) => slot.dataset.item === item);
  }

  /** Closes every kit. */
  close() {
    this.#open([]);
  }

  /** Opens the kits that these slots lie in, and has the first of them in view. */
  reveal(slots) {
    const shut = this.kits.filter((kit) => !kit.isOpen && kit.slots.some((slot) => slots.includes(slot)));
    if (shut.length) this.#open(shut.slice(0, MOST_OPEN));
    slots[0]?.parentElement.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  /** Puts the keyboard to a slot, or to its kit where that is closed. */
  focus(slot) {
    const kit = this.kits.find((one) => one.root.contains(slot));
    this.#stopAt(kit?.isOpen === false ? kit.box : slot);
  }

  #fitBoxes() {
    const boxes = this.kits.map((kit) => kit.box);
    boxes.forEach((box) => flag(box, "tight", null));
    const cut = boxes.filter((box) => box.scrollWidth > box.clientWidth || box.scrollHeight > box.clientHeight);
    cut.forEach((box) => flag(box, "tight", ""));
  }

  // --- kits ------------------------------------------------------------------------------------

  /** What was asked for opens its kit; the next answer or question closes it again. */
  #openAsked(number) {
    if (number === this.#number) return;
    this.#number = number;
    const answered = this.kits.filter((kit) => kit.slots.some((slot) => "lit" in slot.dataset));
    const asked = this.kits.filter((kit) => !answered.includes(kit) && kit.slots.some((slot) => "choice" in slot.dataset));
    this.#open(answered.length + asked.length > MOST_OPEN ? answered.slice(0, MOST_OPEN) : [...answered, ...asked]);
  }

  #open(kits) {
    const focused = document.activeElement;
    const left = this.kits.find((kit) => kit.isOpen && !kits.includes(kit) && kit.inside.contains(focused));
    this.kits.forEach((kit) => kit.show(kits.includes(kit), kits.length > 1 ? (kit === kits[0] ? "left" : "right") : ""));
    fitNames(kits.flatMap((kit) => kit.slots));
    if (left || (focused?.closest?.(".lower") && !isShown(focused))) this.#stopAt(kits[0]?.slots[0] ?? left?.box);
    this.#keepStop();
  }

  #shut(kit) {
    this.#open(this.kits.filter((one) => one.isOpen && one !== kit));
    this.#stopAt(isShown(kit.box) ? kit.box : this.#stops()[0]);
  }

  #bringIntoView(lit) {
    if (lit === this.#lit) return;
    this.#lit = lit;
    const slot = this.slots.find((one) => "lit" in one.dataset);
    const shown = this.kits.find((kit) => "lit" in kit.box.dataset && !kit.isOpen)?.box ?? slot;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    shown?.parentElement.scrollIntoView({ block: "nearest", inline: "nearest", behavior: calm ? "auto" : "smooth" });
  }

  // --- keys ------------------------------------------------------------------------------------

  #stops() {
    return [...this.root.querySelectorAll(".slot, .box")].filter(isShown);
  }

  /** One slot is reached by the tab key, always one that is shown. */
  #keepStop() {
    const stops = this.#stops();
    if (stops.some((one) => one.tabIndex === 0)) return;
    if (stops.length) stops[0].tabIndex = 0;
  }

  #stopAt(one) {
    if (!one) return;
    this.root.querySelectorAll(".slot, .box").forEach((other) => (other.tabIndex = -1));
    one.tabIndex = 0;
    one.focus();
  }

  #move(event) {
    const open = this.kits.find((kit) => kit.isOpen && kit.inside.contains(event.target));
    if (event.key === "Escape" && open) {
      event.preventDefault();
      event.stopPropagation();
      return this.#shut(open);
    }
    const stops = this.#stops();
    const at = stops.indexOf(document.activeElement);
    if (at < 0) return;
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: stops.length - 1 }[event.key] ?? across(event.key, at, stops);
    if (to === undefined || !stops[to]) return;
    event.preventDefault();
    this.#stopAt(stops[to]);
  }
}

/** A box beside the tray, and what is in it. */
class Kit {
  constructor(root) {
    this.root = root;
    this.box = root.querySelector(".box");
    this.inside = root.querySelector(".inside");
    this.slots = [...this.inside.querySelectorAll(".slot")];
    this.items = [...new Set(this.slots.map((slot) => slot.dataset.item))];
  }

  get isOpen() {
    return !this.inside.hidden;
  }

  /** Whether the box itself was asked for. */
  isBox(one) {
    return one.item === this.box.dataset.item && one.place === this.box.dataset.place;
  }

  show(open, half) {
    this.inside.hidden = !open;
    this.box.setAttribute("aria-expanded", String(open));
    flag(this.inside, "half", (open && half) || null);
  }
}

function isShown(element) {
  return element.checkVisibility({ visibilityProperty: true });
}

/** Whether this is the place that was said; where none was, every slot of the item is. */
function liesIn(one, slot) {
  return one.item === slot.dataset.item && (!one.place || one.place === slot.dataset.place);
}

function mark(button, { lit, asked, tag }) {
  flag(button, "lit", lit ? "" : null);
  flag(button, "choice", asked.length ? asked.join(" ") : null);
  flag(button, "tagged", tag ? "" : null);
  button.querySelector(".tag").textContent = tag;
  button.querySelector(".tag").hidden = !tag;
}

/** Sets long names smaller, step by step, until nothing is cut off; a word is hyphenated last of all. */
function fitNames(slots) {
  let left = slots.filter(isShown).map((slot) => [slot, slot.querySelector(".name")]);
  for (let step = 0; step <= SMALLEST && left.length; step++) {
    for (const [slot, name] of left) {
      slot.dataset.fit = step;
      const many = name.dataset.many ? ` ×${name.dataset.many}` : "";
      const text = (step < SMALLEST - 1 ? name.dataset.breakable.replaceAll("\u00ad", "") : name.dataset.breakable) + many;
      if (name.textContent !== text) name.textContent = text;
    }
    left = left.filter(([slot, name]) => name.scrollWidth > name.clientWidth + 1 || slot.scrollHeight > slot.clientHeight + 1);
  }
}
