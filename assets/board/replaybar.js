// The controls of a replay. The server has the only clock; the browser sends requests and shows the result.

import { byId, say, write } from "./dom.js";
import { openForm, saysIn } from "./forms.js";
import { Replay } from "./ids.js";
import { singleKeysAct } from "./kept.js";
import { may, message, now } from "./moment.js";
import { parsePet, petText, petToTheSecond } from "./pure/times.js";
import { post, problemIn } from "./server.js";

const WATCHING = "Moving the clock of this replay needs the log key.";
const ARROWS = { ArrowLeft: -1, ArrowRight: 1, PageDown: -10, PageUp: 10 };
const ANY_TIME = null, NOT_YET_MS = 100, SAME_MIN = 1e-4;
// `wanted`: PET to which the mark was dragged, not yet requested; `asking`: a seek is on its way.
const seen = { strip: "", decisions: null, worst: null, isDragging: false, wanted: null, asking: false };

// ---- requests ----

// What was wrong, in words; null: it was done.
async function ask(body) {
  try {
    return problemIn(await (await post("/api/replay", body, ANY_TIME)).json());
  } catch (lost) {
    return "No answer from the server.";
  }
}

// A failure is shown where the board shows the results of acts.
const tell = (body) => ask(body).then((trouble) => { if (trouble) say(trouble); });

// During a drag one request is on its way at a time; the next one asks for the newest place.
async function scrub(pet) {
  seen.wanted = pet;
  if (seen.asking) return;
  seen.asking = true;
  while (seen.wanted !== null) {
    const next = seen.wanted;
    seen.wanted = null;
    await ask({ action: "seek", at_pet_min: next });
  }
  seen.asking = false;
}

// ---- PET of the run: the PET of the board may count from a zero that was corrected later ----

const petOfRun = (ms, r) => r.from_pet_min + (ms - Date.parse(r.from)) / 60000;
const within = (pet, r) => Math.min(r.to_pet_min, Math.max(r.from_pet_min, pet));
const here = () => within(petOfRun(now(), message().replay), message().replay);

// ---- the strip: it is requested after the board was drawn, and again once an event was entered ----

export function draw(m) {
  const r = m.replay, key = r && m.boot + r.entries;
  if (!r || !byId(Replay.MARKS) || seen.strip === key) return;
  seen.strip = key;
  setTimeout(() => fillStrip(key), 0);
}

async function fillStrip(key) {
  try {
    const strip = await (await fetch("/api/replay/strip")).json();
    if (seen.strip !== key || !strip.html) return;
    seen.decisions = strip.decisions;
    seen.worst = strip.worst;
    byId(Replay.MARKS).innerHTML = strip.html;
    const drift = byId(Replay.MARKS).querySelector("svg").getAttribute("aria-label");
    byId(Replay.WORST).title = drift + " (m)";
    byId(Replay.PLACE).title = drift + " Below the dashed line the lane is behind the brief. Flags are decisions, ticks are events.";
  } catch (lost) {
    seen.strip = "";
  }
}

// ---- content of the bar ----

export function tick(m) {
  const r = m.replay;
  if (!r) return;
  write(Replay.PLAY, m.mode === "paused" ? "Play" : "Pause");
  drawCounts(r);
  const isFree = may().log;
  for (const id of [Replay.PLAY, Replay.PREVIOUS, Replay.NEXT, Replay.SPEED]) byId(id).disabled = !isFree;
  byId(Replay.PLACE).setAttribute("aria-disabled", String(!isFree));
  drawSpeed(m.speed);
  const pet = here();
  byId(Replay.WORST).disabled = !isFree || !seen.worst;
  if (seen.decisions) {
    byId(Replay.DECISION_BEFORE).disabled = !isFree || !seen.decisions.some((one) => one < pet - SAME_MIN);
    byId(Replay.DECISION_NEXT).disabled = !isFree || !seen.decisions.some((one) => one > pet + SAME_MIN);
  }
  if (!seen.isDragging && !seen.asking) place(pet, r);
}

