// What the check finds: the list below the sheet, and the marks in its cells. Severity and text are those of the server.

import { byId, write } from "../dom.js";
import { Plan } from "../ids.js";

const SHAPES = { error: "▌", caution: "▲", note: "·" };
const LOOKS = { error: "warning", caution: "caution", note: "plan-note-badge" };
const ORDER = ["error", "caution", "note"];
// `marks`: "key column" -> {grade, texts}. `places`: the cells of the findings, in order.
const memory = { marks: new Map(), places: [], at: -1, pressed: null };

const place = (key, column) => key + " " + column;

export const grade = (key, column) => (memory.marks.get(place(key, column)) || {}).grade;

export const said = (key, column) => ((memory.marks.get(place(key, column)) || {}).texts || []).join("\n");

// `found`: findings of the server; `rows`: the rows that were checked; `leftOut`: names of the tasks that are not drawn.
// `go(key, column)` brings a cell into view.
export function draw(found, rows, leftOut, go) {
  memory.marks = new Map();
  memory.places = [];
  const items = found.map((one) => {
    const row = one.row === null ? null : rows[one.row], column = one.column || "id";
    if (row) note(row.key, column, one);
    return itemOf(one, row, column, go);
  });
  byId(Plan.FINDINGS).replaceChildren(...items);
  write(Plan.COUNTS, counted(found) + (leftOut.length ? "; not drawn: " + leftOut.join(", ") : ""));
}

function note(key, column, one) {
  const mark = memory.marks.get(place(key, column)) || { grade: one.severity, texts: [] };
  if (ORDER.indexOf(one.severity) < ORDER.indexOf(mark.grade)) mark.grade = one.severity;
  mark.texts.push(one.text);
  memory.marks.set(place(key, column), mark);
  memory.places.push({ key: key, column: column });
}

// The entry of a list for one finding; `row` null: without a way to its cell.
export function itemOf(one, row, column, go) {
  const item = document.createElement("li"), badge = document.createElement("span"), words = document.createElement("span");
  badge.className = "badge " + LOOKS[one.severity];
  badge.textContent = SHAPES[one.severity] + " " + one.severity;
  words.textContent = one.text;
  item.append(badge, words);
  if (row) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plan-finding";
    button.append(...item.childNodes);
    button.addEventListener("click", () => go(row.key, column));
    item.append(button);
  }
  return item;
}

export function counted(found) {
  const counts = ORDER.map((name) => [name, found.filter((one) => one.severity === name).length]).filter(([, count]) => count);
  const words = counts.map(([name, count]) => count + " " + name + (count > 1 ? "s" : ""));
  return words.length ? "The check finds " + words.join(", ") : "The check finds nothing";
}

// The cell of the next finding, round and round; null: no finding is about a cell.
export function next() {
  if (!memory.places.length) return null;
  memory.at = (memory.at + 1) % memory.places.length;
  return memory.places[memory.at];
}
