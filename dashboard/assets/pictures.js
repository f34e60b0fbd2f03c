/* Each picture asks for its drawing at the width it has, and again when that changes. */
(function () {
  "use strict";
  const STEP = 4;
  const known = new WeakMap();
  const sized = new ResizeObserver((entries) => entries.forEach((entry) => fetchInto(entry.target)));

  function fetchInto(room) {
    const width = Math.floor(room.clientWidth / STEP) * STEP;
    const wanted = `${room.dataset.picture}&width=${width}`;
    if (width < 40 || known.get(room) === wanted) return;
    known.set(room, wanted);
    fetch(wanted, { headers: { Accept: "image/svg+xml" } })
      .then((answer) => answer.text().then((text) => ({ answer, text })))
      .then(({ answer, text }) => {
        if (known.get(room) !== wanted) return;
        if (!answer.ok) throw new Error(text);
        const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
        room.replaceChildren(document.importNode(drawn, true));
        room.classList.remove("lost");
        room.dataset.drawn = wanted;
      })
      .catch(() => {
        known.delete(room);
        room.classList.add("lost");
        if (!room.firstChild) room.textContent = "This picture could not be fetched; the table beside it says the same.";
      });
  }

  function look() {
    for (const room of document.querySelectorAll("[data-picture]")) {
      sized.observe(room);
      fetchInto(room);
    }
  }

  async function savePng(link) {
    const svg = await (await fetch(link.href)).blob();
    const image = new Image();
    const url = URL.createObjectURL(svg);
    await new Promise((done, failed) => { image.onload = done; image.onerror = failed; image.src = url; });
    const canvas = document.createElement("canvas");
    canvas.width = image.width * 2;
    canvas.height = image.height * 2;
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    URL.revokeObjectURL(url);
    const save = document.createElement("a");
    save.download = link.dataset.png;
    save.href = canvas.toDataURL("image/png");
    save.click();
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-png]");
    if (!link) return;
    event.preventDefault();
    savePng(link);
  });
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true, attributes: true, attributeFilter: ["data-picture"] });
  document.addEventListener("DOMContentLoaded", look);
})();
