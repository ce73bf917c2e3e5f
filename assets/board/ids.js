// Names that the page and the browser share, as dashboard/screens/ids.py has them, and rules that the server sends once.
// Both stand in the page (dashboard/screens/page.py); a test holds every use against the server's table.

const sent = JSON.parse(document.getElementById("board-sent").textContent);

export const { Act, Ask, Band, Choices, Hold, LanePart, Log, Page, Problems, Replay, Sheet, Why } = sent.ids;
export const rules = sent.rules;

// The id of a part of a lane's card.
export const lanePart = (lane, part) => sent.lane_part.replace("{part}", () => part).replace("{lane}", () => lane);
