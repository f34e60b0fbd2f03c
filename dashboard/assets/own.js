/* Every request of our own pages that changes something carries the token of this session, which no other site can
 * read; and where the session has ended, the page says so and keeps what was typed. */
(function () {
  "use strict";
  const SAFE = ["GET", "HEAD", "OPTIONS"];
  const plain = window.fetch.bind(window);
  let bar = null;

  function token() {
    const found = document.cookie.split("; ").find((part) => part.startsWith("tenthwise-own="));
    return found ? found.slice(found.indexOf("=") + 1) : "";
  }

  function sayOut() {
    if (bar) return;
    bar = document.createElement("div");
    bar.className = "lost-bar signed-out";
    bar.setAttribute("role", "alert");
    const link = document.createElement("a");
    link.href = `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`;
    link.target = "_self";
    link.textContent = "Sign in";
    bar.append("You are signed out. What was typed waits here. ", link, " to go on.");
    document.body.prepend(bar);
  }

  /* What draws the pages reads the words of these refusals twice, which an answer of fetch allows once. */
  async function readTwice(answer) {
    const words = await answer.text();
    const same = new Response(words, { status: answer.status, statusText: answer.statusText, headers: answer.headers });
    return Object.defineProperty(same, "text", { value: () => Promise.resolve(words) });
  }

  window.fetch = async function (asked, options = {}) {
    const url = new URL(asked instanceof Request ? asked.url : asked, location.href);
    const own = url.origin === location.origin;
    const method = (options.method || (asked instanceof Request ? asked.method : "GET")).toUpperCase();
    const sent = { ...options };
    if (own && !SAFE.includes(method) && token()) {
      sent.headers = new Headers(options.headers || (asked instanceof Request ? asked.headers : undefined));
      sent.headers.set("X-Own-Token", token());
    }
    const answer = await plain(asked, sent);
    if (own && answer.status === 401) sayOut();
    else if (own && bar && answer.ok && url.pathname !== "/health" && document.cookie.includes("tenthwise-own=")) {
      bar.remove();
      bar = null;
    }
    return own && [400, 401].includes(answer.status) ? readTwice(answer) : answer;
  };
})();
