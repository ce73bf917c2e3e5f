// On a small screen log, choices, problems and suits share one place. The tabs choose the one that is shown.

import { Log } from "./ids.js";

function show(region) {
  document.body.dataset.tab = region;
  for (const tab of document.querySelectorAll("[data-tab][role=tab]")) {
    tab.setAttribute("aria-selected", tab.dataset.tab === region ? "true" : "false");
  }
}

export function listen() {
  document.body.dataset.tab = Log.REGION;
  document.addEventListener("click", (event) => {
    const tab = event.target.closest("[role=tab]");
    if (tab) show(tab.dataset.tab);
  });
}
