/* Links between pages change the address without loading the program again; with a modifier they open as links do. */
(function () {
  "use strict";
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
    const to = new URL(link.href, location.href);
    if (to.origin !== location.origin || link.hasAttribute("download") || link.dataset.png || link.target) return;
    if (to.pathname.startsWith("/pictures/") || to.pathname.startsWith("/sheets/") || to.pathname.startsWith("/help")) return;
    if (to.hash && to.pathname === location.pathname && to.search === location.search) return;
    event.preventDefault();
    const turned = to.pathname !== location.pathname;
    history.pushState({}, "", to.href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    if (turned) window.scrollTo(0, 0);
  });
})();
