// The words in the blocks of the lane sheet: as many lines as a block has room for on screen, fitted by their measured width.
// A block gives its words: task id, title, second line, right text, and the one word that is never left out. Only a title may end
// in an ellipsis: an id, a number and a time are shown whole, or are left out with the part of the line that they belong to.
// Words are escaped for Plotly. `measure(text, size, isBold)` gives the width in px of a text that is not escaped.

const PAD_PX = 9, TOP_PX = 5, LINE = 1.3, FIRST_LINE = 1.1, MOST_LINES = 4, MOST_TITLE_LINES = 3, GAP_PX = 16;
const TIGHT_PX = 15, TIGHT_TOP_PX = 2.5;  // a block that is only a little higher has small words, a lower one only its id
const ID_PX = 9.5, ID_TOP_PX = -1.5;  // the least height of an id, which has no letter below the line; a lower block has it above
const NOW_PX = 3;  // the line of now covers so much of what begins at it
const UNDER_PX = 6;  // of a line, so much at its foot has no ink but that of a few letters
const WIDE_COLUMN_PX = 230, LEAST_PX = 13;

// ---- one line ----

function plain(text) {
  return text.replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&");
}

function escaped(text) {
  return text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
}

const isCut = (line) => line === "" || line.endsWith("…");

// The text; if it is wider than `room`, it is cut and ends in an ellipsis. No word with a digit in it is cut in two,
// and no ellipsis follows one, unless it is the first word.
// Empty: not even one letter fits.
export function cut(measure, text, size, isBold, room) {
  if (measure(plain(text), size, isBold) <= room) return text;
  const whole = plain(text);
  let count = whole.length - 1;
  while (count > 0 && measure(whole.slice(0, count).trimEnd() + "…", size, isBold) > room) count -= 1;
  const word = whole.slice(0, count).match(/\S*$/)[0] + whole.slice(count).match(/^\S*/)[0];
  const isInWord = /^\S/.test(whole.slice(count)) && /\d/.test(word);
  const begun = isInWord ? whole.slice(0, count).replace(/\S*$/, "") : whole.slice(0, count);
  const letters = begun.trimEnd().replace(/(\s+\S*\d\S*)+$/, "");
  return letters.length > 1 ? escaped(letters) + "…" : "";
}

// A text in at most `mostLines` lines; the rest is cut.
export function wrapped(measure, text, size, isBold, room, mostLines) {
  const lines = [];
  let left = text.split(" ");
  while (left.length && lines.length < mostLines - 1) {
    let count = 1;
    while (count < left.length && measure(plain(left.slice(0, count + 1).join(" ")), size, isBold) <= room) count += 1;
    lines.push(cut(measure, left.slice(0, count).join(" "), size, isBold, room));
    left = left.slice(count);
  }
  if (left.length) lines.push(cut(measure, left.join(" "), size, isBold, room));
  return lines;
}

// A text in at most `mostLines` lines, whole: what does not fit is left out from the end, part by part between its commas.
export function uncut(measure, text, size, room, mostLines) {
  for (let parts = text.split(", "); mostLines > 0 && parts[0]; parts = parts.slice(0, -1)) {
    const lines = wrapped(measure, parts.join(", "), size, false, room, mostLines);
    if (!lines.some(isCut)) return lines;
  }
  return [];
}

// ---- where there is room ----

// Stretches {top, px} of a block on screen that no line and no other block crosses, from the top. `px` is the height in px.
export function clearStretches(label, others, lines, view, perMin) {
  const [left, right, start, end] = label.box;
  const top = Math.max(start, view[0]), bottom = Math.min(label.room, view[1]);
  let free = bottom > top ? [[top, bottom]] : [];
  const without = (from, to) => {
    free = free.flatMap(([a, b]) => (to <= a || from >= b ? [[a, b]] : [[a, from], [to, b]])).filter(([a, b]) => b > a);
  };
  others.forEach((box) => { if (box[0] < right && left < box[1]) without(box[2], box[3]); });
  [...lines, end].forEach((at) => without(at, at));
  return free.map(([a, b]) => ({ top: a, px: (b - a) * perMin }));
}

