// The few things that every region does with the page.

import { Log } from "./ids.js";

export const byId = (id) => document.getElementById(id);

// Writes a text where it differs. A region may not be in the page yet.
export function write(id, text) {
  const place = byId(id);
  if (place && place.textContent !== text) place.textContent = text;
}

// Says what came of an act in the line of the log.
export const say = (words) => write(Log.OUTCOME, words);

// Whether someone is typing or choosing there: keys are theirs.
export const takesKeys = (place) => Boolean(place.closest("input, select, textarea"));
