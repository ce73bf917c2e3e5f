// Sends events. No entered event is lost: an event that the server has not taken is kept in the browser and sent again with the
// same id until the server answers. The same id is never recorded twice.

import { message } from "./moment.js";
import { inWords, isInMemoryOnly, Queue } from "./pure/queue.js";
import { post, problemIn } from "./server.js";

const RETRY_MS = 3000;

// The events that this browser keeps for the sortie that is shown.
export function queue() {
  const m = message();
  return new Queue(() => localStorage, (m.replay ? "replay " : "") + m.board.band.sortie);
}

function newId() {
  return "b" + Date.now().toString(36) + "-" + Math.random().toString(36).slice(2, 8);
}

// Name of the person who enters events here: from the address, else the person who is signed in.
export function who() {
  return new URLSearchParams(location.search).get("by") || message().visitor.name;
}

// The outcome; null: the event has not been taken, since the server did not answer or could not keep it.
async function postEvent(event) {
  try {
    const response = await post("/api/events", event);
    if (response.status >= 500) return null;
    const body = await response.json();
    if (body.outcomes) return body.outcomes[0];
    return { status: "refused", why: problemIn(body) || "the server answered " + response.status };
  } catch (lost) {
    return null;
  }
}

// Sends an event and says the outcome; `say` also gets the answer. Gives the event once it is recorded or kept here; null: it is not.
export async function send(event, say) {
  const whole = Object.assign({ id: newId(), by: who() || "board" }, event);
  say("sending");
  const answer = await postEvent(whole);
  if (answer === null) {
    const isKept = queue().keep(whole);
    say(isKept ? "Kept, will be sent: the server has not taken it."
      : "The server has not taken it, and this browser cannot keep it. Enter it again.");
    return isKept ? whole : null;
  }
  say(inWords(answer), answer);
  if (isInMemoryOnly(answer)) return queue().keep(whole) ? whole : null;
  return answer.status === "recorded" || answer.status === "already recorded" ? whole : null;
}

let isRetrying = false;

// Sends the next kept event. Gives {event, answer} once the server has taken or refused it; null: it is still kept.
export async function retry() {
  const key = isRetrying ? undefined : queue().next();
  if (key === undefined) return null;
  isRetrying = true;
  try {
    return await queue().send(key, postEvent);
  } finally {
    isRetrying = false;
  }
}

// Calls `act` every `RETRY_MS` for as long as the page is open.
export function often(act) {
  setInterval(() => { if (message() && message().board) act(); }, RETRY_MS);
}
