// Names of elements (dashboard/screens/ids.py) and rules that the server writes into the page once (dashboard/screens/page.py).
// A test checks that every name used here exists on the server.

const sent = JSON.parse(document.getElementById("board-sent").textContent);

export const {
  Act, Aloud, Ask, Band, Choices, Find, First, Help, Hold, LanePart, Late, Log, Page, Plan, Problems, Replay, Sheet, Tour, Why,
} = sent.ids;
export const rules = sent.rules;

// Id of a part of the card of a lane.
export const lanePart = (lane, part) => sent.lane_part.replace("{part}", () => part).replace("{lane}", () => lane);
