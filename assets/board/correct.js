// Corrections: an event is never edited. An amendment or a withdrawal answers it.

import { ask } from "./ask.js";
import { byId, say } from "./dom.js";
import { whyNot } from "./entry.js";
import { labelOf, openForm, saysIn } from "./forms.js";
import { Act, Log } from "./ids.js";
import { sayAndOffer } from "./log.js";
import { instantOfPet, minutesAgo, now } from "./moment.js";
import { parsePet, parseUtc, petText } from "./pure/times.js";
import { send } from "./sending.js";
import { askOfTime, isOdd, zeroText } from "./slips.js";

// Data of the button in the row of the event that is corrected.
let answering = null;
const sayHere = (words) => saysIn(Log.AMEND)(words);
const isClock = () => answering.kind === "clock";

function open(button) {
  answering = button.dataset;
  byId(Log.AMEND_EVENT).textContent = (isClock() ? "UTC " + answering.utc : "PET " + answering.at) + ", " + answering.text;
  for (const name of [Log.AMEND_AT, Log.AMEND_TEXT, Log.AMEND_NOTE]) byId(name).value = "";
  byId(Log.AMEND_TEXT).closest("label").hidden = !answering.words;
  const { atPet, atUtc } = byId(Log.AMEND).dataset;
  labelOf(byId(Log.AMEND_AT)).textContent = isClock() ? atUtc : atPet;
  openForm(Log.AMEND, Log.AMEND_AT);
  const why = whyNot(answering.kind);
  byId(Log.AMEND_SEND).disabled = byId(Log.AMEND_WITHDRAW).disabled = why !== "";
  if (why) sayHere("This event " + why + ".");
}

// A time written as H:MM keeps the seconds of the event; H:MM:SS replaces them.
function rightTime(written) {
  const minutes = parsePet(written);
  if (minutes === null || /:\d\d:\d\d\s*$/.test(written)) return minutes;
  const seconds = Number(answering.petS);
  return minutes + (((seconds % 60) + 60) % 60) / 60;
}

function amend() {
  const when = byId(Log.AMEND_AT).value.trim(), said = byId(Log.AMEND_TEXT).value.trim(), changes = {};
  if (isClock() && when) return amendClock(when);
  const minutes = when ? rightTime(when) : null;
  if (when && minutes === null) return sayHere("Expected a time as H:MM in PET, for instance 2:05; found '" + when + "'.");
  if (when && Math.abs(minutes * 60 - Number(answering.petS)) < 0.5) return sayHere("Expected another time; found the time that the event has.");
  if (when) changes.at = instantOfPet(minutes);
  if (said && answering.words) changes[answering.words] = said;
  if (!Object.keys(changes).length) return sayHere("Expected a correction; found nothing filled in.");
  const to = [when ? "time PET " + petText(minutes) : "", changes[answering.words] ? "words '" + said + "'" : ""];
  const go = () => weighed("Amend it?", to.filter((one) => one).join(" and "), changes);
  if (when && isOdd(minutes)) return askOfTime(minutes, "Amend '" + answering.text + "' to", go);
  return go();
}

function amendClock(when) {
  const ms = parseUtc(when, now());
  if (ms === null) return sayHere("Expected UTC as HH:MM or HH:MM:SS of today, or an instant like 2031-04-12T09:10:00Z; found '" + when + "'.");
  return weighed("Amend PET zero?", zeroText(ms), { at: new Date(ms).toISOString() });
}

// If the amendment has consequences, a question names them first.
function weighed(title, to, changes) {
  const go = () => answer({ kind: "amend", event: answering.event, changes: changes });
  if (!answering.undoes) return go();
  return ask({ title: title, yes: "Amend", then: go,
    words: "'" + answering.text + "' is amended to: " + to + ". All figures that depend on it are computed again." });
}

function withdraw() {
  const go = () => answer({ kind: "withdraw", event: answering.event });
  if (!answering.undoes) return go();
  return ask({ title: "Withdraw this event?", yes: "Withdraw", then: go,
    words: "'" + answering.text + "' is withdrawn: " + answering.undoes + ". The withdrawal itself can be taken back." });
}

// The withdrawal itself is withdrawn, so that the event counts again.
function takeBack(button) {
  const of = button.dataset, why = whyNot(of.kind);
  if (why) return say("Taking this back " + why + ".");
  return ask({ title: "Take the withdrawal back?", yes: "Take it back", words: "'" + of.text + "' counts again, at its own time.",
    then: () => send({ kind: "withdraw", event: of.event, at: minutesAgo(0) }, say) });
}

async function answer(event) {
  const note = byId(Log.AMEND_NOTE).value.trim(), whole = { ...event, ...(note ? { note: note } : {}), at: minutesAgo(0) };
  const told = (words, answered) => { sayHere(words); sayAndOffer(words, whole, answered); };
  if (await send(whole, told)) byId(Log.AMEND).close();
}

export const acts = { [Act.CORRECT]: open, [Act.TAKE_BACK]: takeBack };
export const pressed = { [Log.AMEND_WITHDRAW]: withdraw };
export const sent = { [Log.AMEND]: amend };
