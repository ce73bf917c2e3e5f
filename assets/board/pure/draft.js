// The plan as it is edited: a list of rows, each {key, id, title, ...} with a text for every column, and the history of it.
// `key` stays with a row whatever its texts become. Every function gives new values, and changes nothing that it is given.

const MOST_UNDONE = 500, STEPS = [10, 5];

// ---- history ----

export const begun = (rows) => ({ past: [], rows: rows, future: [] });

export function done(history, rows) {
  return { past: [...history.past, history.rows].slice(-MOST_UNDONE), rows: rows, future: [] };
}

export function undone(history) {
  if (!history.past.length) return history;
  return { past: history.past.slice(0, -1), rows: history.past[history.past.length - 1], future: [history.rows, ...history.future] };
}

export function redone(history) {
  if (!history.future.length) return history;
  return { past: [...history.past, history.rows], rows: history.future[0], future: history.future.slice(1) };
}

// ---- rows ----

const at = (rows, key) => rows.findIndex((row) => row.key === key);

// Whether a row was put in and has no length yet.
export const isNew = (row) => Boolean(row && row.start && !row.duration && !row.contingency);

// A new row begins when its lanes are free: with other lanes its start is another one.
export function changed(rows, key, column, text) {
  const place = at(rows, key), row = rows[place];
  if (!row) return rows;
  const free = column === "lanes" && isNew(row) ? freeAt(rows.slice(0, place), text) : "";
  return rows.map((one) => (one === row ? { ...row, [column]: text, ...(free ? { start: free } : {}) } : one));
}

// When the last task of these rows in any of these lanes is over, as "H:MM"; empty: there is none.
function freeAt(rows, lanes) {
  const wanted = lanes.split(/\s+/).filter(Boolean);
  const ends = rows.filter((row) => !row.contingency && (row.lanes || "").split(/\s+/).some((lane) => wanted.includes(lane)))
    .map(endOf).filter((end) => minutesOf(end) !== null);
  return ends.reduce((last, end) => (minutesOf(end) > minutesOf(last || "0") ? end : last), ends[0] || "");
}

export const removed = (rows, key) => rows.filter((row) => row.key !== key);

// The row one place further up (`by` -1) or down (1); the same rows when there is no such place.
export function moved(rows, key, by) {
  const from = at(rows, key), to = from + by;
  if (from < 0 || to < 0 || to >= rows.length) return rows;
  const made = rows.slice();
  made.splice(to, 0, made.splice(from, 1)[0]);
  return made;
}

// The rows in the order of these keys.
export const ordered = (rows, keys) => keys.map((key) => rows[at(rows, key)]);

// The rows with a new one below the row `key`; at the end when there is no such row.
export function withRow(rows, key, row) {
  const found = at(rows, key), place = found < 0 ? rows.length : found + 1;
  return [...rows.slice(0, place), row, ...rows.slice(place)];
}

// A row for a task after `row` (null: for the first one of the plan), in the same lanes at the same place.
export function following(rows, row, key, firstLane) {
  if (!row) return { key: key, id: freshName(rows, "T000", STEPS), lanes: firstLane, start: "0:00", duration: "" };
  const { lanes, worksite, leg, contingency } = row;
  return {
    key: key, id: freshName(rows, row.id, STEPS), lanes: lanes || firstLane, worksite: leg || worksite || "",
    contingency: contingency || "", start: contingency ? "" : endOf(row), duration: "",
  };
}

export const copyOf = (rows, row, key) => ({ ...row, key: key, id: freshName(rows, row.id, [1]), start: row.start && endOf(row) });

// A name that no row has, with the number in `like` counted up by one of `steps`, else one by one. It keeps its digits.
export function freshName(rows, like, steps) {
  const [, head, digits] = /^(.*?)(\d*)$/.exec(like || "T000");
  const taken = new Set(rows.map((row) => row.id)), from = Number(digits || 0);
  const name = (number) => head + String(number).padStart(digits.length, "0");
  const isFree = (step) => !taken.has(name(from + step));
  const step = steps.find(isFree);
  if (step !== undefined) return name(from + step);
  let further = 1;
  while (!isFree(further)) further += 1;
  return name(from + further);
}

