// The rules of the entry form, without the page: faults of fields, the event made from the values, and the question before it.
// The server sends all rules (dashboard/screens/entry.py). `spec` is the form of one kind of event. `offered(source)` gives the
// present offers of a source, as lists of [value, words, ...]. `values` maps the name of a field to its text or texts.

const wordsFor = (offers, value) => (offers.find((one) => one[0] === value) || [])[1];

// The offers of a field: all of its source, or those that belong to the value of another field.
export function offersIn(field, offered, values) {
  const all = offered(field.from);
  return field.on ? all.filter((one) => one[2] === values[field.on]) : all;
}

// What is wrong with the value of a field now, in words; empty: nothing.
export function broken(field, offered, values) {
  const chosen = [values[field.name]].flat(), amount = Number(chosen[0]);
  if (!chosen.length || chosen[0] === "") return "";
  const refused = field.refused ? offered(field.refused).filter(([value]) => chosen.includes(value)) : [];
  if (refused.length) return "Cannot be recorded: " + refused.map((one) => one[1]).join("; ") + ".";
  if (field.above !== null && amount <= field.above) {
    return field.label + ": expected more than " + field.above + "; found " + amount + ".";
  }
  const least = field.least ? Number(wordsFor(offered(field.least.from), values[field.least.on])) : NaN;
  if (!(amount < least)) return "";
  return field.label + ": expected " + least + " or more, " + field.least.said + "; found " + amount + ".";
}

// What is missing among all values, in words; empty: nothing.
export function missing(spec, values) {
  const isMissing = spec.any_of && spec.any_of.names.every((name) => values[name] === "");
  return isMissing ? spec.any_of.words : "";
}

// The event made from the values, without its time. `newTask`: an unused name for a task that is added.
export function eventOf(kind, spec, values, newTask) {
  const given = {};
  for (const field of spec.fields) {
    const value = values[field.name];
    if (value.length) Object.assign(given, partOf(field, value));
  }
  if (kind !== "add") return { ...given, kind: kind };
  const { before, ...task } = given;
  return { kind: kind, task: { ...task, id: newTask }, ...(before ? { before: before } : {}) };
}

// The value of the field `subject` is "all", "lane:EV1" or "task:T010".
function partOf(field, value) {
  if (field.is_number) return { [field.name]: Number(value) };
  if (field.name !== "subject") return { [field.name]: value };
  const [what, ...name] = value.split(":");
  return { [what]: what === "all" ? true : name.join(":") };
}

// The question before an event of this kind is recorded, as words that follow its time; null: there is none.
export function askedOf(spec, offered, values) {
  if (!spec.ask) return null;
  return wordsFor(offered(spec.ask.from), spec.ask.field ? values[spec.ask.field] : "") || null;
}

// What is odd about the amounts of a suit reading, in words; null: nothing. `limits`: [suit and consumable, loaded, last read].
export function oddReading(event, limits) {
  const odd = limits.flatMap(([key, loaded, last]) => {
    const [suit, name] = key.split(" "), found = event[name];
    if (suit !== event.suit || found === undefined) return [];
    if (found > Number(loaded)) return [name + " " + found + " is more than the " + loaded + " that was loaded"];
    return last !== "" && found > Number(last) ? [name + " " + found + " is more than the last reading, " + last] : [];
  });
  return odd.length ? "Suit " + event.suit + ": " + odd.join("; ") + ". Is this what was read?" : null;
}
