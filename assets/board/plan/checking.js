// The live check: sends the rows as they are, one request at a time, and hands on the newest answer. What changes meanwhile is
// sent next.

import { plain } from "../pure/draft.js";
import { post, problemIn } from "../server.js";
import * as editing from "./editing.js";

const SETTLED_MS = 0, AGAIN_MS = 2000;
const memory = { waiting: null, isAsking: false, isStale: false, drawn: null, failed: null, idle: [] };

// `drawn(answer, rows)` is called with each answer, `failed(words)` when there is none.
export function listen(drawn, failed) {
  memory.drawn = drawn;
  memory.failed = failed;
}

export function soon(ms = SETTLED_MS) {
  memory.isStale = true;
  window.clearTimeout(memory.waiting);
  memory.waiting = window.setTimeout(ask, ms);
}

// Resolves once the newest rows are checked, or cannot be.
export const settled = () => new Promise((go) => {
  if (memory.isStale || memory.isAsking) memory.idle.push(go); else go();
});

async function ask() {
  if (memory.isAsking) return;
  memory.isAsking = true;
  memory.isStale = false;
  const rows = editing.rowsToCheck();
  try {
    const response = await post("/api/plan-file/check", { rows: plain(rows), base: plain(editing.base()) });
    const answer = await response.json();
    if (response.ok) memory.drawn(answer, rows);
    else memory.failed(problemIn(answer) || "the server answered " + response.status);
  } catch (lost) {
    memory.failed("No contact with the server: the plan is not checked. Your changes are kept in this browser.");
    soon(AGAIN_MS);
  }
  memory.isAsking = false;
  if (memory.isStale) window.setTimeout(ask, 0);
  else for (const go of memory.idle.splice(0)) go();
}
