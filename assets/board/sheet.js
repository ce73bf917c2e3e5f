// The lane sheet in the browser: puts the payload into the figure and chooses the view.
// The server sends all texts and colour roles; no number of the sortie is computed here.
// Only the browser chooses the view, and every update keeps it.
// Only this module makes and draws the plot, in the same frame as the rest of the message. A graph component of Dash would
// listen to the events of the plot and draw over it. Plotly is the copy that comes with Dash, a classic script of the page.

import { byId } from "./dom.js";
import { Sheet } from "./ids.js";
import * as geometry from "./pure/geometry.js";
import { fitted, outOf } from "./pure/labels.js";
import * as rail from "./rail.js";

const SETTLED_MS = 120, NOT_YET_MS = 50, EDGE_MIN = 10;

// `board`: content of the last message; `serial`: tells Plotly that this module moved the view.
const memory = { board: null, template: null, config: null, plot: null, size: null, drawn: "", view: null, isFollowing: true, serial: 0 };

// ---- colours and fonts: from roles to values of the theme ----

let palette = { theme: null, found: {} };

function role(name) {
  const theme = document.documentElement.dataset.theme || "dark";
  if (palette.theme !== theme) palette = { theme: theme, found: {} };
  if (!(name in palette.found)) {
    palette.found[name] = getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
  }
  return palette.found[name];
}

function painted(part) {
  if (typeof part === "string") return part.startsWith("var(--") ? role(part.slice(6, -1)) : part;
  if (Array.isArray(part)) return part.map(painted);
  if (part === null || typeof part !== "object") return part;
  return Object.fromEntries(Object.entries(part).map(([key, value]) => [key, painted(value)]));
}

const family = () => role("font") || "sans-serif";
const pen = document.createElement("canvas").getContext("2d");

function measure(text, size, isBold) {
  pen.font = (isBold ? "bold " : "") + size + "px " + family();
  return pen.measureText(text).width;
}

// ---- the figure ----

function figureOf(template, payload, view) {
  const layout = template.layout, margin = geometry.marginOf(layout.margin, memory.size, payload.columns.length);
  const place = geometry.placing(memory.size, margin, payload.columns.length, view);
  const traces = { ...payload.traces, ...fitted(payload, view, place, measure) };
  const badges = geometry.shownBadges(payload.badges, view, place), [first, last] = geometry.ends(payload);
  return painted({
    data: template.data.map((trace) => ({ ...trace, ...traces[trace.name],
      marker: { ...trace.marker, ...(traces[trace.name] || {}).marker } })),
    layout: {
      ...layout,
      margin: margin,
      width: memory.size.width,
      height: memory.size.height,
      font: { ...layout.font, family: family() },
      hoverlabel: { ...layout.hoverlabel, font: { ...layout.hoverlabel.font, family: family() } },
      xaxis: { ...layout.xaxis, range: [0, payload.columns.length] },  // the plan page may have other lanes than the board
      yaxis: { ...layout.yaxis, ...geometry.ticks(view, badges, place), range: [view[1], view[0]], uirevision: memory.serial,
        minallowed: first, maxallowed: last },
      shapes: payload.shapes,
      annotations: [...geometry.heads(payload.columns, memory.size, place), ...badges.map(geometry.badgeNote),
        ...(geometry.isNarrow(memory.size) ? [] : geometry.sideNotes(payload.side, view, place))],
    },
  });
}

// What the sortie does not do, under the sheet: with titles where they fit, else as many ids as fit. All of it is in the hint.
function drawOut(out) {
  const place = byId(Sheet.OUT), said = outOf(out, true);
  if (place.title === said) return;
  place.textContent = place.title = said;
  for (let most = out.length; most > 0 && place.scrollHeight > place.clientHeight + 1; most -= 1) {
    place.textContent = outOf(out, false, most);
  }
}

// `board` has `sheet` and `rail`. During a drag nothing is drawn; after it the newest board is.
export function draw(board) {
  memory.board = board;
  redraw();
}

