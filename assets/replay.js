// The controls of a replay. The server's clock is the only clock; the browser asks and shows.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = T.byId;
  const COUNTS = { received: "as the room knew it", at: "as it really was" };
  const COUNTS_WHY = {
    received: "Each event counts from when the room received it. Start the replay with --as-it-was for what really happened when.",
    at: "Each event counts from when it really happened, corrections applied from the beginning. Start the replay without --as-it-was for what the room knew.",
  };
  const WATCHING = "Moving the clock of this replay needs the log key.";
  const ARROWS = { ArrowLeft: -1, ArrowRight: 1, PageDown: -10, PageUp: 10 };
  // `wanted`: where the one who drags is, not yet asked for; `asking`: a seek is on its way.
  const seen = { strip: "", decisions: null, worst: null, isDragging: false, wanted: null, asking: false };

  // ---- asking the server ----

  // What was wrong, in words; null: done.
  async function ask(body) {
    try {
      const response = await fetch("/api/replay", {
        method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
      });
      const wrong = ((await response.json()).problems || [])[0];
      return wrong ? wrong.subject + ": expected " + wrong.expected + "; found " + wrong.found + ". " + wrong.cure : null;
    } catch (lost) {
      return "No answer from the server.";
    }
  }

  // What cannot be done is said where the board says what came of an act.
  const tell = (body) => ask(body).then((trouble) => { if (trouble) T.say(trouble); });

  // While someone drags, one request is on its way at a time, and the newest place wins.
  async function scrub(pet) {
    seen.wanted = pet;
    if (seen.asking) return;
    seen.asking = true;
    while (seen.wanted !== null) {
      const next = seen.wanted;
      seen.wanted = null;
      await ask({ action: "seek", at_pet_min: next });
    }
    seen.asking = false;
  }

  // ---- PET of the run; the board's own PET may count from a zero that was corrected later ----

  const petOfRun = (ms, r) => r.from_pet_min + (ms - Date.parse(r.from)) / 60000;
  const within = (pet, r) => Math.min(r.to_pet_min, Math.max(r.from_pet_min, pet));
  const here = () => within(petOfRun(T.now(), T.message().replay), T.message().replay);

  // ---- the strip: it comes after the board, and anew once something was entered ----

  T.drawReplay = function (message) {
    const r = message.replay, key = r && message.boot + r.entries;
    if (!r || !byId("replay-marks") || seen.strip === key) return;
    seen.strip = key;
    setTimeout(() => fillStrip(key), 0);
  };

  async function fillStrip(key) {
    try {
      const strip = await (await fetch("/api/replay/strip")).json();
      if (seen.strip !== key || !strip.html) return;
      seen.decisions = strip.decisions;
      seen.worst = strip.worst;
      byId("replay-marks").innerHTML = strip.html;
      byId("replay-worst").title = byId("replay-marks").querySelector("svg").getAttribute("aria-label") + " (m)";
      byId("replay-place").title = byId("replay-marks").querySelector("svg").getAttribute("aria-label")
        + " Depth below the dashed line is behind the brief; flags are decisions, ticks are events.";
    } catch (lost) {
      seen.strip = "";
    }
  }

  // ---- what the bar shows ----

  T.tickReplay = function (message, now) {
    const r = message.replay;
    if (!r) return;
    write("replay-play", message.mode === "paused" ? "Play" : "Pause");
    drawCounts(r);
    const isFree = T.may().log;
    for (const name of ["play", "previous", "next", "speed"]) byId("replay-" + name).disabled = !isFree;
    byId("replay-place").setAttribute("aria-disabled", String(!isFree));
    drawSpeed(message.speed);
    const pet = within(petOfRun(now, r), r);
    byId("replay-worst").disabled = !isFree || !seen.worst;
    if (seen.decisions) {
      byId("replay-decision-previous").disabled = !isFree || !seen.decisions.some((one) => one < pet - 1e-4);
      byId("replay-decision-next").disabled = !isFree || !seen.decisions.some((one) => one > pet + 1e-4);
    }
    if (!seen.isDragging && !seen.asking) place(pet, r);
  };

  function drawCounts(r) {
    const from = r.rehearsed_from_pet_min, why = COUNTS_WHY[r.counts_from];
    write("replay-counts", from === null ? COUNTS[r.counts_from] : "yours from PET " + T.petText(from));
    byId("replay-counts").title = from === null ? why : "A rehearsal: from PET " + T.petText(from)
      + " on recorded decisions are left out, and what is decided on this board stands in their place. " + why;
  }

  function write(id, text) {
    if (byId(id).textContent !== text) byId(id).textContent = text;
  }

  function drawSpeed(speed) {
    const field = byId("replay-speed"), value = String(speed);
    if (document.activeElement === field || field.value === value) return;
    if (!Array.from(field.options).some((option) => option.value === value)) {
      const after = Array.from(field.options).find((option) => Number(option.value) > speed) || null;
      field.insertBefore(new Option("x" + value, value), after);
    }
    field.value = value;
  }

  function place(pet, r) {
    const slider = byId("replay-place"), share = (pet - r.from_pet_min) / (r.to_pet_min - r.from_pet_min || 1);
    slider.firstElementChild.style.left = (100 * share).toFixed(2) + "%";
    slider.setAttribute("aria-valuemin", r.from_pet_min.toFixed(0));
    slider.setAttribute("aria-valuemax", r.to_pet_min.toFixed(0));
    slider.setAttribute("aria-valuenow", pet.toFixed(0));
    const said = "PET " + T.petText(pet) + " of " + T.petText(r.to_pet_min);
    write("replay-at", said);
    slider.setAttribute("aria-valuetext", said);
  }

  // ---- the address of a moment ----

  // PET to the second, rounded down: the moment itself, or up to a second before it.
  function petToTheSecond(pet) {
    const seconds = Math.floor(Math.abs(pet) * 60 + 1e-3), rest = seconds % 60;
    const text = Math.floor(seconds / 3600) + ":" + String(Math.floor(seconds / 60) % 60).padStart(2, "0");
    return (pet < 0 ? "-" : "") + text + (rest ? ":" + String(rest).padStart(2, "0") : "");
  }

  function show(title, words, address) {
    byId("replay-address-title").textContent = title;
    byId("replay-address-words").textContent = words;
    byId("replay-address-place").hidden = !address;
    byId("replay-address").querySelector(".form-hint").hidden = !address;
    const field = byId("replay-address-field");
    field.readOnly = true;
    field.value = address || "";
    T.openDialog("replay-address", address ? "replay-address-field" : "replay-address-cancel");
    field.select();
  }

  async function copy() {
    const m = T.message();
    if (!m || !m.replay) return;
    const moment = petToTheSecond(here()), address = location.origin + "/?at=" + moment;
    show("Address of this moment", "PET " + moment + " of the run of " + m.run.date + ".", address);
    const say = T.formSay(byId("replay-address"));
    try {
      await navigator.clipboard.writeText(address);
      say("Copied.");
    } catch (forbidden) {
      say("Selected: copy it with Ctrl+C.");
    }
  }

  // Opened at such an address: go there once, then leave the address plain, so that loading again takes nobody back.
  async function openAt() {
    const query = new URLSearchParams(location.search), at = query.get("at");
    if (at === null) return;
    const pet = T.petOf(at), isInstant = /^\s*\d{4}-/.test(at), isTime = pet !== null || isInstant;
    const trouble = !isTime || await ask({ action: "seek", pause: true, ...(isInstant ? { at: at.trim() } : { at_pet_min: pet }) });
    query.delete("at");
    history.replaceState(null, "", location.pathname + (query.size ? "?" + query : ""));
    if (trouble) whenDrawn(() => show("This moment cannot be shown", whyNot(at, pet, isTime, trouble), null));
  }

  // In the words of the sortie: what a PET looks like, and from when to when the run goes.
  function whyNot(at, pet, isTime, trouble) {
    const r = T.message().replay;
    const run = r ? " This run goes from PET " + T.petText(r.from_pet_min) + " to PET " + T.petText(r.to_pet_min) + "." : "";
    if (!isTime) {
      return (at.trim() ? "The address asks for '" + at.trim() + "', which is no PET." : "The address asks for no PET.")
        + " A PET is hours and minutes, such as 2:05, with minutes up to 59." + run;
    }
    const asked = "The address asks for " + (pet === null ? at.trim() : "PET " + at.trim());
    const there = r && (pet === null ? petOfRun(Date.parse(at), r) : pet);
    const isOutside = r && (there < r.from_pet_min || there > r.to_pet_min);
    return isOutside ? asked + "." + run : asked + ". " + trouble + run;
  }

  function whenDrawn(then) {
    if (document.body.dataset.drawn && byId("replay-address-field")) then();
    else setTimeout(() => whenDrawn(then), 100);
  }

  // ---- who is pressed ----

  const toggle = () => tell({ action: T.message().mode === "paused" ? "play" : "pause" });
  const step = (to, direction) => tell({ action: "step", to: to, direction: direction });

  function worst() {
    if (seen.worst) tell({ action: "seek", at_pet_min: seen.worst.pet_min, pause: true });
  }

  Object.assign(T.pressed, {
    "replay-play": toggle,
    "replay-previous": () => step("event", "previous"),
    "replay-next": () => step("event", "next"),
    "replay-decision-previous": () => step("decision", "previous"),
    "replay-decision-next": () => step("decision", "next"),
    "replay-worst": worst,
    "replay-copy": copy,
  });
  const KEYS = {
    " ": toggle,
    e: () => step("event", "next"), E: () => step("event", "previous"),
    d: () => step("decision", "next"), D: () => step("decision", "previous"),
    m: worst, a: copy,
  };

  document.addEventListener("change", (event) => {
    if (event.target.id === "replay-speed") tell({ action: "speed", speed: Number(event.target.value) });
  });

  function petAt(event) {
    const r = T.message().replay, box = byId("replay-place").getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (event.clientX - box.left) / box.width));
    return r.from_pet_min + share * (r.to_pet_min - r.from_pet_min);
  }

  function drag(event) {
    const pet = petAt(event);
    place(pet, T.message().replay);
    scrub(pet);
  }

  document.addEventListener("pointerdown", (event) => {
    if (!event.target.closest("#replay-place") || !T.message()) return;
    if (!T.may().log) {
      T.say(WATCHING);
      return;
    }
    seen.isDragging = true;
    drag(event);
  });
  document.addEventListener("pointermove", (event) => {
    if (seen.isDragging) drag(event);
  });
  for (const over of ["pointerup", "pointercancel"]) {
    document.addEventListener(over, () => { seen.isDragging = false; });
  }
  document.addEventListener("keydown", (event) => {
    const m = T.message();
    if (!m || !m.replay || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.id === "replay-place" && T.may().log && slide(event, m.replay)) return event.preventDefault();
    const takesKeys = event.key === " " ? "input, select, textarea, button, dialog, summary, a" : "input, select, textarea, dialog";
    if (!KEYS[event.key] || event.target.closest(takesKeys) || document.querySelector("dialog[open]")) return;
    event.preventDefault();
    KEYS[event.key]();
  });

  // The keys of a slider: a minute, with shift or by page ten, and the ends.
  function slide(event, r) {
    if (event.key === "Home" || event.key === "End") {
      scrub(event.key === "Home" ? r.from_pet_min : r.to_pet_min);
      return true;
    }
    const by = ARROWS[event.key];
    if (by) scrub(within((seen.wanted === null ? here() : seen.wanted) + (event.shiftKey ? 10 * by : by), r));
    return Boolean(by);
  }

  openAt();
})();
