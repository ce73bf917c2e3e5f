// What is new for people who do not see the page. `told` and `before` are those of the server (dashboard/screens/announce.py).

// Gives {alerts, call}: the words of alerts that were not there, and of a call to decide that is another one. null: no such call.
// Of the first message (`before` is null) nothing is new: the page itself is read then.
export function newsOf(before, told) {
  if (before === null) return { alerts: [], call: null };
  const alerts = Object.entries(told.alerts).filter(([id]) => !(id in before.alerts)).map(([, words]) => words);
  return { alerts: alerts, call: told.call && told.call !== before.call ? told.said : null };
}
