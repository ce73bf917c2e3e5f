// The plan page in the browser: sheet of tasks, live check, lane sheet, saving. Loading a module has no effect; everything starts
// from this file.

import { byId, write } from "../dom.js";
import { Plan } from "../ids.js";
import * as pure from "../pure/draft.js";
import { shifted } from "../pure/shift.js";
import { get, problemIn } from "../server.js";
import * as sheet from "../sheet.js";
import * as theme from "../theme.js";
import * as checking from "./checking.js";
import * as editing from "./editing.js";
import * as findings from "./findings.js";
import * as grid from "./grid.js";
import * as saving from "./saving.js";
import * as whole from "./whole.js";

const say = (words) => write(Plan.SAID, words);

// ---- what the buttons and keys do ----

const lanes = () => (editing.file().choices.lanes || [])[0] || "";

function added(make, column) {
  return () => {
    const on = grid.focus(), row = on ? editing.rowOf(on.key) : editing.rows()[editing.rows().length - 1];
    if (!editing.mayEdit()) return;
    const fresh = make(editing.rows(), row);
    editing.become(pure.withRow(editing.rows(), row && row.key, fresh));
    makeRoom(fresh.key);
    grid.edit(fresh.key, column);
  };
}

function onRow(act) {
  return () => {
    const on = grid.focus();
    if (!on || !editing.mayEdit()) return;
    const at = editing.rows().findIndex((row) => row.key === on.key);
    editing.become(act(editing.rows(), on.key));
    const left = editing.rowOf(on.key) || editing.rows()[Math.min(at, editing.rows().length - 1)];
    if (left) grid.goTo(left.key, on.column);
  };
}

const MOST_NAMED = 4;

// Moves what follows a row later, as far as it must, in a step of its own, and says what moved. Gives what `shifted` gives as `later`.
function makeRoom(key) {
  const { rows, later } = shifted(editing.rows(), key, editing.file().endings);
  editing.become(rows);
  if (later && later.length) {
    say("Later: " + later.slice(0, MOST_NAMED).map(({ id, start }) => id + " at " + start).join(", ")
      + (later.length > MOST_NAMED ? " and " + (later.length - MOST_NAMED) + " more" : "") + ". Ctrl+Z takes it back.");
  }
  return later;
}

// A row that was put in makes room for itself once it has its length; nothing else that is typed moves other rows.
function entered(key, column, text) {
  const needsRoom = column === "duration" && pure.isNew(editing.rowOf(key));
  editing.become(pure.changed(editing.rows(), key, column, text));
  if (needsRoom) makeRoom(key);
}

function shift() {
  const on = grid.focus();
  if (!on || !editing.mayEdit()) return;
  const later = makeRoom(on.key);
  grid.goTo(on.key, on.column);
  if (later === null) say("Give this task a start and a duration first.");
  else if (!later.length) say("Nothing has to move: no task behind this one begins before it ends.");
}

function stepped(step) {
  return () => {
    const on = grid.focus();
    step();
    if (on) grid.goTo(on.key, on.column);
  };
}

function nextFinding() {
  const found = findings.next();
  if (found) grid.goTo(found.key, found.column);
  else say("No finding is about a cell.");
}

const ACTS = {
  [Plan.INSERT]: added((rows, row) => pure.following(rows, row, editing.freshKey(), lanes()), "title"),
  [Plan.DUPLICATE]: added((rows, row) => (row ? pure.copyOf(rows, row, editing.freshKey())
    : pure.following(rows, null, editing.freshKey(), lanes())), "title"),
  [Plan.REMOVE]: onRow(pure.removed),
  [Plan.UP]: onRow((rows, key) => pure.moved(rows, key, -1)),
  [Plan.DOWN]: onRow((rows, key) => pure.moved(rows, key, 1)),
  [Plan.SHIFT]: shift,
  [Plan.UNDO]: stepped(editing.undo),
  [Plan.REDO]: stepped(editing.redo),
  [Plan.NEXT]: nextFinding,
  [Plan.SAVE]: () => saving.begin(),
  [Plan.WHOLE]: () => whole.open(say),
  [Plan.KEYS]: () => byId(Plan.KEYS_DIALOG).showModal(),
};

