// Builds elements from text; nothing is ever parsed as HTML.

const SVG = "http://www.w3.org/2000/svg";

/** An element with properties (`class`, `data-…`, `on…` and attributes) and children (nodes or text). */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return element;
}

/** A sentence with its braces filled: fill("slot {at}", { at: 3 }). */
export function fill(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
}

const wanted = new Set();

/** An SVG text as elements; it is never parsed as HTML. */
export function drawn(svg) {
  return document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
}

/** Puts the drawing of an item that the page does not have among its symbols. */
async function want(item) {
  const symbols = document.querySelector("[data-symbols]");
  if (!symbols || wanted.has(item) || document.getElementById(`d-${item}`)) return;
  wanted.add(item);
  const answer = await fetch(`/items/${encodeURIComponent(item)}/drawing`).catch(() => null);
  if (!answer?.ok) return wanted.delete(item);
  const symbol = document.createElementNS(SVG, "symbol");
  symbol.setAttribute("id", `d-${item}`);
  symbol.setAttribute("viewBox", "0 0 160 100");
  symbol.append(drawn(await answer.text()));
  symbols.append(symbol);
}

function used(id, name) {
  const svg = document.createElementNS(SVG, "svg");
  if (name) svg.setAttribute("role", "img");
  svg.setAttribute(name ? "aria-label" : "aria-hidden", name || "true");
  svg.setAttribute("viewBox", "0 0 160 100");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", `#${id}`);
  svg.append(use);
  const box = h("div", { class: "pic" });
  box.append(svg);
  return box;
}

/** A sketch from the page's own symbols; `alt` is what it shows, in words. */
export function sketch(id, alt) {
  return used(`s-${id}`, alt);
}

/** The drawing of an item, from the page's own symbols or, where it has none of it, from the server. */
export function picture(item) {
  want(item);
  return used(`d-${item}`);
}

/** Sets a data attribute, or takes it away (null). */
export function flag(element, name, value) {
  if (value === null) delete element.dataset[name];
  else if (element.dataset[name] !== String(value)) element.dataset[name] = value;
}

/** A value kept on this machine, or the usual one. */
export function kept(key, usual) {
  try {
    return localStorage.getItem(`traycall.${key}`) ?? usual;
  } catch {
    return usual;
  }
}

/** Keep a value on this machine, if the browser lets us. */
export function keep(key, value) {
  try {
    localStorage.setItem(`traycall.${key}`, value);
  } catch {
    // kept for this page only
  }
}

/** The number of the nearest element above or below the one with this number, for an arrow key; undefined for none. */
export function across(key, at, elements) {
  const down = { ArrowDown: 1, ArrowUp: -1 }[key];
  if (!down) return undefined;
  const from = elements[at].getBoundingClientRect();
  let best;
  let least = Infinity;
  elements.forEach((element, i) => {
    const box = element.getBoundingClientRect();
    const dy = (box.top - from.top) * down;
    if (dy < from.height / 2) return;
    const distance = dy * 4 + Math.abs(box.left - from.left);
    if (distance < least) [best, least] = [i, distance];
  });
  return best;
}
