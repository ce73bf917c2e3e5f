// The entry form without its page: what is wrong with a field, which event its values make, and what is asked beforehand.
// All rules are sent by the server (dashboard/screens/entry.py). `spec` is the form of one kind of event; `offered(source)`
// gives what the moment offers: lists of [value, words, ...]; `values` maps the name of a field to its text, or its texts.

const wordsFor = (offers, value) => (offers.find((one) => one[0] === value) || [])[1];

// What is offered in a field: all of its source, or what hangs on the value of another field.
export function offersIn(field, offered, values) {
  const all = offered(field.from);
  return field.on ? all.filter((one) => one[2] === values[field.on]) : all;
}

// What is wrong with the value of a field by the rules of the moment, in words; empty: nothing.
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

// What is wrong with the values together, in words; empty: nothing.
export function missing(spec, values) {
  const isMissing = spec.any_of && spec.any_of.names.every((name) => values[name] === "");
  return isMissing ? spec.any_of.words : "";
}

// The event that these values make, without its time. `newTask`: the free name for a task that is added.
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

// A scope is chosen as "all", "lane:EV1" or "task:T010".
function partOf(field, value) {
  if (field.is_number) return { [field.name]: Number(value) };
  if (field.name !== "subject") return { [field.name]: value };
  const [what, ...name] = value.split(":");
  return { [what]: what === "all" ? true : name.join(":") };
}

// What is asked before an event of this kind is recorded, as the words after its time; null: nothing.
export function askedOf(spec, offered, values) {
  if (!spec.ask) return null;
  return wordsFor(offered(spec.ask.from), spec.ask.field ? values[spec.ask.field] : "") || null;
}

// What is odd about the amounts of a suit reading, in words; null: nothing. `limits`: [suit and consumable, loaded, last].
export function oddReading(event, limits) {
  const odd = limits.flatMap(([key, loaded, last]) => {
    const [suit, name] = key.split(" "), found = event[name];
    if (suit !== event.suit || found === undefined) return [];
    if (found > Number(loaded)) return [name + " " + found + " is more than the " + loaded + " that was loaded"];
    return last !== "" && found > Number(last) ? [name + " " + found + " is more than the last reading, " + last] : [];
  });
  return odd.length ? "Suit " + event.suit + ": " + odd.join("; ") + ". Is this what was read?" : null;
}
