// Buttons and forms: one listener for the page, and tables of the functions that the regions give for them.

import { Act } from "./ids.js";
import { message } from "./moment.js";

// `pressed`: by id of a button; `acts`: by `data-act` of a button; `sent`: by id of the dialog of a form.
const tables = { pressed: new Map(), acts: new Map(), sent: new Map() };

// Takes the tables `pressed`, `acts` and `sent` of the regions, and begins to listen.
export function answer(regions) {
  for (const region of [{ acts: { [Act.CLOSE]: close } }, ...regions]) {
    for (const [name, table] of Object.entries(tables)) {
      for (const [key, act] of Object.entries(region[name] || {})) {
        if (table.has(key)) throw new Error("pressing '" + key + "': expected one region to answer; found two");
        table.set(key, act);
      }
    }
  }
  document.addEventListener("click", pressed);
  document.addEventListener("submit", sent);
}

// Before the first message a button does nothing.
function pressed(event) {
  const button = event.target.closest("button");
  if (!button || !message()) return;
  const act = tables.pressed.get(button.id) || tables.acts.get(button.dataset.act);
  if (act) act(button);
}

// A form is sent by its button, or by Enter in one of its fields. The browser never leaves the page.
function sent(event) {
  event.preventDefault();
  const act = tables.sent.get(event.target.closest("dialog").id);
  if (act && message()) act();
}

function close(button) {
  button.closest("dialog").close();
}
