// The browser's clocks. The server says what time it was in the sortie and how fast that time runs; the browser counts on.
// The text rules of PET, UTC and ages follow dashboard/words.py.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const held = { message: null, at: 0 };

  T.hear = function (message) {
    held.message = message;
    held.at = performance.now();
  };

  T.message = () => held.message;

  // Milliseconds of the sortie's time.
  T.now = function () {
    const m = held.message;
    if (!m) return null;
    const passed = m.clock_running ? (performance.now() - held.at) * m.speed : 0;
    return Date.parse(m.now) + passed;
  };

  T.petMin = function (ms) {
    return (ms - Date.parse(held.message.pet_zero)) / 60000;
  };

  T.petText = function (minutes) {
    const whole = Math.floor(minutes + 1e-6), size = Math.abs(whole);
    return (whole < 0 ? "-" : "") + Math.floor(size / 60) + ":" + String(size % 60).padStart(2, "0");
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
