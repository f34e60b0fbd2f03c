/* The queue between a gauge and the record.
 *
 * A gauge with keyboard output types faster than a page redraws, so a value is taken on Enter, put on a queue that
 * outlives a reload (localStorage), sent one at a time, and dropped only when the record has acknowledged it. Each
 * reading carries an id made here: sent twice, it is kept once. */
(function () {
  "use strict";

  const KEY = "tenthwise.waiting";
  const RETRY_MS = [300, 700, 1500, 3000];

  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  class Queue {
    /* `onChange(queue)` after every step, `onKept(entry, answer)`, `onRefused(entry, message)`. */
    constructor({ onChange, onKept, onRefused }) {
      this.onChange = onChange;
      this.onKept = onKept;
      this.onRefused = onRefused;
      this.lost = false;
      this.why = "";
      this.fails = 0;
      this.busy = false;
    }

    all() {
      try {
        const found = JSON.parse(localStorage.getItem(KEY) || "[]");
        return Array.isArray(found) ? found : [];
      } catch (error) {
        return [];
      }
    }

    store(entries) {
      localStorage.setItem(KEY, JSON.stringify(entries));
    }

    waiting(job, feature) {
      return this.own().filter((entry) => entry.job === job && entry.feature === feature);
    }

    /* What another one typed, who has signed out since: it waits until that one signs in again. */
    others() {
      const room = document.getElementById("page-room");
      const name = room && room.dataset.person;
      return name ? this.all().filter((entry) => entry.operator && entry.operator !== name) : [];
    }

    own() {
      const others = new Set(this.others().map((entry) => entry.client_id));
      return this.all().filter((entry) => !others.has(entry.client_id));
    }

    add(entry) {
      const whole = { ...entry, client_id: newId(), time: new Date().toISOString() };
      this.store([...this.all(), whole]);
      this.onChange(this);
      this.send();
      return whole;
    }

    drop(clientId) {
      this.store(this.all().filter((entry) => entry.client_id !== clientId));
    }

    async send() {
      if (this.busy) return;
      this.busy = true;
      try {
        for (let next = this.own()[0]; next; next = this.own()[0]) {
          const done = await this.post(next);
          if (!done) break;
        }
      } finally {
        this.busy = false;
        this.onChange(this);
      }
      if (this.own().length) {
        const wait = RETRY_MS[Math.min(this.fails, RETRY_MS.length - 1)];
        setTimeout(() => this.send(), wait);
      }
    }

    async post(entry) {
      let response;
      try {
        response = await fetch(`/api/jobs/${entry.job}/readings`, {
          method: "POST",
          headers: { "Content-Type": "application/json" },
          body: JSON.stringify(entry),
          signal: AbortSignal.timeout(8000),
        });
      } catch (error) {
        this.lost = true;
        this.why = "";
        this.fails += 1;
        this.onChange(this);
        return false;
      }
      const answer = await response.json().catch(() => null);
      // 401: nobody is signed in any more. 403: the role was changed, or the page is older than the session. 409: it is
      // another one's. What was typed stays in all of these.
      if (answer === null || response.status >= 500 || [401, 403, 409, 429].includes(response.status)) {
        this.lost = true;
        this.why = answer && answer.error ? answer.error.replace(/\.$/, "") : "";
        this.fails += 1;
        this.onChange(this);
        return false;
      }
      this.lost = false;
      this.why = "";
      this.fails = 0;
      this.drop(entry.client_id);
      if (response.ok) this.onKept(entry, answer);
      else this.onRefused(entry, answer.error || `the record refused it (${response.status})`);
      this.onChange(this);
      return true;
    }
  }

  window.tenthwise = Object.assign(window.tenthwise || {}, { Queue });
})();
