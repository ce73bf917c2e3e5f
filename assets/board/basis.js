// How a figure was computed: shown while the pointer is on the figure or it has the focus. Escape hides it.

import { byId } from "./dom.js";
import { Page } from "./ids.js";

const GAP_PX = 6;
let of = null;

function box() {
  let place = byId(Page.BASIS);
  if (!place) {
    place = document.createElement("div");
    place.id = Page.BASIS;
    place.className = "basis";
    place.setAttribute("role", "tooltip");
    place.hidden = true;
    document.body.append(place);
  }
  return place;
}

function show(figure) {
  const place = box(), at = figure.getBoundingClientRect();
  if (place.textContent !== figure.dataset.basis) place.textContent = figure.dataset.basis;
  place.hidden = false;
  of = figure.id;
  figure.setAttribute("aria-describedby", Page.BASIS);
  const left = Math.max(GAP_PX, Math.min(at.left, innerWidth - place.offsetWidth - GAP_PX));
  const isRoomBelow = at.bottom + GAP_PX + place.offsetHeight < innerHeight;
  place.style.left = left + "px";
  place.style.top = (isRoomBelow ? at.bottom + GAP_PX : Math.max(0, at.top - GAP_PX - place.offsetHeight)) + "px";
}

function hide() {
  if (of === null) return;
  box().hidden = true;
  of = null;
}

// After an update: the figure may be a new element, and its words may have changed.
export function refresh() {
  if (of === null) return;
  const figure = byId(of);
  if (figure && figure.dataset.basis) show(figure);
  else hide();
}

const figureAt = (event) => event.target.closest && event.target.closest("[data-basis]");

export function listen() {
  document.addEventListener("mouseover", (event) => {
    const figure = figureAt(event);
    if (figure) show(figure);
    else if (!document.activeElement || document.activeElement.id !== of) hide();
  });
  document.addEventListener("focusin", (event) => {
    const figure = figureAt(event);
    if (figure) show(figure);
    else hide();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") hide();
  });
}
