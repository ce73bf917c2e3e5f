// The live check: sends the rows as they are, one request at a time, and hands on the newest answer. What changes meanwhile is
// sent next.

import { plain } from "../pure/draft.js";
import { post, problemIn } from "../server.js";
import * as editing from "./editing.js";

const AGAIN_MS = 2000, LONGEST_MS = 600;
// `since`: when the first change came that is not drawn yet; null: there is none.
const memory = { waiting: null, isAsking: false, isStale: false, since: null, drawn: null, failed: null, idle: [] };

// `drawn(answer, rows)` is called with each answer, `failed(words)` when there is none.
export function listen(drawn, failed) {
  memory.drawn = drawn;
  memory.failed = failed;
}

export function soon() {
  memory.isStale = true;
  if (memory.since === null) memory.since = performance.now();
  later(0);
}

function later(ms) {
  window.clearTimeout(memory.waiting);
  memory.waiting = window.setTimeout(ask, ms);
}

// Resolves once the newest rows are checked.
export const settled = () => new Promise((go) => {
  if (memory.isStale || memory.isAsking) memory.idle.push(go); else go();
});

// An answer that is out of date is drawn only when something waits for `LONGEST_MS`: drawing would hold up the newest one.
function draw(answer, rows) {
  const now = performance.now();
  if (memory.isStale && now - memory.since < LONGEST_MS) return;
  memory.since = memory.isStale ? now : null;
  memory.drawn(answer, rows);
}

async function ask() {
  if (memory.isAsking) return;
  memory.isAsking = true;
  memory.isStale = false;
  const rows = editing.rowsToCheck();
  let pause = 0;
  try {
    const response = await post("/api/plan-file/check", { rows: plain(rows), base: plain(editing.base()) });
    const answer = await response.json();
    if (response.ok) draw(answer, rows);
    else memory.failed(problemIn(answer) || "the server answered " + response.status);
  } catch (lost) {
    memory.failed("No contact with the server: the plan is not checked. Your changes are kept in this browser.");
    memory.isStale = true;
    pause = AGAIN_MS;
  }
  memory.isAsking = false;
  if (memory.isStale) later(pause);
  else for (const go of memory.idle.splice(0)) go();
}