// ---- times ----

// Minutes of a text such as "1:50" or "110"; null: it is neither.
export function minutesOf(text) {
  const clock = /^(\d+):([0-5]\d)$/.exec(text || "");
  if (clock) return 60 * Number(clock[1]) + Number(clock[2]);
  return /^\d+(\.\d+)?$/.test(text || "") ? Number(text) : null;
}

// The likely minutes of a duration such as "30/40/65", "0:40" or "40"; null: it is none of these.
export function likelyOf(text) {
  const parts = (text || "").trim().split(/[/\s]+/);
  return minutesOf(parts.length === 3 ? parts[1] : parts.join(" "));
}

// When a task is over as briefed, as "H:MM"; empty: not known.
export function endOf(row) {
  const start = minutesOf(row.start), likely = likelyOf(row.duration);
  if (start === null || likely === null) return row.start || "";
  return textOf(Math.round(start + likely));
}

// Whole minutes as "H:MM".
export const textOf = (minutes) => Math.floor(minutes / 60) + ":" + String(minutes % 60).padStart(2, "0");

// ---- for the server, and for keeping ----

// Rows without their keys and empty texts; the columns in one order, so that equal rows are equal as JSON too.
export function plain(rows) {
  return rows.map((row) => Object.fromEntries(Object.entries(row).filter(([column, text]) => column !== "key" && text).sort()));
}

// Rows of the server with keys: that of the row of the same name in `before`, else a new one of `fresh()`.
export function keyed(rows, before, fresh) {
  const free = before.slice();
  return rows.map((row) => {
    const found = free.findIndex((one) => one.id === row.id);
    return { ...row, key: found < 0 ? fresh() : free.splice(found, 1)[0].key };
  });
}

// ---- the names that a cell may take ----

// `text` with `name` put in, or taken out if it is there. The word that is being typed is replaced by the name.
export function toggled(text, name, isList) {
  if (!isList) return text.trim() === name ? "" : name;
  const words = text.split(/\s+/).filter(Boolean);
  const bare = (word) => word.split("+")[0];
  if (words.some((word) => bare(word) === name)) return words.filter((word) => bare(word) !== name).join(" ");
  const isTyping = words.length && !/\s$/.test(text) && fits(name, words[words.length - 1]);
  return [...(isTyping ? words.slice(0, -1) : words), name].join(" ");
}

// Whether a name, or what is said of it, begins with or holds what was typed.
export const fits = (name, typed, said = "") => (name + " " + said).toLowerCase().includes(typed.toLowerCase());

// The word of a list that is being typed; empty after a space.
export const typing = (text, isList) => (isList ? /\S*$/.exec(text)[0] : text.trim());

// The columns whose cells hold several names, and where the names come from: "tasks", "same" (this column of other rows) or a
// list of words; without an entry from `choices` of the server.
const SOURCES = {
  after: "tasks", follows: "tasks", obliges: "tasks", serves: "tasks", together: "same", activity: "same",
  required: ["yes"], get_ahead: ["yes"], boxed: ["yes"], workload: ["rest", "light", "moderate", "heavy"],
};
const LISTS = ["lanes", "after", "follows", "obliges", "serves", "can_move_to", "needs"];

export const isList = (column) => LISTS.includes(column);

// What a cell may take: [{name, said}]; null: any text, without a list.
export function optionsOf(column, rows, row, choices) {
  const source = SOURCES[column] || choices[column];
  if (!source) return null;
  if (source === "tasks") {
    return rows.filter((one) => one.key !== row.key && one.id && (column !== "after" || !one.contingency || row.contingency))
      .map((one) => ({ name: one.id, said: one.title || "" }));
  }
  const names = source === "same" ? [...new Set(rows.map((one) => one[column]).filter(Boolean))] : source;
  return names.map((name) => ({ name: name, said: "" }));
}
