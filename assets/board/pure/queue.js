// Events that the server has not taken, kept in a store of texts (such as `localStorage`) until the server takes them.
// Each event has its own key, since several windows of one browser share the store and must not overwrite each other's events.
// `owner` names the sortie, since another sortie at the same address must not send these events.
// `storage` is a function that gives the store, since even access to it may fail.

const UNSENT = "tetherline unsent ", REFUSED = "tetherline refused ";

export class Queue {
  constructor(storage, owner) {
    this.storage = storage;
    this.unsent = UNSENT + owner + " ";
    this.refused = REFUSED + this.unsent;
  }

  // Keeps an event. Gives whether that worked: the store may be full or forbidden.
  keep(event) {
    return this.write(this.unsent + event.id, event);
  }

  // Key of the event to send next; undefined: no event is kept.
  next() {
    return this.keys(this.unsent)[0];
  }

  // Sends the event of a key, and removes it from the store once the server has taken it. Gives {event, answer}; null: the event
  // is still kept. `post` gives the answer of the server; null: there is none.
  async send(key, post) {
    const event = this.read(key), answer = event === null ? null : await post(event);
    if (answer === null || isInMemoryOnly(answer)) return null;
    if (answer.status === "refused" && !this.setAside(event, answer.why)) return null;
    this.drop(key);
    return { event: event, answer: answer };
  }

  // Keeps a refused event with the reason, until a person sends it again or discards it.
  setAside(event, why) {
    return this.write(this.refused + event.id, { event: event, why: why || "no reason given" });
  }

  // Keys of the refused events.
  refusals() {
    return this.keys(this.refused);
  }

  // Moves a refused event back to the unsent ones, with the same id. Gives the event; null: it is no longer there.
  again(key) {
    const kept = this.read(key);
    if (kept === null || !this.keep(kept.event)) return null;
    this.drop(key);
    return kept.event;
  }

  keys(start) {
    try {
      return Object.keys(this.storage()).filter((name) => name.startsWith(start)).sort();
    } catch (forbidden) {
      return [];
    }
  }

  read(key) {
    return JSON.parse(this.storage().getItem(key) || "null");
  }

  write(key, content) {
    try {
      this.storage().setItem(key, JSON.stringify(content));
      return true;
    } catch (full) {
      return false;
    }
  }

  drop(key) {
    this.storage().removeItem(key);
  }
}

// An event in a few words.
export function called(event) {
  return [event.kind, event.task || event.lane || event.text || ""].join(" ").trim();
}

// Whether the server has lost its store. The event counts, but would be lost with the server, so it is still kept here.
export function isInMemoryOnly(answer) {
  return answer.status === "in memory only";
}

// The answer of the server about an event, in words, with what the entry did.
export function inWords(answer) {
  if (answer.why) return answer.status + ": " + answer.why;
  const said = answer.status + (answer.hint ? ", " + answer.hint : ""), did = answer.did || { discrepancies: [], moved: [] };
  const parts = [["Discrepancy: ", did.discrepancies], ["Moved: ", did.moved]].filter(([, found]) => found.length);
  return parts.length ? said.replace(/\.?$/, ". ") + parts.map(([name, found]) => name + found.join("; ") + ".").join(" ") : said;
}

// The event that takes an entry back, where the entry did something that a person may not have meant; null: it did not.
export function offered(answer) {
  const did = answer.did;
  return did && (did.discrepancies.length || did.moved.length) ? did.withdraw : null;
}
