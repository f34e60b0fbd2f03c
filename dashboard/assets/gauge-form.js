/* The form that enters a gauge, or a new calibration of it, into the register. */
(function () {
  "use strict";
  const FIELDS = [
    ["calibrated", "calibrated on", "text", { placeholder: "2027-03-31" }], ["due", "next calibration", "text", { placeholder: "2028-03-31" }],
    ["resolution", "one step", "text"], ["calibration", "calibration (u)", "text"], ["correction", "correction", "text"],
    ["serial", "serial number", "text"], ["note", "note", "text"],
  ];

  function build(room) {
    const { make } = window.tenthwise.draw;
    const said = make("p", { class: "form-said", role: "status" });
    const names = make("datalist", { id: "gauge-names" }, ...JSON.parse(room.dataset.names).map((name) => make("option", { value: name })));
    const field = (key, words, type, more) => make("label", { class: "field" }, make("span", {}, words),
      make("input", { name: key, type, maxlength: "200", autocomplete: "off", ...(type === "text" ? { class: key === "serial" || key === "note" ? "" : "figure" } : {}), ...more }));
    const form = make("form", { onsubmit: async (event) => {
      event.preventDefault();
      const button = form.querySelector("button");
      button.disabled = true;
      const body = { ...Object.fromEntries(new FormData(form)), unit: room.dataset.unit, by: document.body.dataset.bench || "" };
      try {
        const answer = await fetch("/api/gauges", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
        const told = await answer.json();
        if (!answer.ok) throw new Error(told.error);
        said.dataset.state = "";
        said.textContent = `Entered: ${body.name}.`;
        form.reset();
      } catch (error) {
        said.dataset.state = "failed";
        said.textContent = `Not entered: ${error.message}.`;
      }
      button.disabled = false;
    } },
    make("div", { class: "fields" }, field("name", "gauge", "text", { list: "gauge-names", required: "", class: "" }), ...FIELDS.map((each) => field(...each))),
    names, make("div", { class: "buttons" }, make("button", { type: "submit", class: "button strong" }, "enter it")), said);
    room.replaceChildren(form);
  }

  const rooms = new WeakSet();
  function look() {
    const room = document.getElementById("gauge-form");
    if (!room || rooms.has(room) || !window.tenthwise || !window.tenthwise.draw) return;
    rooms.add(room);
    build(room);
  }
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", look);
})();
