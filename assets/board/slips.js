// Times that are probably a mistake: a question is asked before they are recorded.

import { ask } from "./ask.js";
import { rules } from "./ids.js";
import { instantOfPet, isFarBefore, message, now, petNow } from "./moment.js";
import { instantText, oddUtc, petText } from "./pure/times.js";

// Whether a PET is far outside the sortie; or far from now, if PET zero is not set yet and is planned for another day.
export function isOdd(minutes) {
  const [earliest, latest] = message().board.band.times_min;
  if (isFarBefore(minutes) && isFarBefore(petNow())) return Math.abs(petNow() - minutes) > rules.odd_min;
  return minutes < earliest || minutes > latest;
}

// `doing`: the words before the time; `go` is called once someone confirms the time.
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

// An instant of PET zero in the words of a question, with what is odd about it.
export const zeroText = (ms) => "UTC " + instantText(ms) + oddUtc(ms, now(), rules.odd_min);
