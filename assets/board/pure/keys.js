// What a key presses. `table` is that of the server (dashboard/screens/keys.py). A lane is named by its number first, and the
// next key says which button of its card is pressed.

// `lane`: the lane whose number was pressed before; null: none. Gives {lane, button, part}: `lane` for the next key, `button` the
// id of a button, `part` the part of the card of `of` that is pressed.
export function pressedBy(key, lane, table) {
  const nothing = { lane: null, button: null, part: null, of: null };
  if (lane !== null && table.lane[key]) return { ...nothing, part: table.lane[key], of: lane };
  const numbered = /^[1-9]$/.test(key) ? table.lanes[Number(key) - 1] : undefined;
  if (numbered !== undefined) return { ...nothing, lane: numbered };
  return lane === null && table.plain[key] ? { ...nothing, button: table.plain[key] } : nothing;
}

// What the next key does, in words.
export function hint(lane, table) {
  return lane + ": " + Object.entries(table.said).map(([key, said]) => key + " " + said).join(" · ");
}
