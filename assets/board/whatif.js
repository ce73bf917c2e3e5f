// What-if: the ticks are kept here, and the figures come from the server. One request at a time, always for the newest ticks.

import { byId } from "./dom.js";
import { Choices } from "./ids.js";
import { changeOf, excludes } from "./pure/ticks.js";
import { post, problemIn } from "./server.js";

const AGAIN_MS = 60;
const ticked = new Map();
const feed = { isAsking: false, again: false, since: null, of: null };

const isOpen = () => !byId(Choices.WHAT_IF).hidden;

function toggle(button) {
  const opens = !isOpen();
  byId(Choices.WHAT_IF).hidden = !opens;
  byId(Choices.BODY).hidden = opens;
  button.textContent = opens ? "Back to choices" : "What if";
  button.setAttribute("aria-expanded", String(opens));
  if (opens) ask();
}

function tick(box) {
  const ticks = { ...box.dataset };
  ticked.delete(box.id);
  for (const [id, one] of box.checked ? ticked : []) {
    if (!excludes(ticks, one)) continue;
    ticked.delete(id);
    if (byId(id)) byId(id).checked = false;
  }
  if (box.checked) ticked.set(box.id, ticks);
  if (feed.since === null) feed.since = performance.now();
  ask();
}

function clear() {
  for (const id of ticked.keys()) {
    const box = byId(id);
    if (box) box.checked = false;
  }
  ticked.clear();
  ask();
}

async function ask() {
  if (feed.isAsking) {
    feed.again = true;
    return;
  }
  feed.isAsking = true;
  feed.again = false;
  const said = await answered();
  feed.isAsking = false;
  if (feed.again || said === null) setTimeout(ask, said === null ? AGAIN_MS : 0);
  else show(said);
}

// The HTML to show; null: the server took a newer request of another window in its place.
async function answered() {
  try {
    const response = await post("/api/what-if", changeOf(ticked.values()));
    if (response.status === 409) return null;
    const body = await response.json();
    return response.ok ? { html: body.html } : { words: "No figures: " + (problemIn(body) || "the server answered " + response.status) };
  } catch (lost) {
    return { words: "No figures: the server did not answer. Tick again once it is back." };
  }
}

function show(said) {
  const place = byId(Choices.WHAT_IF_FIGURES), focused = place.contains(document.activeElement) ? document.activeElement.id : null;
  if (said.words) place.textContent = said.words;
  else if (feed.of !== said.html) place.innerHTML = said.html;
  feed.of = said.html || null;
  if (focused && byId(focused)) byId(focused).focus({ preventScroll: true });
  if (feed.since === null) return;
  const since = feed.since;
  feed.since = null;
  // The time from the tick to the frame that shows its figures.
  requestAnimationFrame(() => setTimeout(() => performance.measure("what-if answered", { start: since, end: performance.now() })));
}

// After an update: sets the ticks again, drops those that are no longer offered, and asks for new figures.
export function draw() {
  for (const id of Array.from(ticked.keys())) {
    const box = byId(id);
    if (box) box.checked = true;
    else ticked.delete(id);
  }
  if (isOpen()) ask();
}

export const pressed = { [Choices.TO_WHAT_IF]: toggle, [Choices.WHAT_IF_CLEAR]: clear };

export function listen() {
  document.addEventListener("change", (event) => {
    if (event.target.dataset && event.target.dataset.whatIf) tick(event.target);
  });
}
