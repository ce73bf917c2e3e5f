// What is pressed: one listener for the page, and the tables in which the regions say what they answer to.

import { Act } from "./ids.js";
import { message } from "./moment.js";

// By the id of a button, by the `data-act` of a button, and by the id of the dialog whose form is sent.
const tables = { pressed: new Map(), acts: new Map(), sent: new Map() };

// Enters the tables `pressed`, `acts` and `sent` of the regions, and begins to listen.
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

// Before the first message nothing can be done.
function pressed(event) {
  const button = event.target.closest("button");
  if (!button || !message()) return;
  const act = tables.pressed.get(button.id) || tables.acts.get(button.dataset.act);
  if (act) act(button);
}

// By its button, or by Enter in one of its fields. The page itself is never left.
function sent(event) {
  event.preventDefault();
  const act = tables.sent.get(event.target.closest("dialog").id);
  if (act && message()) act();
}

function close(button) {
  button.closest("dialog").close();
}
