// The band across the top: its times go on between messages.

import { byId, write } from "./dom.js";
import { Band, Problems } from "./ids.js";
import { isFarBefore, may, now, petNow } from "./moment.js";
import { ageText, freshness, petText, utcText } from "./pure/times.js";

const isLost = () => document.body.classList.contains("no-contact");

function word(m) {
  if (isLost()) return "NO CONTACT";
  if (m.ended) return m.mode === "live" ? "ENDED" : "REPLAY, ENDED";
  if (m.mode === "paused") return "PAUSED";
  return m.mode === "replay" ? "REPLAY x" + m.speed : "LIVE";
}

// For a rehearsal the text begins with "rehearsal of" in place of the setting and the word "run".
function runOf(run) {
  if (!run) return "";
  return (run.rehearsal ? "rehearsal of " : run.setting ? run.setting + " run of " : "run of ") + run.date;
}

function petOf(m) {
  const minutes = petNow(), isPlanned = m.board.band.zero_from === "planned start";
  if (isFarBefore(minutes)) return (isPlanned ? "zero is planned for " : "zero is set to ") + m.pet_zero.slice(0, 10);
  return petText(minutes) + (isPlanned ? " (planned, clock not set)" : "");
}

// `feed` is the data attribute by which the styles know how fresh the feed is.
function age(id, feed, instant, ages, isEnded) {
  const seconds = instant ? (now() - Date.parse(instant)) / 1000 : null;
  const state = isEnded ? "fresh" : freshness(seconds, ages);
  const isUnsaid = isEnded || state === "none" || (isLost() && state === "fresh");  // without contact nobody knows what came in
  write(id, ageText(seconds) + (isUnsaid ? "" : ", " + state));
  if (document.body.dataset[feed] !== state) document.body.dataset[feed] = state;
}

export function tick(m) {
  const band = m.board && m.board.band;
  write(Band.WORD, word(m));
  write(Band.RUN, runOf(m.run) + (m.late_ticks && !isLost() ? " (updates are late)" : ""));
  write(Band.UTC, utcText(now()));
  if (band) {
    write(Band.PET, petOf(m));
    age(Band.EVENT_AGE, "feed", band.last_event_at, band.event_ages_min, band.ended);
    age(Band.READING_AGE, "readings", band.last_reading_at, band.reading_ages_min, band.ended);
  }
  document.body.dataset.mode = m.ended ? "ended" : m.mode;
  document.body.dataset.logs = may().log ? "yes" : "no";
  document.body.dataset.decides = may().decide ? "yes" : "no";
  write(Band.WHO, m.visitor.said);
  const until = m.visitor.until ? "Signed in until UTC " + m.visitor.until.slice(11, 16) : "";
  if (byId(Band.WHO).title !== until) byId(Band.WHO).title = until;
  write(Band.TROUBLE, [m.trouble, m.store_trouble, m.key_trouble].filter(Boolean).join(" "));
  write(Problems.FEEDS, (m.feeds || []).join("\n"));
}
