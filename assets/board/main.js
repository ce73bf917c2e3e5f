// The board in the browser: its regions, and the order in which they are drawn. Each region has a module, as in
// dashboard/screens/. A region may export `pressed`, `acts` and `sent` (its buttons and forms: press.js), `listen` (registers
// other listeners), `draw` (draws a new version) and `tick` (called several times per second). Loading a module has no effect;
// everything starts from this file.

import * as announce from "./announce.js";
import * as ask from "./ask.js";
import * as band from "./band.js";
import * as basis from "./basis.js";
import * as choices from "./choices.js";
import * as correct from "./correct.js";
import { byId } from "./dom.js";
import * as entry from "./entry.js";
import * as find from "./find.js";
import * as first from "./first.js";
import * as help from "./help.js";
import { Band } from "./ids.js";
import * as keys from "./keys.js";
import * as lanes from "./lanes.js";
import { follow } from "./live.js";
import * as log from "./log.js";
import { message } from "./moment.js";
import * as page from "./page.js";
import { answer } from "./press.js";
import * as renewal from "./renewal.js";
import * as replaybar from "./replaybar.js";
import * as sheet from "./sheet.js";
import * as tabs from "./tabs.js";
import * as theme from "./theme.js";
import * as tour from "./tour.js";
import * as view from "./view.js";
import * as whatif from "./whatif.js";
import * as why from "./why.js";

// A wall is driven by nothing: no button, key or address moves what it shows.
const regions = view.isWall() ? [view, theme, sheet]
  : [view, theme, help, announce, first, tour, keys, find, tabs, sheet, lanes, log, entry, correct, ask, choices, whatif, replaybar, why, basis];

// The sheet takes longer than all texts together, so it follows in the next frame. By then the browser has laid out the texts,
// and the sheet can measure without waiting for that.
function draw(m) {
  requestAnimationFrame(() => sheet.draw(m.board));
  page.draw(m.board.html);
  renewal.draw(m);
  if (view.isWall()) return;
  lanes.draw(m.board.actions);
  log.draw();
  whatif.draw();
  basis.refresh();
  replaybar.draw(m);
  announce.draw(m);
  first.draw(m);
  tour.draw();
}

function tick() {
  const m = message();
  if (!m || !byId(Band.REGION)) return;
  band.tick(m);
  renewal.tick();
  if (!view.isWall()) replaybar.tick(m);
}

answer(regions);
for (const region of regions) if (region.listen) region.listen();
follow(draw, tick);
