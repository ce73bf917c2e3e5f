// The ticks of what-if, {whatIf, task, ...} as in the data of their boxes, and the change of the plan made from them.

const isWhole = (tick) => tick.whatIf === "defer" || tick.whatIf === "break_off";

// Whether two ticks exclude each other. A task is either given up whole, or may be trimmed and handed over to one lane. An
// alternative has one option.
export function excludes(tick, other) {
  return tick.task === other.task && tick.alternative === other.alternative
    && (tick.whatIf === other.whatIf || isWhole(tick) || isWhole(other));
}

// The body of the request for the figures.
export function changeOf(ticks) {
  const asked = { defer: [], trim: {}, break_off: [], move: {}, choose: {} };
  for (const one of ticks) {
    if (one.whatIf === "trim") asked.trim[one.task] = Number(one.minutes);
    else if (one.whatIf === "move") asked.move[one.task] = one.lane;
    else if (one.whatIf === "choose") asked.choose[one.alternative] = one.option;
    else asked[one.whatIf].push(one.task);
  }
  return asked;
}
