// The moment that the board shows: the message that came in last, and the time of the sortie counted on from it.

import { rules } from "./ids.js";
import * as times from "./pure/times.js";

const held = { message: null, at: 0 };

export function hear(message) {
  held.message = message;
  held.at = performance.now();
}

// null: none came yet.
export const message = () => held.message;

// What this board may do, as the server says with every message.
export const may = () => (held.message && held.message.roles) || { log: false, decide: false };

// Milliseconds of the sortie's time; null: not known yet.
export const now = () => (held.message ? times.countedOn(held.message, performance.now() - held.at) : null);

const zero = () => Date.parse(held.message.pet_zero);

export const petNow = () => times.petMin(now(), zero());

// The instant of a PET, and that of so many minutes ago, as an event carries it.
export const instantOfPet = (minutes) => new Date(times.instantOfPet(minutes, zero())).toISOString();
export const minutesAgo = (minutes) => new Date(now() - minutes * 60000).toISOString();

// A PET more than a day before its zero says nothing: PET zero is not set yet, and planned for another day.
export const isFarBefore = (minutes) => minutes < -rules.far_before_min;

// "PET 2:05"; where PET says nothing, "UTC 15:20:11".
export function timeText(minutes) {
  if (!isFarBefore(minutes)) return "PET " + times.petText(minutes);
  return "UTC " + times.utcText(times.instantOfPet(minutes, zero()));
}

export const atText = (minutes) => "At " + timeText(minutes);
