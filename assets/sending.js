// Sending events. Nothing entered is lost: what the server has not taken is kept in the browser and sent again with the same
// id until it answers; the same id is never recorded twice.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const RETRY_MS = 3000, ANSWER_MS = 8000;
  let isRetrying = false;

  // ---- what is kept ----
  // One key an event: windows of one browser share this store, and none may write over what another keeps.
  // Under the name of the sortie: another sortie at the same address must not get it.

  function shelf() {
    const m = T.message();
    return "tetherline unsent " + (m.replay ? "replay " : "") + m.board.band.sortie + " ";
  }

  function keysOf(start) {
    try {
      return Object.keys(localStorage).filter((name) => name.startsWith(start)).sort();
    } catch (forbidden) {
      return [];
    }
  }

  const keptKey = (start) => keysOf(start)[0];

  function read(key) {
    return JSON.parse(localStorage.getItem(key) || "null");
  }

  // Whether this browser keeps it: it may have no room, or not be allowed to.
  function write(key, kept) {
    try {
      localStorage.setItem(key, JSON.stringify(kept));
      return true;
    } catch (full) {
      return false;
    }
  }

  const keep = (event) => write(shelf() + event.id, event);

  // ---- sending ----

  function newId() {
    return "b" + Date.now().toString(36) + "-" + Math.random().toString(36).slice(2, 8);
  }

  function who() {
    return new URLSearchParams(location.search).get("by") || "board";
  }

  // The outcome, or null when the event has not been taken: no answer, or a server that could not keep it.
  async function post(event) {
    try {
      const response = await fetch("/api/events", {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(event),
        signal: AbortSignal.timeout(ANSWER_MS),
      });
      if (response.status >= 500) return null;
      const body = await response.json();
      if (body.outcomes) return body.outcomes[0];
      const first = (body.problems || [{}])[0];
      return { status: "refused", why: first.subject ? first.subject + ": expected " + first.expected + "; found " + first.found
        + ". " + first.cure : "the server answered " + response.status };
    } catch (lost) {
      return null;
    }
  }

  function inWords(answer) {
    if (answer.why) return answer.status + ": " + answer.why;
    return answer.status + (answer.hint ? ", " + answer.hint : "");
  }

  // Sends an event and says what came of it; gives the event once it is recorded or kept here, null when it is refused.
  T.send = async function (event, say) {
    const whole = Object.assign({ id: newId(), by: who() }, event);
    say("sending");
    const answer = await post(whole);
    if (answer === null) {
      const isKept = keep(whole);
      say(isKept ? "The server has not taken it. The event is kept here and sent again."
        : "The server has not taken it, and this browser cannot keep it. Enter it again.");
      return isKept ? whole : null;
    }
    say(inWords(answer));
    return answer.status === "recorded" || answer.status === "already recorded" ? whole : null;
  };

  T.say = function (words) {
    const at = document.getElementById("log-outcome");
    if (at) at.textContent = words;
  };

  function called(event) {
    return [event.kind, event.task || event.lane || event.text || ""].join(" ").trim();
  }

  async function retry() {
    const m = T.message(), isReady = m && m.board;
    if (isReady) drawRefused();
    const key = !isRetrying && isReady ? keptKey(shelf()) : undefined;
    if (key === undefined) return;
    isRetrying = true;
    await sendKept(key);
    isRetrying = false;
  }

  // What the server refuses stays here, under another name, with the reason, until someone sends it again or discards it.
  async function sendKept(key) {
    const event = read(key), answer = event === null ? null : await post(event);
    if (answer === null) return;
    if (answer.status === "refused") {
      if (!write(refusedShelf() + event.id, { event: event, why: answer.why || "no reason given" })) return;
      T.say("Kept event '" + called(event) + "' not taken: it stays here, below.");
    } else {
      T.say("Kept event '" + called(event) + "' sent: " + inWords(answer));
    }
    localStorage.removeItem(key);
    drawRefused();
  }

  // ---- what the server refused ----

  const refusedShelf = () => "tetherline refused " + shelf();

  function drawRefused() {
    const place = document.getElementById("log-refused"), keys = keysOf(refusedShelf()), drawn = keys.join();
    if (!place || place.dataset.drawn === drawn) return;
    place.dataset.drawn = drawn;
    place.replaceChildren(...keys.map((key) => {
      const row = document.createElement("div"), said = document.createElement("span"), kept = read(key);
      row.className = "log-refused-row";
      said.textContent = "not taken: " + called(kept.event) + ": " + kept.why;
      said.title = said.textContent;
      row.append(said, button("send-again", "send again", key), button("discard", "discard", key));
      return row;
    }));
  }

  function button(act, said, key) {
    const made = document.createElement("button");
    Object.assign(made, { type: "button", className: "button small", textContent: said });
    Object.assign(made.dataset, { act: act, key: key });
    return made;
  }

  // Back among what is kept: it is sent with the same id.
  function sendAgain(pressed) {
    const kept = read(pressed.dataset.key);
    if (kept === null || !keep(kept.event)) return;
    localStorage.removeItem(pressed.dataset.key);
    T.say("sending '" + called(kept.event) + "'");
    retry();
  }

  function discard(pressed) {
    const kept = read(pressed.dataset.key);
    if (kept === null) return drawRefused();
    return T.ask({
      title: "Discard this event?", words: "'" + called(kept.event) + "' was never recorded, and is lost.", yes: "Discard",
      then: () => { localStorage.removeItem(pressed.dataset.key); drawRefused(); },
    });
  }

  setInterval(retry, RETRY_MS);
  Object.assign((T.acts = T.acts || {}), { "send-again": sendAgain, discard: discard });
})();
