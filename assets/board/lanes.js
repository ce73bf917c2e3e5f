// The cards of the lanes: their buttons, and undo of the events entered with them.

import { ask } from "./ask.js";
import { byId, say } from "./dom.js";
import { openForm } from "./forms.js";
import { Act, Hold, LanePart, lanePart } from "./ids.js";
import { may, message, minutesAgo, petNow, timeText } from "./moment.js";
import { send } from "./sending.js";

const MOST_UNDONE = 20;
// What each button of each card does now, as the server says; and, by lane, why its buttons are disabled.
const doings = {}, because = {};
let holding = null;

// ---- events entered in this window: kept when the page is loaded again, so that undo still works ----

function shelf() {
  const m = message();
  return "tetherline entered " + (m.replay ? m.boot : m.board.band.sortie);
}

function entered() {
  try {
    return JSON.parse(sessionStorage.getItem(shelf())) || {};
  } catch (forbidden) {
    return {};
  }
}

function keepEntered(lane, events) {
  try {
    sessionStorage.setItem(shelf(), JSON.stringify({ ...entered(), [lane]: events.slice(-MOST_UNDONE) }));
  } catch (forbidden) {
    say("This browser does not keep what was entered, so undo does not work here. Use 'correct' in the log.");
  }
  byId(lanePart(lane, LanePart.UNDO)).disabled = !events.length;
}

// ---- content of the cards ----

// `actions`: what a button does, by lane and act; null: nothing.
export function draw(actions) {
  for (const [lane, wanted] of Object.entries(actions)) drawButtons(lane, wanted);
  drawTimes();
}

function drawButtons(lane, wanted) {
  doings[lane] = wanted;
  const isAllowed = may().log;
  const why = isAllowed ? wanted.why || "" : message().visitor.why;
  for (const act of [Act.START, Act.DONE, Act.HOLD]) {
    const button = byId(lanePart(lane, act)), doing = wanted[act];
    if (!button) continue;
    button.disabled = !doing || !isAllowed || button.dataset.busy === "yes";
    if (act === Act.HOLD) label(button, (doing && doing.label) || "Hold", "");
    if (act === Act.START) label(button, (doing && doing.label) || "Start", doing ? doing.task : "next");
    button.title = why || (doing ? doing.kind.replace("_", " ") + " " + (doing.task || "lane " + doing.lane) : "nothing to do");
  }
  byId(lanePart(lane, LanePart.AGO)).disabled = why !== "";
  byId(lanePart(lane, LanePart.UNDO)).disabled = !isAllowed || !(entered()[lane] || []).length;
  if ((because[lane] || "") !== why) sayIn(lane)(why);
  because[lane] = why;
}

// On a small screen only the first word has room; the tooltip of the button says the rest.
function label(button, word, more) {
  const said = more ? word + " " + more : word;
  if (button.textContent === said) return;
  const rest = document.createElement("span");
  rest.className = "wide-only";
  rest.textContent = more ? " " + more : "";
  button.replaceChildren(word, rest);
}

// The choices of the time show their PET.
function drawTimes() {
  const pet = petNow();
  for (const lane of Object.keys(doings)) {
    const field = byId(lanePart(lane, LanePart.AGO));
    if (field === document.activeElement) continue;
    for (const option of field.options) {
      const said = Number(option.value) ? timeText(pet - Number(option.value)) + ", " + option.dataset.said : "now";
      if (option.textContent !== said) option.textContent = said;
    }
  }
}

function sayIn(lane) {
  return (words) => {
    const place = byId(lanePart(lane, LanePart.OUTCOME));
    place.textContent = words;
    place.title = words;
  };
}

// ---- buttons ----

function start(button) {
  const lane = button.dataset.lane, doing = doings[lane] && doings[lane][button.dataset.act];
  if (!doing) return null;
  const event = { kind: doing.kind, at: minutesAgo(Number(byId(lanePart(lane, LanePart.AGO)).value)) };
  if (doing.task) event.task = doing.task;
  if (doing.lane) event.lane = doing.lane;
  if (doing.ask) return ask({ title: doing.label + " it now?", words: doing.ask, yes: doing.label, then: () => enter(button, event) });
  if (doing.kind !== "hold") return enter(button, event);
  holding = { button: button, event: event };
  byId(Hold.REASON).value = "";
  return openForm(Hold.FORM, Hold.REASON);
}

function hold() {
  const reason = byId(Hold.REASON).value.trim();
  byId(Hold.FORM).close();
  if (reason) holding.event.reason = reason;
  enter(holding.button, holding.event);
}

async function enter(button, event) {
  const lane = button.dataset.lane, sayHere = sayIn(lane);
  button.dataset.busy = "yes";
  button.disabled = true;
  const done = await send(event, (words) => sayHere(event.kind + " " + (event.task || event.lane) + ": " + words));
  button.dataset.busy = "no";
  button.disabled = !(doings[lane] && doings[lane][button.dataset.act]);
  byId(lanePart(lane, LanePart.AGO)).value = "0";
  if (done) keepEntered(lane, [...(entered()[lane] || []), { id: done.id, kind: done.kind, task: done.task || done.lane || "" }]);
}

async function undo(button) {
  const lane = button.dataset.lane, events = entered()[lane] || [], last = events[events.length - 1];
  if (!last) return;
  keepEntered(lane, events.slice(0, -1));
  const done = await send({ kind: "withdraw", event: last.id, at: minutesAgo(0) },
    (words) => sayIn(lane)("undo of " + last.kind + " " + last.task + ": " + words));
  if (!done) keepEntered(lane, events);
}

export const acts = { [Act.START]: start, [Act.DONE]: start, [Act.HOLD]: start, [Act.UNDO]: undo };
export const sent = { [Hold.FORM]: hold };
