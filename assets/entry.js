// Entering events: lane buttons, notes, the entry form, corrections, decisions and undo. Sending is in sending.js.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = (id) => document.getElementById(id);
  const acts = {}, entered = {};
  let answering = null, holding = null, deciding = null;

  // The instant so many minutes before now, of the sortie's time.
  function at(minutesAgo) {
    return new Date(T.now() - minutesAgo * 60000).toISOString();
  }

  function formSay(form) {
    return (words) => { form.querySelector(".form-outcome").textContent = words; };
  }

  function openDialog(id, first) {
    const form = byId(id);
    formSay(form)("");
    form.showModal();
    if (first) byId(first).focus();
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

  // The choices of the time say which PET they mean.
  T.drawTimes = function () {
    const pet = T.petMin(T.now());
    for (const field of document.querySelectorAll("select[id^=lane-ago-]")) {
      if (field === document.activeElement) continue;
      for (const option of field.options) {
        const said = Number(option.value) ? "PET " + T.petText(pet - Number(option.value)) + ", " + option.dataset.said : "now";
        if (option.textContent !== said) option.textContent = said;
      }
    }
  };

  function laneAct(button) {
    const lane = button.dataset.lane, act = button.dataset.act;
    if (act === "undo") return undo(lane, laneSay(lane));
    const doing = acts[lane] && acts[lane][act];
    if (!doing) return null;
    const event = { kind: doing.kind, at: at(Number(byId("lane-ago-" + lane).value)) };
    if (doing.task) event.task = doing.task;
    if (doing.lane) event.lane = doing.lane;
    if (doing.kind !== "hold") return enter(button, event);
    holding = { button: button, event: event };
    byId("hold-reason").value = "";
    return openDialog("hold-form", "hold-reason");
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
    if (done) {
      (entered[lane] = entered[lane] || []).push(done);
      byId("lane-undo-" + lane).disabled = false;
    }
  }

  async function undo(lane, say) {
    const last = (entered[lane] || []).pop();
    if (!last) return;
    const done = await T.send({ kind: "withdraw", event: last.id, at: at(0) },
      (words) => say("undo of " + last.kind + " " + (last.task || "") + ": " + words));
    if (!done) entered[lane].push(last);
    byId("lane-undo-" + lane).disabled = !(entered[lane] || []).length;
  }

  // ---- note, amend, withdraw ----

  async function addNote() {
    const field = byId("log-note"), words = field.value.trim();
    if (!words) {
      T.say("Write the note in the field first.");
      field.focus();
      return;
    }
    if (await T.send({ kind: "note", text: words, at: at(0) }, T.say)) field.value = "";
  }

  // A choice becomes several events, all at one instant; each is sent on its own, and kept like any other when it is lost.
  function askToDecide(button) {
    deciding = button;
    byId("ask-words").textContent = button.dataset.text
      + ". Advisory only: flight rules, suit telemetry and the responsible flight controllers and physicians decide.";
    openDialog("ask-form", "ask-no");
  }

  async function decide() {
    const when = at(0), button = deciding;
    byId("ask-form").close();
    button.disabled = true;
    for (const event of JSON.parse(button.dataset.events)) await T.send(Object.assign(event, { at: when }), T.say);
    button.disabled = false;
  }

  function openCorrection(button) {
    answering = button.dataset;
    byId("amend-event").textContent = "PET " + answering.at + ", " + answering.text;
    for (const name of ["amend-at", "amend-text", "amend-note"]) byId(name).value = "";
    byId("amend-text").closest("label").hidden = !answering.words;
    openDialog("amend-form", "amend-at");
  }

  async function amend() {
    const form = byId("amend-form"), say = formSay(form), changes = {};
    const when = byId("amend-at").value.trim(), minutes = T.petOf(when), said = byId("amend-text").value.trim();
    if (when && minutes === null) return say("Expected a time as H:MM in PET, for instance 2:05; found '" + when + "'.");
    if (when) changes.at = T.instantOfPet(minutes);
    if (said && answering.words) changes[answering.words] = said;
    if (!Object.keys(changes).length) return say("Expected what is right; found nothing filled in.");
    return answer({ kind: "amend", event: answering.event, changes: changes });
  }

  function withdraw() {
    return answer({ kind: "withdraw", event: answering.event });
  }

  async function answer(event) {
    const form = byId("amend-form"), say = formSay(form), why = byId("amend-note").value.trim();
    if (why) event.note = why;
    event.at = at(0);
    if (await T.send(event, (words) => { say(words); T.say(words); })) form.close();
  }

  // ---- the entry form ----

  function openForm() {
    byId("entry-at").value = "";
    drawFields();
    openDialog("entry-form");
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
    if (await T.send(event, (words) => { say(words); T.say(words); })) form.close();
  }

  // ---- who is pressed ----

  const PRESSED = {
    "log-add-note": addNote, "log-enter": openForm, "entry-send": sendForm, "amend-send": amend, "amend-withdraw": withdraw,
    "hold-yes": hold, "ask-yes": decide,
  };
  const ENTERED = { "log-note": addNote, "entry-form": sendForm, "amend-form": amend, "hold-form": hold };

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || !T.message()) return;
    if (PRESSED[button.id]) PRESSED[button.id]();
    else if (button.dataset.lane) laneAct(button);
    else if (button.dataset.act === "correct") openCorrection(button);
    else if (button.dataset.act === "decide") askToDecide(button);
    else if (/-(cancel|no)$/.test(button.id)) button.closest("dialog").close();
  });
  document.addEventListener("change", (event) => {
    if (event.target.id === "entry-kind") drawFields();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    const form = event.target.closest("dialog"), act = ENTERED[form ? form.id : event.target.id];
    if (!act) return;
    event.preventDefault();
    act();
  });
})();
