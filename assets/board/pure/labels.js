// The words in the blocks of the lane sheet: as many lines as a block has room for on screen, cut by their measured width.
// A block gives its words: title, second line, right text, and the one word that is never left out. No figure is computed here.
// Words are escaped for Plotly. `measure(text, size, isBold)` gives the width in px of a text that is not escaped.

const PAD_PX = 9, TOP_PX = 5, LINE = 1.3, FIRST_LINE = 1.1, MOST_LINES = 4, GAP_PX = 16;
const TIGHT_PX = 15, TIGHT_TOP_PX = 2.5;  // a lower block has no words; a block that is only a little higher has small words
const WIDE_COLUMN_PX = 230, LEAST_PX = 13;

// ---- one line ----

function plain(text) {
  return text.replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&");
}

function escaped(text) {
  return text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
}

// The text; if it is wider than `room`, it is cut and ends in an ellipsis. Empty: not even one letter fits.
export function cut(measure, text, size, isBold, room) {
  if (measure(plain(text), size, isBold) <= room) return text;
  let letters = plain(text);
  while (letters.length > 1 && measure(letters + "…", size, isBold) > room) letters = letters.slice(0, -1);
  return letters.length > 1 ? escaped(letters.trimEnd()) + "…" : "";
}

// A bold text in at most `mostLines` lines; the rest is cut.
export function wrapped(measure, text, size, room, mostLines) {
  const lines = [];
  let left = text.split(" ");
  while (left.length && lines.length < mostLines - 1) {
    let count = 1;
    while (count < left.length && measure(plain(left.slice(0, count + 1).join(" ")), size, true) <= room) count += 1;
    lines.push(cut(measure, left.slice(0, count).join(" "), size, true, room));
    left = left.slice(count);
  }
  if (left.length) lines.push(cut(measure, left.join(" "), size, true, room));
  return lines;
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

// Right end for the words of a block over several columns: left of the first drift line that would cross them.
export function clearRight(box, from, to, drift) {
  for (let at = 0; at + 1 < drift.x.length; at += 3) {
    const isInside = drift.x[at] > box[0] + 0.2 && drift.x[at + 1] < box[1];
    const top = Math.min(drift.y[at], drift.y[at + 1]), bottom = Math.max(drift.y[at], drift.y[at + 1]);
    if (isInside && top < to && bottom > from) return drift.x[at] - 0.03;
  }
  return box[1];
}

// ---- the words of one block ----

// Rows {left, right, isTitle} of the words of a block, in at most `count` lines that are `room` px wide.
export function rowsOf(measure, label, count, room, big, small) {
  const widthOf = (text, size, isBold) => measure(plain(text), size, isBold);
  const titled = (text) => "<b>" + (label.struck ? "<s>" + text + "</s>" : text) + "</b>";
  const whole = widthOf(label.title, big, true);
  if (count < 2) {
    const wanted = [label.second, label.word].find((text) => text && whole + widthOf(text, small, false) + GAP_PX <= room);
    const aside = wanted || label.word;
    const title = cut(measure, label.title, big, true, aside ? room - widthOf(aside, small, false) - GAP_PX : room);
    return title ? [{ left: titled(title), right: aside, isTitle: true }] : [];
  }
  const titles = wrapped(measure, label.title, big, room, count > 2 || (whole > room && !label.word) ? 2 : 1);
  const rows = titles.map((text) => ({ left: titled(text), right: "", isTitle: true }));
  if (!label.second || rows.length >= count) return rows;
  const second = label.word && widthOf(label.second, small, false) > room ? label.word : label.second;
  const isBeside = widthOf(second, small, false) + widthOf(label.right, small, false) + GAP_PX <= room;
  rows.push({ left: cut(measure, second, small, false, room), right: isBeside ? label.right : "", isTitle: false });
  if (label.right && !isBeside && rows.length < count) {
    rows.push({ left: cut(measure, label.right, small, false, room), right: "", isTitle: false });
  }
  return rows;
}

// ---- the words of all blocks ----

// The text traces `labels` and `right` of the figure.
export function fitted(payload, view, place, measure) {
  const big = place.column >= WIDE_COLUMN_PX ? 16 : 14, small = big === 16 ? 14 : 13, step = LINE * big;
  const traces = { labels: emptyTrace(), right: emptyTrace() };
  const isTight = (px) => px < FIRST_LINE * big + 4;
  const linesIn = (px) => (isTight(px) ? Number(px >= TIGHT_PX)
    : Math.min(MOST_LINES, Math.floor((px - 4 - FIRST_LINE * big) / step) + 1));

  function write(label, stretch, rows, room) {
    const colour = label.rest && stretch.top >= payload.now ? label.rest : label.colour;
    const size = isTight(stretch.px) ? LEAST_PX : big, aside = Math.min(size, small);
    const from = isTight(stretch.px) ? TIGHT_TOP_PX : TOP_PX;
    const start = label.box[0] + PAD_PX / place.column;
    const html = rows.map((row) => (row.isTitle ? row.left : '<span style="font-size:' + small + 'px">' + row.left + "</span>"));
    if (rows.length) add(traces.labels, start, stretch.top + from / place.perMin, html.join("<br>"), colour, size);
    rows.forEach((row, at) => {
      const px = from + at * step + (size - aside) * 0.75;
      if (row.right) add(traces.right, start + room / place.column, stretch.top + px / place.perMin, row.right, colour, aside);
    });
  }

  payload.labels.forEach((label, index) => {
    if (!label.labelled) return;
    const others = payload.labels.slice(index + 1).filter((other) => other.task !== label.task).map((other) => other.box);
    const stretches = clearStretches(label, others, [payload.now, payload.limit], view, place.perMin);
    const tallest = stretches.reduce((best, one) => (!best || one.px > best.px ? one : best), null);
    const stretch = stretches.find((one) => linesIn(one.px) >= 2) || tallest;
    const count = stretch ? linesIn(stretch.px) : 0;
    if (!count) return;
    const edge = clearRight(label.box, stretch.top, stretch.top + count * step / place.perMin, payload.traces.drift);
    const inside = (right) => (right - label.box[0]) * place.column - 2 * PAD_PX;
    const said = (width) => (isTight(stretch.px) ? rowsOf(measure, label, 1, width, LEAST_PX, LEAST_PX)
      : rowsOf(measure, label, count, width, big, small));
    // Left of the drift line if all words fit there; otherwise over the whole width of the block, since the line is thin.
    const isCut = (found) => !found.length || found.some((row) => /…/.test(row.left));
    const room = isCut(said(inside(edge))) ? inside(label.box[1]) : inside(edge), rows = said(room);
    write(label, stretch, rows, room);
    const after = stretches[stretches.indexOf(stretch) + 1];
    const isUnsaid = label.rest && rows.every((row) => row.isTitle && !row.right);
    if (isUnsaid && after && linesIn(after.px)) {
      write(label, after, [{ left: cut(measure, label.second, small, false, room), right: "", isTitle: false }], room);
    }
  });
  return traces;
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