function drawnView() {
  const axis = memory.drawn && memory.plot._fullLayout.yaxis;
  return axis ? [axis.range[1], axis.range[0]] : memory.view;
}

function viewOf(payload, wanted) {
  const following = geometry.followed(payload, memory.size.height);
  return memory.isFollowing ? following : geometry.within(wanted || drawnView() || following, payload);
}

function redraw(wanted) {
  if (!memory.board || !isReady() || memory.plot._dragging) return;
  const payload = memory.board.sheet, view = viewOf(payload, wanted);
  const size = [memory.size.width, memory.size.height].map(Math.round);
  const key = [payload.stamp, role("ground"), ...size, ...view.map((v) => v.toFixed(3)), memory.isFollowing].join();
  if (key === memory.drawn) return;
  memory.view = view;
  memory.drawn = key;
  const figure = figureOf(memory.template, payload, view), isNew = !memory.plot._fullLayout;
  window.Plotly.react(memory.plot, figure.data, figure.layout, memory.config);
  if (isNew) memory.plot.on("plotly_relayout", panned);
  rail.draw(memory.board.rail, view, showTime);
  drawOut(payload.out);
  byId(Sheet.BACK).textContent = memory.isFollowing ? "Following now" : "Follow now";
}

// ---- moving the view ----

// Shows a view; null: the view that follows now.
function show(view) {
  memory.isFollowing = !view;
  memory.serial += 1;
  redraw(view);
}

function showTime(at) {
  if (memory.view) show(geometry.around(at, drawnView()));
}

// Brings a task into view. Gives whether it is on the sheet.
export function showTask(task) {
  const label = memory.board && memory.board.sheet.labels.find((one) => one.task === task);
  if (label) showTime(label.box[2]);
  return Boolean(label);
}

// After a wheel turn or a drag, by which Plotly has already moved the view.
function panned(relayout) {
  const view = geometry.pannedTo(relayout);
  if (view) memory.isFollowing = false;
  redraw(view);
}

// Brings a stretch of time into view; nothing moves when its beginning is in view.
export function bring(from) {
  const view = memory.view && drawnView();
  if (view && (from < view[0] || from > view[1] - EDGE_MIN)) showTime(from);
}

const movedBy = (top, bottom) => () => { if (memory.view) show(geometry.moved(drawnView(), [top, bottom])); };

export const pressed = {
  [Sheet.BACK]: () => show(null),
  [Sheet.EARLIER]: movedBy(-0.3, -0.3),
  [Sheet.LATER]: movedBy(0.3, 0.3),
  [Sheet.CLOSER]: movedBy(0.15, -0.15),
  [Sheet.WIDER]: movedBy(-0.2, 0.2),
};

// ---- the element of the plot, and changes of size, theme and fonts ----

// Dash may replace the element of the plot; the present one is used.
function isReady() {
  const graph = byId(Sheet.GRAPH), plot = graph && graph.firstElementChild;
  if (!plot || !window.Plotly) {
    later(NOT_YET_MS);
    return false;
  }
  if (plot === memory.plot) return true;
  memory.plot = plot;
  const { template, config } = byId(Sheet.REGION).dataset;
  memory.template = JSON.parse(template);
  memory.config = JSON.parse(config);
  memory.size = { width: graph.clientWidth, height: graph.clientHeight };
  memory.drawn = "";
  sizes.disconnect();
  sizes.observe(graph);
  return true;
}

let waiting = null;

function later(ms) {
  window.clearTimeout(waiting);
  waiting = window.setTimeout(() => redraw(), ms);
}

// The observed size is kept, so that drawing need not ask the browser for the layout.
const sizes = new ResizeObserver((seen) => {
  memory.size = seen[seen.length - 1].contentRect;
  later(SETTLED_MS);
});

export function listen() {
  new MutationObserver(() => { palette.theme = null; later(SETTLED_MS); })
    .observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  addEventListener("beforeprint", () => { palette.theme = null; redraw(); });
  if (document.fonts) document.fonts.ready.then(() => { memory.drawn = ""; later(SETTLED_MS); });
}