// The page holds the words for each way of counting (dashboard/screens/replaybar.py).
function drawCounts(r) {
  const from = r.rehearsed_from_pet_min, [said, why] = JSON.parse(byId(Replay.COUNTS).dataset.ways)[r.counts_from];
  write(Replay.COUNTS, from === null ? said : "yours from PET " + petText(from));
  byId(Replay.COUNTS).title = from === null ? why : "A rehearsal: from PET " + petText(from)
    + " on, the decisions made on this board replace the recorded ones. " + why;
}

function drawSpeed(speed) {
  const field = byId(Replay.SPEED), value = String(speed);
  if (document.activeElement === field || field.value === value) return;
  if (!Array.from(field.options).some((option) => option.value === value)) {
    const after = Array.from(field.options).find((option) => Number(option.value) > speed) || null;
    field.insertBefore(new Option("x" + value, value), after);
  }
  field.value = value;
}

function place(pet, r) {
  const slider = byId(Replay.PLACE), share = (pet - r.from_pet_min) / (r.to_pet_min - r.from_pet_min || 1);
  slider.firstElementChild.style.transform = "translateX(" + (100 * share).toFixed(2) + "%)";
  slider.setAttribute("aria-valuemin", r.from_pet_min.toFixed(0));
  slider.setAttribute("aria-valuemax", r.to_pet_min.toFixed(0));
  slider.setAttribute("aria-valuenow", pet.toFixed(0));
  const said = "PET " + petText(pet) + " of " + petText(r.to_pet_min);
  write(Replay.AT, said);
  slider.setAttribute("aria-valuetext", said);
}

// ---- the address of a moment ----

function show(title, words, address) {
  const dialog = byId(Replay.DIALOG), field = byId(Replay.ADDRESS);
  byId(Replay.DIALOG_TITLE).textContent = title;
  byId(Replay.DIALOG_WORDS).textContent = words;
  byId(Replay.DIALOG_FIELD).hidden = !address;
  dialog.querySelector(".form-hint").hidden = !address;
  field.readOnly = true;
  field.value = address || "";
  openForm(Replay.DIALOG, address ? Replay.ADDRESS : Replay.DIALOG_CLOSE);
  field.select();
}

async function copy() {
  const m = message();
  if (!m || !m.replay) return;
  const moment = petToTheSecond(here()), address = location.origin + "/?at=" + moment;
  show("Address of this moment", "PET " + moment + " of the run of " + m.run.date + ".", address);
  try {
    await navigator.clipboard.writeText(address);
    saysIn(Replay.DIALOG)("Copied.");
  } catch (forbidden) {
    saysIn(Replay.DIALOG)("Selected: copy it with Ctrl+C.");
  }
}

// If the page was opened at such an address: goes to the moment once, then removes it from the address, so that loading the page
// again does not go back.
async function openAt() {
  const query = new URLSearchParams(location.search), at = query.get("at");
  if (at === null) return;
  const pet = parsePet(at), isInstant = /^\s*\d{4}-/.test(at), isTime = pet !== null || isInstant;
  const trouble = !isTime || await ask({ action: "seek", pause: true, ...(isInstant ? { at: at.trim() } : { at_pet_min: pet }) });
  query.delete("at");
  history.replaceState(null, "", location.pathname + (query.size ? "?" + query : ""));
  if (trouble) whenDrawn(() => show("This moment cannot be shown", whyNot(at, pet, isTime, trouble), null));
}