// Keys, with the modifiers before them in this order. Those of `ALWAYS` work in a field too.
const KEYS = {
  "Ctrl+Enter": Plan.INSERT, "Ctrl+d": Plan.DUPLICATE, "Ctrl+Delete": Plan.REMOVE, "Alt+ArrowUp": Plan.UP, "Alt+ArrowDown": Plan.DOWN,
  "Ctrl+Shift+ArrowDown": Plan.SHIFT,
  "Ctrl+z": Plan.UNDO, "Ctrl+y": Plan.REDO, "Ctrl+Shift+z": Plan.REDO, F8: Plan.NEXT, "Ctrl+s": Plan.SAVE, F4: Plan.WHOLE, F1: Plan.KEYS,
};
const ALWAYS = [Plan.NEXT, Plan.SAVE, Plan.WHOLE, Plan.KEYS, Plan.INSERT, Plan.SHIFT];

function keyOf(event) {
  const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  return (event.ctrlKey || event.metaKey ? "Ctrl+" : "") + (event.altKey ? "Alt+" : "") + (event.shiftKey ? "Shift+" : "") + name;
}

function keyed(event) {
  const act = KEYS[keyOf(event)];
  if (!act || document.querySelector("dialog[open]")) return;
  if (grid.isEditing()) {
    if (!ALWAYS.includes(act)) return;
    grid.stopEditing();
  }
  event.preventDefault();
  event.stopPropagation();
  ACTS[act]();
}

// Delete empties the cell that has the focus.
function emptied(event) {
  const on = event.key === "Delete" && !event.ctrlKey && !grid.isEditing() && grid.isInGrid(event.target) && grid.focus();
  if (!on || !editing.mayEdit() || document.querySelector("dialog[open]")) return;
  event.preventDefault();
  event.stopPropagation();
  editing.become(pure.changed(editing.rows(), on.key, on.column, ""));
}

function pressed(event) {
  const button = event.target.closest("button");
  if (!button) return;
  const act = ACTS[button.id] || sheet.pressed[button.id] || (button.dataset.act && (() => button.closest("dialog").close()));
  if (act) act();
}

// ---- what is drawn ----

const helps = {};

// The meaning of the column and the findings about the cell that has the focus.
function help() {
  const on = grid.focus();
  if (on) write(Plan.HELP, [on.column.replace("_", " ") + ": " + helps[on.column], findings.said(on.key, on.column)].filter(Boolean).join(". "));
}

function focused() {
  const on = grid.focus(), row = on && editing.rowOf(on.key), start = row ? pure.minutesOf(row.start) : null;
  help();
  if (start !== null) sheet.bring(start);
}

function checked(answer, rows, since) {
  requestAnimationFrame(() => {  // the next check can be asked for meanwhile
    if (answer.sheet) sheet.draw(answer);
    setTimeout(() => performance.measure("plan redrawn", { start: since, end: performance.now() }));
  });
  findings.draw(answer.findings, rows, answer.left_out, grid.goTo);
  grid.mark();
  help();
  saving.know(answer);
  write(Plan.SUMMARY, answer.summary || "Nothing can be drawn: correct the errors first.");
  status(answer.changes.length);
  document.body.dataset.drawn = "yes";
}

function status(count) {
  const { why_not: whyNot, name } = editing.file();
  const unsaved = count ? count + (count > 1 ? " changes" : " change") + " not saved in " + name : "as in " + name;
  write(Plan.STATUS, whyNot ? "To look at only. " + whyNot : unsaved);
}

function changed() {
  grid.draw();
  byId(Plan.UNDO).disabled = !editing.canUndo();
  byId(Plan.REDO).disabled = !editing.canRedo();
  checking.soon();
}

// ---- the start ----

async function start() {
  await grid.ready();
  const response = await get("/api/plan-file"), file = await response.json();
  if (!response.ok) return write(Plan.SUMMARY, problemIn(file));
  checking.listen(checked, say);
  editing.onChange(changed);
  saving.listen(say);
  whole.listen();
  for (const id of [Plan.INSERT, Plan.DUPLICATE, Plan.REMOVE, Plan.UP, Plan.DOWN, Plan.SHIFT, Plan.SAVE]) byId(id).disabled = Boolean(file.why_not);
  const isRestored = editing.begin(file);
  grid.equip((cell) => { editing.typed(cell); checking.soon(); }, entered, focused, helps);
  grid.draw();
  if (isRestored) say("The changes that were not saved before are here again.");
  else if (!file.is_followed && file.name) say("The file is another plan than the one the board follows: it counts from the next start of the server.");
  document.addEventListener("keydown", keyed, true);
  document.addEventListener("keydown", emptied, true);
  document.addEventListener("click", pressed);
}

theme.listen();
sheet.listen();
start();
