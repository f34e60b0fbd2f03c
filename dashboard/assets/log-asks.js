/* What the Log page says and asks in place: what was not kept, job by job, and why a reading is struck out. */
(function () {
  "use strict";

  const KEY = "tenthwise.refused";
  const MOST_SHOWN = 3;
  const MOST_KEPT = 200;
  const REASONS = [["F2", "misread"], ["F4", "wrong piece"], ["F6", "dirty part or gauge"], ["F7", "dropped a digit"]];

  /* What was not kept, until somebody has seen it on the Log of its own job, through a reload too. */
  const refusals = {
    all() {
      try {
        const found = JSON.parse(localStorage.getItem(KEY) || "[]");
        if (!Array.isArray(found)) return [];
        // A text alone comes from an earlier version, which named no job: it is shown wherever one looks.
        return found.map((item) => (typeof item === "string" ? { job: null, words: item } : item))
          .filter((item) => item && typeof item.words === "string");
      } catch { return []; }
    },
    of(job) {
      return this.all().filter((item) => item.job === null || item.job === job);
    },
    add(job, words, away) {
      this.store([...this.all(), { job, words, away: Boolean(away) }]);
    },
    seen(job) {
      this.store(this.all().filter((item) => item.job !== null && item.job !== job));
    },
    /* Refused by the record after its page was left: another job's page says so until its own is opened. */
    away(job) {
      return [...new Set(this.all().filter((item) => item.away && item.job !== job).map((item) => item.job))];
    },
    home(job) {
      const found = this.all();
      if (found.some((item) => item.away && item.job === job)) this.store(found.map((item) => (item.job === job ? { ...item, away: false } : item)));
    },
    store(items) {
      localStorage.setItem(KEY, JSON.stringify(items.slice(-MOST_KEPT)));
    },
  };

  /* Whether what was typed can only be a reason: it begins with a letter and holds no decimal number, and a digit in it
   * stands among words. So what a gauge sends, garbled too ("A0.6251", "ERR-3"), and a half of goes .6250 / not .6252
   * are never taken for one. */
  function isReason(text) {
    if (!/^\p{L}/u.test(text) || /^(goes|not|no)\b/i.test(text) || /[.,]\d/.test(text)) return false;
    const words = text.split(/\s+/).filter((word) => /^\p{L}{2,}[.,;:!?]?$/u.test(word));
    return words.length >= (/\d/.test(text) ? 2 : 1);
  }

  function keyButton(key, word, act, strong) {
    const { make } = tenthwise.draw;
    return make("button", { type: "button", class: strong ? "strong" : "", onclick: () => act() }, make("kbd", {}, key), ` ${word}`);
  }

  /* The question why a reading is struck out; `act` has strike(reason), words() and leave(). */
  function why(reading, size, wording, act) {
    const { make, placeName } = tenthwise.draw;
    const ask = wording ? "Type why, then Enter." : "Why? Choose, or type it and press Enter.";
    const fixed = REASONS.map(([key, word]) => keyButton(key, word, () => act.strike(word)));
    return make("div", { class: "asks why" },
      make("p", {}, `Strike out piece ${reading.piece}, ${placeName(reading)}: ${size}? It stays readable. ${ask}`),
      make("div", { class: "answers" }, ...(wording ? [] : fixed),
        wording ? null : make("button", { type: "button", class: "in-words", onclick: () => act.words() }, "in words"),
        keyButton("Esc", "leave it", () => act.leave())));
  }

  /* The last things that were not kept, and how many came before them. */
  function notKept(items, seen) {
    const { make } = tenthwise.draw;
    if (!items.length) return [];
    const earlier = items.length - MOST_SHOWN;
    return [make("div", { class: "asks" },
      ...items.slice(-MOST_SHOWN).map((item) => make("p", {}, item.words)),
      earlier > 0 ? make("p", {}, `And ${earlier} before.`) : null,
      make("div", { class: "answers" }, keyButton("Esc", "seen", seen)))];
  }

  window.tenthwise = Object.assign(window.tenthwise || {}, { asks: { REASONS, refusals, isReason, keyButton, why, notKept } });
})();
