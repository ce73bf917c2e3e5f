// The cards of the lanes: their buttons, and undo of the events entered with them.

import { ask } from "./ask.js";
import { byId, say } from "./dom.js";
import { isValid, openForm, saysIn } from "./forms.js";
import { Act, Hold, LanePart, Late, lanePart } from "./ids.js";
import { instantOfPet, may, message, minutesAgo, petNow, timeText } from "./moment.js";
import { lateMin } from "./pure/times.js";
import { send } from "./sending.js";
import { askOfTime, isOdd } from "./slips.js";

const MOST_UNDONE = 20;
// What each button of each card does now, as the server says; and, by lane, why its buttons are disabled.
const doings = {}, because = {};
let holding = null, dating = null;
const OTHER = "other", AT = "at ";  // values of the choice of the time: it is asked for; it is an instant

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

// `change` gives the events of a lane anew. An event of a joint task is kept for each of its lanes.
function keepEntered(lanes, change) {
  const all = entered();
  for (const lane of lanes) all[lane] = change(all[lane] || []).slice(-MOST_UNDONE);
  try {
    sessionStorage.setItem(shelf(), JSON.stringify(all));
  } catch (forbidden) {
    say("This browser does not keep what was entered, so undo does not work here. Use 'correct' in the log.");
  }
  for (const lane of lanes) byId(lanePart(lane, LanePart.UNDO)).disabled = !all[lane].length;
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
  for (const act of [Act.START, Act.DONE, Act.DONE_NEXT, Act.HOLD]) {
    const button = byId(lanePart(lane, act)), doing = wanted[act];
    if (!button) continue;
    button.disabled = !doing || !isAllowed || button.dataset.busy === "yes";
    if (act === Act.HOLD) label(button, (doing && doing.label) || "Hold", "");
    if (act === Act.START) label(button, (doing && doing.label) || "Start", doing ? doing.task : "next");
    const does = doing ? doing.kind.replace("_", " ") + " " + (doing.task || "lane " + doing.lane) : "nothing to do";
    button.title = why || does + (doing && doing.then ? ", then " + doing.then.kind + " " + doing.then.task : "");
    button.setAttribute("aria-label", button.textContent + ", " + lane);
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
      if (option.value === OTHER || option.value.startsWith(AT)) continue;
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

// When it happened, as the card says.
function chosenTime(lane) {
  const value = byId(lanePart(lane, LanePart.AGO)).value;
  return value.startsWith(AT) ? value.slice(AT.length) : minutesAgo(Number(value));
}

// The event that a button records; the task or the lane is in `doing`.
function eventOf({ kind, task, lane }, at) {
  return { kind: kind, at: at, ...(task ? { task: task } : {}), ...(lane ? { lane: lane } : {}) };
}

function start(button) {
  const lane = button.dataset.lane, doing = doings[lane] && doings[lane][button.dataset.act];
  if (!doing) return null;
  const event = eventOf(doing, chosenTime(lane)), go = () => enter(button, doing, event);
  if (doing.ask) return ask({ title: doing.label + "?", words: doing.ask, yes: doing.label, then: go });
  if (doing.kind !== "hold") return go();
  holding = { button: button, doing: doing, event: event };
  byId(Hold.REASON).value = "";
  return openForm(Hold.FORM, Hold.REASON);
}

function hold() {
  const reason = byId(Hold.REASON).value.trim();
  byId(Hold.FORM).close();
  if (reason) holding.event.reason = reason;
  enter(holding.button, holding.doing, holding.event);
}

async function enter(button, doing, event) {
  const lane = button.dataset.lane;
  button.dataset.busy = "yes";
  button.disabled = true;
  const done = await record(lane, event, doing.lanes);
  if (done && doing.then) await record(lane, eventOf(doing.then, event.at), doing.then.lanes);
  button.dataset.busy = "no";
  button.disabled = !(doings[lane] && doings[lane][button.dataset.act]);
  byId(lanePart(lane, LanePart.AGO)).value = "0";
}

// Whether the event is recorded, or kept here.
async function record(lane, event, lanes) {
  const name = event.kind + " " + (event.task || event.lane);
  const done = await send(event, (words) => sayIn(lane)(name + ": " + words));
  if (done) keepEntered(lanes, (events) => [...events, { id: done.id, kind: done.kind, task: done.task || done.lane || "", lanes: lanes }]);
  return done !== null;
}

// An event that was kept is sent later; the card where it was entered says so.
export function sayOf(event, words) {
  const lane = Object.entries(entered()).find(([, events]) => events.some((one) => one.id === event.id));
  if (lane) sayIn(lane[0])(event.kind + " " + (event.task || event.lane) + ": " + words);
}

async function undo(button) {
  const lane = button.dataset.lane, last = (entered()[lane] || []).at(-1);
  if (!last) return;
  const lanes = last.lanes || [lane], before = entered();
  keepEntered(lanes, (events) => events.filter((one) => one.id !== last.id));
  const done = await send({ kind: "withdraw", event: last.id, at: minutesAgo(0) },
    (words) => sayIn(lane)("undo of " + last.kind + " " + last.task + ": " + words));
  if (!done) for (const one of lanes) keepEntered([one], () => before[one] || []);
}

// ---- a time that the list does not have ----

function askTime(field) {
  dating = field;
  field.value = "0";
  byId(Late.AT).value = "";
  openForm(Late.FORM, Late.AT);
}

function date() {
  if (!isValid(Late.FORM, saysIn(Late.FORM))) return null;
  const pet = lateMin(byId(Late.AT).value, petNow());
  if (pet === null) {
    return saysIn(Late.FORM)("Expected PET as H:MM, or minutes ago as a number; found '" + byId(Late.AT).value + "'.");
  }
  byId(Late.FORM).close();
  return isOdd(pet) ? askOfTime(pet, "The next entry of this card gets", () => useTime(pet)) : useTime(pet);
}

function useTime(pet) {
  for (const option of Array.from(dating.options)) if (option.value.startsWith(AT)) option.remove();
  dating.add(new Option(timeText(pet), AT + instantOfPet(pet)), dating.options[dating.options.length - 1]);
  dating.value = AT + instantOfPet(pet);
}

export function listen() {
  document.addEventListener("change", (event) => {
    if (event.target.value === OTHER && event.target.id.startsWith(lanePart("", LanePart.AGO))) askTime(event.target);
  });
}

export const acts = { [Act.START]: start, [Act.DONE]: start, [Act.DONE_NEXT]: start, [Act.HOLD]: start, [Act.UNDO]: undo };
export const sent = { [Hold.FORM]: hold, [Late.FORM]: date };
