// The plan as it is edited in this page: its history, the file that it started from, and what this browser keeps of it.
// Whoever wants to know of changes subscribes with `onChange`.

import * as pure from "../pure/draft.js";

const KEPT = "tetherline edited plan ";

// `file`: the answer of GET /api/plan-file. `base`: the rows of the file that the editing started from, `digest` its digest.
const memory = { file: null, base: [], digest: "", history: pure.begun([]), serial: 0, changed: [], provisional: null };

export const file = () => memory.file;
export const base = () => memory.base;
export const digest = () => memory.digest;
export const rows = () => memory.history.rows;
export const mayEdit = () => Boolean(memory.file) && !memory.file.why_not;
export const rowOf = (key) => rows().find((row) => row.key === key);
export const canUndo = () => memory.history.past.length > 0;
export const canRedo = () => memory.history.future.length > 0;
export const freshKey = () => "r" + (memory.serial += 1);

export const onChange = (act) => { memory.changed.push(act); };

function tell() {
  memory.provisional = null;
  keep();
  for (const act of memory.changed) act();
}

// Takes the file as the server gives it. Changes that this browser kept from before are taken up again; says whether there are any.
export function begin(file) {
  memory.file = file;
  start(file.rows.map((row) => ({ ...row, key: freshKey() })), file.digest);
  const kept = mayEdit() ? recall() : null;
  if (kept) {
    memory.base = kept.base;
    memory.digest = kept.digest;
    memory.history = pure.done(memory.history, pure.keyed(kept.rows, rows(), freshKey));
  }
  tell();
  return Boolean(kept);
}

function start(rows, digest) {
  memory.base = rows;
  memory.digest = digest;
  memory.history = pure.begun(rows);
}

// Every change of the rows goes through here, so that it can be undone.
export function become(rows) {
  if (!mayEdit() || rows === memory.history.rows) return;
  memory.history = pure.done(memory.history, rows);
  tell();
}

export function undo() {
  memory.history = pure.undone(memory.history);
  tell();
}

export function redo() {
  memory.history = pure.redone(memory.history);
  tell();
}

// The rows with the text that is being typed, which is no change yet; null: nothing is being typed.
export function typed(cell) {
  memory.provisional = cell;
}

export function rowsToCheck() {
  const cell = memory.provisional;
  return cell ? pure.changed(rows(), cell.key, cell.column, cell.text) : rows();
}

// The file has this content now. The history stays, so that what was saved can be undone.
export function saved(fileRows, digest) {
  memory.base = pure.keyed(fileRows, rows(), freshKey);
  memory.digest = digest;
  tell();
}

// The file was changed by someone else: from now on the editing starts from its content, with these rows as the next step.
export function startFrom(theirs, digest, next) {
  memory.base = pure.keyed(theirs, rows(), freshKey);
  memory.digest = digest;
  memory.history = pure.done(memory.history, pure.keyed(next, rows(), freshKey));
  tell();
}

export const isChanged = () => JSON.stringify(pure.plain(rows())) !== JSON.stringify(pure.plain(memory.base));

// ---- what this browser keeps, so that a page that is closed or loaded again loses nothing ----

const place = () => KEPT + location.host + " " + memory.file.name;

function keep() {
  if (!mayEdit()) return;
  try {
    if (!isChanged()) localStorage.removeItem(place());
    else localStorage.setItem(place(), JSON.stringify({ rows: pure.plain(rows()), base: pure.plain(memory.base), digest: memory.digest }));
  } catch (forbidden) { /* the page asks before it is closed */ }
}

function recall() {
  try { return JSON.parse(localStorage.getItem(place())); } catch (forbidden) { return null; }
}
