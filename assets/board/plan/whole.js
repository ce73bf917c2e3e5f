// The text of the whole plan file: lanes, suits, worksites, contingencies and all else that the sheet of tasks does not show. Checked
// as it is typed; what was typed stays when the dialog is closed.

import { byId, write } from "../dom.js";
import { Plan } from "../ids.js";
import { get, post, problemIn } from "../server.js";
import * as editing from "./editing.js";
import { counted, itemOf } from "./findings.js";
import { ask, element, section } from "./saving.js";

const PAUSE_MS = 150;
// `digest`: of the file that the text started from; `text`: of that file.
const memory = { digest: "", text: "", waiting: null, serial: 0 };
const field = () => byId(Plan.WHOLE_TEXT);
const isChanged = () => Boolean(memory.digest) && field().value !== memory.text;

export function listen() {
  field().addEventListener("input", () => { window.clearTimeout(memory.waiting); memory.waiting = window.setTimeout(check, PAUSE_MS); });
  byId(Plan.WHOLE_SAVE).addEventListener("click", begin);
  byId(Plan.WHOLE_DIALOG).addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") {
      event.preventDefault();
      begin();
    }
  });
  window.addEventListener("beforeunload", (event) => { if (isChanged()) event.preventDefault(); });
}

// Opens the text; with the words `say` where the sheet has changes, since the file would be changed below them.
export async function open(say) {
  const mayEdit = editing.mayEdit();
  if (mayEdit && editing.isChanged()) return say("Save the changes of the tasks first, or undo them: the text is that of the file.");
  if (!isChanged()) {
    const response = await get("/api/plan-file"), file = await response.json();
    if (!response.ok) return say(problemIn(file));
    memory.digest = file.digest;
    field().value = file.text;
    memory.text = field().value;  // the field makes every line end a plain one
  }
  field().readOnly = !mayEdit;
  byId(Plan.WHOLE_SAVE).disabled = !mayEdit;
  byId(Plan.WHOLE_DIALOG).showModal();
  field().focus();
  field().setSelectionRange(0, 0);
  field().scrollTop = 0;
  return check();
}

// Checks the text, and writes what is found; the answer of the server, or null where there is none.
async function check() {
  const serial = memory.serial += 1;
  try {
    const response = await post("/api/plan-file/text/check", { text: field().value, base: memory.text });
    const answer = await response.json();
    if (!response.ok) {
      write(Plan.WHOLE_SAID, problemIn(answer));
      return null;
    }
    if (serial !== memory.serial) return answer;  // a later check is under way, which writes what it finds
    write(Plan.WHOLE_SAID, [counted(answer.findings), answer.summary].filter(Boolean).join(". "));
    byId(Plan.WHOLE_FINDINGS).replaceChildren(...answer.findings.map((one) => itemOf(one, null)));
    return answer;
  } catch (lost) {
    write(Plan.WHOLE_SAID, "No contact with the server: the text is not checked.");
    return null;
  }
}

// Shows what was changed against the file; saves on a second press.
async function begin() {
  if (byId(Plan.WHOLE_SAVE).disabled) return;
  if (!isChanged()) return write(Plan.WHOLE_SAID, "Nothing is changed, so there is nothing to save.");
  const checked = await check();
  if (!checked) return;  // the check says why
  ask("Save in " + editing.file().name + "?", [...section("Changed in the file", checked.changes), element("p", editing.file().counts_from)],
    [["Save", save], null, ["Go on editing", null]]);
}

async function save() {
  let response, answer;
  try {
    response = await post("/api/plan-file/text", { text: field().value, base: memory.text, digest: memory.digest });
    answer = await response.json();
  } catch (lost) {
    return write(Plan.WHOLE_SAID, "The server did not answer, so it is not known whether the plan was saved. Your text is kept here.");
  }
  if (response.status === 409) return conflict(answer);
  if (!response.ok) return write(Plan.WHOLE_SAID, "Not saved, and nothing is lost. " + (problemIn(answer) || "The server answered " + response.status));
  memory.text = field().value;
  location.reload();  // lists of names and columns come from the file
}

// The file was changed meanwhile: both differences, and how to go on. Every way leaves the next save to a step of its own.
function conflict(answer) {
  write(Plan.WHOLE_SAID, "Not saved: the file was changed meanwhile. Your text is still here.");
  const together = answer.together !== null;
  ask("The file was changed meanwhile. Nothing was written, and your text is still here.",
    [...section("In the file since you began", answer.their_changes.length ? answer.their_changes : ["Nothing but the ends of its lines."]),
      ...section("Yours", answer.your_changes), ...section("Changed by both", answer.both),
      element("p", (together ? "Putting your changes on the file keeps both." : "Going on with your text puts your lines, when you save, "
        + "in place of all that is new in the file; change them first where both are wanted.") + " You see the result, and save it in a step "
        + "of its own. Ctrl+Z in the text brings back what stood there.")],
    [together ? ["Put my changes on the file", () => startFrom(answer, answer.together)]
      : ["Go on with my text", () => startFrom(answer, field().value)],
    ["Take the file as it is", () => startFrom(answer, answer.theirs)],
    ["Go on editing", null]]);
}

// The text of the file now is what the editing began with; `text` stands in the field, and undo brings back what stood there.
function startFrom(answer, text) {
  memory.digest = answer.digest;
  memory.text = answer.theirs.replace(/\r\n?/g, "\n");
  field().focus();
  if (text !== field().value) {
    field().select();
    if (!document.execCommand("insertText", false, text)) field().value = text;
  }
  check();
}
