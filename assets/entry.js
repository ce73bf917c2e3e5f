// Entering events: lane buttons, notes, the entry form, amend, withdraw and undo. Nothing entered is lost: what could not be
// sent is kept in the browser and sent again, with the same id, until the server answers.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = (id) => document.getElementById(id);
  const KEPT = "tetherline unsent ", RETRY_MS = 3000;
  const acts = {}, entered = {};
  let sending = false, answering = null;

  // ---- sending ----

  function newId() {
    const part = () => Math.random().toString(36).slice(2, 8);
    return "b" + Date.now().toString(36) + "-" + part();
  }

  function at(minutesAgo) {
    return new Date(T.now() - minutesAgo * 60000).toISOString();
  }

  function who() {
    return new URLSearchParams(location.search).get("by") || "board";
  }

  async function send(event, say) {
    const whole = Object.assign({ id: newId(), by: who() }, event);
    say("sending");
    const answer = await post(whole);
    if (answer === null) {
      keep(whole);
      say("The server has not taken it. The event is kept here and sent again.");
      return null;
    }
    say(answer.why ? answer.status + ": " + answer.why : answer.status + (answer.hint ? ". " + answer.hint : ""));
    return answer.status === "recorded" || answer.status === "already recorded" ? whole : null;
  }

  // The outcome, or null when the event has not been taken: no answer, or a server that could not keep it.
  async function post(event) {
    try {
      const response = await fetch("/api/events", {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(event),
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

  // One key an event: windows of one browser share this store, and none may write over what another keeps.
  function keep(event) {
    localStorage.setItem(KEPT + event.id, JSON.stringify(event));
  }

  async function retry() {
    const key = Object.keys(localStorage).find((name) => name.startsWith(KEPT));
    if (sending || !key || !T.message()) return;
    sending = true;
    const answer = await post(JSON.parse(localStorage.getItem(key)));
    if (answer !== null) {
      localStorage.removeItem(key);
      outcome("Kept event sent: " + answer.status + (answer.why ? ", " + answer.why : ""));
    }
    sending = false;
  }
  setInterval(retry, RETRY_MS);

  function outcome(words) {
    const place = byId("log-outcome");
    if (place) place.textContent = words;
  }

  // ---- lane cards ----

  T.drawActions = function (lane, wanted) {
    acts[lane] = wanted;
    for (const act of ["start", "done", "hold"]) {
      const button = byId("lane-" + act + "-" + lane);
      if (!button) continue;
      const doing = wanted[act];
      button.disabled = !doing || button.dataset.busy === "yes";
      if (act === "hold") {
        const said = (doing && doing.label) || "Hold";
        if (button.textContent !== said) button.textContent = said;
      }
      button.title = doing ? doing.kind.replace("_", " ") + " " + (doing.task || "lane " + doing.lane) : "nothing to do";
    }
  };

  async function laneAct(button) {
    const lane = button.dataset.lane, act = button.dataset.act;
    const say = (words) => { byId("lane-outcome-" + lane).textContent = words; };
    if (act === "undo") return undo(lane, say);
    const doing = acts[lane] && acts[lane][act];
    if (!doing) return;
    const event = { kind: doing.kind, at: at(Number(byId("lane-ago-" + lane).value)) };
    if (doing.task) event.task = doing.task;
    if (doing.lane) event.lane = doing.lane;
    button.dataset.busy = "yes";
    button.disabled = true;
    const done = await send(event, (words) => say(doing.kind + " " + (doing.task || doing.lane) + ": " + words));
    button.dataset.busy = "no";
    button.disabled = !(acts[lane] && acts[lane][act]);
    byId("lane-ago-" + lane).value = "0";
    if (done) {
      (entered[lane] = entered[lane] || []).push(done);
      byId("lane-undo-" + lane).disabled = false;
    }
  }

  async function undo(lane, say) {
    const last = (entered[lane] || []).pop();
    if (!last) return;
    const done = await send({ kind: "withdraw", event: last.id, at: at(0) },
      (words) => say("undo of " + last.kind + " " + (last.task || "") + ": " + words));
    if (!done) entered[lane].push(last);
    byId("lane-undo-" + lane).disabled = !(entered[lane] || []).length;
  }

  // ---- note, amend, withdraw ----

  async function addNote() {
    const field = byId("log-note"), words = field.value.trim();
    if (!words) {
      outcome("Write the note in the field first.");
      field.focus();
      return;
    }
    if (await send({ kind: "note", text: words, at: at(0) }, outcome)) field.value = "";
  }

  // A choice becomes several events, all at one instant; each is sent on its own, and kept like any other when it is lost.
  async function decide(button) {
    if (!window.confirm("Record this decision? " + button.dataset.text + ". Advisory only: flight rules and the responsible "
      + "controllers decide.")) return;
    const when = at(0);
    for (const event of JSON.parse(button.dataset.events)) await send(Object.assign(event, { at: when }), outcome);
  }

  function answer(button) {
    if (button.dataset.act === "withdraw") {
      if (window.confirm("Withdraw this event? PET " + button.dataset.at + ", " + button.dataset.text)) {
        send({ kind: "withdraw", event: button.dataset.event, at: at(0) }, outcome);
      }
      return;
    }
    answering = button.dataset.event;
    byId("amend-event").textContent = "PET " + button.dataset.at + ", " + button.dataset.text;
    byId("amend-at").value = button.dataset.at;
    byId("amend-note").value = "";
    byId("amend-form").showModal();
  }

  async function amend() {
    const form = byId("amend-form"), say = formSay(form), minutes = T.petOf(byId("amend-at").value);
    if (minutes === null) return say("Expected a time as H:MM in PET, for instance 2:05.");
    const event = { kind: "amend", event: answering, changes: { at: T.instantOfPet(minutes) }, at: at(0) };
    const why = byId("amend-note").value.trim();
    if (why) event.note = why;
    if (await send(event, (words) => { say(words); outcome(words); })) form.close();
  }

  // ---- the entry form ----

  function formSay(form) {
    return (words) => { form.querySelector(".form-outcome").textContent = words; };
  }

  function openForm() {
    byId("entry-at").value = "";
    formSay(byId("entry-form"))("");
    drawFields();
    byId("entry-form").showModal();
  }

  function fieldsOf(kind) {
    return JSON.parse(byId("entry-form").dataset.fields)[kind] || [];
  }

  function drawFields() {
    const place = byId("entry-fields");
    place.textContent = "";
    for (const [name, label, source] of fieldsOf(byId("entry-kind").value)) {
      const row = document.createElement("label"), said = document.createElement("span");
      row.className = "form-field";
      said.textContent = label;
      row.append(said, control(name, source));
      place.append(row);
    }
  }

  function control(name, source) {
    const from = source.replace("many?:", "").replace("many:", "").replace("?", "");
    const offered = (T.message().board.entry || {})[from];
    const field = document.createElement(offered ? "select" : "input");
    field.className = "field";
    field.dataset.field = name;
    field.dataset.source = source;
    if (offered) {
      field.multiple = source.startsWith("many");
      if (field.multiple) field.size = 5;
      if (source.endsWith("?")) field.append(new Option("as it is", ""));
      for (const [value, label] of offered) field.append(new Option(label, value));
    }
    return field;
  }

  function readFields() {
    const event = {};
    for (const field of byId("entry-fields").querySelectorAll("[data-field]")) {
      const name = field.dataset.field, source = field.dataset.source;
      const label = field.previousElementSibling.textContent;
      if (field.multiple) {
        const values = Array.from(field.selectedOptions, (option) => option.value);
        if (!values.length && source.startsWith("many:")) throw label + ": expected at least one; found none.";
        if (values.length) event[name] = values;
        continue;
      }
      const value = field.value.trim();
      if (!value) {
        if (source.endsWith("?")) continue;
        throw label + ": expected a value; found none.";
      }
      if (source === "minutes" || source === "number?") {
        if (!/^\d+(\.\d+)?$/.test(value)) throw label + ": expected a number of zero or more; found '" + value + "'.";
        event[name] = Number(value);
      } else if (name === "subject") {
        const [what, ...rest] = value.split(":");
        if (what === "all") event.all = true;
        else event[what] = rest.join(":");
      } else {
        event[name] = value;
      }
    }
    return event;
  }

  async function sendForm() {
    const form = byId("entry-form"), say = formSay(form), kind = byId("entry-kind").value;
    let event;
    try {
      event = readFields();
    } catch (complaint) {
      return say(String(complaint));
    }
    if (kind === "add") {
      const before = event.before;
      delete event.before;
      event = { task: event };
      if (before) event.before = before;
    }
    const when = byId("entry-at").value.trim(), minutes = T.petOf(when);
    if (when && minutes === null) return say("When: expected PET as H:MM, for instance 2:05; found '" + when + "'.");
    Object.assign(event, { kind: kind, at: when ? T.instantOfPet(minutes) : at(0) });
    if (await send(event, (words) => { say(words); outcome(words); })) form.close();
  }

  // ---- who is pressed ----

  const PRESSED = {
    "log-add-note": addNote, "log-enter": openForm, "entry-send": sendForm, "amend-send": amend,
    "entry-cancel": () => byId("entry-form").close(), "amend-cancel": () => byId("amend-form").close(),
  };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || !T.message()) return;
    if (PRESSED[button.id]) PRESSED[button.id]();
    else if (button.dataset.lane) laneAct(button);
    else if (button.dataset.event) answer(button);
    else if (button.dataset.act === "decide") decide(button);
  });
  document.addEventListener("change", (event) => {
    if (event.target.id === "entry-kind") drawFields();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    if (event.target.id === "log-note") addNote();
    else if (event.target.closest("#entry-form") && event.target.tagName === "INPUT") sendForm();
    else if (event.target.closest("#amend-form") && event.target.tagName === "INPUT") amend();
  });
})();
