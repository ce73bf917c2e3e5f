// The walk through the plan: one step at a time, or all steps that begin together. Alone, as the presenter, or following along.

import { follow, present } from "./live.js";
import { moved, placeText, shown, wayOf } from "./pure/steps.js";

const byId = (id) => document.getElementById(id);
const steps = Array.from(document.querySelectorAll(".step"));
const pets = steps.map((step) => Number(step.dataset.pet));
const follows = document.body.dataset.follow === "yes";
const now = { at: 0, inTime: false, presents: false };

function show(at, inTime) {
  now.at = at;
  now.inTime = inTime;
  const places = shown(pets, at, inTime);
  steps.forEach((step, place) => { step.hidden = !places.includes(place); });
  for (const button of document.querySelectorAll(".list button")) {
    if (places.includes(Number(button.dataset.step) - 1)) button.setAttribute("aria-current", "step");
    else button.removeAttribute("aria-current");
  }
  byId("brief-place").textContent = placeText(places, steps.length);
  byId("brief-in-time").setAttribute("aria-pressed", String(inTime));
  byId("brief-words").classList.toggle("many", places.length > 1);
  byId("brief-words").scrollTop = 0;
  mark(places);
  const current = document.querySelector("[aria-current=step]");
  if (current) current.scrollIntoView({ block: "nearest" });
}

// Frames the blocks of the steps on the lane sheet, and brings them into view.
function mark(places) {
  const drawing = byId("brief-drawing"), sheet = byId("brief-sheet");
  for (const old of drawing.querySelectorAll(".mark")) old.remove();
  let top = Infinity, side = Infinity;
  for (const [left, from, width, height] of places.flatMap((place) => JSON.parse(steps[place].dataset.boxes))) {
    const frame = document.createElement("div");
    frame.className = "mark";
    Object.assign(frame.style, { left: left + "%", top: from + "%", width: width + "%", height: height + "%" });
    drawing.append(frame);
    top = Math.min(top, from);
    side = Math.min(side, left);
  }
  if (top === Infinity) return;
  sheet.scrollTop = (top / 100) * drawing.offsetHeight - 0.3 * sheet.clientHeight;
  sheet.scrollLeft = (side / 100) * drawing.offsetWidth - 0.3 * sheet.clientWidth;
}

// Single keys are switched off on the board, for all pages of this browser (`singleKeysAct` of assets/board/kept.js). These modules
// are served apart from those of the board.
function singleKeysAct() {
  try {
    return localStorage.getItem("tetherline single-keys") !== "off";
  } catch (forbidden) {
    return true;
  }
}

const say = (words) => { byId("brief-said").textContent = words; };

function go(at, inTime = now.inTime) {
  show(at, inTime);
  if (now.presents) tell(at + 1, inTime);
}

async function tell(step, inTime) {
  const why = await present(step, inTime);
  say(why || (step === null ? "" : "You present: everyone who follows along sees this step."));
}

function togglePresenting() {
  now.presents = !now.presents;
  byId("brief-present").setAttribute("aria-pressed", String(now.presents));
  tell(now.presents ? now.at + 1 : null, now.inTime);
}

function keyed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const onButton = event.key === " " && event.target.closest("button, a");
  const way = onButton ? undefined : wayOf(event.key);
  if (way) go(moved(pets, now.at, way, now.inTime));
  else if ((event.key === "t" || event.key === "T") && singleKeysAct()) go(now.at, !now.inTime);
  if (way) event.preventDefault();
}

function pressed(event) {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.step) go(Number(button.dataset.step) - 1);
  else if (button.id === "brief-previous") go(moved(pets, now.at, "previous", now.inTime));
  else if (button.id === "brief-next") go(moved(pets, now.at, "next", now.inTime));
  else if (button.id === "brief-in-time") go(now.at, !now.inTime);
  else if (button.id === "brief-present") togglePresenting();
}

// A server with another plan: the page is of an earlier one.
function hear(told) {
  if (told.revision !== document.body.dataset.revision) location.reload();
  else if (told.step === null) say("Nobody presents yet. The step appears here as soon as somebody does.");
  else {
    say(told.by ? "Presented by " + told.by : "Following the presenter");
    show(told.step - 1, told.in_time);
  }
}

if (steps.length) {
  show(0, false);
  if (follows) follow(hear, (isThere) => { if (!isThere) say("No contact with the server: this may not be the step that is presented."); });
  else {
    document.addEventListener("keydown", keyed);
    document.addEventListener("click", pressed);
  }
}
