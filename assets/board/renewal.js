// A page that is open longer than its server runs. If the new server has other modules than this page, the page loads itself
// again as soon as nobody is filling in a form.

import { byId } from "./dom.js";
import { Log } from "./ids.js";

const seen = { boot: null, isOutdated: false };

// After a restart of the server, asks it whether it still has this module.
export async function draw(m) {
  if (m.boot === seen.boot) return;
  const isFirst = seen.boot === null;
  seen.boot = m.boot;
  if (isFirst) return;
  try {
    seen.isOutdated = (await fetch(import.meta.url, { cache: "no-store" })).status === 404;
  } catch (lost) {
    seen.boot = "";  // asked again with the next version
  }
}

export function tick() {
  const isFilling = document.querySelector("dialog[open]") || byId(Log.NOTE)?.value;
  if (seen.isOutdated && !isFilling) location.reload();
}
