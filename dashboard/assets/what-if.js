/* What if: a slider and a field for each figure; what is tried goes into the address, and the page answers it. */
(function () {
  "use strict";
  let held = ""; // where the reader was when the page began to answer: it is drawn anew, and the focus must stay

  function went(name, value) {
    held = document.activeElement ? document.activeElement.id : "";
    const to = new URL(location.href);
    if (value === "") to.searchParams.delete(`if-${name}`);
    else to.searchParams.set(`if-${name}`, value);
    if (to.href === location.href) return;
    history.pushState({}, "", to.href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
  }

  function make(tag, looks, set) {
    return Object.assign(document.createElement(tag), { className: looks }, set);
  }

  function build(room) {
    const name = room.dataset.idea;
    const label = make("label", "idea-words", { htmlFor: `try-${name}` });
    const field = make("input", "idea-field", { type: "text", id: `try-${name}`, inputMode: "decimal", autocomplete: "off" });
    const slide = make("input", "idea-slide", { type: "range", id: `slide-${name}` });
    const unit = make("span", "idea-unit");
    const state = make("span", "idea-state", { id: `state-${name}` });
    field.setAttribute("aria-describedby", state.id);
    slide.addEventListener("input", () => { field.value = slide.value; });
    slide.addEventListener("change", () => went(name, slide.value));
    field.addEventListener("change", () => {
      const text = field.value.trim();
      const wrong = text !== "" && !(/^\d+(\.\d+)?$/.test(text));
      field.setAttribute("aria-invalid", String(wrong));
      state.textContent = wrong ? "a plain figure is wanted, such as 4.5" : room.dataset.state;
      if (!wrong) went(name, text);
    });
    room.replaceChildren(label, field, unit, slide, state);
  }

  function fill(room) {
    const said = JSON.stringify(room.dataset);
    if (room.firstChild && room._said === said) return;
    if (!room.firstChild) build(room);
    room._said = said;
    const [label, field, unit, slide, state] = room.children;
    const data = room.dataset;
    label.textContent = data.words;
    unit.textContent = data.unit;
    field.value = data.value;
    field.setAttribute("aria-invalid", "false");
    slide.min = data.low;
    slide.max = data.high;
    slide.step = data.step;
    slide.value = data.value || data.low;
    slide.setAttribute("aria-label", `${data.words}, slider`);
    state.textContent = data.state;
  }

  function look() {
    document.querySelectorAll("[data-idea]").forEach(fill);
    const last = held && document.getElementById(held);
    if (last && document.activeElement === document.body) last.focus({ preventScroll: true });
  }

  document.addEventListener("focusin", (event) => { if (event.target.id !== held) held = ""; });
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true, attributes: true, attributeFilter: ["data-value", "data-state", "data-idea"] });
  document.addEventListener("DOMContentLoaded", look);
})();
