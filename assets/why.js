// Why these numbers: the dialog is filled by the server when it is opened, and again when asked. Escape closes it.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = (id) => document.getElementById(id);
  let asked = 0;

  async function fill() {
    const mine = ++asked, body = byId("why-body");
    body.setAttribute("aria-busy", "true");
    if (!body.childElementCount) body.textContent = "Asking the server.";
    const [html, trouble] = await ask();
    if (mine !== asked) return;
    if (trouble === null) body.innerHTML = html;
    else body.textContent = trouble;
    body.setAttribute("aria-busy", "false");
  }

  async function ask() {
    try {
      const response = await fetch("/api/why"), answer = await response.json();
      const first = (answer.problems || [])[0];
      return [answer.html, first ? first.subject + ": expected " + first.expected + "; found " + first.found + ". " + first.cure : null];
    } catch (lost) {
      return ["", "No answer from the server. Press Renew to ask again."];
    }
  }

  function open() {
    const dialog = byId("why");
    if (!dialog.open) {
      byId("why-body").textContent = "";
      dialog.showModal();
      byId("why-body").focus();
    }
    fill();
  }

  const PRESSED = { "why-open": open, "why-renew": fill, "why-close": () => byId("why").close() };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button && PRESSED[button.id]) PRESSED[button.id]();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "w" || event.ctrlKey || event.metaKey || event.altKey || !T.message()) return;
    if (event.target.closest("input, select, textarea")) return;
    const other = document.querySelector("dialog[open]:not(#why)");
    if (!other) open();
  });
})();
