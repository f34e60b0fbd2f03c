/* The Log page: one entry field that always has the keys, a queue behind it, and what is kept drawn beside it. */
(function () {
  "use strict";

  const POLL_MS = 1000;
  const KINDS = [["", "as typed"], ["comparator", "from a master"], ["go_no_go", "goes / does not go"]];
  const ORDERS = [["reading", "next: reading"], ["piece", "next: piece"]];
  const TINY = 0.05; // as in tracker/readings/entry.py: what is this small beside the size is a deviation
  const { asks, lengths, draw } = tenthwise;
  const { make } = draw;

  function remembered(name, fallback) {
    return localStorage.getItem(`tenthwise.${name}`) || fallback;
  }

  class LogPage {
    constructor(root) {
      this.root = root;
      this.job = Number(root.dataset.job);
      this.feature = root.dataset.feature;
      this.unit = root.dataset.unit;
      this.state = null;
      this.chosen = null;
      this.asking = null;
      this.striking = null;
      this.wording = false;
      this.message = "";
      asks.refusals.home(this.job);
      this.steps = 0;
      this.earlyKey = `tenthwise.early.${this.job}.${this.feature}.${this.bench()}`;
      this.early = JSON.parse(sessionStorage.getItem(this.earlyKey) || "[]");
      this.kind = remembered(`kind.${this.job}.${this.feature}`, "");
      this.order = remembered("order", "reading");
      this.queue = new tenthwise.Queue({
        onChange: () => this.paintQueue(),
        onKept: (entry, answer) => this.kept(entry, answer),
        onRefused: (entry, message) => this.refused(entry, message),
      });
      this.build();
      this.onKey = (event) => this.key(event);
      document.addEventListener("keydown", this.onKey, true);
      this.resize = new ResizeObserver(() => this.paintStrip());
      this.resize.observe(this.strip);
      this.queue.send().then(() => this.load());
      this.timer = setInterval(() => this.load(), POLL_MS);
    }

    stop() {
      document.removeEventListener("keydown", this.onKey, true);
      clearInterval(this.timer);
      this.resize.disconnect();
    }

    /* ---- building ---- */

    build() {
      this.field = make("input", {
        class: "entry", type: "text", inputmode: "decimal", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
        "aria-label": "the next reading", maxlength: "64", oninput: () => this.typed(),
      });
      this.field.setAttribute("inputmode", this.inputMode());
      this.field.value = sessionStorage.getItem("tenthwise.half") || "";
      this.piece = make("h1", { class: "now" });
      this.place = make("p", { class: "place" });
      this.beads = make("span", { class: "spots", "aria-hidden": "true" });
      this.reads = make("p", { class: "reads", "aria-live": "polite" });
      this.offBy = make("p", { class: "off-by" });
      this.question = make("div", { class: "question-room", "aria-live": "assertive" });
      this.kinds = this.segment("how it is read", KINDS, () => this.kindNow(), (value) => {
        this.kind = value;
        localStorage.setItem(`tenthwise.kind.${this.job}.${this.feature}`, value);
        this.paint();
      });
      this.orders = this.segment("what comes next", ORDERS, () => this.order, (value) => {
        this.order = value;
        localStorage.setItem("tenthwise.order", value);
        this.chosen = null;
        this.paint();
      });
      this.count = make("p", { class: "kept", role: "status" });
      this.strip = make("div", { class: "strip-room" });
      this.stripTitle = make("h2", {});
      this.howTo = make("p", { class: "how-to-read" });
      this.entries = make("div", { class: "entries-room" });
      this.verdict = make("p", { class: "log-verdict", role: "status" });
      const keys = make("p", { class: "keys" }, "Enter keeps the value. Up and Down change the piece, F8 strikes out the last entry.");
      this.root.replaceChildren(
        make("section", { class: "log-left", "aria-label": "entry" },
          make("div", { class: "now-line" }, this.piece, this.place, this.beads),
          this.field,
          make("div", { class: "under-entry" }, this.reads, this.offBy),
          this.question,
          make("div", { class: "segments" }, this.kinds, this.orders),
          this.count, this.verdict, keys),
        make("section", { class: "panel log-right", "aria-label": "pieces" }, this.stripTitle,
          this.howTo, this.strip),
        make("section", { class: "panel log-entries", "aria-label": "last entries" }, make("h2", {}, "The last entries"), this.entries),
        this.keypad());
      this.focus();
    }

    segment(label, options, current, choose) {
      const group = make("div", { class: "segment", role: "group", "aria-label": label });
      group.paint = () => group.replaceChildren(...options.map(([value, word]) =>
        make("button", { type: "button", "aria-pressed": String(current() === value), onclick: () => { choose(value); this.focus(); } }, word)));
      group.paint();
      return group;
    }

    keypad() {
      const keys = ["7", "8", "9", "rub out", "4", "5", "6", "+ / −", "1", "2", "3", "enter", "0", ".", "goes"];
      return make("div", { class: "keypad", role: "group", "aria-label": "keypad" }, ...keys.map((word) =>
        make("button", { type: "button", class: word === "enter" ? "enter" : "", tabindex: "-1",
          onpointerdown: (event) => { event.preventDefault(); this.press(word); } }, word)));
    }

    press(word) {
      const value = this.field.value;
      if (word === "enter") this.enter();
      else if (word === "rub out") this.field.value = value.slice(0, -1);
      else if (word === "+ / −") this.field.value = /^[-−]/.test(value) ? value.slice(1) : `-${value.replace(/^\+/, "")}`;
      else if (word === "goes") this.field.value = value.includes("goes") ? `${value.trim()} / not ` : "goes ";
      else this.field.value = value + word;
      this.typed();
    }

    /* A phone has the page's own keypad; words need the keyboard of the device. */
    inputMode() {
      return this.wording ? "text" : matchMedia("(max-width: 700px)").matches ? "none" : "decimal";
    }

    /* A device shows another keyboard only when the field is entered anew. */
    setWording(on) {
      if (this.wording === on) return;
      this.wording = on;
      this.root.classList.toggle("wording", on);
      this.field.setAttribute("inputmode", this.inputMode());
      this.field.blur();
      this.focus();
    }

    bench() {
      const room = document.getElementById("page-room");
      return (room && room.dataset.bench) || "";
    }

    focus() {
      this.field.focus({ preventScroll: true });
    }

    /* ---- where we are ---- */

    kindNow() {
      return KINDS.some(([value]) => value === this.kind) ? this.kind : "";
    }

    positions() {
      const named = this.state.feature.positions;
      return named.length ? named : [""];
    }

    /* How many readings count at each place, the waiting ones too. */
    filled() {
      const counts = new Map();
      const add = (piece, position) => counts.set(`${piece}\n${position}`, (counts.get(`${piece}\n${position}`) || 0) + 1);
      for (const reading of this.state.readings) if (!reading.struck) add(reading.piece, reading.position);
      for (const entry of this.queue.waiting(this.job, this.feature)) add(entry.piece, entry.position);
      return counts;
    }

    pieceNames() {
      const names = new Set(draw.pieces(this.state).map((piece) => piece.name));
      for (const entry of this.queue.waiting(this.job, this.feature)) names.add(entry.piece);
      if (!names.size) names.add("1");
      return [...names].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
    }

    next() {
      if (this.chosen) return this.chosen;
      const counts = this.filled();
      const have = (piece, position) => counts.get(`${piece}\n${position}`) || 0;
      const names = this.pieceNames();
      const repeats = this.state.feature.repeats;
      const spots = [];
      if (this.order === "reading") {
        for (const piece of names) for (const position of this.positions()) for (let turn = 1; turn <= repeats; turn += 1) spots.push([piece, position, turn]);
      } else {
        for (let turn = 1; turn <= repeats; turn += 1) for (const position of this.positions()) for (const piece of names) spots.push([piece, position, turn]);
      }
      const free = spots.find(([piece, position, turn]) => have(piece, position) < turn);
      if (free) return { piece: free[0], position: free[1] };
      const last = names[names.length - 1];
      const number = /(\d+)$/.exec(last);
      const after = number ? last.slice(0, number.index) + String(Number(number[1]) + 1) : `${last} 2`;
      return { piece: after, position: this.positions()[0] };
    }

    /* After a value on a piece chosen by hand: the next open place on that piece, else wherever comes next. */
    advance(spot) {
      if (!this.chosen) return;
      const counts = this.filled();
      const open = this.positions().find((position) => (counts.get(`${spot.piece}\n${position}`) || 0) < this.state.feature.repeats);
      this.chosen = open === undefined ? null : { piece: spot.piece, position: open };
    }

    move(by) {
      const names = this.pieceNames();
      const spot = this.next();
      const at = names.indexOf(spot.piece) + by;
      if (at < 0) return;
      const piece = at < names.length ? names[at] : this.afterLast(names);
      this.chosen = { piece, position: this.positions()[0] };
      this.paint();
    }

    afterLast(names) {
      const last = names[names.length - 1];
      const number = /(\d+)$/.exec(last);
      return number ? last.slice(0, number.index) + String(Number(number[1]) + 1) : `${last} 2`;
    }

    /* ---- keys ---- */

    key(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const other = event.target instanceof Element && event.target !== this.field
        && event.target.matches("input, textarea, select, [contenteditable]");
      if (other) return;
      const inField = event.target === this.field;
      if (event.key === "Enter") {
        if (!inField && !this.field.value) return;
        event.preventDefault();
        event.stopPropagation();
        this.enter();
        return;
      }
      if (/^F\d$/.test(event.key) && this.functionKey(event.key)) {
        event.preventDefault();
        return;
      }
      if (event.key === "Escape") {
        if (this.striking) this.leaveStriking();
        else if (asks.refusals.of(this.job).length) asks.refusals.seen(this.job);
        else this.field.value = "";
        this.message = "";
        this.typed();
        this.paintQuestion();
        return;
      }
      if (event.key === "ArrowUp" || event.key === "ArrowDown") {
        event.preventDefault();
        this.move(event.key === "ArrowUp" ? -1 : 1);
        return;
      }
      if (!inField && event.key.length === 1 && event.key !== " ") this.focus();
    }

    functionKey(key) {
      if (this.striking) {
        const reason = asks.REASONS.find(([name]) => name === key);
        if (reason) this.strike(reason[1]);
        return Boolean(reason);
      }
      if (this.asking && key === "F2" && this.asking.suggestion) { this.answer("changed"); return true; }
      if (this.asking && key === "F4") { this.answer("kept"); return true; }
      if (key === "F8") {
        const target = this.asking || this.lastLive();
        if (target) this.askReason(target);
        return true;
      }
      return false;
    }

    lastLive() {
      return draw.live(this.state || { readings: [] }).sort((a, b) => b.id - a.id)[0] || null;
    }

    typed() {
      sessionStorage.setItem("tenthwise.half", this.field.value);
      this.paintReads();
    }

    enter() {
      const text = this.field.value.trim();
      this.field.value = "";
      sessionStorage.removeItem("tenthwise.half");
      if (!text) return;
      if (!this.state) {
        // The job is not here yet: a gauge does not wait, so what it sends is kept until it is, through a reload too.
        this.early.push(text);
        this.keepEarly();
        return;
      }
      this.take(text);
    }

    keepEarly() {
      sessionStorage.setItem(this.earlyKey, JSON.stringify(this.early));
      const words = this.early.length === 1 ? "1 value waits" : `${this.early.length} values wait`;
      this.count.textContent = this.early.length ? `The job is being read; ${words} for it.` : "";
    }

    takeEarly() {
      const texts = this.early;
      this.early = [];
      sessionStorage.removeItem(this.earlyKey);
      for (const text of texts) this.take(text);
    }

    part() {
      return this.feature.replace(/_/g, " ");
    }

    take(text) {
      const kind = this.kindNow();
      const isEntry = lengths.looksLikeEntry(text, kind, this.unit, this.state.job.comma);
      if (this.striking && !isEntry && asks.isReason(text)) {
        this.strike(text);
        return;
      }
      if (!isEntry) {
        const entry = `“${text}” for the ${this.part()} was not kept:`;
        asks.refusals.add(this.job, kind === "go_no_go"
          ? `${entry} it says neither what goes nor what does not. Accepted is goes .6250 / not .6252.`
          : text.includes(",") && !this.state.job.comma
            ? `${entry} it has a comma. Write a point, or choose the comma in the job's form, under “How readings are typed” (in job.toml: decimal_comma = true under [job]).`
            : `${entry} it is not a length${this.striking ? ", nor a reason in words" : ""}. Accepted is .6252, 15.880 mm, 17/32, +3 tenths or goes .6250 / not .6252.`);
        this.paintQuestion();
        this.paintReads();
        return;
      }
      this.message = "";
      this.steps += 1;
      const spot = this.next();
      const said = /go/i.test(text) ? "go_no_go" : kind;
      this.queue.add({ job: this.job, feature: this.feature, piece: spot.piece, position: spot.position, repeat: this.repeatOf(spot),
        text, kind: said, unit: this.unit, operator: this.bench() });
      this.advance(spot);
      this.paint();
    }

    repeatOf(spot) {
      return (this.filled().get(`${spot.piece}\n${spot.position}`) || 0) + 1;
    }

    /* ---- what comes back ---- */

    kept(entry, answer) {
      this.steps += 1;
      if (this.state && entry.job === this.job && entry.feature === this.feature) {
        if (!this.state.readings.some((reading) => reading.id === answer.reading.id)) this.state.readings.push(answer.reading);
        if (answer.reading.question) this.asking = answer.reading;
      }
      this.paint();
      this.later();
    }

    refused(entry, message) {
      const place = draw.placeName(entry);
      const part = String(entry.feature).replace(/_/g, " ");
      asks.refusals.add(entry.job, `“${entry.text}” for piece ${entry.piece}, ${place} (${part}), was not kept: ${message}`, entry.job !== this.job);
      this.paint();
      this.paintQuestion();
    }

    /* The whole state once the burst is over, so that what is drawn is what the record holds. */
    later() {
      clearTimeout(this.soon);
      this.soon = setTimeout(() => this.load(), 250);
    }

    async load() {
      // A snapshot taken while readings are on their way is older than what the page knows: it would free their places.
      if (this.state && this.queue.own().length) return;
      const taken = this.steps;
      let answer;
      try {
        const response = await fetch(`/api/jobs/${this.job}/log?feature=${encodeURIComponent(this.feature)}&unit=${this.unit}&mark=${this.state ? this.state.mark : ""}`, { signal: AbortSignal.timeout(8000) });
        answer = await response.json();
        if (!response.ok) throw new Error(answer.error);
      } catch (error) {
        this.queue.lost = true;
        this.paintQueue();
        return;
      }
      this.queue.lost = false;
      if (taken !== this.steps || (this.state && this.queue.own().length)) {
        this.later();
        return;
      }
      if (answer.same) { this.paintQueue(); return; }
      const seen = JSON.stringify([answer.readings, answer.verdict]);
      if (seen === this.seen) { this.state.mark = answer.mark; this.paintQueue(); return; }
      this.seen = seen;
      this.state = answer;
      if (this.early.length) this.takeEarly();
      if (this.asking) this.asking = answer.readings.find((reading) => reading.id === this.asking.id && reading.question && !reading.struck) || null;
      if (!this.asking) this.asking = answer.readings.find((reading) => reading.question && !reading.struck) || null;
      this.paint();
    }

    async tell(path, body) {
      try {
        const response = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal: AbortSignal.timeout(8000) });
        if (!response.ok) this.message = (await response.json()).error || "that was refused";
      } catch (error) {
        this.message = "No connection: nothing was changed. Try again when it is back.";
      }
      await this.load();
      this.paintQuestion();
      this.focus();
    }

    answer(what) {
      const reading = this.asking;
      this.asking = null;
      if (what === "kept") this.tell(`/api/readings/${reading.id}/keep`, {});
      else this.tell(`/api/jobs/${this.job}/readings/${reading.id}/change`, { text: reading.suggestion, reason: "mistyped", by: this.bench() });
    }

    askReason(reading) {
      this.striking = reading;
      this.paintQuestion();
      this.question.querySelector(".why").scrollIntoView({ block: "nearest" }); // asked from a row far below, under the keys
      this.focus();
    }

    leaveStriking() {
      this.striking = null;
      this.setWording(false);
    }

    strike(reason) {
      const reading = this.striking;
      this.leaveStriking();
      this.asking = null;
      this.chosen = null;
      this.tell(`/api/readings/${reading.id}/strike`, { reason, by: this.bench() });
    }

    /* ---- painting ---- */

    view() {
      const from = this.state.job.unit;
      const unit = this.unit;
      const small = unit === "in" ? "tenth" : "um";
      const step = lengths.convert(this.state.feature.step, from, unit);
      const decimals = Math.max(unit === "in" ? 4 : 3, Math.min(6, Math.ceil(-Math.log10(step) - 1e-9)));
      // The round size at or under the nominal, in the unit shown: as `base` in dashboard/figures/numbers.py.
      const grain = unit === "in" ? 0.001 : 0.01;
      const base = Math.floor(lengths.convert(this.state.feature.nominal, from, unit) / grain + 1e-6) * grain;
      return {
        unit,
        base: lengths.convert(base, unit, from),
        baseWords: `${lengths.fixed(base, unit === "in" ? 4 : 3)} ${unit}`,
        smallWord: unit === "in" ? "tenths" : "micrometres",
        small: (value) => lengths.convert(value, from, small),
        big: (value) => lengths.convert(value, small, from),
        long: (value) => lengths.fixed(lengths.convert(value, from, unit), unit === "in" ? Math.max(5, decimals) : Math.max(4, decimals)),
        short: (value) => lengths.fixed(lengths.convert(value, from, unit), decimals),
      };
    }

    paint() {
      if (!this.state) return;
      this.kinds.paint();
      this.orders.paint();
      const spot = this.next();
      const turn = this.repeatOf(spot);
      const repeats = this.state.feature.repeats;
      const places = this.positions().length * repeats;
      const counts = this.filled();
      const done = this.positions().reduce((sum, position) => sum + (counts.get(`${spot.piece}\n${position}`) || 0), 0);
      this.piece.textContent = `${this.feature[0].toUpperCase()}${this.feature.slice(1).replace(/_/g, " ")} ${spot.piece}`;
      this.place.textContent = `${spot.position ? `${spot.position}, ` : ""}reading ${turn}${turn <= repeats ? ` of ${repeats}` : ""}`;
      this.beads.replaceChildren(...Array.from({ length: Math.min(places, 12) }, (_, index) =>
        make("i", { class: index < done ? "spot full" : "spot" })));
      this.paintReads();
      this.paintQuestion();
      this.paintQueue();
      this.paintStrip();
      draw.table(this.entries, this.state, this.view(), this.queue.waiting(this.job, this.feature), { strike: (reading) => this.askReason(reading) });
      this.paintVerdict();
    }

    paintVerdict() {
      const list = this.state.verdict || [];
      this.verdict.replaceChildren(...list.flatMap((item, index) => [
        ...(index ? [make("br", {})] : []), make("b", {}, item.word), ` ${item.fit.replace(/_/g, " ")}: ${item.reason}`]));
    }

    paintStrip() {
      if (!this.state) return;
      const view = this.view();
      const small = view.smallWord[0].toUpperCase() + view.smallWord.slice(1);
      this.stripTitle.textContent = draw.finding(this.state, view);
      this.howTo.textContent = `${small} from ${view.baseWords}. The edge stands at the mean size, short strokes are the readings, a cross is struck out.`;
      draw.strip(this.strip, this.state, this.view(), this.next().piece);
    }

    paintReads() {
      const text = this.field.value.trim();
      this.field.classList.toggle("long", text.length > 9);
      if (!this.state || !text) {
        this.reads.textContent = this.state ? this.hint() : "";
        this.offBy.replaceChildren();
        return;
      }
      const found = lengths.read(text, this.unit, this.state.job.comma);
      if (!found) {
        this.reads.textContent = this.striking && asks.isReason(text) ? "Enter strikes out for this reason"
          : /go/i.test(text) ? "goes / does not go" : "not a length yet";
        this.offBy.replaceChildren();
        return;
      }
      const view = this.view();
      const size = this.sizeOf(found);
      this.reads.textContent = `reads as ${view.long(size)} ${this.unit}, from ${view.baseWords}`;
      const off = view.small(size - view.base);
      const far = Math.abs(off) > 9999;
      this.offBy.replaceChildren(make("b", {}, far ? "far off" : lengths.fixed(off, 1, true)), far ? "" : ` ${view.smallWord}`);
    }

    /* The size that what is typed stands for: as the record will read it, deviations on the master (or the nominal). */
    sizeOf(found) {
      const { nominal, master } = this.state.feature;
      const inJob = lengths.convert(found.value, this.unit, this.state.job.unit);
      const tiny = Math.abs(inJob) <= Math.abs(master === null ? nominal : master) * TINY;
      const deviates = this.kindNow() === "comparator" || (tiny && (master !== null || found.signed));
      return deviates ? (master === null ? nominal : master) + inJob : inJob;
    }

    hint() {
      const gauge = this.state.feature.gauge;
      if (!gauge) return "";
      const wanted = this.state.feature.pieces;
      const open = this.next();
      if (wanted && /^\d+$/.test(open.piece) && Number(open.piece) > wanted) return `all ${wanted} pieces that the job asks for are measured`;
      return gauge.overdue ? `${gauge.name}: its calibration was due ${gauge.due}` : gauge.due ? `${gauge.name}, due ${gauge.due}` : gauge.name;
    }

    paintQuestion() {
      const room = this.question;
      const said = this.notKept();
      if (this.striking) {
        const reading = this.striking;
        const size = reading.value === null ? reading.typed : this.view().long(reading.value);
        room.replaceChildren(...said, asks.why(reading, size, this.wording, {
          strike: (reason) => this.strike(reason),
          words: () => { this.setWording(true); this.paintQuestion(); },
          leave: () => { this.leaveStriking(); this.paintQuestion(); this.paintReads(); this.focus(); },
        }));
      } else if (this.asking) {
        const reading = this.asking;
        room.replaceChildren(...said, make("div", { class: "asks" },
          make("p", {}, `Piece ${reading.piece}, ${draw.placeName(reading)}: ${reading.question}`),
          make("div", { class: "answers" },
            reading.suggestion ? asks.keyButton("F2", `it was ${reading.suggestion}`, () => this.answer("changed"), true) : null,
            asks.keyButton("F4", "keep it", () => this.answer("kept")),
            asks.keyButton("F8", "strike out", () => this.askReason(reading)))));
      } else room.replaceChildren(...said);
    }

    /* What was not kept stays in sight, beside an open question too: the last refusals of this job until they are seen. */
    notKept() {
      const rooms = asks.notKept(asks.refusals.of(this.job), () => { asks.refusals.seen(this.job); this.paintQuestion(); this.focus(); });
      if (this.message) rooms.push(make("div", { class: "asks" }, make("p", {}, this.message)));
      return rooms;
    }

    paintQueue() {
      const waiting = this.queue.own().length;
      const kept = this.state ? draw.live(this.state).length : 0;
      const word = kept === 1 ? "1 reading kept" : `${kept} readings kept`;
      this.count.classList.toggle("lost", this.queue.lost);
      this.count.dataset.waiting = String(waiting);
      this.count.dataset.kept = String(kept);
      if (this.queue.lost) {
        this.count.textContent = waiting
          ? `${this.queue.why || "No connection"}. ${waiting} not in the record yet; they wait here and are sent when it is back. ${word}.`
          : `No connection; it is tried again by itself. ${word}.`;
      } else this.count.textContent = `${word}, ${waiting ? `${waiting} waiting` : "none waiting"}`;
      const away = asks.refusals.away(this.job);
      if (away.length) this.count.textContent += `. Something was not kept elsewhere: see the Log of job ${away.join(", ")}`;
      const others = this.queue.others();
      if (others.length) this.count.textContent += `. ${others.length} typed by ${others[0].operator} wait here until ${others[0].operator} signs in`;
    }
  }

  let page = null;
  function look() {
    const root = document.getElementById("log-room");
    const key = root ? `${root.dataset.job} ${root.dataset.feature} ${root.dataset.unit}` : "";
    if (page && (!root || page.root !== root || page.room !== key)) {
      page.stop();
      page = null;
    }
    if (root && !page && root.dataset.feature) {
      page = new LogPage(root);
      page.room = key;
    }
  }
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", look);
})();
