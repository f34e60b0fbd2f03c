/* Says at the top when the server cannot be reached, and since when what is shown may be old. */
(function () {
  "use strict";
  const EVERY_MS = 4000;
  let since = null;
  let bar = null;

  function show(lost) {
    if (!bar) {
      bar = document.createElement("div");
      bar.className = "lost-bar";
      bar.setAttribute("role", "status");
      document.body.prepend(bar);
    }
    bar.hidden = !lost;
    if (!lost) return;
    const at = since.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    bar.textContent = `No connection since ${at}. What is shown may be old; it is tried again by itself.`;
  }

  async function look() {
    let alive = false;
    try {
      alive = (await fetch("/health", { cache: "no-store" })).ok;
    } catch {
      alive = false;
    }
    if (alive) since = null;
    else if (!since) since = new Date();
    if (bar || since) show(Boolean(since));
    setTimeout(look, EVERY_MS);
  }
  document.addEventListener("DOMContentLoaded", () => setTimeout(look, EVERY_MS));
})();
