// Puts pieces of HTML from the server into their elements. An element is touched only when its content changed.

import { byId } from "./dom.js";
import { fillSlots } from "./forms.js";

const shown = {};
let isDrawn = false;

// `pieces`: id of an element -> its content.
export function draw(pieces) {
  fillSlots();
  putAll(pieces);
  isDrawn = true;
}

// Each badge with a key for its item and words. A badge whose key was there before does not move.
function badgesIn(place) {
  return Array.from(place.querySelectorAll(".badge"), (badge) => {
    const item = badge.closest("[data-item], [id]");
    return [badge, (item.dataset.item || item.id) + " " + (badge.textContent.replace(/\d+/g, "") || badge.title)];
  });
}

// All scroll positions are read before anything is written, since a reading after a writing makes the browser lay out the page.
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