// The lines of drift without the stretches in which they would cross words. `words` are boxes [left, right, top, bottom].
export function interrupted(drift, words) {
  const x = [], y = [];
  for (let at = 0; at + 1 < drift.x.length; at += 3) {
    const [x0, x1] = [drift.x[at], drift.x[at + 1]], [y0, y1] = [drift.y[at], drift.y[at + 1]];
    const share = (time) => (time - y0) / (y1 - y0);
    let parts = [[0, 1]];
    for (const [left, right, top, bottom] of words) {
      if (y0 === y1 || Math.max(x0, x1) < left || Math.min(x0, x1) > right) continue;
      const [from, to] = [share(top), share(bottom)].sort((a, b) => a - b);
      parts = parts.flatMap(([a, b]) => (to <= a || from >= b ? [[a, b]] : [[a, from], [to, b]])).filter(([a, b]) => b > a);
    }
    for (const [a, b] of parts) {
      x.push(x0 + a * (x1 - x0), x0 + b * (x1 - x0), null);
      y.push(y0 + a * (y1 - y0), y0 + b * (y1 - y0), null);
    }
  }
  return { x: x, y: y };
}

// The flags of the briefed starts that lie over no words.
export function clearOf(flags, words) {
  const isClear = (at) => words.every(([left, right, top, bottom]) => flags.x[at] < left || flags.x[at] > right
    || flags.y[at] < top || flags.y[at] > bottom);
  const kept = Object.keys(flags.x).filter(isClear);
  return Object.fromEntries(Object.entries(flags).map(([name, values]) => [name, kept.map((at) => values[at])]));
}

// ---- the words of one block ----

// Rows {left, right, isTitle} of the words of a block, in at most `count` lines that are `room` px wide. The title is bold only
// where work is going on or on hold.
export function rowsOf(measure, label, count, room, big, small) {
  const widthOf = (text, size, isBold) => measure(plain(text), size, isBold);
  const struck = (text) => (label.struck ? "<s>" + text + "</s>" : text);
  const titled = (text) => (label.strong ? "<b>" + struck(text) + "</b>" : struck(text));
  const name = escaped(label.task) + " " + label.title, whole = widthOf(name, big, label.strong);
  if (count < 2) {
    const wanted = [label.second, label.word].find((text) => text && whole + widthOf(text, small, false) + GAP_PX <= room);
    const aside = wanted || label.word;
    const left = aside ? room - widthOf(aside, small, false) - GAP_PX : room;
    const title = cut(measure, name, big, label.strong, left) || cut(measure, escaped(label.task), big, label.strong, left);
    if (title) return [{ left: titled(title), right: aside, isTitle: true }];
    return widthOf(escaped(label.task), big, label.strong) <= room ? [{ left: titled(escaped(label.task)), right: "", isTitle: true }] : [];
  }
  const most = count > 2 ? count - (label.second ? 1 : 0) : whole > room && !label.word ? 2 : 1;
  const titles = wrapped(measure, name, big, label.strong, room, Math.min(MOST_TITLE_LINES, most)).filter(Boolean);
  const rows = titles.map((text) => ({ left: titled(text), right: "", isTitle: true }));
  if (!label.second || rows.length >= count) return rows;
  const free = count - rows.length - (label.right && count - rows.length > 1 ? 1 : 0);
  const seconds = uncut(measure, label.second, small, room, free);
  if (!seconds.length || label.word && !seconds.join(" ").includes(label.word)) {
    seconds.splice(0, seconds.length, ...uncut(measure, label.word, small, room, 1));
  }
  const isBeside = seconds.length === 1 && widthOf(seconds[0], small, false) + widthOf(label.right, small, false) + GAP_PX <= room;
  seconds.forEach((said) => rows.push({ left: said, right: isBeside ? label.right : "", isTitle: false }));
  if (label.right && !isBeside && rows.length < count) {
    uncut(measure, label.right, small, room, 1).forEach((said) => rows.push({ left: said, right: "", isTitle: false }));
  }
  return rows;
}

// The one row of a block that has room for an id alone.
function idOf(measure, label, room) {
  return measure(label.task, LEAST_PX, label.strong) <= room ? [{ left: escaped(label.task), right: "", isTitle: true }] : [];
}

// ---- the words under the sheet ----

// What the sortie does not do, by the reason: ``deferred T390, T400; broken off T350``. `most`: the number of tasks named.
export function outOf(out, isTitled, most = out.length) {
  if (!out.length) return "nothing deferred or broken off";
  const named = out.slice(0, most), reasons = [...new Set(named.map((task) => task.word))];
  const name = (task) => task.task + (isTitled ? " " + task.title : "");
  const said = reasons.map((word) => word + " " + named.filter((task) => task.word === word).map(name).join(isTitled ? "; " : ", "));
  return said.join("; ") + (most < out.length ? " and " + (out.length - most) + " more" : "");
}

// ---- the words of all blocks ----

