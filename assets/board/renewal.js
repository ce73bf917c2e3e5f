// A page that outlives its server: once the server has other modules than this page, the page is loaded anew, as soon as
// nobody is filling in anything.

import { byId } from "./dom.js";
import { Log } from "./ids.js";

const seen = { boot: null, isOutdated: false };

// A server that was started anew is asked whether it still has this module.
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
