// Decisions: records one of the choices or the ticks of what-if, takes a decision back, and starts a get-ahead.

import { ask } from "./ask.js";
import { say } from "./dom.js";
import { Act } from "./ids.js";
import { atText, may, minutesAgo, petNow } from "./moment.js";
import { send } from "./sending.js";
import { get } from "./server.js";

// All events get one time. Each is sent on its own, and kept like any other event when the server does not take it.
async function record(events, by) {
  const when = minutesAgo(0);
  for (const event of events) await send({ ...event, at: when, by: by }, say);
}

// `broken`: rules of the plan that the decision breaks. The questions name them, and a second question is asked.
function askToDecide(words, events, broken) {
  if (!may().decide) return say("This board may not record decisions.");
  const rulesBroken = broken.join("; ") + ".";
  const again = (by) => ask({
    title: "Record it against the plan?", words: "The plan does not allow this: " + rulesBroken + " If recorded, it still takes effect.",
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

// The server computes the events that take a decision back. The question shows its words, then all events are sent.
async function takeBack(button) {
  if (!may().decide) return say("Taking a decision back needs the lead key.");
  let found = null;
  try {
    const response = await get("/api/take-back?decision=" + encodeURIComponent(button.dataset.event));
    found = response.ok ? await response.json() : null;
  } catch (lost) {
    return say("The server did not answer, so it is not known how to take this back. Press again once the server is back.");
  }
  if (found === null) return say("This decision no longer counts.");
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
