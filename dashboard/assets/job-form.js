/* The form of a job: fields as the server names them, faults in their place, kept on a word; or the same as a text. */
(function () {
  "use strict";
  const LISTS = ["features", "fits", "closures", "gauges"];
  const ONE = { features: "feature", fits: "fit", closures: "closure", gauges: "gauge" };
  const ABOUT = {
    job: ["The job", "Its unit is the unit of every number that names none"],
    features: ["What is measured", "A bore or a shank, with its limits or a grade; what is left empty is not asked"],
    fits: ["What must go together", "The gap is internal minus external: below zero the shank is the larger one, and is pressed in"],
    closures: ["What lengths must add up to", "A closure: a sum of what is measured above, as head height - counterbore depth, and its limits"],
    gauges: ["What it is measured with", "A gauge that is not described is taken to read what is typed"],
    costs: ["What things cost", "In one currency, or in minutes; may stay empty"],
  };
  const PARTS = { measuring: "Measuring" };
  const FOLDED = { reading: "How readings are typed", piece: "Material, master, plating", cutting: "Cutting, and what it costs",
    press: "Pressing it in", seat: "The shoulder it seats on", gauge: "Range, material, what it sends" };
  const WORDS = new Set(["name", "gauge", "grade", "class", "positions", "part", "material", "machine.tool", "machine.name", "press.friction", "terms", "line", "due"]);
  const WAIT_MS = 350;
  const made = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (part) => part.toString(16).padStart(2, "0")).join("");
  let serial = 0;
  let afterwards = ""; // what the next form to be drawn says first

  async function asked(path, body) {
    const answer = await fetch(path, body && { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    const said = await answer.json().catch(() => ({ error: `the server answered ${answer.status}` }));
    return { ok: answer.ok, said };
  }

  function go(href) {
    history.pushState({}, "", href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    window.scrollTo(0, 0);
  }

  class JobForm {
    constructor(room) {
      this.room = room;
      this.make = window.tenthwise.draw.make;
      this.job = Number(room.dataset.job) || null;
      this.readOnly = Boolean(room.dataset.readOnly); // the role may read the job and not change it: the page says so above
      this.draft = `tenthwise.form.${this.job || "new"}.${room.dataset.revision}`;
      this.way = "form";
      this.sent = made();
      this.touched = new Set();
      this.all = false;
      this.turn = 0;
      this.load();
    }

    async load(afresh) {
      const query = this.room.dataset.revision ? `?revision=${this.room.dataset.revision}` : "";
      let found;
      try {
        found = await asked(this.job ? `/api/jobs/${this.job}/form${query}` : "/api/job-form");
      } catch { found = { ok: false, said: { error: "the server does not answer" } }; }
      if (!found.ok) {
        this.room.replaceChildren(this.make("p", { class: "form-said", "data-state": "failed" }, `The form could not be fetched: ${found.said.error}.`));
        return;
      }
      Object.assign(this, found.said);
      this.base = this.text;
      this.dirty = false;
      const draft = afresh || this.readOnly ? null : JSON.parse(sessionStorage.getItem(this.draft) || "null");
      const back = Boolean(draft);
      if (back && !this.room.dataset.revision) this.latest = draft.revision;
      if (back) Object.assign(this, { form: draft.form, way: draft.way, text: draft.text, base: draft.base, sent: draft.sent, dirty: true });
      this.build();
      this.say(back ? "What was typed before is back." : afterwards);
      afterwards = "";
      this.startOver.hidden = !back;
      this.look();
    }

    /* ---- building ---- */

    build() {
      const { make } = this;
      this.rows = make("div", { class: "form-rows" });
      this.ways = make("div", { class: "switch form-ways", role: "group", "aria-label": "how it is written" });
      this.body = make("div", { class: "form-rows" });
      this.rows.append(this.ways, this.body);
      this.said = make("p", { class: "form-said", role: "status" });
      this.list = make("ul", {});
      this.lead = make("h2", {});
      this.keeper = make("button", { type: "button", class: "button strong", onclick: () => this.keep() }, this.job ? `keep as revision ${this.latest + 1}` : "keep the job");
      this.ready();
      this.startOver = make("button", { type: "button", class: "plain", onclick: () => this.restart() }, "throw the changes away");
      this.written = make("pre", { tabindex: "0", "aria-label": "the text of the job" });
      this.textBox = make("details", {}, make("summary", {}, "as job.toml"), this.written);
      const side = make("section", { class: "panel form-side", "aria-label": "what was understood" },
        this.lead, this.list, make("div", { class: "buttons" }, this.keeper), this.said, this.startOver, this.textBox);
      this.room.replaceChildren(make("div", { class: "form-columns" }, this.rows, side));
      this.paint();
    }

    paint() {
      const { make } = this;
      this.ways.replaceChildren(...[["form", "as a form"], ["text", "as a text"]].map(([way, words]) =>
        make("button", { type: "button", "aria-pressed": String(this.way === way), onclick: () => this.turnTo(way) }, words)));
      this.textBox.hidden = this.way === "text";
      if (this.way === "text") this.paintText();
      else this.paintForm();
      if (!this.readOnly) return;
      for (const box of this.body.querySelectorAll("input, textarea")) box.readOnly = true;
      for (const box of this.body.querySelectorAll("select")) box.disabled = true;
      for (const button of this.body.querySelectorAll("button")) button.remove();
    }

    paintText() {
      const { make } = this;
      this.area = make("textarea", { id: "job-text", spellcheck: "false", autocapitalize: "off", "aria-label": "the text of the job, as in job.toml", oninput: () => this.changed() });
      this.area.value = this.text;
      this.body.replaceChildren(make("section", { class: "panel text-room" },
        make("h2", {}, "The job as a text"),
        make("p", { class: "how" }, "All that a job.toml may hold; Help says what each key means"),
        this.area));
    }

    paintForm() {
      const { make } = this;
      const parts = [this.panel("job", ...this.parts("job", this.form.job))];
      for (const section of LISTS) {
        const rows = make("div", {}, ...this.form[section].map((row) => this.row(section, row)));
        const add = make("button", { type: "button", class: "button add", onclick: () => {
          const row = { ...this.blank[section] };
          this.form[section].push(row);
          const node = this.row(section, row);
          rows.append(node);
          node.querySelector("input").focus();
          this.changed();
        } }, `add a ${ONE[section]}`);
        parts.push(this.panel(section, rows, add));
      }
      parts.push(this.panel("costs", ...this.parts("costs", this.form.costs)));
      if (this.beyond.length) {
        parts.push(make("p", { class: "how" }, `Only in the text, and kept as they are: ${this.beyond.filter((item) => !item.startsWith("remarks")).join(", ") || "nothing else"}.`
          + (this.beyond.some((item) => item.startsWith("remarks")) ? " Remarks (#) are lost when the form writes the text anew; change the text itself to keep them." : "")));
      }
      this.body.replaceChildren(...parts);
      this.refill();
    }

    panel(section, ...content) {
      const [title, how] = ABOUT[section];
      return this.make("section", { class: "panel", "data-section": section }, this.make("h2", {}, title), this.make("p", { class: "how" }, how), ...content);
    }

    row(section, row) {
      const { make } = this;
      const head = make("h3", {});
      const node = make("fieldset", { class: "form-row", "data-section": section });
      const gone = make("button", { type: "button", class: "plain", onclick: () => {
        this.form[section].splice(this.form[section].indexOf(row), 1);
        const next = node.nextElementSibling || node.previousElementSibling;
        node.remove();
        (next ? next.querySelector("input") : this.body.querySelector(`[data-section="${section}"] .add`)).focus();
        this.changed();
      } }, "take out");
      node.head = () => {
        head.textContent = row.name || `a ${ONE[section]}`;
        gone.setAttribute("aria-label", `take out ${row.name || `this ${ONE[section]}`}`);
        node.setAttribute("aria-label", `${ONE[section]} ${row.name}`.trim());
        if (row.kind !== undefined) node.dataset.kind = row.kind;
        for (const box of node.querySelectorAll("input")) box.placeholder = like(box.field, row);
      };
      node.row = row;
      node.head();
      node.append(make("div", { class: "form-row-head" }, head, gone));
      node.append(...this.parts(section, row, node));
      return node;
    }

    /* The fields of a row, part by part; what a job seldom says is folded away until something stands in it. */
    parts(section, row, node) {
      const { make } = this;
      const parts = [...new Set(this.fields[section].map((field) => field.part))];
      return parts.flatMap((part) => {
        const grid = this.grid(section, row, part, node);
        if (!FOLDED[part]) return PARTS[part] ? [make("h4", {}, PARTS[part]), grid] : [grid];
        const more = make("details", { class: "form-more" }, make("summary", {}, FOLDED[part]), grid);
        more.open = this.fields[section].some((field) => field.part === part && row[field.key]);
        return [more];
      });
    }

    grid(section, row, part, node) {
      const fields = this.fields[section].filter((field) => field.part === part);
      return this.make("div", { class: `fields of-${section}` }, ...fields.map((field) => this.field(section, row, field, node)));
    }

    field(section, row, field, node) {
      const { make } = this;
      const number = ++serial;
      const wrong = make("span", { class: "wrong", id: `wrong-${number}` });
      const more = { id: `field-${number}`, "data-key": field.key, "aria-describedby": wrong.id };
      let box;
      if (field.choices.length || field.suggest === "internal" || field.suggest === "external") {
        box = make("select", more);
        box.options_ = field.choices;
        for (const [value, words] of field.choices) box.append(make("option", { value }, words));
      } else {
        box = make("input", { ...more, type: "text", maxlength: "200", autocomplete: "off", spellcheck: "false",
          placeholder: like(field, row), class: WORDS.has(field.key) ? "" : "figure", ...(field.suggest ? { list: `known-${field.suggest}` } : {}) });
      }
      box.suggest = field.suggest;
      box.field = field;
      box.row = row;
      box.value = row[field.key];
      const take = () => {
        row[field.key] = box.value;
        if (node) node.head();
        this.changed();
      };
      box.addEventListener("input", take);
      box.addEventListener("blur", () => { if (row[field.key]) { this.touched.add(box); this.look(); } });
      const long = (field.key === "name" && section === "job") || ["terms", "line"].includes(field.key) ? " long" : "";
      return make("label", { class: `field${long}`, for: box.id }, make("span", {}, field.words), box, wrong);
    }

    /* Names typed above stand to be chosen below. */
    refill() {
      const { make } = this;
      const kinds = { internal: ["internal", "length"], external: ["external", "length"] };
      for (const box of this.body.querySelectorAll("select")) {
        if (!kinds[box.suggest]) continue;
        const was = box.row[box.dataset.key];
        const names = this.form.features.filter((row) => row.name.trim() && kinds[box.suggest].includes(row.kind)).map((row) => row.name.trim());
        if (was && !names.includes(was)) names.push(was);
        const wanted = JSON.stringify(names);
        if (box.wanted !== wanted) {
          box.wanted = wanted;
          box.replaceChildren(make("option", { value: "" }, "choose"), ...names.map((name) => make("option", { value: name }, name)));
        }
        box.value = was;
      }
      this.offer("gauges", this.form.gauges.map((row) => row.name));
      this.offer("materials", this.materials);
    }

    offer(what, names) {
      let known = document.getElementById(`known-${what}`);
      if (!known) this.body.append(known = this.make("datalist", { id: `known-${what}` }));
      known.replaceChildren(...names.filter(Boolean).map((name) => this.make("option", { value: name })));
    }

    /* ---- checking and keeping ---- */

    /* A row with nothing in it is not sent; `sent_` says which rows were. */
    payload() {
      const which = this.job ? { job: this.job } : {};
      if (this.way === "text") return { text: this.area.value, ...which };
      const form = { job: this.form.job, costs: this.form.costs };
      this.sentRows = {};
      for (const section of LISTS) {
        const blank = this.blank[section];
        this.sentRows[section] = this.form[section].filter((row) => Object.keys(blank).some((key) => key !== "kind" && row[key] !== blank[key]));
        form[section] = this.sentRows[section];
      }
      return { form, base: this.base, ...which };
    }

    changed() {
      if (this.way === "form") this.refill();
      else this.text = this.area.value;
      this.dirty = true;
      this.ready();
      this.startOver.hidden = false;
      this.say("");
      sessionStorage.setItem(this.draft, JSON.stringify({ revision: this.revision, form: this.form, text: this.text, base: this.base, way: this.way, sent: this.sent }));
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.look(), WAIT_MS);
    }

    async look() {
      const turn = ++this.turn;
      let found;
      try {
        found = await asked("/api/job-check", this.payload());
      } catch {
        return this.say("The server does not answer; what is typed stays here.", true);
      }
      if (turn !== this.turn) return;
      if (!found.ok) return this.say(sentence(found.said.error), true);
      this.show(found.said);
      this.overtaken(found.said.latest);
    }

    show(said) {
      const { make } = this;
      if (this.way === "form") this.text = this.dirty || !this.base ? said.text : this.base; // what nobody changed keeps its remarks
      this.written.textContent = this.text;
      const faults = said.faults;
      if (!this.job && !this.dirty && !this.all && this.way === "form") {
        this.lead.textContent = "Enough to begin";
        this.list.replaceChildren(...["A name for the job.", "One feature with its kind and its nominal, to log readings of it.",
          "Limits or a grade, to hear how they lie in them.", "A bore, a shank and a fit, to hear whether they go together."].map((words) => make("li", {}, words)));
        return;
      }
      this.lead.textContent = !faults.length ? "What was understood"
        : faults.length === 1 ? "One thing is missing or wrong" : `${faults.length} things are missing or wrong`;
      this.list.replaceChildren(...(faults.length
        ? faults.slice(0, 12).map((fault) => make("li", { class: "missing" }, this.words(fault)))
        : [...said.said, ...said.remarks].map((words) => make("li", {}, sentence(words)))));
      if (faults.length > 12) this.list.append(make("li", {}, `and ${faults.length - 12} more`));
      this.place(faults);
    }

    words(fault) {
      const rows = this.sentRows || {};
      const row = fault.row === null || this.way === "text" ? null : rows[fault.section][fault.row];
      const name = row ? `${row.name || `a ${ONE[fault.section]}`}: ` : "";
      return sentence(name + fault.words);
    }

    place(faults) {
      if (this.way === "text") {
        this.area.setAttribute("aria-invalid", String(faults.length > 0));
        return;
      }
      for (const box of this.body.querySelectorAll("input, select")) {
        const section = box.closest("[data-section]").dataset.section;
        const own = faults.filter((fault) => fault.field === box.dataset.key && fault.section === section
          && (fault.row === null || this.sentRows[section][fault.row] === box.row));
        const shown = own.length > 0 && (this.all || this.touched.has(box));
        box.setAttribute("aria-invalid", String(shown));
        const more = box.closest("details");
        if (shown && more) more.open = true;
        box.parentNode.querySelector(".wrong").textContent = shown ? own.map((fault) => sentence(fault.words)).join(" ") : "";
      }
    }

    /* A revision is kept when there is something new in it, or when an old one is to hold again. */
    ready() {
      this.keeper.disabled = this.readOnly || (Boolean(this.job) && !this.dirty && !this.room.dataset.revision);
    }

    async keep() {
      this.keeper.disabled = true;
      clearTimeout(this.timer);
      const turn = ++this.turn;
      this.all = true;
      this.say("Keeping it.");
      const body = { ...this.payload(), by: document.body.dataset.bench || "", ...(this.job ? { revision: this.latest } : { client_id: this.sent }) };
      let found;
      try {
        found = await asked("/api/job-check", this.payload());
        if (found.ok && found.said.faults.length) found = { ok: false, said: { ...found.said, error: "nothing was kept: mend what is marked first" } };
        else if (found.ok && this.overtaken(found.said.latest)) return this.ready();
        else if (found.ok) found = await asked(this.job ? `/api/jobs/${this.job}/revisions` : "/api/jobs", body);
      } catch {
        found = { ok: false, said: { error: "the server does not answer; what is typed stays here, try again" } };
      }
      this.ready();
      if (turn !== this.turn && !found.ok) return;
      if (!found.ok) {
        if (found.said.faults) this.show({ text: found.said.text, faults: found.said.faults, said: [], remarks: [] });
        this.say(sentence(found.said.error), true);
        const first = this.body.querySelector('[aria-invalid="true"]');
        if (first) first.focus();
        return;
      }
      sessionStorage.removeItem(this.draft);
      const { job, revision } = found.said;
      afterwards = this.job && revision === this.latest ? "Nothing was changed, so no revision was kept." : this.job ? `Kept as revision ${revision}.` : "The job is kept.";
      this.dirty = false;
      go(`/job?job=${job}&kept=${revision}`);
    }

    async turnTo(way) {
      if (way === this.way) return;
      if (way === "form" && this.text !== this.turnedAt) {
        let found;
        try {
          found = await asked("/api/job-form", { text: this.text });
        } catch {
          return this.say("The server does not answer; the text stays here.", true);
        }
        if (!found.ok) return this.say(sentence(found.said.error), true);
        Object.assign(this, { form: found.said.form, beyond: found.said.beyond, base: this.text });
      }
      this.turnedAt = this.text;
      this.way = way;
      this.say("");
      this.paint();
      this.look();
      this.ways.querySelector('[aria-pressed="true"]').focus();
    }

    restart() {
      sessionStorage.removeItem(this.draft);
      this.way = "form";
      this.dirty = false;
      this.all = false;
      this.touched.clear();
      this.load(true);
    }

    say(words, failed) {
      this.said.textContent = words;
      this.said.dataset.state = failed ? "failed" : "";
    }

    /* Someone else kept a revision while this one was being typed: nothing is written over. */
    overtaken(latest) {
      if (!this.job || latest <= this.latest || this.room.dataset.revision) return false;
      this.say(`Revision ${latest} was kept by someone else meanwhile. What you typed is here still; throw it away to see theirs.`, true);
      return true;
    }
  }

  /* How a field may be filled in: a shank is not filled in like a bore. */
  function like(field, row) {
    const example = (row.kind && field.examples[row.kind]) || field.example;
    return example ? `as ${example}` : "";
  }

  function sentence(words) {
    const said = String(words).trim();
    return said ? said[0].toUpperCase() + said.slice(1) + (/[.!?]$/.test(said) ? "" : ".") : "";
  }

  const forms = new WeakSet();
  function look() {
    const room = document.getElementById("job-form");
    if (!room || !window.tenthwise || !window.tenthwise.draw) return;
    if (forms.has(room)) return;
    forms.add(room);
    new JobForm(room);
  }
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", look);
})();
