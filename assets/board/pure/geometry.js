// Geometry of the lane sheet: the time in view, and the texts of axis and margins that have room in it.
// A view is a pair [top, bottom] of PET minutes. `place` is the size of the plot: {width, height, column, perMin} in px.

import { petText } from "./times.js";

const VIEW_MIN = 200, NOW_AT = 0.4, LEAST_VIEW_MIN = 20, BEYOND_MIN = 30;
const TICK_APART_PX = 46, BADGE_PX = 22, SIDE_LINE_PX = 17;
const FROM_TOP_PX = 8, FROM_FOOT_PX = 4;  // a time nearer to an end of the axis would be cut
const TICKS_MIN = [5, 10, 15, 30, 60, 120];
const LEAST_PLOT_PX = 50;
// A narrow figure has no texts right of the columns. The second part of a head stands under the name, if there is room for it.
const NARROW_PX = 470, NARROW_MARGIN = { l: 46, r: 4 }, HEAD_PX = 96, HEAD_LINE_PX = 20;
const LOW_PX = 320, LOW_VIEW_MIN = 90;  // a low figure shows less time
const WALL_TEXT_SHARE = 0.037, WALL_TEXT_PX = 14;  // a text of so many px takes this share of the height of a wall

// ---- the view ----

// The view that follows now: now is at 40 % of its height, but the view does not leave the sortie.
// `height` of the figure in px.
export function followed(payload, height) {
  const length = height < LOW_PX ? LOW_VIEW_MIN : VIEW_MIN;
  const first = payload.span[0], last = Math.max(payload.span[1], first + length);
  const top = Math.min(Math.max(payload.now - NOW_AT * length, first), last - length);
  return [top, top + length];
}

// The first and last minute that a view may show: the sortie and `BEYOND_MIN` on either side.
export function ends(payload) {
  return [payload.span[0] - BEYOND_MIN, Math.max(payload.span[1], payload.span[0] + VIEW_MIN) + BEYOND_MIN];
}

// The view nearest to the wanted one that is between the ends and not too short.
export function within(view, payload) {
  const [first, last] = ends(payload);
  const length = Math.min(last - first, Math.max(LEAST_VIEW_MIN, view[1] - view[0]));
  const top = Math.min(Math.max((view[0] + view[1] - length) / 2, first), last - length);
  return [top, top + length];
}

// The view with its ends moved by these shares of its length.
export function moved(view, [top, bottom]) {
  const length = view[1] - view[0];
  return [view[0] + top * length, view[1] + bottom * length];
}

// The view of the same length with the time `at` in the place where now is when the view follows it.
export function around(at, view) {
  const length = view[1] - view[0];
  return [at - NOW_AT * length, at + (1 - NOW_AT) * length];
}

// The view after a wheel turn or a drag, from the event of Plotly; null: the event is about something else.
export function pannedTo(relayout) {
  if (Array.isArray(relayout["yaxis.range"])) return [relayout["yaxis.range"][1], relayout["yaxis.range"][0]];
  if (relayout["yaxis.range[0]"] === undefined) return null;
  return [relayout["yaxis.range[1]"], relayout["yaxis.range[0]"]];
}

export const isNarrow = (box) => box.width < NARROW_PX;

// The space around the plot, in px; `margin` is that of a figure that is wide enough.
export function marginOf(margin, box, columns) {
  if (!isNarrow(box)) return margin;
  const found = { ...margin, ...NARROW_MARGIN }, column = (box.width - found.l - found.r) / columns;
  return { ...found, t: HEAD_LINE_PX * (column < HEAD_PX ? 1 : 2) + 4 };
}

// How much larger a figure is drawn on a wall that is `height` px high.
export const scaleOf = (height) => WALL_TEXT_SHARE * height / WALL_TEXT_PX;

