// Functions that every region uses on the page.

import { Log } from "./ids.js";

export const byId = (id) => document.getElementById(id);

// Writes a text if it differs from the text there. The region may not be in the page yet.
export function write(id, text) {
  const place = byId(id);
  if (place && place.textContent !== text) place.textContent = text;
}

// Shows the result of an act in the line of the log. What was offered with the result before it goes away.
export function say(words) {
  write(Log.OUTCOME, words);
  const offer = byId(Log.OFFER);
  if (offer) offer.replaceChildren();
}

// Whether a place uses keys itself, since someone types or chooses there.
export const takesKeys = (place) => Boolean(place.closest("input, select, textarea"));
