// Events that the server has not taken, kept in a store of texts (such as `localStorage`) until it answers.
// One key per event: several windows of one browser share the store, and none may overwrite what another keeps.
// `owner` names the sortie: another sortie at the same address must not send its events.
// `storage` is a function, since a browser may refuse even to name its store.

const UNSENT = "tetherline unsent ", REFUSED = "tetherline refused ";

export class Queue {
  constructor(storage, owner) {
    this.storage = storage;
    this.unsent = UNSENT + owner + " ";
    this.refused = REFUSED + this.unsent;
  }

  // Whether the event is kept: the store may have no room, or not be allowed.
  keep(event) {
    return this.write(this.unsent + event.id, event);
  }

  // The key of the event to send next; undefined: none is kept.
  next() {
    return this.keys(this.unsent)[0];
  }

  // Sends the event of a key: what the server takes leaves the store. Gives {event, answer}; null: it stays as it is.
  // `post` gives the server's answer, null while there is none.
  async send(key, post) {
    const event = this.read(key), answer = event === null ? null : await post(event);
    if (answer === null || isInMemoryOnly(answer)) return null;
    if (answer.status === "refused" && !this.setAside(event, answer.why)) return null;
    this.drop(key);
    return { event: event, answer: answer };
  }

  // What the server refuses stays, with the reason, until a person sends it again or discards it.
  setAside(event, why) {
    return this.write(this.refused + event.id, { event: event, why: why || "no reason given" });
  }

  // The keys of what the server refused.
  refusals() {
    return this.keys(this.refused);
  }

  // Puts a refused event back among the unsent ones, under the same id. Gives the event; null: it is not there any more.
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

// Whether the server has lost its store: the event counts there, but would be lost with the server. So it stays kept here too.
export function isInMemoryOnly(answer) {
  return answer.status === "in memory only";
}

// What the server said of an event, in words.
export function inWords(answer) {
  if (answer.why) return answer.status + ": " + answer.why;
  return answer.status + (answer.hint ? ", " + answer.hint : "");
}
