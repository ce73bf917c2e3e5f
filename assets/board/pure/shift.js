// What must begin later so that nothing overlaps a row of the plan page: the tasks behind it in its lanes, what these reach in other
// lanes, and what comes after any of them by a link. Each moves only as far as it must, so a gap takes up what it can. What
// overlapped before for another reason stays as it is.

import { endOf, likelyOf, minutesOf, textOf } from "./draft.js";

const names = (text) => (text || "").split(/[\s,;]+/).filter(Boolean);

// `endings`: task -> alternative -> its options with the task, as the server gives it. `later`: [{id, start}] of what moves, in
// order of time; null: the row has no start or no duration yet.
export function shifted(rows, key, endings) {
  const place = rows.findIndex((row) => row.key === key), row = rows[place];
  if (!row || row.contingency || minutesOf(row.start) === null || !likelyOf(row.duration)) return { rows: rows, later: null };
  const pushing = [{ row: row, end: minutesOf(endOf(row)) }], made = rows.slice(), later = [];
  for (const [at, one] of behind(rows, place)) {
    const earliest = Math.max(...pushing.map((other) => earliestAfter(other, one, endings)));
    if (earliest <= minutesOf(one.start)) continue;
    made[at] = { ...one, start: textOf(earliest) };
    pushing.push({ row: one, end: minutesOf(endOf(made[at])) });
    later.push({ id: one.id, start: made[at].start });
  }
  return { rows: later.length ? made : rows, later: later };
}

// The rows that begin after the one at `place`, or with it and stand below it, in order of time: [[place, row]].
function behind(rows, place) {
  const order = ([at, row], [otherAt, other]) => minutesOf(row.start) - minutesOf(other.start) || at - otherAt;
  const first = [place, rows[place]];
  return [...rows.entries()].filter(([at, row]) => !row.contingency && minutesOf(row.start) !== null && order([at, row], first) > 0)
    .sort(order);
}

// The minute from which `one` may begin on account of a row before it; -Infinity: that row does not matter to it.
function earliestAfter({ row, end }, one, endings) {
  if (areApart(endings[row.id], endings[one.id])) return -Infinity;
  const lanes = names(one.lanes), isInLane = names(row.lanes).some((lane) => lanes.includes(lane));
  const lags = names(one.follows).map((link) => link.split("+")).filter(([name]) => name === row.id).map(([, lag]) => Number(lag) || 0);
  if (isInLane || names(one.after).includes(row.id)) lags.push(0);
  return Math.ceil(end + Math.max(...lags));
}

// Whether two tasks belong to different options of one alternative, so that only one of them is done.
function areApart(one = {}, other = {}) {
  return Object.keys(one).some((name) => other[name] && !one[name].some((option) => other[name].includes(option)));
}
