// The dialog "Why these numbers". The server fills it when it is opened, and again on request. Escape closes it.

import { byId } from "./dom.js";
import { Why } from "./ids.js";
import { problemIn } from "./server.js";

let asked = 0;

async function fill() {
  const mine = ++asked, body = byId(Why.BODY);
  body.setAttribute("aria-busy", "true");
  if (!body.childElementCount) body.textContent = "Asking the server.";
  const [html, trouble] = await reasons();
  if (mine !== asked) return;
  if (trouble === null) body.innerHTML = html;
  else body.textContent = trouble;
  body.setAttribute("aria-busy", "false");
}

// No time limit here: the server has one, and says when it is exceeded.
async function reasons() {
  try {
    const answer = await (await fetch("/api/why")).json();
    return [answer.html, problemIn(answer)];
  } catch (lost) {
    return ["", "No answer from the server. Press Refresh to ask again."];
  }
}

function open() {
  const dialog = byId(Why.DIALOG);
  if (!dialog.open) {
    byId(Why.BODY).textContent = "";
    dialog.showModal();
    byId(Why.BODY).focus();
  }
  fill();
}

export const pressed = { [Why.OPEN]: open, [Why.RENEW]: fill, [Why.CLOSE]: () => byId(Why.DIALOG).close() };
