/* Buttons that log what was done to the machine: asked once more in place, sent once, and the page redraws by itself. */
(function () {
  "use strict";
  const made = () => Array.from(crypto.getRandomValues(new Uint8Array(16)), (part) => part.toString(16).padStart(2, "0")).join("");

  async function send(button) {
    button.disabled = true;
    const amount = button.dataset.amount ? Number(button.dataset.amount) : null;
    const body = {
      feature: button.dataset.feature, after_piece: button.dataset.after, event: button.dataset.event, amount,
      client_id: button.dataset.sent || (button.dataset.sent = made()), by: document.body.dataset.bench || "",
    };
    try {
      const answer = await fetch(`/api/jobs/${button.dataset.job}/events`, {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
      });
      if (!answer.ok) throw new Error((await answer.json()).error);
      button.dataset.state = "kept";
      delete button.dataset.sent;
    } catch (error) {
      button.dataset.state = "failed";
      button.title = error.message;
    }
    button.disabled = false;
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-event]");
    for (const other of document.querySelectorAll('button[data-event][data-state="asked"]')) {
      if (other !== button) delete other.dataset.state;
    }
    if (!button) return;
    if (button.dataset.state === "asked" || button.dataset.state === "failed") send(button);
    else button.dataset.state = "asked";
  });
})();
