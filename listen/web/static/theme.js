// Sets the theme before anything is painted, and keeps the menu's choice on this machine.
"use strict";
(() => {
  const KEY = "traycall.theme";
  const apply = (theme) => {
    if (theme === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme;
  };
  let theme = "auto";
  try {
    theme = localStorage.getItem(KEY) || "auto";
  } catch {
    // a browser that keeps nothing
  }
  apply(theme);
  addEventListener("DOMContentLoaded", () => {
    for (const select of document.querySelectorAll("select[data-theme-choice]")) {
      select.value = theme;
      select.addEventListener("change", () => {
        apply(select.value);
        try {
          localStorage.setItem(KEY, select.value);
        } catch {
          // chosen for this page only
        }
      });
    }
  });
})();
