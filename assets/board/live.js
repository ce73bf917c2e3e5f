// The live feed: one websocket that reopens itself, and a watchdog that uses the clock of the browser.

import { byId, write } from "./dom.js";
import { Band, rules } from "./ids.js";
import { hear, message, timeText } from "./moment.js";
import { changed } from "./pure/changes.js";
import * as view from "./view.js";

// Contact is lost when no message came for two heartbeats of the server, or the websocket was closed for `LOST_MS`.
const SILENT_MS = 2000 * rules.heartbeat_s + 500, LOST_MS = 2500, RETRY_MS = [250, 500, 1000, 2000], REOPEN_MS = 5000;
const KEPT = view.isWall() ? "" : " What is entered is kept here and sent when the server answers.";
const TICK_MS = 250, NOT_YET_MS = 50, TELL_MS = 30000;
const feed = { socket: null, tries: 0, heard: 0, told: 0, lostSince: null, opened: 0, boot: null, version: 0, waiting: null };
// The functions that `follow` was given.
let drawn = null, ticked = null;

// Calls `draw(message)` once per version, and `tick()` several times per second.
export function follow(draw, tick) {
  drawn = draw;
  ticked = tick;
  setInterval(beat, TICK_MS);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible" && feed.waiting) drawNewest();
  });
  open();
}

function beat() {
  contact();
  ticked();
}

function open() {
  const scheme = location.protocol === "https:" ? "wss://" : "ws://";
  const socket = (feed.socket = new WebSocket(scheme + location.host + "/api/live?changes=1"));
  let board = null;  // as this socket said it last: changes are of that
  feed.opened = performance.now();
  feed.told = -TELL_MS;
  socket.onmessage = function (event) {
    feed.tries = 0;
    feed.heard = performance.now();
    feed.lostSince = null;
    const heard = JSON.parse(event.data);
    if (heard.changes !== undefined) heard.board = heard.changes === null ? board : changed(board, heard.changes);
    board = heard.board;
    tell(socket, heard);
    take(heard);
  };
  socket.onclose = function () {
    if (feed.socket !== socket) return;
    if (feed.lostSince === null) feed.lostSince = performance.now();
    setTimeout(open, RETRY_MS[Math.min(feed.tries++, RETRY_MS.length - 1)]);
  };
}

// Sends the time of this computer every `TELL_MS`, so that the server can report a clock that is off.
function tell(socket, heard) {
  if (performance.now() - feed.told < TELL_MS || socket.readyState !== WebSocket.OPEN) return;
  feed.told = performance.now();
  socket.send(JSON.stringify({ clock_ms: Date.now(), sent: heard.sent }));
}

function reopen() {
  const old = feed.socket;
  feed.socket = null;
  if (feed.lostSince === null) feed.lostSince = performance.now();
  if (old) old.close();
  open();
}

function take(heard) {
  hear(heard);
  if (heard.boot === feed.boot && heard.version === feed.version) return;
  feed.boot = heard.boot;
  feed.version = heard.version;
  if (!heard.board) return beat();
  feed.waiting = heard;
  requestAnimationFrame(drawNewest);
}

// Draws the newest message, at most once per frame. Earlier messages are skipped, never queued.
function drawNewest() {
  const newest = feed.waiting;
  if (!newest) return;
  if (!byId(Band.REGION)) {
    setTimeout(drawNewest, NOT_YET_MS);
    return;
  }
  feed.waiting = null;
  drawn(newest);
  document.body.dataset.drawn = "yes";
  beat();
}

function contact() {
  const now = performance.now();
  const silent = feed.heard ? now - feed.heard : now;
  const closed = feed.lostSince === null ? 0 : now - feed.lostSince;
  const lost = closed > LOST_MS || silent > SILENT_MS;
  const isOpening = feed.socket && feed.socket.readyState <= WebSocket.OPEN;
  if (lost && isOpening && now - feed.opened > REOPEN_MS) reopen();
  const m = message();
  const shown = m && m.pet_min !== null ? " The board shows " + timeText(m.pet_min) + "." : "";
  write(Band.CONTACT, lost ? "No contact with the server for " + Math.floor(Math.max(silent, closed) / 1000) + " s." + shown + KEPT : "");
  document.body.classList.toggle("no-contact", lost);
}
