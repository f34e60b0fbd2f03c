/* The preview of a sheet: fetched as it will be printed, and shown in a room of its own where no style of the page reaches. */
(function () {
  "use strict";
  const shown = new WeakMap();
  function show(room) {
    const wanted = room.dataset.sheet;
    if (shown.get(room) === wanted) return;
    shown.set(room, wanted);
    fetch(wanted, { headers: { Accept: "text/html" } })
      .then((answer) => answer.text().then((text) => ({ answer, text })))
      .then(({ answer, text }) => {
        if (shown.get(room) !== wanted) return;
        if (!answer.ok) throw new Error(text);
        const inner = new DOMParser().parseFromString(text, "text/html");
        const own = room.shadowRoot || room.attachShadow({ mode: "open" });
        own.replaceChildren(...[...inner.head.childNodes, ...inner.body.childNodes].map((node) => document.importNode(node, true)));
        room.classList.remove("lost");
        room.dataset.shown = wanted;
      })
      .catch((fault) => {
        shown.delete(room);
        room.classList.add("lost");
        const own = room.shadowRoot || room.attachShadow({ mode: "open" });
        own.replaceChildren(Object.assign(document.createElement("p"), { textContent: `The sheet could not be fetched. ${fault.message}` }));
      });
  }
  const look = () => document.querySelectorAll("[data-sheet]").forEach(show);
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true, attributes: true, attributeFilter: ["data-sheet"] });
  document.addEventListener("DOMContentLoaded", look);
})();
