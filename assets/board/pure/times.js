// Writes times as text, and reads them. The rules of PET, UTC and ages are those of dashboard/words.py.
// Instants are milliseconds since 1970 in UTC; `zero` is the instant of PET zero.

const FASTEST_COUNTED = 60;

// The instant of the sortie, `passedMs` after a message came in. In a replay faster than `FASTEST_COUNTED` it stays at the
// instant of the message. Messages are then minutes of the sortie apart; band, figures and sheet must show the same instant.
export function countedOn(message, passedMs) {
  const isCounted = message.clock_running && message.speed <= FASTEST_COUNTED;
  return Date.parse(message.now) + (isCounted ? passedMs * message.speed : 0);
}

export const petMin = (ms, zero) => (ms - zero) / 60000;

export const instantOfPet = (minutes, zero) => zero + minutes * 60000;

export function petText(minutes) {
  const whole = Math.floor(minutes + 1e-6), size = Math.abs(whole);
  return (whole < 0 ? "-" : "") + Math.floor(size / 60) + ":" + String(size % 60).padStart(2, "0");
}

// PET to the second, rounded towards PET zero.
export function petToTheSecond(minutes) {
  const seconds = Math.floor(Math.abs(minutes) * 60 + 1e-3), rest = seconds % 60;
  const text = Math.floor(seconds / 3600) + ":" + String(Math.floor(seconds / 60) % 60).padStart(2, "0");
  return (minutes < 0 && seconds ? "-" : "") + text + (rest ? ":" + String(rest).padStart(2, "0") : "");
}

// Minutes of a PET written as H:MM or H:MM:SS; null: the text is neither.
export function parsePet(text) {
  const found = /^\s*(-?)(\d{1,3}):([0-5]\d)(?::([0-5]\d))?\s*$/.exec(text);
  if (!found) return null;
  const minutes = Number(found[2]) * 60 + Number(found[3]) + Number(found[4] || 0) / 60;
  return found[1] ? -minutes : minutes;
}

// The PET of a late entry: written as PET, or as a number of minutes before `now`, a PET. null: the text is neither.
export function lateMin(text, now) {
  const ago = /^\s*(\d{1,3}(?:\.\d)?)\s*(?:min)?\s*$/.exec(text);
  return ago ? now - Number(ago[1]) : parsePet(text);
}

// The instant of a UTC time: HH:MM or HH:MM:SS of the day of `now`, or a whole RFC 3339 instant. null: the text is neither.
export function parseUtc(text, now) {
  const written = text.trim(), day = new Date(now).toISOString().slice(0, 10);
  const found = /^([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?Z?$/.exec(written);
  if (found) return Date.parse(day + "T" + found[1].padStart(2, "0") + ":" + found[2] + ":" + (found[3] || "00") + "Z");
  if (!/^\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d+)?)?([Zz]|[+-]\d\d:\d\d)$/.test(written)) return null;
  const ms = Date.parse(written.toUpperCase().replace(" ", "T"));
  return Number.isNaN(ms) ? null : ms;
}

export const utcText = (ms) => new Date(ms).toISOString().slice(11, 19);

// Date and time of day, in UTC.
export const instantText = (ms) => new Date(ms).toISOString().slice(0, 19).replace("T", " ");

// `seconds` null: nothing has come yet.
export function ageText(seconds) {
  if (seconds === null) return "none yet";
  if (seconds < -5) return "ahead of this clock";
  const whole = Math.max(0, Math.floor(seconds)), minutes = Math.floor(whole / 60), hours = Math.floor(minutes / 60);
  if (whole < 60) return whole + " s ago";
  if (hours && minutes % 60 === 0) return hours + " h ago";
  return (hours ? hours + " h " + String(minutes % 60).padStart(2, "0") : minutes) + " min ago";
}

// `ages`: minutes from which a feed is late, and stale. `seconds` null: nothing has come yet.
export function freshness(seconds, ages) {
  if (seconds === null) return "none";
  return seconds < ages[0] * 60 ? "fresh" : seconds < ages[1] * 60 ? "late" : "stale";
}

// Words to add to an instant of PET zero that is ahead of now, or more than `oddMin` ago. Empty: the instant is not odd.
export function oddUtc(ms, now, oddMin) {
  const min = (ms - now) / 60000, size = Math.abs(min), hours = size / 60;
  const length = hours >= 48 ? Math.round(hours / 24) + " days" : hours >= 1 ? Math.floor(hours) + " h" : Math.ceil(size) + " min";
  if (min > 1) return " (" + length + " from now: is this time meant?)";
  return -min > oddMin ? " (" + length + " ago: is this time meant?)" : "";
}