// The text traces `labels` and `right` of the figure, and `drift` without what would cross them.
export function fitted(payload, view, place, measure) {
  const big = place.column >= WIDE_COLUMN_PX ? 16 : 14, small = big === 16 ? 14 : 13, step = LINE * big;
  const traces = { labels: emptyTrace(), right: emptyTrace() }, written = [];
  const isTight = (px) => px < FIRST_LINE * big + 4;
  const linesIn = (px) => (isTight(px) ? Number(px >= ID_PX)
    : Math.min(MOST_LINES, Math.floor((px - 4 - FIRST_LINE * big) / step) + 1));

  // The stretch right above a block, where no block, no line and no word is in it; null: there is none.
  function above(label) {
    const [left, right, start] = label.box, top = start - TIGHT_PX / place.perMin;
    const isIn = ([from, to, first, last]) => from < right && left < to && first < start && top < last;
    const words = written.map(([from, to, first, last]) => [from, to, first, last - UNDER_PX / place.perMin]);
    const isFree = top >= view[0] && start <= view[1] && ![payload.now, payload.limit].some((at) => top < at && at < start);
    return isFree && ![...payload.labels.map((other) => other.box), ...words].some(isIn) ? { top: top, px: TIGHT_PX } : null;
  }

  function write(label, stretch, rows, room) {
    const colour = label.rest && stretch.top >= payload.now ? label.rest : label.colour;
    const size = isTight(stretch.px) ? LEAST_PX : big, aside = Math.min(size, small);
    const from = !isTight(stretch.px) ? TOP_PX : stretch.px >= TIGHT_PX ? TIGHT_TOP_PX : ID_TOP_PX + (stretch.px - ID_PX) / 2;
    const start = label.box[0] + PAD_PX / place.column;
    const html = rows.map((row) => (row.isTitle ? row.left : '<span style="font-size:' + small + 'px">' + row.left + "</span>"));
    if (rows.length) add(traces.labels, start, stretch.top + from / place.perMin, html.join("<br>"), colour, size);
    rows.forEach((row, at) => {
      const px = from + at * step, top = stretch.top + px / place.perMin, end = start + room / place.column;
      const wide = (text, of, isBold) => measure(plain(text.replace(/<[^>]*>/g, "")), of, isBold) / place.column;
      written.push([start, start + wide(row.left, row.isTitle ? size : small, row.isTitle && label.strong), top, top + step / place.perMin]);
      if (!row.right) return;
      add(traces.right, end, stretch.top + (px + (size - aside) * 0.75) / place.perMin, row.right, colour, aside);
      written.push([end - wide(row.right, aside, false), end, top, top + step / place.perMin]);
    });
  }

  payload.labels.forEach((label, index) => {
    if (!label.labelled) return;
    const others = payload.labels.slice(index + 1).filter((other) => other.task !== label.task).map((other) => other.box);
    const stretches = clearStretches(label, others, [payload.now, payload.limit], view, place.perMin);
    const tallest = stretches.reduce((best, one) => (!best || one.px > best.px ? one : best), null);
    const stretch = stretches.find((one) => linesIn(one.px) >= 2) || tallest;
    const count = stretch ? linesIn(stretch.px) : 0;
    const room = (label.box[1] - label.box[0]) * place.column - 2 * PAD_PX;
    const over = stretch && stretch.px < TIGHT_PX ? above(label) : null;
    if (over) return write({ ...label, colour: "var(--text)", rest: "" }, over, rowsOf(measure, label, 1, room, LEAST_PX, LEAST_PX), room);
    if (!count) return;
    if (stretch.px < TIGHT_PX) {
      const under = stretch.top === payload.now ? NOW_PX : 0, seen = { top: stretch.top + under / place.perMin, px: stretch.px - under };
      return seen.px < ID_PX ? undefined : write(label, seen, idOf(measure, label, room), room);
    }
    const rows = isTight(stretch.px) ? rowsOf(measure, label, 1, room, LEAST_PX, LEAST_PX)
      : rowsOf(measure, label, count, room, big, small);
    write(label, stretch, rows, room);
    const after = stretches[stretches.indexOf(stretch) + 1];
    const isUnsaid = label.rest && rows.every((row) => row.isTitle && !row.right);
    if (isUnsaid && after && linesIn(after.px)) {
      const seconds = uncut(measure, label.second, small, room, linesIn(after.px));
      write(label, after, seconds.map((said) => ({ left: said, right: "", isTitle: false })), room);
    }
  });
  const { drift, briefed } = payload.traces;
  return { ...traces, drift: interrupted(drift, written), briefed: clearOf(briefed, written) };
}

function emptyTrace() {
  return { x: [], y: [], text: [], textfont: { color: [], size: [] } };
}

function add(trace, x, y, text, colour, size) {
  trace.x.push(x);
  trace.y.push(y);
  trace.text.push(text);
  trace.textfont.color.push(colour);
  trace.textfont.size.push(size);
}
