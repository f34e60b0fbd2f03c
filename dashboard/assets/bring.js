/* A folder dropped in, or files chosen: sent, shown, and kept only on a second word. */
(function () {
  "use strict";
  const READ = /\.(toml|csv|tsv|xlsx|parquet)$/i;
  const MOST_FILES = 60;

  function sentence(words) {
    const said = String(words).trim();
    return said ? said[0].toUpperCase() + said.slice(1) + (/[.!?]$/.test(said) ? "" : ".") : "";
  }

  function entriesOf(folder) {
    const reader = folder.createReader();
    return new Promise((done, failed) => {
      const all = [];
      const next = () => reader.readEntries((some) => (some.length ? (all.push(...some), next()) : done(all)), failed);
      next();
    });
  }

  /* The files of what was dropped: files as they are, of a folder those that lie right in it. */
  async function dropped(transfer) {
    const entries = [...transfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    if (!entries.length) return [...transfer.files];
    const lists = await Promise.all(entries.map((entry) => (entry.isDirectory ? entriesOf(entry) : [entry])));
    return Promise.all(lists.flat().filter((entry) => entry.isFile).map((entry) => new Promise((done, failed) => entry.file(done, failed))));
  }

  class Bring {
    constructor(room) {
      this.room = room;
      this.make = window.tenthwise.draw.make;
      this.build();
    }

    build() {
      const { make, room } = this;
      const jobs = room.dataset.jobs ? room.dataset.jobs.split("\n") : [];
      this.to = make("select", { id: "bring-to" }, make("option", { value: "" }, "a new job, from the job.toml among them"),
        ...jobs.map((line) => make("option", { value: line.split(" ", 1)[0] }, line.slice(line.indexOf(" ") + 1))));
      this.to.value = room.dataset.job;
      const pick = (words, more) => {
        const input = make("input", { type: "file", class: "unseen", tabindex: "-1", multiple: "", "aria-hidden": "true", ...more });
        input.addEventListener("change", () => { this.send([...input.files].filter((file) => (file.webkitRelativePath || "").split("/").length < 3)); input.value = ""; });
        return [make("button", { type: "button", class: "button", onclick: () => input.click() }, words), input];
      };
      this.drop = make("div", { class: "drop" },
        make("p", {}, "Drop a folder, or files, here"),
        make("div", { class: "buttons" }, ...pick("choose a folder", { webkitdirectory: "" }), ...pick("choose files", { accept: ".toml,.csv,.tsv,.xlsx,.parquet" })),
        make("p", { class: "how" }, `Up to ${Math.round(Number(room.dataset.most) / 1e6)} MB in all; of a folder the files right in it. Names that begin with _ are passed over.`));
      this.said = make("p", { class: "form-said", role: "status" });
      this.seen = make("div", { class: "bring-seen", "aria-live": "polite" });
      room.replaceChildren(...(jobs.length ? [make("label", { class: "bring-to", for: "bring-to" }, make("span", {}, "These files belong to"), this.to)] : []),
        this.drop, this.said, this.seen);
      this.drop.addEventListener("dragover", (event) => { event.preventDefault(); this.drop.classList.add("over"); });
      this.drop.addEventListener("dragleave", () => this.drop.classList.remove("over"));
      this.drop.addEventListener("drop", async (event) => {
        event.preventDefault();
        this.drop.classList.remove("over");
        try {
          this.send(await dropped(event.dataTransfer));
        } catch (fault) {
          this.fail({ error: `what was dropped cannot be read: ${fault.message}` });
        }
      });
      this.to.addEventListener("change", () => { if (this.files) this.send(this.files); });
    }

    async send(files) {
      this.files = files;
      const wanted = files.filter((file) => READ.test(file.name) && !file.name.startsWith("."));
      if (!wanted.length) return this.fail({ error: files.length ? "none of these files is read; accepted are job.toml, .csv, .xlsx and .parquet" : "there is no file in it" });
      if (wanted.length > MOST_FILES) return this.fail({ error: `there are ${wanted.length} files; accepted are ${MOST_FILES} at a time` });
      const size = wanted.reduce((sum, file) => sum + file.size, 0);
      if (size > Number(this.room.dataset.most)) return this.fail({ error: `these files are ${(size / 1e6).toFixed(1)} MB in all; accepted are ${Math.round(this.room.dataset.most / 1e6)} MB: use tenthwise log FOLDER` });
      this.say("Reading the files.");
      this.seen.replaceChildren();
      const body = new FormData();
      body.append("job", this.to.value);
      for (const file of wanted) body.append("files", file, file.name);
      const turn = (this.turn = (this.turn || 0) + 1);
      try {
        const answer = await fetch("/api/brought", { method: "POST", body, headers: { "X-Own-Page": "1" } });
        const said = await answer.json().catch(() => ({ error: `the server answered ${answer.status}` }));
        if (turn !== this.turn) return;
        if (!answer.ok) this.fail(said);
        else this.show(said);
      } catch {
        this.fail({ error: "the server does not answer, or a file was changed meanwhile; nothing was kept, try again" });
      }
    }

    list(items, most) {
      return this.make("ul", {}, ...items.map((words) => this.make("li", {}, /^\S+\.\w+/.test(words) ? words : sentence(words))),
        ...(most > items.length ? [this.make("li", {}, `and ${most - items.length} more`)] : []));
    }

    panel(title, how, ...content) {
      return this.make("section", { class: "panel" }, this.make("h2", {}, title), ...(how ? [this.make("p", { class: "how" }, how)] : []), ...content);
    }

    show(said) {
      const { make } = this;
      this.say("");
      const tally = (number, words, look) => make("div", { class: look && number ? "tally look" : "tally" }, make("b", {}, number.toLocaleString("en")), words);
      const to = said.job.number ? `into ${said.job.name}` : `as a new job, ${said.job.name}`;
      const keep = make("button", { type: "button", class: "button strong", onclick: () => this.keep(said, keep) },
        said.good || said.suspect ? `keep ${said.good.toLocaleString("en")} readings${said.suspect ? `, hold ${said.suspect} back` : ""}` : said.job.number ? "keep the events" : "keep the job");
      const away = make("button", { type: "button", class: "button", onclick: () => this.away(said) }, "keep nothing");
      const nothing = Boolean(said.job.number) && !said.good && !said.suspect && !said.event_count;
      this.asked = make("p", { class: "form-said", role: "status" });
      const parts = [this.panel(nothing ? "There is nothing in it to keep" : `Nothing is kept yet: it would go ${to}`,
        said.files.length ? `Read from ${said.files.join(", ")}` : "There are no readings among the files",
        make("div", { class: "tallies" }, tally(said.good, "good"), tally(said.suspect, "suspect", true), tally(said.refused, "refused", true), tally(said.event_count, said.event_count === 1 ? "event" : "events")),
        ...(said.twin && !said.job.number ? [make("p", { class: "caution" }, `${said.twin.name} is in the record already, as job ${said.twin.number}. Choose it above to add these readings to it; kept as it is, there will be two of that name.`)] : []),
        make("div", { class: "buttons" }, ...(nothing ? [] : [keep]), away), this.asked)];
      if (said.refused) parts.push(this.panel("Refused: these rows are not kept", "The others are not held up by them. Mend the rows in the file, then bring it in again",
        this.list(said.refusals, said.refused),
        make("div", { class: "buttons" }, ...said.refused_files.map((file) => make("a", { class: "button", href: file.href, download: file.name }, `save ${file.name}`)))));
      if (said.suspect) parts.push(this.panel("Suspect: held back until someone confirms them on Log", "", this.list(said.suspects, said.suspect)));
      const said2 = [...said.understood, ...(said.duplicates ? [`${said.duplicates} readings were there twice and are kept once`] : []), ...said.remarks];
      parts.push(this.panel("What was understood", "", this.list([...said.job.said, ...said2], 0), ...(said.event_count ? [make("h3", {}, "Events"), this.list(said.events, said.event_count)] : [])));
      this.seen.replaceChildren(...parts);
      (nothing ? away : keep).focus({ preventScroll: true });
      this.seen.scrollIntoView({ block: "nearest" });
    }

    async post(path, body) {
      const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
      const said = await answer.json().catch(() => ({ error: `the server answered ${answer.status}` }));
      if (!answer.ok) throw new Error(said.error);
      return said;
    }

    async keep(said, button) {
      button.disabled = true;
      try {
        const { job } = await this.post(`/api/brought/${said.token}/keep`, { by: document.body.dataset.bench || "" });
        const kept = [`${said.good.toLocaleString("en")} readings are kept`, ...(said.suspect ? [`${said.suspect} wait to be confirmed on Log`] : []), ...(said.refused ? [`${said.refused} refused`] : [])];
        this.files = null;
        const links = this.make("div", { class: "buttons" }, this.make("a", { class: "button strong", href: `/fit?job=${job}` }, "see the verdict"),
          this.make("a", { class: "button", href: `/log?job=${job}` }, "log"),
          ...said.refused_files.map((file) => this.make("a", { class: "button", href: file.href, download: file.name }, `save ${file.name}`)));
        const title = this.make("h2", { tabindex: "-1" }, `Kept in ${said.job.name}`);
        this.seen.replaceChildren(this.make("section", { class: "panel" }, title, this.make("p", {}, `${kept.join(", ")}.`), links));
        title.focus();
      } catch (fault) {
        button.disabled = false;
        this.asked.textContent = sentence(fault.message);
        this.asked.dataset.state = "failed";
      }
    }

    away(said) {
      this.files = null;
      this.post(`/api/brought/${said.token}/drop`, {}).catch((fault) => this.say(`The files wait on the server for an hour yet: ${fault.message}.`));
      this.seen.replaceChildren();
      this.say("Nothing was kept.");
      this.drop.querySelector("button").focus();
    }

    fail(said) {
      this.say("");
      const lines = String(said.error).split("\n").map((line) => line.replace(/^\s*-\s*/, ""));
      this.seen.replaceChildren(this.make("div", { class: "bring-faults" }, this.make("h2", {}, "Nothing was kept"), this.list(lines, 0)));
    }

    say(words) {
      this.said.textContent = words;
    }
  }

  const built = new WeakSet();
  function look() {
    const room = document.getElementById("bring-room");
    if (!room || built.has(room) || !window.tenthwise || !window.tenthwise.draw) return;
    built.add(room);
    new Bring(room);
  }
  /* A file dropped beside the place must not open in the browser in the page's stead. */
  for (const name of ["dragover", "drop"]) {
    window.addEventListener(name, (event) => { if (document.getElementById("bring-room")) event.preventDefault(); });
  }
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", look);
})();
