// The rail left of the lane sheet: the whole briefed plan at a fixed scale, drawn from boxes that the server sends.

import { byId } from "./dom.js";
import { Sheet } from "./ids.js";

const SPACE = "http://www.w3.org/2000/svg", WIDTH = 100;

function element(name, attributes) {
  const made = document.createElementNS(SPACE, name);
  Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
  return made;
}

// A click calls `show` with the time at that place.
export function draw(rail, view, show) {
  const holder = byId(Sheet.RAIL);
  if (!holder || !rail) return;
  const length = rail.bottom - rail.top, column = WIDTH / rail.columns, gap = 0.06 * column;
  const svg = element("svg", { viewBox: "0 0 " + WIDTH + " " + length, preserveAspectRatio: "none", class: "rail-svg" });
  const line = (at, look) => element("line",
    { x1: 0, x2: WIDTH, y1: at - rail.top, y2: at - rail.top, class: "rail-line rail-" + look });
  rail.boxes.forEach((box) => svg.appendChild(element("rect", {
    x: box.x * column + gap, width: box.width * column - 2 * gap, y: box.y - rail.top, height: box.height,
    class: "rail-box rail-" + box.look,
  })));
  svg.appendChild(line(rail.limit, "limit"));
  svg.appendChild(line(Math.min(Math.max(rail.now, rail.top), rail.bottom), "now"));
  const top = Math.max(view[0], rail.top) - rail.top, bottom = Math.min(view[1], rail.bottom) - rail.top;
  if (bottom > top) svg.appendChild(element("rect", { x: 0, width: WIDTH, y: top, height: bottom - top, class: "rail-view" }));
  holder.replaceChildren(svg);
  holder.onclick = (event) => {
    const box = svg.getBoundingClientRect();
    show(rail.top + (event.clientY - box.top) / box.height * length);
  };
}
