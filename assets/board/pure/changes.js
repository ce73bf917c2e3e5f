// What changed of the board since the version before, as dashboard/service/changes.py says it.

const ROW_END = "</tr>";

// What a change makes of what was there before, which stays as it is.
export function changed(before, change) {
  if ("new" in change) return change.new;
  if ("rows" in change) {
    const rows = before.split(ROW_END);
    return change.rows.flatMap((one) => (typeof one === "string" ? [one] : rows.slice(one[0], one[0] + one[1]))).join(ROW_END);
  }
  if ("items" in change) {
    const items = before.slice();
    for (const [place, one] of Object.entries(change.items)) items[place] = changed(before[place], one);
    return items;
  }
  const after = { ...before };
  for (const key of change.gone) delete after[key];
  for (const [key, one] of Object.entries(change.keys)) after[key] = changed(before[key], one);
  return after;
}
