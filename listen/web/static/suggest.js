// Items while a name is typed: a list under the field, which keys, touch and screen readers can use.

import { drawn, h } from "./dom.js";

const WAIT_MS = 120;
let lists = 0;

const go = (item, field) => {
  const called = field.dataset.called;
  location.href = called ? `/edit/items/${item.id}/name?${new URLSearchParams({ called })}` : `/items/${item.id}`;
};

/**
 * A field whose form finds an item; `data-called`: what the item is to be called besides. `source`: where items for
 * the letters typed so far come from, with `about` in the query; `chosen`: what becomes of the one that is chosen.
 */
export function completes(field, { source = "/find/near", about = {}, chosen = go } = {}) {
  const id = `suggest-${++lists}`;
  const list = h("ul", { class: "suggested", id, role: "listbox", "aria-label": "Items" });
  const told = h("span", { class: "hidden-text", role: "status" });
  list.hidden = true;
  field.after(list, told);
  for (const [name, value] of Object.entries({
    role: "combobox",
    "aria-autocomplete": "list",
    "aria-expanded": "false",
    "aria-controls": id,
  }))
    field.setAttribute(name, value);

  let timer = 0;
  let asked = 0;
  let marked = -1;
  let shown = [];

  const mark = (at) => {
    marked = at;
    [...list.children].forEach((one, i) => one.setAttribute("aria-selected", String(i === at)));
    list.children[at]?.scrollIntoView({ block: "nearest" });
    if (at < 0) field.removeAttribute("aria-activedescendant");
    else field.setAttribute("aria-activedescendant", list.children[at].id);
  };
  const close = () => {
    clearTimeout(timer);
    asked++;
    list.hidden = true;
    field.setAttribute("aria-expanded", "false");
    told.textContent = "";
    mark(-1);
  };
  const show = (items) => {
    shown = items;
    list.replaceChildren(...items.map((item, i) => option(item, `${id}-${i}`)));
    list.hidden = !items.length;
    field.setAttribute("aria-expanded", String(items.length > 0));
    told.textContent = items.length ? `${items.length} ${items.length > 1 ? "items" : "item"}` : "Nothing begins or sounds like that";
    mark(-1);
  };
  const ask = async () => {
    const number = ++asked;
    const text = field.value.trim();
    if (!text) return close();
    const reply = await fetch(`${source}?${new URLSearchParams({ ...about, q: text })}`).catch(() => null);
    if (!reply?.ok || number !== asked) return;
    const items = await reply.json();
    if (number === asked && document.activeElement === field) show(items);
  };
  const open = (item) => {
    close();
    chosen(shown.find((one) => one.id === item), field);
  };

  field.addEventListener("input", () => {
    clearTimeout(timer);
    asked++;
    timer = setTimeout(ask, WAIT_MS);
  });
  field.addEventListener("keydown", (event) => {
    const many = list.hidden ? 0 : list.children.length;
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (!many) return ask();
      const step = event.key === "ArrowDown" ? 1 : -1;
      mark(((marked + 1 + step + many + 1) % (many + 1)) - 1); // past either end the field itself
    } else if (event.key === "Enter" && marked >= 0) {
      event.preventDefault();
      open(list.children[marked].dataset.item);
    } else if (event.key === "Escape" && many) {
      event.preventDefault();
      close();
    }
  });
  field.addEventListener("blur", () => setTimeout(close, 0));
  list.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the keyboard
  list.addEventListener("click", (event) => {
    const one = event.target.closest("[data-item]");
    if (one) open(one.dataset.item);
  });
}

function option(item, id) {
  const also = item.called ? h("span", { class: "soft" }, `“${item.called}”`) : "";
  const from = item.field ? h("span", { class: "soft" }, item.field) : "";
  const sharp = item.sharp ? h("span", { class: "soft" }, "▲ sharp") : "";
  return h(
    "li",
    { id, role: "option", "aria-selected": "false", "data-item": item.id },
    drawn(item.drawing),
    h("span", {}, h("b", {}, item.name), also, sharp, from),
  );
}
