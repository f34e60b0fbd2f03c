/* Light or dark: kept in a cookie, so that the next page comes in it from the first paint. */
(function () {
  "use strict";
  const root = document.documentElement;
  const now = () => root.dataset.theme || (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light");
  function show() {
    for (const button of document.querySelectorAll("[data-theme-choice]")) {
      const pressed = String(button.dataset.themeChoice === now());
      if (button.getAttribute("aria-pressed") !== pressed) button.setAttribute("aria-pressed", pressed);
    }
    const named = document.querySelector("[data-title]");
    if (named && document.title !== named.dataset.title) document.title = named.dataset.title;
    const room = document.getElementById("page-room");
    const bench = room ? room.dataset.bench || "" : "";
    if (document.body && document.body.dataset.bench !== bench) document.body.dataset.bench = bench;
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-theme-choice]");
    if (!button) return;
    root.dataset.theme = button.dataset.themeChoice;
    document.cookie = `tenthwise-theme=${root.dataset.theme}; path=/; max-age=31536000; samesite=lax`;
    show();
  });
  document.addEventListener("click", (event) => {
    for (const open of document.querySelectorAll("details.more-pages[open]")) {
      if (!open.contains(event.target) || event.target.closest("a")) open.open = false;
    }
  });
  new MutationObserver(show).observe(root, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", show);
})();
