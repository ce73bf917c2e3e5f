// The live check: sends the rows as they are, one request at a time, and hands on the newest answer. What changes meanwhile is
// sent next.

import { plain } from "../pure/draft.js";
import { post, problemIn } from "../server.js";
import * as editing from "./editing.js";

const AGAIN_MS = 2000, LONGEST_MS = 600;
// `since`: when the first change came that is not drawn yet; null: there is none.
const memory = { waiting: null, isAsking: false, isStale: false, since: null, drawn: null, failed: null, idle: [] };
// The last answer, and the request that it answers: a cell is mostly left with the text that was checked while it was typed.
const last = { asked: "", answer: null };

// `drawn(answer, rows, since)` is called with each answer to what changed at `since`, `failed(words)` when there is none.
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
  const since = memory.since;
  memory.since = memory.isStale ? now : null;
  memory.drawn(answer, rows, since);
}

// The server's answer, which is kept; null: it gave none, and its reason is shown.
async function answerTo(asked) {
  const response = await post("/api/plan-file/check", asked), answer = await response.json();
  if (!response.ok) {
    memory.failed(problemIn(answer) || "the server answered " + response.status);
    return null;
  }
  last.asked = JSON.stringify(asked);
  last.answer = answer;
  return answer;
}

async function ask() {
  if (memory.isAsking) return;
  memory.isAsking = true;
  memory.isStale = false;
  const rows = editing.rowsToCheck();
  const asked = { rows: plain(rows), base: plain(editing.base()) };
  let pause = 0;
  try {
    const answer = JSON.stringify(asked) === last.asked ? last.answer : await answerTo(asked);
    if (answer) draw(answer, rows);
  } catch (lost) {
    memory.failed("No contact with the server: the plan is not checked. Your changes are kept in this browser.");
    memory.isStale = true;
    pause = AGAIN_MS;
  }
  memory.isAsking = false;
  if (memory.isStale) later(pause);
  else for (const go of memory.idle.splice(0)) go();
}
