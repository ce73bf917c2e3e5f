// Which step comes next, and which steps are shown. `pets` holds the briefed start of each step, in order; a place counts from 0.

const WAYS = {
  ArrowRight: "next", ArrowDown: "next", PageDown: "next", " ": "next",
  ArrowLeft: "previous", ArrowUp: "previous", PageUp: "previous",
  Home: "first", End: "last",
};

// The way that a key asks for; undefined: none.
export const wayOf = (key) => WAYS[key];

const firstAt = (pets, pet) => pets.indexOf(pet);

// The place after a move. `inTime`: from one start to the next, however many steps begin there.
export function moved(pets, at, way, inTime) {
  const last = pets.length - 1;
  if (way === "first" || last < 0) return 0;
  if (way === "last") return inTime ? firstAt(pets, pets[last]) : last;
  if (!inTime) return Math.min(last, Math.max(0, at + (way === "next" ? 1 : -1)));
  const other = way === "next" ? pets.findIndex((pet) => pet > pets[at]) : firstAt(pets, pets[at]) - 1;
  return other < 0 ? at : firstAt(pets, pets[other]);
}

// The places that are shown: one step, or in time all that begin together.
export function shown(pets, at, inTime) {
  return pets.map((_, place) => place).filter((place) => (inTime ? pets[place] === pets[at] : place === at));
}

// "7 of 46"; in time "7 to 8 of 46".
export function placeText(places, count) {
  const first = places[0] + 1, last = places[places.length - 1] + 1;
  return (first === last ? String(first) : first + " to " + last) + " of " + count;
}
