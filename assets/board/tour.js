// The guided tour of the demo. The board goes on behind it. Once it was closed, this browser does not show it again.

import { byId } from "./dom.js";
import { Tour } from "./ids.js";
import { keep, kept } from "./kept.js";

const SEEN = "tour", YES = "seen", HERE = "tour-here";
let at = null;

const stops = () => JSON.parse(byId(Tour.BOX).dataset.stops);

// Begins with the first message.
export function draw() {
  if (at === null && byId(Tour.BOX) && kept(SEEN) !== YES) show(0);
}

function show(stop) {
  at = stop;
  const all = stops(), [region, title, words] = all[at];
  leave();
  byId(Tour.TITLE).textContent = title;
  byId(Tour.WORDS).textContent = words;
  byId(Tour.COUNT).textContent = (at + 1) + " of " + all.length;
  byId(Tour.NEXT).textContent = at + 1 < all.length ? "Next" : "Done";
  byId(Tour.BOX).hidden = false;
  byId(region).classList.add(HERE);
  byId(region).scrollIntoView({ block: "nearest" });
}

function leave() {
  for (const one of document.querySelectorAll("." + HERE)) one.classList.remove(HERE);
}

function next() {
  if (at + 1 < stops().length) show(at + 1);
  else close();
}

function close() {
  leave();
  byId(Tour.BOX).hidden = true;
  keep(SEEN, YES);
}

export const pressed = { [Tour.NEXT]: next, [Tour.CLOSE]: close };
