// The entry form: every kind of event, with the fields that the server names. Nothing is chosen before someone chooses.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = T.byId;
  const AT_PET = "When, PET H:MM (empty: now)";
  const AT_UTC = "When, UTC HH:MM or HH:MM:SS of today, or a whole instant like 2031-04-12T09:10:00Z (empty: now)";

  // `plan`: only the kinds that change the plan of record are offered.
  function open(title, onlyPlan, kind) {
    const form = byId("entry-form"), kinds = byId("entry-kind"), plan = JSON.parse(form.dataset.planKinds);
    form.querySelector("h2").textContent = title;
    for (const option of kinds.options) {
      const why = option.value && T.whyNot(option.value);
      option.dataset.said = option.dataset.said || option.textContent;
      option.textContent = option.dataset.said + (why ? " (" + why + ")" : "");
      option.hidden = onlyPlan && option.value !== "" && !plan.includes(option.value);
      option.disabled = option.hidden || Boolean(why);
    }
    kinds.value = kind || "";
    byId("entry-at").value = "";
    drawFields();
    T.openDialog("entry-form", "entry-kind");
  }

  function fieldsOf(kind) {
    return JSON.parse(byId("entry-form").dataset.fields)[kind] || [];
  }

  function offered(source) {
    return (T.message().board.entry || {})[source];
  }

  function drawFields() {
    const place = byId("entry-fields");
    place.textContent = "";
    const isClock = byId("entry-kind").value === "clock";
    byId("entry-at").closest("label").firstElementChild.textContent = isClock ? AT_UTC : AT_PET;
    for (const [name, label, source] of fieldsOf(byId("entry-kind").value)) {
      const row = document.createElement("label"), said = document.createElement("span");
      row.className = "form-field";
      said.textContent = label;
      row.append(said, control(name, source));
      place.append(row);
    }
    drawDependent();
  }

  // "many:tasks", "options@alternative", "lanes?": how many, from where, on which other field it hangs, may it stay empty.
  function parts(source) {
    const found = /^(many\??:)?([a-z_]+)(?:@([a-z]+))?(\?)?$/.exec(source);
    return { many: found[1] || "", from: found[2], on: found[3], mayBeEmpty: found[4] === "?" || found[1] === "many?:" };
  }

  function control(name, source) {
    const wanted = parts(source), offer = offered(wanted.from);
    const field = document.createElement(offer ? "select" : "input");
    field.className = "field";
    field.dataset.field = name;
    field.dataset.source = source;
    if (!offer) return field;
    field.multiple = wanted.many !== "";
    if (field.multiple) field.size = 5;
    fill(field, wanted, offer);
    return field;
  }

  function fill(field, wanted, offer) {
    field.textContent = "";
    const nothing = offer.length ? (wanted.mayBeEmpty ? "as it is" : "choose ...") : "nothing to choose from now";
    if (!field.multiple) field.append(new Option(nothing, ""));
    for (const [value, label] of offer) field.append(new Option(label, value));
  }

  function drawDependent() {
    for (const field of byId("entry-fields").querySelectorAll("select[data-field]")) {
      const wanted = parts(field.dataset.source);
      if (!wanted.on) continue;
      const on = byId("entry-fields").querySelector("[data-field=" + wanted.on + "]").value;
      fill(field, wanted, offered(wanted.from).filter((one) => one[2] === on));
    }
  }

  function valueOf(field, event) {
    const name = field.dataset.field, source = field.dataset.source, wanted = parts(source);
    const label = field.previousElementSibling.textContent;
    if (field.multiple) {
      const values = Array.from(field.selectedOptions, (option) => option.value);
      if (!values.length && !wanted.mayBeEmpty) throw label + ": expected at least one; found none chosen.";
      if (values.length) event[name] = values;
      return;
    }
    const value = field.value.trim();
    if (!value) {
      if (wanted.mayBeEmpty) return;
      throw label + (field.tagName === "SELECT" ? ": expected a choice; found none." : ": expected a value; found none.");
    }
    if (wanted.from === "minutes" || wanted.from === "number") {
      if (!/^\d+(\.\d+)?$/.test(value)) throw label + ": expected a number of zero or more; found '" + value + "'.";
      event[name] = Number(value);
    } else if (name === "subject") {
      const [what, ...rest] = value.split(":");
      event[what] = what === "all" ? true : rest.join(":");
    } else {
      event[name] = value;
    }
  }

  // What no person may record: giving up what is required, and lengths of nothing.
  function refused(kind, event) {
    const without = kind === "trim" || kind === "break_off" ? [event.task] : event.tasks || event.defer || [];
    const isGivenUp = ["defer", "decision", "trim", "break_off"].includes(kind);
    const alone = kind === "trim" || kind === "break_off" ? (said, task) => said === task + " is required" : () => true;
    const shortest = (offered("shortest").find((one) => one[0] === event.task) || [])[1];
    if (kind === "trim" && event.duration < Number(shortest)) {
      return "New length: expected " + shortest + " min or more, the shortest that is useful; found " + event.duration + ".";
    }
    if (kind === "add" && event.duration <= 0) return "Minutes: expected more than 0; found " + event.duration + ".";
    const isEmpty = kind === "reading" && !["oxygen", "co2", "battery", "water"].some((name) => name in event);
    if (isEmpty) return "Suit reading: expected at least one amount; found none.";
    const kept = isGivenUp ? offered("kept").filter(([task, said]) => without.includes(task) && alone(said, task)) : [];
    return kept.length ? "Cannot be recorded: " + kept.map((one) => one[1]).join("; ") + "." : null;
  }

  function read(kind) {
    const event = {};
    for (const field of byId("entry-fields").querySelectorAll("[data-field]")) valueOf(field, event);
    const why = refused(kind, event);
    if (why) throw why;
    if (kind === "move" && !event.lane && !event.before) throw "Hand over or reorder: expected a lane or what it goes before; found neither.";
    if (kind !== "add") return event;
    const { before, ...task } = event;
    task.id = offered("new_task")[0][0];
    return before ? { task: task, before: before } : { task: task };
  }

  function send() {
    const form = byId("entry-form"), say = T.formSay(form), kind = byId("entry-kind").value;
    let event;
    try {
      if (!kind) throw "What happened: expected a choice; found none.";
      event = read(kind);
    } catch (complaint) {
      return say(String(complaint));
    }
    const when = byId("entry-at").value.trim();
    if (kind === "clock") return sendClock(form, say, when);
    const minutes = when ? T.petOf(when) : T.petMin(T.now());
    if (minutes === null) return say("When: expected PET as H:MM, for instance 2:05; found '" + when + "'.");
    Object.assign(event, { kind: kind, at: when ? T.instantOfPet(minutes) : T.at(0) });
    const go = () => record(form, say, event);
    const words = inWords(event, minutes);
    if (T.isAbsurd(minutes)) return T.askOfTime(minutes, (words || byId("entry-kind").selectedOptions[0].textContent + ".") + " Record it at", go);
    if (words) return T.ask({ title: "Record this?", words: words, yes: "Record", then: go });
    return go();
  }

  // PET zero is an instant of UTC: a PET counted from the old zero would say nothing.
  function sendClock(form, say, when) {
    const ms = when ? T.utcOf(when) : T.now();
    if (ms === null) {
      return say("When: expected UTC as HH:MM or HH:MM:SS of today, or an instant like 2031-04-12T09:10:00Z; found '" + when + "'.");
    }
    return T.ask({
      title: "Record this?", yes: "Record", then: () => record(form, say, { kind: "clock", at: new Date(ms).toISOString() }),
      words: "PET zero is set to UTC " + T.instantText(ms) + T.oddUtc(ms) + ". Every PET of the board counts from there.",
    });
  }

  // What is odd about a reading, in words; null: nothing. What is left of a suit does not rise.
  function oddReading(event) {
    const odd = offered("readings").flatMap(([key, loaded, last]) => {
      const [suit, name] = key.split(" "), found = event[name];
      if (suit !== event.suit || found === undefined) return [];
      if (found > Number(loaded)) return [name + " " + found + " is more than the " + loaded + " that was loaded"];
      return last !== "" && found > Number(last) ? [name + " " + found + " is more than the last reading, " + last] : [];
    });
    return odd.length ? "Suit " + event.suit + ": " + odd.join("; ") + ". Is this what was read?" : null;
  }

  // What is asked before it is recorded, in words; null: it may be recorded at once.
  function inWords(event, minutes) {
    const at = T.when(minutes) + " ";
    if (event.kind === "reading") return oddReading(event);
    if (event.kind === "end") return at + "the sortie is over, the airlock repressurised. Nothing is projected any more.";
    if (event.kind === "hold" && event.all) return at + "everything is put on hold: all work in every lane stops.";
    if (event.kind !== "insert") return null;
    return at + (offered("insert_words").find((one) => one[0] === event.contingency) || [])[1];
  }

  async function record(form, say, event) {
    if (await T.send(event, (words) => { say(words); T.say(words); })) form.close();
  }

  T.pressed["log-enter"] = () => open("Enter an event", false);
  T.pressed["choices-plan"] = () => open("Change the plan", true);
  T.pressed["entry-send"] = send;
  T.enters["entry-form"] = send;
  document.addEventListener("change", (event) => {
    if (event.target.id === "entry-kind") drawFields();
    else if (event.target.closest("#entry-fields")) drawDependentOn(event.target);
  });

  function drawDependentOn(field) {
    const isAsked = Array.from(byId("entry-fields").querySelectorAll("select[data-field]"))
      .some((one) => parts(one.dataset.source).on === field.dataset.field);
    if (isAsked) drawDependent();
  }
})();
