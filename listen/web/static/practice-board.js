// What is touched to answer: choices, the slots of a tray, or a row that is laid.

import { fill, h, picture, sketch } from "./dom.js";

const DRAGGED_PX = 6;

/** The elements for a question; `touched(value, at)` is called for an answer, `at` being when it was begun. */
export function drawBoard(view, trays, words, touched) {
  if (view.drill === "slot" && view.scene.length) return tray(view, trays[view.place] ?? [], words, touched);
  if (view.drill === "lay") return row(view, words, touched);
  if (view.drill === "fault") return fault(view, words, touched);
  if (!view.choices.length) return [];
  const how = h("p", { class: "soft how by-number" }, words.number_keys);
  const legend = view.drill === "pass" ? [h("p", { class: "soft how" }, words.pass_legend)] : [];
  return [...legend, how, choices(view, touched)];
}

/** The choices that are shown under numbers, in their order. */
export function numbered(board) {
  return [...board.querySelectorAll(".choice-list button")];
}

function spokenPlace(at, words) {
  return /^[\d ]+$/.test(at) ? fill(words.slot, { at }) : at;
}

/** Show which was right and which was chosen. */
export function markBoard(board, reply) {
  for (const one of board.querySelectorAll("[data-gap]")) {
    one.disabled = true;
    one.dataset.mark = "right";
  }
  for (const one of board.querySelectorAll("[data-value]")) {
    if (one.tagName === "BUTTON") one.disabled = true;
    if (reply.right.includes(one.dataset.value)) one.dataset.mark = "right";
    else if (one.dataset.value === reply.chosen) one.dataset.mark = "chosen";
  }
  if (!reply.right.some((value) => value.includes("@"))) return;
  for (const button of board.querySelectorAll("button")) button.disabled = true;
}

/** To choose from: pictures with names; names alone where the picture is asked about; pictures alone where
 *  the name is. */
function choices(view, touched) {
  const pictures = view.picture === null && view.choices.some((choice) => choice.picture !== null);
  const nameless = view.drill === "apart";
  return h(
    "ul",
    { class: pictures ? "choice-list drawn" : "choice-list", "data-drill": view.drill },
    ...view.choices.map((choice, index) =>
      h(
        "li",
        {},
        h(
          "button",
          {
            type: "button",
            "data-value": choice.id,
            "aria-label": nameless ? `${index + 1}: ${choice.shown}` : null,
            onclick: () => touched(choice.id, performance.now()),
          },
          h("span", { class: "number" }, `${index + 1}`),
          pictures ? picture(choice.picture) : null,
          ...choice.sketches.map(({ id, alt }) => sketch(id, alt)),
          nameless ? null : h("span", {}, choice.shown),
        ),
      ),
    ),
  );
}

/** A row with a fault: what lies wrong is touched where it lies; an empty slot asks what belongs there. */
function fault(view, words, touched) {
  const what = view.choices.length ? [h("h2", { id: "belongs", tabindex: "-1" }, words.what_belongs), choices(view, touched)] : [];
  const toChoices = () => {
    what[0].scrollIntoView({ block: "nearest" });
    what[1].querySelector("button").focus();
  };
  const slot = (place) => {
    const empty = place.item === null;
    const name = empty ? words.empty : place.name;
    return h(
      "button",
      {
        type: "button",
        class: empty ? "empty" : null,
        "data-value": place.item,
        "data-gap": empty,
        "aria-label": `${spokenPlace(place.at, words)}, ${name}`,
        onclick: () => (empty ? toChoices() : touched(place.item, performance.now())),
      },
      h("span", { class: "at" }, place.at),
      empty ? null : picture(place.picture),
      h("span", { class: "what" }, name),
    );
  };
  const row = h("ul", { class: "places roomy", "aria-label": view.row }, ...view.scene.map((place) => h("li", {}, slot(place))));
  return [h("p", { class: "soft how" }, words.touch_fault), row, ...what];
}

