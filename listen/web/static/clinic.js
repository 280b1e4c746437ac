// The pages of a clinic's first hour: ticks by field, items added to a tray, names one after the other.

import { drawn, h } from "./dom.js";
import { completes } from "./suggest.js";

const choose = document.querySelector("[data-choose]");
const lay = document.querySelector("[data-lay]");
const called = document.querySelector("[data-called-here]");
if (choose) ticksByField();
if (lay?.querySelector("[data-more]")) addedItems();
if (called) oneAfterTheOther();

function ticksByField() {
  const boxes = (within) => [...within.querySelectorAll("input[name=done]")];
  const count = () => {
    let fields = 0;
    for (const some of choose.querySelectorAll("[data-some]")) {
      const all = boxes(some);
      const on = all.filter((box) => box.checked).length;
      some.querySelector("[data-count]").textContent = `${on} of ${all.length}`;
      fields += on > 0;
    }
    const total = boxes(choose).filter((box) => box.checked).length;
    const said = choose.querySelector("[data-total]");
    if (said) said.textContent = `${total} procedure${total === 1 ? "" : "s"} in ${fields} field${fields === 1 ? "" : "s"}`;
  };
  choose.addEventListener("change", count);
  choose.addEventListener("click", (event) => {
    const button = event.target.closest("[data-none], [data-all]");
    if (!button) return;
    for (const box of boxes(button.closest("[data-some]") ?? choose)) box.checked = "all" in button.dataset;
    count();
  });
  for (const buttons of choose.querySelectorAll(".actions[hidden]")) buttons.hidden = false; // dead until now
  count();
}

function addedItems() {
  const list = lay.querySelector("[data-added]");
  const field = lay.querySelector("[data-more]");
  const add = (item) => {
    field.value = "";
    if (list.querySelector(`[value="${item.id}"]`)) return;
    const from = item.field ? h("span", { class: "soft" }, ` of ${item.field}`) : "";
    list.append(h("li", {}, h("label", { class: "tick" },
      h("input", { type: "checkbox", name: "added", value: item.id, checked: true }), drawn(item.drawing), h("span", {}, h("b", {}, "new"), ` ${item.name}`, from))));
  };
  completes(field, { source: "/edit/near", about: { vocabulary: lay.elements.vocabulary.value }, chosen: add });
  field.addEventListener("keydown", (event) => event.key === "Enter" && event.preventDefault()); // it adds, and never saves
}

function oneAfterTheOther() {
  called.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("[data-name]")) return;
    event.preventDefault();
    if (event.ctrlKey || event.metaKey) return called.requestSubmit();
    const fields = [...called.querySelectorAll("[data-name]")];
    const to = fields[fields.indexOf(event.target) + (event.shiftKey ? -1 : 1)];
    const fold = to?.closest("details");
    if (fold) fold.open = true;
    (to ?? called.querySelector("button.main")).focus();
  });
}
