// The map of keys and signs, and the theme that this browser uses.

import { byId } from "./dom.js";
import { Help } from "./ids.js";
import { kept, keep } from "./kept.js";

const THEME = "theme", SYSTEM = "system", THEMES = ["dark", "light", SYSTEM];
const prefersLight = matchMedia("(prefers-color-scheme: light)");

// ---- theme: named in the address, or chosen here before; dark where nobody chose ----

function chosen() {
  const named = new URLSearchParams(location.search).get("theme");
  return [named, kept(THEME)].find((one) => THEMES.includes(one)) || "dark";
}

function use(theme) {
  document.documentElement.dataset.theme = theme === SYSTEM ? (prefersLight.matches ? "light" : "dark") : theme;
}

// Paper is light, whatever the theme.
function listenToThePrinter() {
  addEventListener("beforeprint", () => use("light"));
  addEventListener("afterprint", () => use(chosen()));
}

function open() {
  byId(Help.DIALOG).showModal();
  byId(Help.THEME).value = chosen();
  byId(Help.CLOSE).focus();
}

export const pressed = { [Help.OPEN]: open };

export function listen() {
  const theme = chosen();
  use(theme);
  keep(THEME, theme);
  prefersLight.addEventListener("change", () => use(chosen()));
  listenToThePrinter();
  document.addEventListener("change", (event) => {
    if (event.target.id !== Help.THEME) return;
    const address = new URL(location.href);
    address.searchParams.delete("theme");
    history.replaceState(null, "", address);
    keep(THEME, event.target.value);
    use(event.target.value);
  });
}
