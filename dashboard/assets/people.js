/* The page of people, drawn from what the record says, and the buttons that sign out and sign off. */
(function () {
  "use strict";
  const SHORTEST = 12;

  async function asked(path, body) {
    const answer = await fetch(path, body && { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    const said = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(said.error || `the server answered ${answer.status}`);
    return said;
  }

  function sentence(words) {
    return words[0].toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".");
  }

  class People {
    constructor(room) {
      this.room = room;
      this.make = window.tenthwise.draw.make;
      this.said = this.make("div", { class: "people-said", role: "status" });
      this.body = this.make("div", {});
      room.replaceChildren(this.said, this.body);
      this.load();
    }

    async load() {
      try {
        this.draw(await asked("/api/people"));
      } catch (error) {
        this.tell(sentence(error.message), true);
      }
    }

    tell(words, failed, secret) {
      const code = secret && this.make("code", {}, secret);
      this.said.dataset.failed = String(Boolean(failed));
      this.said.replaceChildren(words, ...(code ? [code] : []));
      this.said.scrollIntoView({ block: "nearest" });
    }

    async send(path, body, words) {
      try {
        const said = await asked(path, body);
        this.tell(words, false, said.secret);
        await this.load();
        return true;
      } catch (error) {
        this.tell(sentence(error.message), true);
        return false;
      }
    }

    draw({ me, users, tokens, roles, token_roles: tokenRoles }) {
      const { make } = this;
      const held = document.activeElement && document.activeElement.getAttribute("aria-label");
      if (!users) {
        this.body.replaceChildren(make("div", { class: "people-columns" }, this.own(me), this.roles(roles)));
      } else {
        const names = roles.map(([role]) => role);
        this.body.replaceChildren(make("div", { class: "columns" },
          make("div", { class: "column" }, this.users(users, me, names), this.tokens(tokens)),
          make("div", { class: "column" }, this.newUser(names), this.newToken(tokenRoles), this.own(me), this.roles(roles))));
      }
      const again = held && [...this.body.querySelectorAll("[aria-label]")].find((node) => node.getAttribute("aria-label") === held);
      if (again) again.focus();
    }

    panel(title, how, ...parts) {
      return this.make("section", { class: "panel" }, this.make("h2", {}, title), how && this.make("p", { class: "how" }, how), ...parts);
    }

    table(label, heads, rows) {
      const { make } = this;
      return make("div", { class: "table-room", tabindex: "0", role: "region", "aria-label": label },
        make("table", { "aria-label": label },
          make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col", class: head === "since" ? "wide" : "" }, head)))),
          make("tbody", {}, ...rows.map((cells) => make("tr", {}, ...cells.map((cell, at) => make("td", { class: at ? (heads[at] === "since" ? "wide" : "") : "strong" }, cell)))))));
    }

    button(words, label, act, strong) {
      return this.make("button", { type: "button", class: strong ? "button strong" : "button", "aria-label": label, onclick: act }, words);
    }

    choice(label, options, chosen, act) {
      const node = this.make("select", { "aria-label": label, name: "role", ...(act ? { onchange: act } : {}) },
        ...options.map((word) => this.make("option", { value: word, ...(word === chosen ? { selected: "" } : {}) }, word)));
      return node;
    }

    field(words, name, type, complete) {
      return this.make("label", { class: "field" }, this.make("span", {}, words),
        this.make("input", { name, type: type || "text", required: "", maxlength: "200", autocomplete: complete || "off", spellcheck: "false" }));
    }

    form(parts, word, act) {
      return this.make("form", { class: "people-form", onsubmit: async (event) => {
        event.preventDefault();
        const form = event.target;
        const button = form.querySelector("button");
        button.disabled = true;
        await act(Object.fromEntries(new FormData(form)), form);
        button.disabled = false;
      } }, ...parts, this.make("button", { type: "submit", class: "button strong" }, word));
    }

    users(users, me, roles) {
      const inside = users.filter((user) => !user.disabled).length;
      const rows = users.map((user) => [user.name, user.disabled ? "disabled" : this.choice(`what ${user.name} may do`, roles, user.role, (event) => {
        this.send("/api/people/change", { name: user.name, role: event.target.value }, `${user.name}: ${event.target.value} from now on.`).then((done) => { if (!done) this.load(); });
      }), `${user.at.slice(0, 10)}, by ${user.by || "nobody named"}`, this.of(user, me)]);
      return this.panel(inside === 1 ? "One person may come in" : `${inside} people may come in`, "Every change stays in the record, with who made it.",
        this.table("the people", ["name", "may", "since", "to change"], rows));
    }

    of(user, me) {
      const { make } = this;
      if (user.name === me.name) return "you";
      const off = user.disabled ? "let in again" : "disable";
      return make("div", { class: "people-do" },
        this.button(off, `${off}: ${user.name}`, () => this.send("/api/people/change", { name: user.name, disabled: !user.disabled },
          user.disabled ? `${user.name} may come in again.` : `${user.name} may no longer come in.`)),
        make("details", {}, make("summary", {}, "new password"),
          this.form([this.field(`new password of ${user.name}`, "password", "password", "new-password")], "set it",
            (typed) => this.send("/api/people/change", { name: user.name, ...typed }, `${user.name} has a new password, and must sign in again.`))));
    }

    tokens(tokens) {
      if (!tokens.length) return this.panel("No program has a token", "A gauge or a measuring machine sends its readings over HTTP with a token.");
      const live = tokens.filter((token) => !token.revoked).length;
      const rows = tokens.map((token) => [token.name, token.revoked ? "revoked" : token.role,
        token.used ? `${token.used.slice(0, 16).replace("T", " ")} UTC` : "never",
        token.revoked ? "" : this.button("revoke", `revoke: ${token.name}`, () => this.send("/api/people/tokens/revoke", { name: token.name }, `${token.name} is revoked.`))]);
      return this.panel(live === 1 ? "One program has a token" : `${live || "No"} programs have a token`, "A revoked token stays revoked.",
        this.table("the tokens", ["name", "may", "last used", "to change"], rows));
    }

    newUser(roles) {
      const parts = [this.field("name", "name"), this.labelled("may", this.choice("may", roles, "logs")), this.field("password", "password", "password", "new-password")];
      return this.panel("Add someone", `A password of at least ${SHORTEST} characters, such as four words.`,
        this.form(parts, "add", (typed) => this.send("/api/people", typed, `${typed.name} may come in.`)));
    }

    newToken(roles) {
      const parts = [this.field("name of the program", "name"), this.labelled("may", this.choice("may", roles, roles[0]))];
      return this.panel("Add a program", "Its token is shown once; only a hash of it is kept.",
        this.form(parts, "make a token", (typed) => this.send("/api/people/tokens", typed, `The token of ${typed.name}; copy it now, it is not shown again:`)));
    }

    labelled(words, node) {
      node.removeAttribute("aria-label");
      return this.make("label", { class: "field" }, this.make("span", {}, words), node);
    }

    own(me) {
      const parts = [this.field("old password", "old", "password", "current-password"), this.field("new password", "new", "password", "new-password")];
      return this.panel(`You are ${me.name}, who ${me.role}`, "What you keep stands in the record under this name.",
        this.make("div", { class: "buttons" }, this.make("button", { type: "button", class: "button strong", "data-sign-out": "1" }, "sign out")),
        this.make("details", { class: "own-password" }, this.make("summary", {}, "change your password"),
          this.form(parts, "change it", (typed) => this.send("/api/people/own-password", typed, "Your password is changed."))));
    }

    roles(roles) {
      return this.panel("What each may do", "Each may do all that stands above it too.", this.table("what roles may do", ["who", "may"], roles));
    }
  }

  document.addEventListener("click", async (event) => {
    const button = event.target.closest("[data-sign-off]");
    if (!button) return;
    const { signOff, sheetName, fit, feature, fingerprint } = button.dataset;
    const said = button.parentElement.querySelector(".sign-off-said");
    button.disabled = true;
    try {
      await asked(signOff, { sheet: sheetName, fit, feature, fingerprint });
      said.textContent = "Signed off; the page shows it in a moment.";
    } catch (error) {
      said.textContent = sentence(error.message);
      button.disabled = false;
    }
  });

  document.addEventListener("click", async (event) => {
    const button = event.target.closest("[data-sign-out]");
    if (!button) return;
    button.disabled = true;
    try {
      const { to } = await asked("/sign-out", {});
      sessionStorage.removeItem("tenthwise.half"); // half a value is nobody else's
      location.assign(to);
    } catch (error) {
      button.disabled = false;
      button.title = error.message;
    }
  });

  const rooms = new WeakSet();
  function look() {
    const room = document.getElementById("people-room");
    if (!room || rooms.has(room) || !window.tenthwise || !window.tenthwise.draw) return;
    rooms.add(room);
    new People(room);
  }
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", look);
})();
