// The buttons of the lane cards, notes, and undo. The entry form is in form.js, sending in sending.js.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = T.byId;
  const acts = {}, because = {};
  let holding = null;

  // ---- what was entered from this window: kept over a reload, so that undo goes on working ----

  function shelf() {
    const m = T.message();
    return "tetherline entered " + (m.replay ? m.boot : m.board.band.sortie);
  }

  function entered() {
    try {
      return JSON.parse(sessionStorage.getItem(shelf())) || {};
    } catch (forbidden) {
      return {};
    }
  }

  function keepEntered(lane, events) {
    try {
      sessionStorage.setItem(shelf(), JSON.stringify(Object.assign(entered(), { [lane]: events.slice(-20) })));
    } catch (forbidden) {
      T.say("This browser keeps nothing: undo is not there; use 'correct' in the log.");
    }
    byId("lane-undo-" + lane).disabled = !events.length;
  }

  // ---- lane cards ----

  // On a small screen only the first word has room; hovering says the rest.
  function label(button, word, more) {
    const said = more ? word + " " + more : word;
    if (button.textContent === said) return;
    const rest = document.createElement("span");
    rest.className = "wide-only";
    rest.textContent = more ? " " + more : "";
    button.replaceChildren(word, rest);
  }

  T.drawActions = function (lane, wanted) {
    acts[lane] = wanted;
    const isAllowed = T.may().log;
    const why = isAllowed ? wanted.why || "" : "this board only shows; events are entered where the log is kept";
    for (const act of ["start", "done", "hold"]) {
      const button = byId("lane-" + act + "-" + lane);
      if (!button) continue;
      const doing = wanted[act];
      button.disabled = !doing || !isAllowed || button.dataset.busy === "yes";
      if (act === "hold") label(button, (doing && doing.label) || "Hold", "");
      if (act === "start") label(button, (doing && doing.label) || "Start", doing ? doing.task : "next");
      button.title = why || (doing ? doing.kind.replace("_", " ") + " " + (doing.task || "lane " + doing.lane) : "nothing to do");
    }
    byId("lane-ago-" + lane).disabled = why !== "";
    byId("lane-undo-" + lane).disabled = !isAllowed || !(entered()[lane] || []).length;
    if ((because[lane] || "") !== why) laneSay(lane)(why);
    because[lane] = why;
  };

  // The choices of the time say which PET they mean.
  T.drawTimes = function () {
    const pet = T.petMin(T.now());
    for (const field of document.querySelectorAll("select[id^=lane-ago-]")) {
      if (field === document.activeElement) continue;
      for (const option of field.options) {
        const said = Number(option.value) ? T.when(pet - Number(option.value)).slice(3) + ", " + option.dataset.said : "now";
        if (option.textContent !== said) option.textContent = said;
      }
    }
  };

  function laneAct(button) {
    const lane = button.dataset.lane, act = button.dataset.act;
    const doing = acts[lane] && acts[lane][act];
    if (!doing) return null;
    const event = { kind: doing.kind, at: T.at(Number(byId("lane-ago-" + lane).value)) };
    if (doing.task) event.task = doing.task;
    if (doing.lane) event.lane = doing.lane;
    if (doing.ask) return T.ask({ title: doing.label + " it now?", words: doing.ask, yes: doing.label, then: () => enter(button, event) });
    if (doing.kind !== "hold") return enter(button, event);
    holding = { button: button, event: event };
    byId("hold-reason").value = "";
    return T.openDialog("hold-form", "hold-reason");
  }

  function hold() {
    const reason = byId("hold-reason").value.trim();
    byId("hold-form").close();
    if (reason) holding.event.reason = reason;
    enter(holding.button, holding.event);
  }

  function laneSay(lane) {
    return (words) => {
      const place = byId("lane-outcome-" + lane);
      place.textContent = words;
      place.title = words;
    };
  }

  async function enter(button, event) {
    const lane = button.dataset.lane, act = button.dataset.act, say = laneSay(lane);
    button.dataset.busy = "yes";
    button.disabled = true;
    const done = await T.send(event, (words) => say(event.kind + " " + (event.task || event.lane) + ": " + words));
    button.dataset.busy = "no";
    button.disabled = !(acts[lane] && acts[lane][act]);
    byId("lane-ago-" + lane).value = "0";
    if (done) keepEntered(lane, [...(entered()[lane] || []), { id: done.id, kind: done.kind, task: done.task || done.lane || "" }]);
  }

  async function undo(button) {
    const lane = button.dataset.lane, events = entered()[lane] || [], last = events[events.length - 1];
    if (!last) return;
    keepEntered(lane, events.slice(0, -1));
    const done = await T.send({ kind: "withdraw", event: last.id, at: T.at(0) },
      (words) => laneSay(lane)("undo of " + last.kind + " " + last.task + ": " + words));
    if (!done) keepEntered(lane, events);
  }

  // ---- notes and get-aheads ----

  async function addNote() {
    const field = byId("log-note"), words = field.value.trim();
    if (!words) {
      T.say("Write the note in the field first.");
      field.focus();
      return;
    }
    if (await T.send({ kind: "note", text: words, at: T.at(0) }, T.say)) field.value = "";
  }

  function startGetAhead(button) {
    const words = button.dataset.text;
    T.ask({
      title: "Start this get-ahead?", yes: "Start", words: T.when(T.petMin(T.now())) + " " + words,
      then: () => T.send({ kind: "start", task: button.dataset.task, at: T.at(0) }, T.say),
    });
  }

  Object.assign(T.acts, { start: laneAct, done: laneAct, hold: laneAct, undo: undo, "get-ahead": startGetAhead });
  Object.assign(T.pressed, { "log-add-note": addNote, "hold-yes": hold });
  Object.assign(T.enters, { "log-note": addNote, "hold-form": hold });
})();
