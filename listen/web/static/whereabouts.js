// What is out, and what is known of one item: where a mistake is put right.

import { h, picture } from "./dom.js";

const $ = (id) => document.getElementById(id);

export class Whereabouts {
  #view = null;
  #item = "";
  #from = null; // what the dialog was opened from
  #kept = false; // whether the keyboard goes back to it

  /** `send(message)` tells the server; `tray` has the slots; `told(text)` is said to those who hear the screen. */
  constructor(send, tray, told) {
    this.dialog = $("slot-dialog");
    this.list = $("out-dialog");
    this.send = send;
    this.tray = tray;
    this.told = told;
    this.dialog.addEventListener("click", (event) => {
      const button = event.target.closest("button[data-kind]");
      if (button) this.#correct(button);
    });
    this.dialog.addEventListener("close", () => this.#back());
    for (const button of $("out").querySelectorAll("button")) {
      button.addEventListener("click", () => this.#openList());
    }
  }

  show(view) {
    this.#view = view;
    const count = (list) => list.reduce((sum, one) => sum + one.count, 0);
    const sharps = count(view.out.filter((one) => one.sharp));
    const others = count(view.out) - sharps;
    const say = (id, many, words) => {
      $(id).hidden = many === 0;
      if (many) $(id).textContent = words;
    };
    say("out-missing", view.missed.length, `${count(view.missed)} missing`);
    say("out-sharps", sharps, sharps === 1 ? "1 sharp out" : `${sharps} sharps out`);
    say("out-others", others, sharps ? `${others} ${others === 1 ? "other" : "others"} out` : `${others} out`);
    $("out-none").hidden = view.missed.length + view.out.length > 0;
    if (this.list.open) this.#drawList();
  }

  /** Open what is known of a slot's item. */
  open(slot) {
    this.#open(slot.dataset, slot);
  }

  #open({ item, name, place, sizes }, from) {
    this.#item = item;
    this.#from = from;
    this.#kept = from.matches(":focus");
    const { sentence, likely } = this.#view.known[item] ?? this.#view.untouched;
    $("slot-name").textContent = name;
    $("slot-place").textContent = [place || "not on this tray", sizes].filter(Boolean).join(" · ");
    $("slot-known").textContent = sentence;
    $("slot-picture").replaceChildren(picture(item));
    $("slot-page").href = `/items/${item}${$("slot-page").dataset.in}`;
    $("slot-likely").replaceChildren(
      ...likely.map((one) => h("button", { type: "button", "data-kind": one.kind, "data-quantity": one.quantity }, one.words)),
    );
    const isLikely = new Set(likely.filter((one) => one.quantity === 1).map((one) => one.kind));
    for (const button of $("slot-more").querySelectorAll("[data-kind]")) {
      button.hidden = isLikely.has(button.dataset.kind);
    }
    $("slot-more").open = false;
    this.dialog.showModal();
  }

  #correct(button) {
    const { kind, quantity = "1" } = button.dataset;
    const item = this.#item;
    if (kind === "request") this.send({ do: "request", item });
    else if (kind === "not_asked") this.send({ do: "not_asked", item });
    else this.send({ do: "touch", kind, item, quantity: Number(quantity) });
    this.told(`Noted: ${$("slot-name").textContent}. ${button.textContent}.`);
    this.dialog.close();
  }

  /** The keyboard goes back to the slot, also where its kit was closed meanwhile. */
  #back() {
    if (!this.#kept) return;
    if (this.list.open) (this.list.querySelector(`[data-item="${this.#item}"]`) ?? $("out-name")).focus();
    else this.tray.focus(this.#from);
  }

  #openList() {
    this.#drawList();
    this.list.showModal();
  }

  #drawList() {
    const focused = this.list.contains(document.activeElement) ? document.activeElement.dataset.item : undefined;
    const groups = [
      ["Missing", this.#view.missed],
      ["Sharps", this.#view.out.filter((one) => one.sharp)],
      ["Others", this.#view.out.filter((one) => !one.sharp)],
    ].filter(([, all]) => all.length);
    $("out-list").replaceChildren(
      ...groups.flatMap(([name, all]) => [h("h3", { class: name === "Sharps" ? "sharp" : null }, name), h("ul", {}, ...all.map((one) => this.#line(one)))]),
    );
    if (focused) this.list.querySelector(`[data-item="${focused}"]`)?.focus();
  }

  #line({ item, name, count }) {
    const slot = this.tray.slotOf(item);
    const { place = "", sizes = "" } = slot?.dataset ?? {};
    const open = (event) => this.#open({ item, name, place, sizes }, event.currentTarget);
    return h(
      "li",
      {},
      h("button", { type: "button", class: "plain", "data-item": item, onclick: open }, picture(item), h("b", {}, count > 1 ? `${name} ×${count}` : name), h("span", {}, place)),
    );
  }
}
