// The controls of a replay. The server's clock is the only clock; the browser asks and shows.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const byId = (id) => document.getElementById(id);
  const seen = { marks: "", dragging: false };

  function ask(body) {
    return fetch("/api/replay", {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    }).catch(() => null);
  }

  T.drawReplay = function (message) {
    const r = message.replay;
    if (!r || !byId("replay-marks")) return;
    const key = r.from + r.to + r.marks.length;
    if (seen.marks === key) return;
    seen.marks = key;
    const span = r.to_pet_min - r.from_pet_min || 1;
    byId("replay-marks").innerHTML = r.marks.map((mark) =>
      '<i class="mark-' + mark.kind + '" style="left:' + (100 * (mark.pet_min - r.from_pet_min) / span).toFixed(2) + '%"></i>'
    ).join("");
  };

  T.tickReplay = function (message, now) {
    const r = message.replay;
    if (!r) return;
    const play = byId("replay-play"), said = message.mode === "paused" ? "Play" : "Pause";
    if (play.textContent !== said) play.textContent = said;
    const speed = byId("replay-speed");
    if (document.activeElement !== speed && Number(speed.value) !== message.speed) speed.value = String(message.speed);
    const pet = Math.min(T.petMin(now), r.to_pet_min);
    if (!seen.dragging) place(pet, r);
  };

  function place(pet, r) {
    const slider = byId("replay-place"), share = (pet - r.from_pet_min) / (r.to_pet_min - r.from_pet_min || 1);
    slider.firstElementChild.style.left = (100 * Math.min(1, Math.max(0, share))).toFixed(2) + "%";
    slider.setAttribute("aria-valuemin", r.from_pet_min.toFixed(0));
    slider.setAttribute("aria-valuemax", r.to_pet_min.toFixed(0));
    slider.setAttribute("aria-valuenow", pet.toFixed(0));
    const said = "PET " + T.petText(pet) + " of " + T.petText(r.to_pet_min);
    if (byId("replay-at").textContent !== said) byId("replay-at").textContent = said;
    slider.setAttribute("aria-valuetext", said);
  }

  function petAt(event) {
    const r = T.message().replay, box = byId("replay-place").getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (event.clientX - box.left) / box.width));
    return r.from_pet_min + share * (r.to_pet_min - r.from_pet_min);
  }

  function toggle() {
    const m = T.message();
    if (m && m.replay) ask({ action: m.mode === "paused" ? "play" : "pause" });
  }

  document.addEventListener("click", (event) => {
    const id = event.target.id;
    if (id === "replay-play") toggle();
    if (id === "replay-previous") ask({ action: "step", direction: "previous" });
    if (id === "replay-next") ask({ action: "step", direction: "next" });
  });
  document.addEventListener("change", (event) => {
    if (event.target.id === "replay-speed") ask({ action: "speed", speed: Number(event.target.value) });
  });
  document.addEventListener("pointerdown", (event) => {
    if (!event.target.closest("#replay-place") || !T.message()) return;
    seen.dragging = true;
    place(petAt(event), T.message().replay);
  });
  document.addEventListener("pointermove", (event) => {
    if (seen.dragging) place(petAt(event), T.message().replay);
  });
  document.addEventListener("pointerup", (event) => {
    if (!seen.dragging) return;
    ask({ action: "seek", at_pet_min: petAt(event) }).then(() => { seen.dragging = false; });
  });
  document.addEventListener("pointercancel", () => { seen.dragging = false; });
  document.addEventListener("keydown", (event) => {
    const m = T.message();
    if (!m || !m.replay) return;
    const inField = event.target.closest("input, select, textarea, button, dialog, summary");
    if (event.key === " " && !inField) {
      event.preventDefault();
      toggle();
    }
    if (event.target.id === "replay-place" && (event.key === "ArrowLeft" || event.key === "ArrowRight")) {
      event.preventDefault();
      const step = event.shiftKey ? 10 : 1, pet = T.petMin(T.now()) + (event.key === "ArrowLeft" ? -step : step);
      ask({ action: "seek", at_pet_min: Math.min(m.replay.to_pet_min, Math.max(m.replay.from_pet_min, pet)) });
    }
  });
})();
