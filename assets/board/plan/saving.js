// Saving: shows what was changed, in words; saves on a second press; and when the file was changed meanwhile shows both differences.

import { byId } from "../dom.js";
import { Plan } from "../ids.js";
import { plain } from "../pure/draft.js";
import { post, problemIn } from "../server.js";
import * as checking from "./checking.js";
import * as editing from "./editing.js";

// `changes`: of the last check, in words; `refusing`: how many errors it found with which no server starts. `acts`: of the buttons of the dialog that is open.
const memory = { changes: [], refusing: 0, acts: {}, say: null };

export function listen(say) {
  memory.say = say;
  for (const id of [Plan.DIALOG_YES, Plan.DIALOG_OTHER, Plan.DIALOG_NO]) {
    byId(id).addEventListener("click", () => { byId(Plan.DIALOG).close(); if (memory.acts[id]) memory.acts[id](); });
  }
  byId(Plan.DIALOG).addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.preventDefault();  // else the browser may close the dialog below as well
    byId(Plan.DIALOG).close();
  });
  window.addEventListener("beforeunload", (event) => { if (editing.mayEdit() && editing.isChanged()) event.preventDefault(); });
}

export function know(answer) {
  memory.changes = answer.changes;
  memory.refusing = answer.findings.filter((one) => one.refuses).length;
}

// ---- the dialog ----

export function element(name, words, children = []) {
  const made = document.createElement(name);
  made.append(...(words ? [words] : []), ...children);
  return made;
}

const list = (lines) => element("ul", "", lines.map((line) => element("li", line)));

export const section = (title, lines) => (lines.length ? [element("h3", title), list(lines)] : []);

// `buttons`: [words, act] for yes, other and no; null leaves a button out.
export function ask(title, content, buttons) {
  byId(Plan.DIALOG_TITLE).textContent = title;
  byId(Plan.DIALOG_BODY).replaceChildren(...content);
  const ids = [Plan.DIALOG_YES, Plan.DIALOG_OTHER, Plan.DIALOG_NO];
  memory.acts = {};
  ids.forEach((id, at) => {
    const [words, act] = buttons[at] || ["", null];
    byId(id).hidden = !buttons[at];
    byId(id).textContent = words;
    memory.acts[id] = act;
  });
  if (!byId(Plan.DIALOG).open) byId(Plan.DIALOG).showModal();
  byId(buttons[0] ? ids[0] : ids[2]).focus();
}

// ---- the steps ----

export async function begin() {
  if (!editing.mayEdit()) return memory.say(editing.file().why_not);
  await checking.settled();
  if (!memory.changes.length) return memory.say("Nothing is changed, so there is nothing to save.");
  const errors = memory.refusing ? [element("p", "The check finds errors (" + memory.refusing + ") with which no server starts. The "
    + "plan can be saved as it is, unless a cell cannot be read.")] : [];
  ask("Save in " + editing.file().name + "?",
    [list(memory.changes), ...errors, element("p", editing.file().counts_from + " The comments of the file stay.")],
    [["Save", save], null, ["Go on editing", null]]);
}

async function save() {
  memory.say("saving");
  let response, answer;
  try {
    response = await post("/api/plan-file", { rows: plain(editing.rows()), base: plain(editing.base()), digest: editing.digest() });
    answer = await response.json();
  } catch (lost) {
    return memory.say("The server did not answer, so it is not known whether the plan was saved. Your changes are kept here.");
  }
  if (response.status === 409) return conflict(answer);
  if (!response.ok) return memory.say("Not saved, and nothing is lost. " + (problemIn(answer) || "The server answered " + response.status));
  editing.saved(answer.rows, answer.digest);
  memory.say(answer.said);
}

function conflict(answer) {
  memory.say("Not saved: the file was changed meanwhile. Your changes are still here.");
  ask("The file was changed meanwhile. Nothing was written, and your changes are still here.",
    [...section("In the file since you began", answer.their_changes.length ? answer.their_changes : ["Nothing but comments or other tables."]),
      ...section("Yours", answer.your_changes), ...section("Changed by both", answer.both),
      element("p", "Putting your changes on the file keeps both. You then see the result, and save it in a step of its own.")],
    [["Put my changes on the file", () => editing.startFrom(answer.theirs, answer.digest, answer.together)],
      ["Take the file as it is", () => editing.startFrom(answer.theirs, answer.digest, answer.theirs)],
      ["Go on editing", null]]);
}