function tray(view, groups, words, touched) {
  const pictures = new Map(view.scene.map((place) => [place.at, place.picture]));
  const asked = groups
    .map((group) => ({ ...group, slots: group.slots.filter(([at]) => pictures.has(at)) }))
    .filter((group) => group.slots.length);
  return asked.flatMap((group) => [
    h("h2", {}, group.name),
    h(
      "ul",
      { class: asked.length === 1 ? "places in-kit" : group.slots.some(([, short]) => /\D/.test(short)) ? "places worded" : "places" },
      ...group.slots.map(([at, short]) =>
        h(
          "li",
          {},
          h(
            "button",
            {
              type: "button",
              "data-value": at,
              "aria-label": spokenPlace(at, words),
              onclick: () => touched(at, performance.now()),
            },
            h("span", { class: "at" }, short),
            pictures.get(at) === null ? null : picture(pictures.get(at)),
          ),
        ),
      ),
    ),
  ]);
}

function row(view, words, touched) {
  const names = new Map(view.choices.map((choice) => [choice.id, choice]));
  let picked = null;
  let pickedAt = 0;
  const pool = h("ul", { class: "pool", "aria-label": words.to_be_laid }, ...view.choices.map((choice) => h("li", {}, item(choice))));
  const slots = h("ul", { class: "places roomy laying", "aria-label": view.row }, ...view.scene.map((place) => h("li", {}, slot(place))));

  function pick(id) {
    picked = picked === id ? null : id;
    pickedAt = performance.now();
    for (const button of pool.querySelectorAll("button")) button.setAttribute("aria-pressed", String(button.dataset.item === picked));
  }

  function put(at) {
    if (picked !== null) touched(`${picked}@${at}`, pickedAt);
  }

  /** A mouse or pen carries the item; fingers scroll, so they touch item and slot one after the other. */
  function drag(start, id) {
    const button = start.currentTarget;
    const under = (event) => document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-at]:not(:disabled)");
    let carried = false;
    const move = (event) => {
      const [dx, dy] = [event.clientX - start.clientX, event.clientY - start.clientY];
      if (!carried && Math.hypot(dx, dy) < DRAGGED_PX) return;
      if (!carried && picked !== id) pick(id);
      carried = true;
      button.classList.add("carried");
      button.style.translate = `${dx}px ${dy}px`;
      for (const one of slots.querySelectorAll(".over")) one.classList.remove("over");
      under(event)?.classList.add("over");
    };
    const drop = (event) => {
      for (const what of ["pointermove", "pointerup", "pointercancel"]) removeEventListener(what, what === "pointermove" ? move : drop);
      const slot = carried && event.type === "pointerup" ? under(event) : null;
      button.classList.remove("carried");
      button.style.translate = "";
      if (slot) put(slot.dataset.at);
    };
    addEventListener("pointermove", move);
    addEventListener("pointerup", drop);
    addEventListener("pointercancel", drop);
  }

  function item(choice) {
    return h(
      "button",
      {
        type: "button",
        "data-item": choice.id,
        "aria-pressed": "false",
        disabled: !view.left[choice.id],
        onclick: () => pick(choice.id),
        onpointerdown: (event) => {
          if (event.pointerType !== "touch") drag(event, choice.id);
        },
      },
      picture(choice.picture),
      h("span", {}, view.left[choice.id] > 1 ? `${choice.shown} ×${view.left[choice.id]}` : choice.shown),
    );
  }

  function slot(place) {
    const laid = names.get(view.laid[place.at]);
    const spoken = spokenPlace(place.at, words);
    return h(
      "button",
      {
        type: "button",
        class: laid ? null : "empty",
        "data-at": place.at,
        "aria-label": laid ? `${spoken}, ${laid.shown}` : `${spoken}, ${words.empty}`,
        disabled: Boolean(laid),
        onclick: () => put(place.at),
      },
      h("span", { class: "at" }, place.at),
      laid ? picture(laid.picture) : null,
      laid ? h("span", { class: "what" }, laid.shown) : null,
    );
  }

  return [h("h2", {}, words.take_one), pool, h("h2", {}, view.row), slots];
}
