// Puts the pieces that the server made into their places. An element is touched only when its content changed.

import { byId } from "./dom.js";
import { fillSlots } from "./forms.js";

const THEME = "tetherline theme";
const shown = {};
let isDrawn = false;

// `pieces`: the content of each element, by its id.
export function draw(pieces) {
  fillSlots();
  putAll(pieces);
  isDrawn = true;
}

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
    const place = shown[id] === content ? null : byId(id);
    if (place) changed.push({ id: id, content: content, place: place, top: place.scrollTop });
  }
  const on = document.activeElement;
  for (const one of changed) {
    shown[one.id] = one.content;
    one.focused = on && one.place.contains(on) ? on.id : null;
    const before = one.place.firstChild && isDrawn ? new Set(badgesIn(one.place).map((found) => found[1])) : null;
    one.place.innerHTML = one.content;
    if (before) for (const [badge, key] of badgesIn(one.place)) badge.classList.toggle("arrives", !before.has(key));
  }
  for (const one of changed) {
    if (one.top) one.place.scrollTop = one.top;
    const again = one.focused && byId(one.focused);
    if (again) again.focus({ preventScroll: true });
  }
}

// The theme of the address, or the one that was chosen by an address before.
export function listen() {
  const wanted = new URLSearchParams(location.search).get("theme") || remembered();
  if (wanted !== "light" && wanted !== "dark") return;
  document.documentElement.dataset.theme = wanted;
  remember(wanted);
}

function remembered() {
  try { return localStorage.getItem(THEME); } catch (forbidden) { return null; }
}

function remember(theme) {
  try { localStorage.setItem(THEME, theme); } catch (forbidden) { /* it holds for this page only */ }
}
