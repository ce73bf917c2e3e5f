// Times that are probably a slip of the hand: asked about before they are recorded.

import { ask } from "./ask.js";
import { rules } from "./ids.js";
import { instantOfPet, isFarBefore, message, now, petNow } from "./moment.js";
import { instantText, oddUtc, petText } from "./pure/times.js";

// A PET far outside the sortie. Where PET zero is not set yet, and planned for another day, a PET far from now.
export function isOdd(minutes) {
  const [earliest, latest] = message().board.band.times_min;
  if (isFarBefore(minutes) && isFarBefore(petNow())) return Math.abs(petNow() - minutes) > rules.odd_min;
  return minutes < earliest || minutes > latest;
}

// `doing` are the words before the time; `go` is called once someone says that the time is meant.
export function askOfTime(minutes, doing, go) {
  const question = { title: "Is this time meant?", yes: "Yes, record it", then: go };
  if (isFarBefore(petNow())) {
    const instant = instantText(Date.parse(instantOfPet(minutes)));
    return ask({ ...question, words: doing + " UTC " + instant + ": PET zero is not today. Set PET zero first." });
  }
  const [earliest, latest] = message().board.band.times_min.map(petText);
  return ask({
    ...question,
    words: doing + " PET " + petText(minutes) + ". The times of this sortie lie between PET " + earliest + " and PET " + latest + ".",
  });
}

// An instant of PET zero as a question repeats it, with what is odd about it.
export const zeroText = (ms) => "UTC " + instantText(ms) + oddUtc(ms, now(), rules.odd_min);
