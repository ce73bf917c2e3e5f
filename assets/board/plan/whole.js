// The text of the whole plan file: lanes, suits, worksites, contingencies and all else that the sheet of tasks does not show. Checked
// as it is typed; what was typed stays when the dialog is closed.

import { byId, write } from "../dom.js";
import { Plan } from "../ids.js";
import { get, post, problemIn } from "../server.js";
import * as editing from "./editing.js";
import { counted, itemOf } from "./findings.js";

const PAUSE_MS = 150;
// `digest`: of the file that the text started from; `text`: of that file.
const memory = { digest: "", text: "", waiting: null, serial: 0 };
const field = () => byId(Plan.WHOLE_TEXT);
const isChanged = () => Boolean(memory.digest) && field().value !== memory.text;

export function listen() {
  field().addEventListener("input", () => { window.clearTimeout(memory.waiting); memory.waiting = window.setTimeout(check, PAUSE_MS); });
  byId(Plan.WHOLE_SAVE).addEventListener("click", save);
  byId(Plan.WHOLE_DIALOG).addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") {
      event.preventDefault();
      save();
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

async function check() {
  const serial = memory.serial += 1;
  try {
    const response = await post("/api/plan-file/text/check", { text: field().value }), answer = await response.json();
    if (serial !== memory.serial) return;
    if (!response.ok) return write(Plan.WHOLE_SAID, problemIn(answer));
    write(Plan.WHOLE_SAID, [counted(answer.findings), answer.summary].filter(Boolean).join(". "));
    byId(Plan.WHOLE_FINDINGS).replaceChildren(...answer.findings.map((one) => itemOf(one, null)));
  } catch (lost) {
    write(Plan.WHOLE_SAID, "No contact with the server: the text is not checked.");
  }
}

async function save() {
  if (byId(Plan.WHOLE_SAVE).disabled) return;
  if (!isChanged()) return write(Plan.WHOLE_SAID, "Nothing is changed, so there is nothing to save.");
  let response, answer;
  try {
    response = await post("/api/plan-file/text", { text: field().value, digest: memory.digest });
    answer = await response.json();
  } catch (lost) {
    return write(Plan.WHOLE_SAID, "The server did not answer, so it is not known whether the plan was saved. Your text is kept here.");
  }
  if (response.status === 409) {
    return write(Plan.WHOLE_SAID, "Not saved: the file was changed meanwhile. Copy your text, load this page again, and put it in there.");
  }
  if (!response.ok) return write(Plan.WHOLE_SAID, "Not saved, and nothing is lost. " + (problemIn(answer) || "The server answered " + response.status));
  memory.text = field().value;
  location.reload();  // lists of names and columns come from the file
}
