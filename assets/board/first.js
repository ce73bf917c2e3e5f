// What an empty board offers first: PET zero.

import { byId } from "./dom.js";
import { zeroAt, zeroNow } from "./entry.js";
import { First } from "./ids.js";

export function draw(m) {
  const { zero_from: from, ended } = m.board.band;
  byId(First.REGION).hidden = Boolean(m.replay) || ended || from !== "planned start";
}

export const pressed = { [First.ZERO]: zeroNow, [First.ZERO_AT]: zeroAt };
