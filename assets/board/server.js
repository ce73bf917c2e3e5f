// Requests to the server.

const ANSWER_MS = 8000;

// The answer of the server; throws an error when none comes within `ANSWER_MS`.
export function get(address) {
  return fetch(address, { signal: AbortSignal.timeout(ANSWER_MS) });
}

// `signal` null: there is no time limit for the answer.
export function post(address, body, signal = AbortSignal.timeout(ANSWER_MS)) {
  return fetch(address, {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal: signal,
  });
}

// The first problem of an answer, in words; null: it has none.
export function problemIn(answer) {
  const first = (answer.problems || [])[0];
  return first ? first.subject + ": expected " + first.expected + "; found " + first.found + ". " + first.cure : null;
}
