// The wall view: the page at /wall is the same board, to be read from 3 m and driven by nothing (assets/wall.css).

import { scaleOf } from "./pure/geometry.js";

export const isWall = () => location.pathname.replace(/\/+$/, "") === "/wall";

// The lane sheet is drawn at its own size and enlarged, so that its least text can be read from 3 m.
function enlarge() {
  document.documentElement.style.setProperty("--wall-scale", scaleOf(innerHeight));
}

export function listen() {
  if (!isWall()) return;
  document.documentElement.dataset.view = "wall";
  enlarge();
  addEventListener("resize", enlarge);
}
