// The moment that the board shows: the last message, and the time of the sortie, which goes on from it.

import { rules } from "./ids.js";
import * as times from "./pure/times.js";

const held = { message: null, at: 0 };

export function hear(message) {
  held.message = message;
  held.at = performance.now();
}

// null: no message has come yet.
export const message = () => held.message;

// What this board may do, as the server says in every message.
export const may = () => (held.message && held.message.roles) || { log: false, decide: false };

// The time of the sortie in milliseconds since 1970; null: not known yet.
export const now = () => (held.message ? times.countedOn(held.message, performance.now() - held.at) : null);

const zero = () => Date.parse(held.message.pet_zero);

export const petNow = () => times.petMin(now(), zero());

// The instant of a PET, and the instant some minutes ago, as text for an event.
export const instantOfPet = (minutes) => new Date(times.instantOfPet(minutes, zero())).toISOString();
export const minutesAgo = (minutes) => new Date(now() - minutes * 60000).toISOString();

// Whether a PET is so far before zero that it has no meaning: PET zero is not set yet, and is planned for another day.
export const isFarBefore = (minutes) => minutes < -rules.far_before_min;

// "PET 2:05"; "UTC 15:20:11" when the PET has no meaning.
export function timeText(minutes) {
  if (!isFarBefore(minutes)) return "PET " + times.petText(minutes);
  return "UTC " + times.utcText(times.instantOfPet(minutes, zero()));
}

export const atText = (minutes) => "At " + timeText(minutes);
