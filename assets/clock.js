// The browser's clocks. The server says what time it was in the sortie and how fast that time runs; the browser counts on.
// The text rules of PET, UTC and ages follow dashboard/words.py.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const DAY_MIN = 24 * 60, FASTEST_COUNTED = 60;
  const held = { message: null, at: 0 };

  T.hear = function (message) {
    held.message = message;
    held.at = performance.now();
  };

  T.message = () => held.message;

  // Milliseconds of the sortie's time. A replay so fast that a message is minutes of it is not counted on between messages:
  // band, figures and sheet show one instant.
  T.now = function () {
    const m = held.message;
    if (!m) return null;
    const passed = m.clock_running && m.speed <= FASTEST_COUNTED ? (performance.now() - held.at) * m.speed : 0;
    return Date.parse(m.now) + passed;
  };

  T.petMin = function (ms) {
    return (ms - Date.parse(held.message.pet_zero)) / 60000;
  };

  T.petText = function (minutes) {
    const whole = Math.floor(minutes + 1e-6), size = Math.abs(whole);
    return (whole < 0 ? "-" : "") + Math.floor(size / 60) + ":" + String(size % 60).padStart(2, "0");
  };

  // A PET more than a day before its zero says nothing: PET zero is not set yet, and planned for another day.
  T.isFarBefore = (minutes) => minutes < -DAY_MIN;

  // "At PET 2:05"; where PET says nothing, "At UTC 15:20:11".
  T.when = function (minutes) {
    if (!T.isFarBefore(minutes)) return "At PET " + T.petText(minutes);
    return "At UTC " + T.utcText(Date.parse(held.message.pet_zero) + minutes * 60000);
  };

  // Milliseconds of a UTC time: HH:MM or HH:MM:SS of the day it is in the sortie, or a whole RFC 3339 instant. null: neither.
  T.utcOf = function (text) {
    const written = text.trim(), day = new Date(T.now()).toISOString().slice(0, 10);
    const found = /^([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?Z?$/.exec(written);
    if (found) return Date.parse(day + "T" + found[1].padStart(2, "0") + ":" + found[2] + ":" + (found[3] || "00") + "Z");
    if (!/^\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d+)?)?([Zz]|[+-]\d\d:\d\d)$/.test(written)) return null;
    const ms = Date.parse(written.toUpperCase().replace(" ", "T"));
    return Number.isNaN(ms) ? null : ms;
  };

  T.petOf = function (text) {
    const found = /^\s*(-?)(\d{1,3}):([0-5]\d)(?::([0-5]\d))?\s*$/.exec(text);
    if (!found) return null;
    const minutes = Number(found[2]) * 60 + Number(found[3]) + Number(found[4] || 0) / 60;
    return found[1] ? -minutes : minutes;
  };

  T.instantOfPet = (minutes) => new Date(Date.parse(held.message.pet_zero) + minutes * 60000).toISOString();

  T.ageText = function (seconds) {
    if (seconds === null) return "none yet";
    if (seconds < -5) return "ahead of this clock";
    const whole = Math.max(0, Math.floor(seconds)), minutes = Math.floor(whole / 60), hours = Math.floor(minutes / 60);
    if (whole < 60) return whole + " s ago";
    if (hours && minutes % 60 === 0) return hours + " h ago";
    return (hours ? hours + " h " + String(minutes % 60).padStart(2, "0") : minutes) + " min ago";
  };

  T.utcText = (ms) => new Date(ms).toISOString().slice(11, 19);
})();
