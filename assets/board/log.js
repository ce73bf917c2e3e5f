// The log: its filter, notes, and the refused events that this browser keeps.

import { ask } from "./ask.js";
import { byId, say } from "./dom.js";
import { Act, Log } from "./ids.js";
import { sayOf } from "./lanes.js";
import { minutesAgo } from "./moment.js";
import { called, inWords, offered } from "./pure/queue.js";
import { often, queue, retry, send } from "./sending.js";

export function draw() {
  filter();
}

function filter() {
  const field = byId(Log.FILTER);
  if (!field) return;
  const wanted = field.value.trim().toLowerCase();
  for (const row of byId(Log.ROWS).querySelectorAll("tbody tr")) {
    row.hidden = wanted !== "" && !row.textContent.toLowerCase().includes(wanted);
  }
}

async function addNote() {
  const field = byId(Log.NOTE), words = field.value.trim();
  if (!words) {
    say("Write the note in the field first.");
    field.focus();
    return;
  }
  if (await send({ kind: "note", text: words, at: minutesAgo(0) }, say)) field.value = "";
}

// ---- taking back what was just entered ----

// Says the result of an entry, and offers to withdraw it where it did something.
export function sayAndOffer(words, event, answer) {
  say(words);
  const back = answer ? offered(answer) : null;
  if (back) byId(Log.OFFER).replaceChildren(button(Act.WITHDRAW, "withdraw '" + called(event) + "'", back.event));
}

function withdraw(pressedButton) {
  const event = { kind: "withdraw", event: pressedButton.dataset.key, at: minutesAgo(0) };
  return send(event, (words, answer) => sayAndOffer(words, event, answer));
}

// ---- events that the server has not taken ----

async function sendKept() {
  drawRefused();
  const done = await retry();
  if (done === null) return;
  sayOf(done.event, done.answer.status === "refused" ? "not taken, see the log" : "sent, " + inWords(done.answer));
  const name = "Kept event '" + called(done.event) + "' ";
  say(name + (done.answer.status === "refused" ? "not taken. It is kept in the list below." : "sent: " + inWords(done.answer)));
  drawRefused();
}

function drawRefused() {
  const place = byId(Log.REFUSED), kept = queue(), keys = kept.refusals(), drawn = keys.join();
  if (!place || place.dataset.drawn === drawn) return;
  place.dataset.drawn = drawn;
  place.replaceChildren(...keys.map((key) => refusedRow(key, kept.read(key))));
}

function refusedRow(key, kept) {
  const row = document.createElement("div"), said = document.createElement("span");
  row.className = "log-refused-row";
  said.textContent = "not taken: " + called(kept.event) + ": " + kept.why;
  said.title = said.textContent;
  row.append(said, button(Act.SEND_AGAIN, "send again", key), button(Act.DISCARD, "discard", key));
  return row;
}

function button(act, said, key) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className: "button small", textContent: said });
  Object.assign(made.dataset, { act: act, key: key });
  return made;
}

function sendAgain(pressedButton) {
  const event = queue().again(pressedButton.dataset.key);
  if (event === null) return;
  say("sending '" + called(event) + "'");
  sendKept();
}

function discard(pressedButton) {
  const key = pressedButton.dataset.key, kept = queue().read(key);
  if (kept === null) return drawRefused();
  return ask({
    title: "Discard this event?", words: "'" + called(kept.event) + "' was never recorded. If you discard it, it is lost.", yes: "Discard",
    then: () => { queue().drop(key); drawRefused(); },
  });
}

export const acts = { [Act.SEND_AGAIN]: sendAgain, [Act.DISCARD]: discard, [Act.WITHDRAW]: withdraw };
export const pressed = { [Log.ADD_NOTE]: addNote };

export function listen() {
  often(sendKept);
  document.addEventListener("input", (event) => {
    if (event.target.id === Log.FILTER) filter();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.id !== Log.NOTE) return;
    event.preventDefault();
    addNote();
  });
}
