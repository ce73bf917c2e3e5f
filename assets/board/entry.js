// The entry form: every kind of event, with the fields and rules that the server sends (dashboard/screens/entry.py). No choice
// is preselected.

import { ask } from "./ask.js";
import { byId } from "./dom.js";
import { isValid, labelOf, openForm, saysIn } from "./forms.js";
import { Choices, Log } from "./ids.js";
import { sayAndOffer } from "./log.js";
import { atText, instantOfPet, may, message, minutesAgo, now, petNow } from "./moment.js";
import { askedOf, broken, eventOf, missing, oddReading, offersIn } from "./pure/fields.js";
import { parsePet, parseUtc } from "./pure/times.js";
import { send } from "./sending.js";
import { askOfTime, isOdd, zeroText } from "./slips.js";

const MOST_SHOWN = 5;
const EMPTY = { fields: [], any_of: null, ask: null };
const sayHere = (words) => saysIn(Log.FORM)(words);

// ---- kinds of event, as the server describes them ----

// A part of the data of the form: `kinds`, by kind of event; `plan` and `lead`, lists of kinds.
const told = (part) => JSON.parse(byId(Log.FORM).dataset[part]);
const kind = () => byId(Log.KIND).value;
const spec = () => told("kinds")[kind()] || EMPTY;
const offered = (source) => message().board.entry[source] || [];

// Why this board may not enter or correct events of a kind, as words that follow the name of the kind. Empty: it may.
export function whyNot(name) {
  return told("lead").includes(name) && !may().decide ? "needs the lead key" : "";
}

// ---- the form ----

// `isPlan`: offer only the kinds that change the plan of record.
function open(title, isPlan) {
  const plan = told("plan"), kinds = byId(Log.KIND);
  byId(Log.FORM).querySelector("h2").textContent = title;
  for (const option of kinds.options) {
    const why = option.value && whyNot(option.value);
    option.dataset.said = option.dataset.said || option.textContent;
    option.textContent = option.dataset.said + (why ? " (" + why + ")" : "");
    option.hidden = isPlan && option.value !== "" && !plan.includes(option.value);
    option.disabled = option.hidden || Boolean(why);
  }
  kinds.value = "";
  kinds.required = true;
  byId(Log.AT).value = "";
  drawFields();
  openForm(Log.FORM, Log.KIND);
}

function drawFields() {
  const rows = spec().fields.map((field) => {
    const row = document.createElement("label"), said = document.createElement("span");
    row.className = "form-field";
    said.textContent = field.label;
    row.append(said, control(field));
    return row;
  });
  byId(Log.FIELDS).replaceChildren(...rows);
  labelOf(byId(Log.AT)).textContent = spec().at || byId(Log.FORM).dataset.atPet;
  fillAll(() => true);
}

// Numbers are plain text with a pattern, since the mouse wheel changes the value of a field of type number.
function control(field) {
  const made = document.createElement(field.is_choice ? "select" : "input");
  made.className = "field";
  made.dataset.field = field.name;
  made.required = !field.is_optional;
  if (field.is_number) Object.assign(made, { inputMode: "decimal", pattern: "\\d+(\\.\\d+)?" });
  if (field.is_number) made.dataset.looks = "a number of zero or more";
  if (field.is_choice && field.is_many) Object.assign(made, { multiple: true, size: MOST_SHOWN });
  return made;
}

const controlOf = (field) => byId(Log.FIELDS).querySelector("[data-field=" + field.name + "]");

// Fills the wanted choices with what is offered now.
function fillAll(isWanted) {
  for (const field of spec().fields.filter((one) => one.is_choice && isWanted(one))) {
    const made = controlOf(field), offers = offersIn(field, offered, values());
    const nothing = offers.length ? (field.is_optional ? "as it is" : "choose ...") : "nothing to choose from now";
    made.replaceChildren(...(field.is_many ? [] : [new Option(nothing, "")]),
      ...offers.map(([value, label]) => new Option(label, value)));
  }
}

// The text of each field by its name; a list of texts where several can be chosen.
function values() {
  return Object.fromEntries(spec().fields.map((field) => {
    const made = controlOf(field);
    return [field.name, made.multiple ? Array.from(made.selectedOptions, (one) => one.value) : made.value.trim()];
  }));
}

// ---- sending ----

// The event as filled in; null: something is wrong, and the form says what.
function read() {
  const given = values();
  for (const field of spec().fields) controlOf(field).setCustomValidity(broken(field, offered, given));
  if (!isValid(Log.FORM, sayHere)) return null;
  const why = missing(spec(), given);
  if (why) sayHere(why);
  return why ? null : eventOf(kind(), spec(), given, (offered("new_task")[0] || [])[0]);
}

function enter() {
  const event = read(), when = byId(Log.AT).value;
  if (!event) return null;
  if (event.kind === "clock") return sendClock(when);
  const minutes = when ? parsePet(when) : petNow();
  if (minutes === null) return sayHere("When: expected PET as H:MM, for instance 2:05; found '" + when + "'.");
  event.at = when ? instantOfPet(minutes) : minutesAgo(0);
  const go = () => record(event), words = inWords(event, minutes);
  if (isOdd(minutes)) return askOfTime(minutes, (words || byId(Log.KIND).selectedOptions[0].textContent + ".") + " Record it at", go);
  if (words) return ask({ title: "Record this?", words: words, yes: "Record", then: go });
  return go();
}

// The words of the question before an event is recorded; null: it is recorded at once.
function inWords(event, minutes) {
  if (event.kind === "reading") return oddReading(event, offered("readings"));
  const words = askedOf(spec(), offered, values());
  return words && atText(minutes) + " " + words;
}

// PET zero is given in UTC, since a PET would count from the old zero.
function sendClock(when) {
  const ms = when ? parseUtc(when, now()) : now();
  if (ms === null) {
    return sayHere("When: expected UTC as HH:MM or HH:MM:SS of today, or an instant like 2031-04-12T09:10:00Z; found '" + when + "'.");
  }
  return ask({
    title: "Record this?", yes: "Record", then: () => record({ kind: "clock", at: new Date(ms).toISOString() }),
    words: "PET zero is set to " + zeroText(ms) + ". Every PET of the board counts from there.",
  });
}

// PET zero now, once someone confirms it; or at a time that is asked for.
export const zeroNow = () => sendClock("");

export function zeroAt() {
  open("Set PET zero", false);
  byId(Log.KIND).value = "clock";
  drawFields();
  byId(Log.AT).focus();
}

async function record(event) {
  const told = (words, answer) => { sayHere(words); sayAndOffer(words, event, answer); };
  if (await send(event, told)) byId(Log.FORM).close();
}

export const pressed = {
  [Log.ENTER]: () => open("Enter an event", false),
  [Choices.PLAN]: () => open("Change the plan", true),
};
export const sent = { [Log.FORM]: enter };

export function listen() {
  document.addEventListener("change", (event) => {
    if (event.target.id === Log.KIND) drawFields();
    else if (event.target.dataset.field && byId(Log.FIELDS).contains(event.target)) {
      fillAll((field) => field.on === event.target.dataset.field);
    }
  });
}
