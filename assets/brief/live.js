// What the presenter shows: heard over a websocket that reopens itself, and told to the server by a request.

const RETRY_MS = 1000, ANSWER_MS = 8000;

// Calls `hear(shown)` with every message, and `contact(isThere)` when the contact is lost or back.
export function follow(hear, contact) {
  const scheme = location.protocol === "https:" ? "wss://" : "ws://";
  const socket = new WebSocket(scheme + location.host + "/api/brief/live");
  socket.onmessage = (event) => {
    contact(true);
    hear(JSON.parse(event.data));
  };
  socket.onclose = () => {
    contact(false);
    setTimeout(() => follow(hear, contact), RETRY_MS);
  };
}

// Shows a step to everyone; `step` null: nobody presents any more. Gives why that failed; empty: it did not.
export async function present(step, inTime) {
  try {
    const answer = await fetch("/api/brief/step", {
      method: "POST", headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(ANSWER_MS),
      body: JSON.stringify({ step: step, in_time: inTime }),
    });
    if (answer.ok) return "";
    const problem = ((await answer.json()).problems || [])[0];
    return problem ? problem.subject + ": " + problem.found + ". " + problem.cure : "The server refused it.";
  } catch {
    return "The server does not answer. The others still see the step before.";
  }
}
