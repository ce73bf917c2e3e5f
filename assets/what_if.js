// What-if: ticks are kept here, the figures come from the server. One request at a time; the newest ticks win.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const AGAIN_MS = 60;
  const ticked = new Map();
  const feed = { isAsking: false, again: false, since: null, of: null };

  const isOpen = () => !T.byId("what-if").hidden;

  function toggle(button) {
    const opens = !isOpen();
    T.byId("what-if").hidden = !opens;
    T.byId("choices-body").hidden = opens;
    button.textContent = opens ? "Back to choices" : "What if";
    button.setAttribute("aria-expanded", String(opens));
    if (opens) ask();
  }

  function change() {
    const asked = { defer: [], trim: {}, break_off: [], move: {}, choose: {} };
    for (const one of ticked.values()) {
      if (one.whatIf === "trim") asked.trim[one.task] = Number(one.minutes);
      else if (one.whatIf === "move") asked.move[one.task] = one.lane;
      else if (one.whatIf === "choose") asked.choose[one.alternative] = one.option;
      else asked[one.whatIf].push(one.task);
    }
    return asked;
  }

  // A task is given up whole, or trimmed and handed over to one lane; of an alternative one option is taken.
  const isWhole = (one) => one.whatIf === "defer" || one.whatIf === "break_off";
  const excludes = (one, other) => one.task === other.task && one.alternative === other.alternative
    && (one.whatIf === other.whatIf || isWhole(one) || isWhole(other));

  function tick(box) {
    const ticks = Object.assign({}, box.dataset);
    ticked.delete(box.id);
    for (const [id, one] of box.checked ? ticked : []) {
      if (!excludes(ticks, one)) continue;
      ticked.delete(id);
      if (T.byId(id)) T.byId(id).checked = false;
    }
    if (box.checked) ticked.set(box.id, ticks);
    if (feed.since === null) feed.since = performance.now();
    ask();
  }

  function clear() {
    for (const id of ticked.keys()) {
      const box = T.byId(id);
      if (box) box.checked = false;
    }
    ticked.clear();
    ask();
  }

  async function ask() {
    if (feed.isAsking) {
      feed.again = true;
      return;
    }
    feed.isAsking = true;
    feed.again = false;
    const said = await answered();
    feed.isAsking = false;
    if (feed.again || said === null) setTimeout(ask, said === null ? AGAIN_MS : 0);
    else show(said);
  }

  // The piece to show; null: a newer request, of another window, was answered in its place.
  async function answered() {
    const asked = JSON.stringify(change());
    try {
      const response = await fetch("/api/what-if", {
        method: "POST", headers: { "Content-Type": "application/json" }, body: asked, signal: AbortSignal.timeout(8000),
      });
      if (response.status === 409) return null;
      const body = await response.json();
      if (response.ok) return { html: body.html };
      const first = (body.problems || [{}])[0];
      return { words: "No figures: " + (first.subject || "server") + ": expected " + first.expected + "; found " + first.found + "." };
    } catch (lost) {
      return { words: "No figures: the server did not answer. Tick again once it is back." };
    }
  }

  function show(said) {
    const place = T.byId("what-if-figures"), focused = place.contains(document.activeElement) ? document.activeElement.id : null;
    if (said.words) place.textContent = said.words;
    else if (feed.of !== said.html) place.innerHTML = said.html;
    feed.of = said.html || null;
    if (focused && T.byId(focused)) T.byId(focused).focus({ preventScroll: true });
    if (feed.since === null) return;
    const since = feed.since;
    feed.since = null;
    // From the tick to the frame that shows it.
    requestAnimationFrame(() => setTimeout(() => performance.measure("what-if", { start: since, end: performance.now() })));
  }

  // After an update: ticks stand again, those whose task no longer offers them go, and the figures are those of now.
  T.drawWhatIf = function () {
    for (const id of Array.from(ticked.keys())) {
      const box = T.byId(id);
      if (box) box.checked = true;
      else ticked.delete(id);
    }
    if (isOpen()) ask();
  };

  T.pressed["choices-what-if"] = toggle;
  T.pressed["what-if-clear"] = clear;
  document.addEventListener("change", (event) => {
    if (event.target.dataset && event.target.dataset.whatIf) tick(event.target);
  });
})();
