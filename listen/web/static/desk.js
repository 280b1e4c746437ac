// What every page at the desk can do by keyboard: the look-up, lists of tiles, the list of keys.

import { completes } from "./suggest.js";

for (const field of document.querySelectorAll("[data-suggest]")) completes(field);
for (const list of document.querySelectorAll("[data-tiles]")) list.addEventListener("keydown", move);

const typing = (element) => element?.matches?.("input:not([type=checkbox]):not([type=radio]), select, textarea");

addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || typing(event.target)) return;
  if (event.key === "/") {
    event.preventDefault();
    document.getElementById("q").select();
  } else if (event.key === "?") {
    event.preventDefault();
    document.getElementById("keys").togglePopover();
  }
});

/** Arrow keys go to the tile beside, above or below; Home and End to the first and the last. */
function move(event) {
  const here = event.target.closest("a");
  if (!here || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
  const tiles = [...event.currentTarget.querySelectorAll("li:not([hidden]) > a")].filter((tile) => tile.checkVisibility());
  const at = tiles.indexOf(here);
  const to = {
    ArrowRight: () => tiles[at + 1],
    ArrowLeft: () => tiles[at - 1],
    ArrowDown: () => beside(tiles.slice(at + 1), here),
    ArrowUp: () => beside(tiles.slice(0, at).reverse(), here),
    Home: () => tiles[0],
    End: () => tiles.at(-1),
  }[event.key]?.();
  if (!to) return;
  event.preventDefault();
  to.focus();
}

/** Of the tiles in the nearest other row, the one that stands nearest above or below. */
function beside(tiles, here) {
  const box = here.getBoundingClientRect();
  const others = tiles.filter((tile) => Math.abs(tile.getBoundingClientRect().top - box.top) > 1);
  const top = others[0]?.getBoundingClientRect().top;
  const row = others.filter((tile) => Math.abs(tile.getBoundingClientRect().top - top) <= 1);
  const distance = (tile) => Math.abs(tile.getBoundingClientRect().left - box.left);
  return row.sort((one, other) => distance(one) - distance(other))[0];
}
