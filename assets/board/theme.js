// The theme: named in the address, or chosen by this browser before; dark where nobody chose. Paper is always light.

import { keep, kept } from "./kept.js";

const THEME = "theme", SYSTEM = "system", THEMES = ["dark", "light", SYSTEM];
const prefersLight = matchMedia("(prefers-color-scheme: light)");

export function chosen() {
  const named = new URLSearchParams(location.search).get("theme");
  return [named, kept(THEME)].find((one) => THEMES.includes(one)) || "dark";
}

function use(theme) {
  document.documentElement.dataset.theme = theme === SYSTEM ? (prefersLight.matches ? "light" : "dark") : theme;
}

// The name in the address goes, since it would count before the choice.
export function choose(theme) {
  const address = new URL(location.href);
  address.searchParams.delete("theme");
  history.replaceState(null, "", address);
  keep(THEME, theme);
  use(theme);
}

export function listen() {
  const theme = chosen();
  use(theme);
  keep(THEME, theme);
  prefersLight.addEventListener("change", () => use(chosen()));
  addEventListener("beforeprint", () => use("light"));
  addEventListener("afterprint", () => use(chosen()));
}
