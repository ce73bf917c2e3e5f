// Decisions: one of the choices, or what is ticked in what-if, is recorded; a decision is taken back; a get-ahead is started.

import { ask } from "./ask.js";
import { say } from "./dom.js";
import { Act } from "./ids.js";
import { atText, may, minutesAgo, petNow } from "./moment.js";
import { send } from "./sending.js";
import { get } from "./server.js";

// All at one instant; each is sent on its own, and kept like any other when it is lost.
async function record(events, by) {
  const when = minutesAgo(0);
  for (const event of events) await send({ ...event, at: when, by: by }, say);
}

// `broken`: rules of the plan that the decision goes against; they are repeated, and asked about a second time.
function askToDecide(words, events, broken) {
  if (!may().decide) return say("This board may not record decisions.");
  const rulesBroken = broken.join("; ") + ".";
  const again = (by) => ask({
    title: "Record it against the plan?", words: "Not allowed by the plan: " + rulesBroken + " Recorded, it takes effect all the same.",
    yes: "Record against the plan", then: () => record(events, by),
  });
  return ask({
    title: "Record this decision?", words: atText(petNow()) + ": " + words + (broken.length ? " Against the plan: " + rulesBroken : ""),
    yes: "Record", isDecision: true, then: broken.length ? again : (by) => record(events, by),
  });
}

function decide(button) {
  return askToDecide(button.dataset.text, JSON.parse(button.dataset.events), JSON.parse(button.dataset.broken || "[]"));
}

// What takes a decision back is worked out by the server; its words are repeated, and all its events sent.
async function takeBack(button) {
  if (!may().decide) return say("Taking a decision back needs the lead key.");
  let found = null;
  try {
    const response = await get("/api/take-back?decision=" + encodeURIComponent(button.dataset.event));
    found = response.ok ? await response.json() : null;
  } catch (lost) {
    return say("Not known what would take it back: the server did not answer. Press again once it is back.");
  }
  if (found === null) return say("This decision counts no longer.");
  if (!found.events.length) return say(found.text);
  return ask({
    title: "Take this decision back?", words: found.text, yes: "Take it back", isDecision: true,
    then: (by) => record(found.events, by),
  });
}

function startGetAhead(button) {
  ask({
    title: "Start this get-ahead?", yes: "Start", words: atText(petNow()) + " " + button.dataset.text,
    then: () => send({ kind: "start", task: button.dataset.task, at: minutesAgo(0) }, say),
  });
}

export const acts = { [Act.DECIDE]: decide, [Act.TAKE_BACK_DECISION]: takeBack, [Act.GET_AHEAD]: startGetAhead };
