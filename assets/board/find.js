// Finds a task by its id or by words of its title, and brings it into view on the lane sheet.

import { byId } from "./dom.js";
import { openForm, saysIn } from "./forms.js";
import { Find, Help } from "./ids.js";
import { message } from "./moment.js";
import { matching } from "./pure/search.js";
import { showTask } from "./sheet.js";

let at = 0;

const found = () => matching(message().board.entry.tasks, byId(Find.FIELD).value);

function open() {
  byId(Help.DIALOG).close();
  byId(Find.FIELD).value = "";
  draw();
  openForm(Find.FORM, Find.FIELD);
}

function draw() {
  const tasks = found();
  at = Math.max(0, Math.min(at, tasks.length - 1));
  byId(Find.FOUND).replaceChildren(...tasks.map(([, label], place) => {
    const row = document.createElement("div");
    row.className = place === at ? "find-row chosen" : "find-row";
    row.textContent = label;
    row.dataset.place = place;
    return row;
  }));
  if (byId(Find.FIELD).value.trim() && !tasks.length) byId(Find.FOUND).textContent = "no task of this id or with these words";
}

function go() {
  const one = found()[at];
  if (!one) return saysIn(Find.FORM)("Expected the id of a task, or words of its title; found none.");
  if (!showTask(one[0])) return saysIn(Find.FORM)(one[0] + " is not on the lane sheet.");
  return byId(Find.FORM).close();
}

export const pressed = { [Find.OPEN]: open };
export const sent = { [Find.FORM]: go };

export function listen() {
  document.addEventListener("input", (event) => {
    if (event.target.id !== Find.FIELD) return;
    at = 0;
    draw();
  });
  document.addEventListener("keydown", (event) => {
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (event.target.id !== Find.FIELD || !by) return;
    event.preventDefault();
    at += by;
    draw();
  });
  document.addEventListener("click", (event) => {
    const row = event.target.closest(".find-row");
    if (!row) return;
    at = Number(row.dataset.place);
    go();
  });
}
