// The sheet of tasks: AG Grid, as Dash brings it. It shows the draft; every change goes through the draft and comes back from it.

import { byId } from "../dom.js";
import { Plan } from "../ids.js";
import * as pure from "../pure/draft.js";
import { CellEditor } from "./celleditor.js";
import * as editing from "./editing.js";
import * as findings from "./findings.js";

const NOT_YET_MS = 50;
const TRY_MS = 5, MOST_TRIES = 200;
const LETTER_PX = 7.4, PAD_PX = 34, LINE_PX = 18, EDGE_PX = 6, MOST_LINES = 4;
const pause = (ms) => new Promise((go) => { setTimeout(go, ms); });
const memory = { api: null, columns: [] };

// The grid once Dash has made it.
export async function ready() {
  const isThere = () => window.dash_ag_grid && byId(Plan.GRID);
  while (!isThere()) await pause(NOT_YET_MS);
  memory.api = await window.dash_ag_grid.getApiAsync(Plan.GRID);
  while (!memory.api.getColumnDefs()) await pause(NOT_YET_MS);
}

// `typed(cell)` is called while a text is being typed, `entered(key, column, text)` when it is taken, `focused()` when another cell
// has the focus. Fills `helps`: column -> meaning.
export function equip(typed, entered, focused, helps) {
  const api = memory.api;
  const look = (grade) => (params) => findings.grade(params.data.key, params.colDef.field) === grade;
  memory.columns = api.getColumnDefs().map((column) => ({
    ...column,
    editable: editing.mayEdit(),
    rowDrag: column.rowDrag && editing.mayEdit(),
    cellEditor: CellEditor,
    cellEditorPopup: pure.optionsOf(column.field, [], {}, editing.file().choices) !== null,
    cellEditorPopupPosition: "over",
    cellEditorParams: { typed: typed },
    cellClassRules: { "plan-error": look("error"), "plan-caution": look("caution"), "plan-note": look("note") },
    tooltipValueGetter: (params) => findings.said(params.data.key, column.field) || params.value,
    valueSetter: (params) => {
      entered(params.data.key, column.field, params.newValue || "");
      return false;  // the draft gives the grid its rows
    },
  }));
  for (const column of memory.columns) helps[column.field] = column.headerTooltip || "";
  api.setGridOption("popupParent", document.body);  // a list of names may reach beyond the sheet
  api.setGridOption("columnDefs", memory.columns);
  api.setGridOption("getRowHeight", (params) => heightOf(params.data));
  api.addEventListener("cellFocused", focused);
  api.addEventListener("rowDragEnd", () => {
    const keys = [];
    api.forEachNode((node) => keys.push(node.data.key));
    editing.become(pure.ordered(editing.rows(), keys));
  });
}

// As many lines as the longest text of the row needs in its column. The grid's own measuring takes the focus away from a field.
function heightOf(row) {
  const lines = memory.columns.map((column) => Math.ceil((row[column.field] || "").length * LETTER_PX / (column.width - PAD_PX)));
  return LINE_PX * Math.min(MOST_LINES, Math.max(1, ...lines)) + 2 * EDGE_PX;
}

export function draw() {
  memory.api.setGridOption("rowData", editing.rows().map((row) => ({ ...row })));
  memory.api.resetRowHeights();
}

export const mark = () => memory.api.refreshCells({ force: true });

// The cell that has the focus: {key, column}; null: none has.
export function focus() {
  const cell = memory.api.getFocusedCell(), node = cell && memory.api.getDisplayedRowAtIndex(cell.rowIndex);
  return node ? { key: node.data.key, column: cell.column.getColId() } : null;
}

// Puts the focus on a cell, and brings it into view.
export function goTo(key, column) {
  const node = memory.api.getRowNode(key);
  if (!node) return;
  memory.api.ensureIndexVisible(node.rowIndex);
  memory.api.ensureColumnVisible(column);
  memory.api.setFocusedCell(node.rowIndex, column);
}

// Begins to edit a cell. The grid draws a new row a moment after it is given it, and then puts the focus on its cell, with a timer
// of its own; a field that opened before would lose the focus.
export async function edit(key, column) {
  goTo(key, column);
  const hasFocus = () => document.activeElement.matches('.ag-cell-focus[col-id="' + column + '"]');
  for (let tries = 0; tries < MOST_TRIES && !hasFocus(); tries += 1) await pause(TRY_MS);
  await pause(0);
  const node = memory.api.getRowNode(key);
  if (node) memory.api.startEditingCell({ rowIndex: node.rowIndex, colKey: column });
}

export const isEditing = () => memory.api.getEditingCells().length > 0;

export const stopEditing = () => memory.api.stopEditing();

export const isInGrid = (place) => Boolean(place.closest(".ag-root, .ag-popup")) || place === document.body;
