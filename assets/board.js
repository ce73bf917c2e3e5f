// Puts the pieces that the server made into their places. An element is touched only when its content changed.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const shown = {};

  // Input fields are made here, once: the page holds a slot for each.
  function fillSlots() {
    for (const slot of document.querySelectorAll(".slot:empty")) {
      const field = document.createElement("input");
      field.id = slot.dataset.input;
      field.className = slot.dataset.class;
      field.placeholder = slot.dataset.hint;
      field.maxLength = 500;
      field.autocomplete = "off";
      if (slot.dataset.label) field.setAttribute("aria-label", slot.dataset.label);
      slot.append(field);
    }
  }

  T.drawBoard = function (message) {
    fillSlots();
    const board = message.board;
    putAll(board.html);
    for (const [lane, acts] of Object.entries(board.actions)) T.drawActions(lane, acts);
    T.isDrawn = true;
    T.drawTimes();
    T.filterLog();
    T.drawWhatIf();
    T.refreshBasis();
  };

  // Each badge with what it is of: what was there before does not move again.
  function badgesIn(place) {
    return Array.from(place.querySelectorAll(".badge"), (badge) => {
      const item = badge.closest("[data-item], [id]");
      return [badge, (item.dataset.item || item.id) + " " + (badge.textContent.replace(/\d+/g, "") || badge.title)];
    });
  }

  // Where things are scrolled to is read before anything is written: each reading after a writing lays the page out once more.
  function putAll(pieces) {
    const changed = [];
    for (const [id, content] of Object.entries(pieces)) {
      const place = shown[id] === content ? null : document.getElementById(id);
      if (place) changed.push({ id: id, content: content, place: place, top: place.scrollTop });
    }
    const on = document.activeElement;
    for (const one of changed) {
      shown[one.id] = one.content;
      one.focused = on && one.place.contains(on) ? on.id : null;
      const before = one.place.firstChild && T.isDrawn ? new Set(badgesIn(one.place).map((found) => found[1])) : null;
      one.place.innerHTML = one.content;
      if (before) for (const [badge, key] of badgesIn(one.place)) badge.classList.toggle("arrives", !before.has(key));
    }
    for (const one of changed) {
      if (one.top) one.place.scrollTop = one.top;
      const again = one.focused && document.getElementById(one.focused);
      if (again) again.focus({ preventScroll: true });
    }
  }

  T.filterLog = function () {
    const field = document.getElementById("log-filter");
    if (!field) return;
    const wanted = field.value.trim().toLowerCase();
    for (const row of document.querySelectorAll("#log-rows tbody tr")) {
      row.hidden = wanted !== "" && !row.textContent.toLowerCase().includes(wanted);
    }
  };

  document.addEventListener("input", (event) => {
    if (event.target.id === "log-filter") T.filterLog();
  });

  // On a small screen log, choices and problems share one place.
  function showTab(wanted) {
    document.body.dataset.tab = wanted;
    for (const tab of document.querySelectorAll("[data-tab][role=tab]")) {
      tab.setAttribute("aria-selected", tab.dataset.tab === wanted ? "true" : "false");
    }
  }

  document.body.dataset.tab = "log";
  document.addEventListener("click", (event) => {
    const tab = event.target.closest("[role=tab]");
    if (tab) showTab(tab.dataset.tab);
  });

  const wanted = new URLSearchParams(location.search).get("theme") || remembered();
  if (wanted === "light" || wanted === "dark") {
    document.documentElement.dataset.theme = wanted;
    remember(wanted);
  }

  function remembered() {
    try { return localStorage.getItem("tetherline theme"); } catch (forbidden) { return null; }
  }

  function remember(theme) {
    try { localStorage.setItem("tetherline theme", theme); } catch (forbidden) { /* it holds for this page only */ }
  }
})();
