// The live feed: one websocket, reopened by itself; a watchdog on the browser's own clock; the counting texts of the band.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  // The server speaks at least every 2 s. Silent for longer than two of its beats, or gone for a moment: contact is lost.
  const SILENT_MS = 4500, LOST_MS = 2500, RETRY_MS = [250, 500, 1000, 2000], REOPEN_MS = 5000;
  const feed = { socket: null, tries: 0, heard: 0, lostSince: null, opened: 0, boot: null, version: 0, waiting: null };

  function open() {
    const scheme = location.protocol === "https:" ? "wss://" : "ws://";
    const socket = (feed.socket = new WebSocket(scheme + location.host + "/api/live"));
    feed.opened = performance.now();
    socket.onmessage = function (event) {
      feed.tries = 0;
      feed.heard = performance.now();
      feed.lostSince = null;
      take(JSON.parse(event.data));
    };
    socket.onclose = function () {
      if (feed.socket !== socket) return;
      if (feed.lostSince === null) feed.lostSince = performance.now();
      setTimeout(open, RETRY_MS[Math.min(feed.tries++, RETRY_MS.length - 1)]);
    };
  }

  function reopen() {
    const old = feed.socket;
    feed.socket = null;
    if (feed.lostSince === null) feed.lostSince = performance.now();
    if (old) old.close();
    open();
  }

  function take(message) {
    T.hear(message);
    if (message.boot === feed.boot && message.version === feed.version) return;
    feed.boot = message.boot;
    feed.version = message.version;
    if (!message.board) return tick();
    feed.waiting = message;
    requestAnimationFrame(draw);
  }

  // Draws the newest message once a frame; what came in between is skipped, never queued.
  function draw() {
    const message = feed.waiting;
    if (!message) return;
    if (!document.getElementById("band")) {
      setTimeout(draw, 50);
      return;
    }
    feed.waiting = null;
    T.drawSheet(message.board);  // first: it measures its words, and what is not yet written need not be laid out for that
    T.drawBoard(message);
    T.drawReplay(message);
    document.body.dataset.drawn = "yes";
    tick();
  }

  function write(id, text) {
    const place = document.getElementById(id);
    if (place && place.textContent !== text) place.textContent = text;
  }

  function word(m) {
    if (m.ended) return m.mode === "live" ? "ENDED" : "REPLAY, ENDED";
    if (m.mode === "paused") return "PAUSED";
    return m.mode === "replay" ? "REPLAY x" + m.speed : "LIVE";
  }

  // A rehearsal says so in place of where the run was made, and is not called a run.
  function runOf(run) {
    if (!run) return "";
    return (run.rehearsal ? "rehearsal of " : run.setting ? run.setting + " run of " : "run of ") + run.date;
  }

  function freshness(seconds, ages) {
    if (seconds === null) return "none";
    return seconds < ages[0] * 60 ? "fresh" : seconds < ages[1] * 60 ? "late" : "stale";
  }

  function tick() {
    const m = T.message();
    contact();
    if (!m || !document.getElementById("band")) return;
    const now = T.now(), band = m.board && m.board.band;
    write("band-word", word(m));
    write("band-run", runOf(m.run) + (m.late_ticks ? " (updates are late)" : ""));
    write("band-utc", T.utcText(now));
    if (band) {
      write("band-pet", petOfBand(m, band, now));
      age("band-event-age", "feed", band.last_event_at, band.event_ages_min, now, band.ended);
      age("band-reading-age", "readings", band.last_reading_at, band.reading_ages_min, now, band.ended);
    }
    document.body.dataset.mode = m.ended ? "ended" : m.mode;
    document.body.dataset.logs = T.may().log ? "yes" : "no";
    document.body.dataset.decides = T.may().decide ? "yes" : "no";
    write("trouble", m.trouble || "");
    T.tickReplay(m, now);
  }

  function petOfBand(m, band, now) {
    const minutes = T.petMin(now), isPlanned = band.zero_from === "planned start";
    if (T.isFarBefore(minutes)) return (isPlanned ? "zero is planned for " : "zero is set to ") + m.pet_zero.slice(0, 10);
    return T.petText(minutes) + (isPlanned ? " (planned, clock not set)" : "");
  }

  function age(id, name, instant, ages, now, ended) {
    const seconds = instant ? (now - Date.parse(instant)) / 1000 : null;
    const state = ended ? "fresh" : freshness(seconds, ages);
    write(id, T.ageText(seconds) + (ended || state === "none" ? "" : ", " + state));
    if (document.body.dataset[name] !== state) document.body.dataset[name] = state;
  }

  function contact() {
    const now = performance.now();
    const silent = feed.heard ? now - feed.heard : now;
    const closed = feed.lostSince === null ? 0 : now - feed.lostSince;
    const lost = closed > LOST_MS || silent > SILENT_MS;
    const isOpening = feed.socket && feed.socket.readyState <= WebSocket.OPEN;
    if (lost && isOpening && now - feed.opened > REOPEN_MS) reopen();
    const m = T.message();
    const shown = m && m.pet_min !== null ? " What you see is of " + T.when(m.pet_min).slice(3) + "." : "";
    write("contact", lost ? "No contact with the server for " + Math.floor(Math.max(silent, closed) / 1000) + " s." + shown : "");
    document.body.classList.toggle("no-contact", lost);
  }

  setInterval(tick, 250);
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible" && feed.waiting) draw();
  });
  open();
})();