// The size of the plot. `box` is the size of the whole figure, `margin` the space around the plot, both in px.
export function placing(box, margin, columns, view) {
  const width = Math.max(LEAST_PLOT_PX, box.width - margin.l - margin.r);
  const height = Math.max(LEAST_PLOT_PX, box.height - margin.t - margin.b);
  return { width: width, height: height, column: width / columns, perMin: height / (view[1] - view[0]) };
}

// ---- axis and margins ----

// Ticks at the smallest distance that leaves room for their texts. A tick under a badge or too near an end has no text.
export function ticks(view, badges, place) {
  const apart = TICKS_MIN.find((minutes) => minutes * place.perMin >= TICK_APART_PX) || TICKS_MIN[TICKS_MIN.length - 1];
  const values = [], texts = [];
  for (let at = Math.ceil(view[0] / apart) * apart; at <= view[1]; at += apart) {
    const isHidden = badges.some((badge) => Math.abs(badge.at - at) * place.perMin < BADGE_PX);
    values.push(at);
    const isCut = (at - view[0]) * place.perMin < FROM_TOP_PX || (view[1] - at) * place.perMin < FROM_FOOT_PX;
    texts.push(isHidden || isCut ? "" : petText(at));
  }
  return { tickvals: values, ticktext: texts };
}

// The badges that are wholly in view and do not cover an earlier badge of the list.
export function shownBadges(badges, view, place) {
  const shown = [];
  for (const badge of badges) {
    const fromTop = (badge.at - view[0]) * place.perMin;
    const isInView = fromTop > BADGE_PX / 2 && fromTop < place.height - BADGE_PX / 2;
    const isFree = shown.every((other) => Math.abs(other.at - badge.at) * place.perMin >= BADGE_PX);
    if (isInView && isFree) shown.push(badge);
  }
  return shown;
}

export function badgeNote(badge) {
  const isLong = badge.text.replace(/<[^>]*>/g, "").length > 4;  // a minus before the time, or ten hours: it has to fit the same margin
  return {
    xref: "paper", x: 0, xanchor: "right", yref: "y", y: badge.at, yanchor: "middle", showarrow: false,
    text: badge.text, bgcolor: badge.fill, bordercolor: badge.edge, borderwidth: 2, borderpad: isLong ? 1 : 3,
    font: { color: badge.colour, size: isLong ? 13 : 15 },
  };
}

// Texts right of the columns are placed just under their time. A text that would cover another moves down, or is left out.
export function sideNotes(sides, view, place) {
  const notes = [];
  let taken = -Infinity;
  const seen = sides.filter((side) => side.at >= view[0] && side.at <= view[1]).sort((a, b) => a.at - b.at);
  for (const side of seen) {
    const height = side.text.split("<br>").length * SIDE_LINE_PX + 2;
    const wanted = Math.min((side.at - view[0]) * place.perMin, place.height - height);
    const top = Math.max(wanted, taken);
    if (top - wanted > 2 * SIDE_LINE_PX || top + height > place.height + 4) continue;
    taken = top + height;
    notes.push({
      xref: "paper", x: 1, xanchor: "left", xshift: 8, yref: "y", y: view[0] + top / place.perMin, yanchor: "top",
      showarrow: false, align: "left", text: side.text, font: { color: side.colour, size: 13 }, borderpad: 0,
    });
  }
  return notes;
}

// The names above the columns. In a narrow figure the second part of a head is under the name, or is left out.
export function heads(columns, box, place) {
  const said = (text) => (!isNarrow(box) ? text : place.column < HEAD_PX ? text.replace(/\s*<span.*$/, "") : text.replace(/\s*<span/, "<br><span"));
  const head = { yref: "paper", y: 1, yanchor: "bottom", yshift: 1, showarrow: false };
  const lanes = columns.map((column) => ({ ...head, xref: "x", x: column.at, xanchor: "left",
    align: "left", text: said(column.text), font: { color: "var(--text)", size: 16 } }));
  return [{ ...head, xref: "paper", x: 0, xanchor: "right", xshift: -6, text: "PET",
    font: { color: "var(--secondary)", size: 14 } }, ...lanes];
}
