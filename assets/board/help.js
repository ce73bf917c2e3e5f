// The map of keys and signs, and the choice of the theme.

import { byId } from "./dom.js";
import { Help } from "./ids.js";
import { choose, chosen } from "./theme.js";

function open() {
  byId(Help.DIALOG).showModal();
  byId(Help.THEME).value = chosen();
  byId(Help.CLOSE).focus();
}

export const pressed = { [Help.OPEN]: open, [Help.SIGNS]: () => byId(Help.OPEN).click() };

export function listen() {
  document.addEventListener("change", (event) => {
    if (event.target.id === Help.THEME) choose(event.target.value);
  });
}