// Why a moment cannot be shown: how a PET is written, and the first and last PET of the run.
function whyNot(at, pet, isTime, trouble) {
  const r = message().replay;
  const run = r ? " This run goes from PET " + petText(r.from_pet_min) + " to PET " + petText(r.to_pet_min) + "." : "";
  if (!isTime) {
    return (at.trim() ? "The address asks for '" + at.trim() + "', which is not a PET." : "The address gives no PET.")
      + " A PET is hours and minutes, such as 2:05, with minutes up to 59." + run;
  }
  const asked = "The address asks for " + (pet === null ? at.trim() : "PET " + at.trim());
  const there = r && (pet === null ? petOfRun(Date.parse(at), r) : pet);
  const isOutside = r && (there < r.from_pet_min || there > r.to_pet_min);
  return isOutside ? asked + "." + run : asked + ". " + trouble + run;
}

function whenDrawn(then) {
  if (document.body.dataset.drawn && byId(Replay.ADDRESS)) then();
  else setTimeout(() => whenDrawn(then), NOT_YET_MS);
}

// ---- buttons and keys ----

const toggle = () => tell({ action: message().mode === "paused" ? "play" : "pause" });
const step = (to, direction) => () => tell({ action: "step", to: to, direction: direction });

function worst() {
  if (seen.worst) tell({ action: "seek", at_pet_min: seen.worst.pet_min, pause: true });
}

export const pressed = {
  [Replay.PLAY]: toggle,
  [Replay.PREVIOUS]: step("event", "previous"),
  [Replay.NEXT]: step("event", "next"),
  [Replay.DECISION_BEFORE]: step("decision", "previous"),
  [Replay.DECISION_NEXT]: step("decision", "next"),
  [Replay.WORST]: worst,
  [Replay.COPY]: copy,
};
const KEYS = {
  " ": toggle,
  e: pressed[Replay.NEXT], E: pressed[Replay.PREVIOUS],
  d: pressed[Replay.DECISION_NEXT], D: pressed[Replay.DECISION_BEFORE],
  m: worst, a: copy,
};

function petAt(event) {
  const r = message().replay, box = byId(Replay.PLACE).getBoundingClientRect();
  const share = Math.min(1, Math.max(0, (event.clientX - box.left) / box.width));
  return r.from_pet_min + share * (r.to_pet_min - r.from_pet_min);
}

function drag(event) {
  const pet = petAt(event);
  place(pet, message().replay);
  scrub(pet);
}

// The keys of the slider: an arrow moves one minute, with shift ten; a page key moves ten; Home and End go to the ends.
function slide(event, r) {
  if (event.key === "Home" || event.key === "End") {
    scrub(event.key === "Home" ? r.from_pet_min : r.to_pet_min);
    return true;
  }
  const by = ARROWS[event.key];
  if (by) scrub(within((seen.wanted === null ? here() : seen.wanted) + (event.shiftKey ? 10 * by : by), r));
  return Boolean(by);
}

function keyed(event) {
  const m = message();
  if (!m || !m.replay || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.id === Replay.PLACE && may().log && slide(event, m.replay)) {
    event.preventDefault();
    return;
  }
  const takesKeys = event.key === " " ? "input, select, textarea, button, dialog, summary, a" : "input, select, textarea, dialog";
  const isOff = event.key !== " " && !singleKeysAct();
  if (isOff || !KEYS[event.key] || event.target.closest(takesKeys) || document.querySelector("dialog[open]")) return;
  event.preventDefault();
  KEYS[event.key]();
}

function grasped(event) {
  const slider = byId(Replay.PLACE);
  if (!slider || !slider.contains(event.target) || !message()) return;
  if (!may().log) {
    say(WATCHING);
    return;
  }
  seen.isDragging = true;
  drag(event);
}

export function listen() {
  document.addEventListener("change", (event) => {
    if (event.target.id === Replay.SPEED) tell({ action: "speed", speed: Number(event.target.value) });
  });
  document.addEventListener("pointerdown", grasped);
  document.addEventListener("pointermove", (event) => {
    if (seen.isDragging) drag(event);
  });
  for (const over of ["pointerup", "pointercancel"]) {
    document.addEventListener(over, () => { seen.isDragging = false; });
  }
  document.addEventListener("keydown", keyed);
  openAt();
}
