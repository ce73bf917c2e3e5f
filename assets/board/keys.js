// Keys: each presses a button of the page, as the server's table says (dashboard/screens/keys.py). A key never acts while
// someone types or answers a form.

import { byId, takesKeys } from "./dom.js";
import { Help, lanePart } from "./ids.js";
import { singleKeysAct, switchSingleKeys } from "./kept.js";
import { message } from "./moment.js";
import { hint, pressedBy } from "./pure/keys.js";

let lane = null;

const table = () => JSON.parse(byId(Help.DIALOG).dataset.keys);

function wait(next) {
  lane = next;
  byId(Help.HINT).hidden = lane === null;
  byId(Help.HINT).textContent = lane === null ? "" : hint(lane, table());
}

// A button that its own style hides is not for this visitor.
function press(button) {
  if (!button || button.disabled || getComputedStyle(button).display === "none") return null;
  if (button.tagName !== "SELECT") return button.click();
  button.selectedIndex = button.options.length - 1;  // "another time": the time is asked for
  return button.dispatchEvent(new Event("change", { bubbles: true }));
}

// For a moment after a dialog closes, the browser still sends keys to its field, which nobody sees any more.
const isTyping = (place) => takesKeys(place) && place.checkVisibility();

function drawSwitch() {
  const button = byId(Help.SINGLE_KEYS);
  button.textContent = "Single keys: " + (singleKeysAct() ? "on" : "off");
  button.setAttribute("aria-pressed", String(singleKeysAct()));
}

function switchKeys() {
  switchSingleKeys();
  drawSwitch();
}

export const pressed = { [Help.SINGLE_KEYS]: switchKeys };

function keyed(event) {
  if (!singleKeysAct()) return;
  const isOther = event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target) || document.querySelector("dialog[open]");
  if (isOther || !message() || !byId(Help.DIALOG)) return;
  if (event.key === "Shift") return;
  const wasNamed = lane !== null, found = pressedBy(event.key, lane, table());
  wait(found.lane);
  const isAnswered = found.lane || found.button || found.part;
  if (!isAnswered && !(wasNamed && event.key.length === 1)) return;
  event.preventDefault();
  event.stopPropagation();
  if (found.button) press(byId(found.button));
  if (found.part) press(byId(lanePart(found.of, found.part)));
}

// Before the other listeners, since a letter after the number of a lane is not a key of the replay.
export function listen() {
  document.addEventListener("keydown", keyed, true);
  document.addEventListener("pointerdown", () => { if (lane !== null) wait(null); });
  document.addEventListener("click", (event) => { if (event.target.id === Help.OPEN) drawSwitch(); });
}
