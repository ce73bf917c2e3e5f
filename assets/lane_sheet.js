// The lane sheet in the browser: puts the payload into the figure and chooses the view. labels.js fits the words.
// All texts and colour roles come ready made from the server; nothing here computes a number of the sortie.
// View state (follow, range) belongs to the browser alone and survives every update.
// The plot is made and drawn here alone, in the frame of its message: a graph component that hears the plot's own events
// would draw over it.
(function () {
  "use strict";

  const T = (window.tetherline = window.tetherline || {});
  const GRAPH = "sheet-graph";
  const VIEW_MIN = 200, NOW_AT = 0.4, LEAST_VIEW_MIN = 20, BEYOND_MIN = 30;
  const TICK_APART_PX = 46, BADGE_PX = 22, SIDE_LINE_PX = 17;
  const FROM_TOP_PX = 8, FROM_FOOT_PX = 4;  // nearer to an end of the axis its time would be cut
  const TICKS_MIN = [5, 10, 15, 30, 60, 120];
  const SETTLED_MS = 120, NOT_YET_MS = 50;

  // `board`: what was heard last; `serial` tells Plotly that the view was moved from here.
  const memory = { board: null, template: null, config: null, plot: null, size: null, drawn: "", view: null, isFollowing: true, serial: 0 };

  // ---- view: a pair [top, bottom] of PET minutes ----

  function followed(payload) {
    const first = payload.span[0], last = Math.max(payload.span[1], first + VIEW_MIN);
    const top = Math.min(Math.max(payload.now - NOW_AT * VIEW_MIN, first), last - VIEW_MIN);
    return [top, top + VIEW_MIN];
  }

  function drawnView() {
    const axis = memory.drawn && memory.plot._fullLayout.yaxis;
    return axis ? [axis.range[1], axis.range[0]] : memory.view;
  }

  function pannedTo(relayout) {
    if (Array.isArray(relayout["yaxis.range"])) return [relayout["yaxis.range"][1], relayout["yaxis.range"][0]];
    if (relayout["yaxis.range[0]"] === undefined) return null;
    return [relayout["yaxis.range[1]"], relayout["yaxis.range[0]"]];
  }

  // The first and last minute that a view may show: the sortie and a little on either side.
  function ends(payload) {
    return [payload.span[0] - BEYOND_MIN, Math.max(payload.span[1], payload.span[0] + VIEW_MIN) + BEYOND_MIN];
  }

  function within(view, payload) {
    const [first, last] = ends(payload);
    const length = Math.min(last - first, Math.max(LEAST_VIEW_MIN, view[1] - view[0]));
    const top = Math.min(Math.max((view[0] + view[1] - length) / 2, first), last - length);
    return [top, top + length];
  }

  function moved(view, action) {
    const length = view[1] - view[0];
    const by = { "sheet-earlier": [-0.3, -0.3], "sheet-later": [0.3, 0.3], "sheet-closer": [0.15, -0.15],
      "sheet-wider": [-0.2, 0.2] }[action];
    return [view[0] + by[0] * length, view[1] + by[1] * length];
  }

  // ---- axis and margins ----

  function petText(minutes) {
    const whole = Math.abs(Math.round(minutes));
    return (minutes < 0 ? "-" : "") + Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0");
  }

  function ticks(view, badges, place) {
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

  function shownBadges(payload, view, place) {
    const shown = [];
    payload.badges.forEach((badge) => {
      const fromTop = (badge.at - view[0]) * place.perMin;
      const isInView = fromTop > BADGE_PX / 2 && fromTop < place.height - BADGE_PX / 2;
      const isFree = shown.every((other) => Math.abs(other.at - badge.at) * place.perMin >= BADGE_PX);
      if (isInView && isFree) shown.push(badge);
    });
    return shown;
  }

  function badgeNote(badge) {
    return {
      xref: "paper", x: 0, xanchor: "right", yref: "y", y: badge.at, yanchor: "middle", showarrow: false,
      text: badge.text, bgcolor: badge.fill, bordercolor: badge.edge, borderwidth: 2, borderpad: 3,
      font: { color: badge.colour, size: 15 },
    };
  }

  // Texts right of the columns stand just under their time; one that would cover another moves down, or stays away.
  function sideNotes(payload, view, place) {
    const notes = [];
    let taken = -Infinity;
    payload.side.filter((side) => side.at >= view[0] && side.at <= view[1])
      .sort((a, b) => a.at - b.at)
      .forEach((side) => {
        const height = side.text.split("<br>").length * SIDE_LINE_PX + 2;
        const wanted = Math.min((side.at - view[0]) * place.perMin, place.height - height);
        const top = Math.max(wanted, taken);
        if (top - wanted > 2 * SIDE_LINE_PX || top + height > place.height + 4) return;
        taken = top + height;
        notes.push({
          xref: "paper", x: 1, xanchor: "left", xshift: 8, yref: "y", y: view[0] + top / place.perMin, yanchor: "top",
          showarrow: false, align: "left", text: side.text, font: { color: side.colour, size: 13 }, borderpad: 0,
        });
      });
    return notes;
  }

  function heads(payload) {
    const head = { yref: "paper", y: 1, yanchor: "bottom", yshift: 1, showarrow: false };
    const lanes = payload.columns.map((column) => ({ ...head, xref: "x", x: column.at, xanchor: "left",
      text: column.text, font: { color: "var(--text)", size: 16 } }));
    return [{ ...head, xref: "paper", x: 0, xanchor: "right", xshift: -6, text: "PET",
      font: { color: "var(--secondary)", size: 14 } }, ...lanes];
  }

  // ---- colours: roles to what the theme says ----

  let palette = { theme: null, found: {} };

  function role(name) {
    const theme = document.documentElement.dataset.theme || "dark";
    if (palette.theme !== theme) palette = { theme: theme, found: {} };
    if (!(name in palette.found)) {
      palette.found[name] = getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
    }
    return palette.found[name];
  }

  function family() {
    return role("font") || "sans-serif";
  }

  function painted(part) {
    if (typeof part === "string") return part.startsWith("var(--") ? role(part.slice(6, -1)) : part;
    if (Array.isArray(part)) return part.map(painted);
    if (part === null || typeof part !== "object") return part;
    return Object.fromEntries(Object.entries(part).map(([key, value]) => [key, painted(value)]));
  }

  // ---- the figure ----

  function placing(template, payload, view) {
    const box = memory.size, margin = template.layout.margin;
    const width = Math.max(50, box.width - margin.l - margin.r), height = Math.max(50, box.height - margin.t - margin.b);
    return { width: width, height: height, column: width / payload.columns.length, perMin: height / (view[1] - view[0]) };
  }

  function figureOf(template, payload, view) {
    const place = placing(template, payload, view);
    const traces = { ...payload.traces, ...window.tetherlineLabels.fitted(payload, view, place, family()) };
    const badges = shownBadges(payload, view, place);
    const layout = template.layout;
    return painted({
      data: template.data.map((trace) => ({ ...trace, ...traces[trace.name],
        marker: { ...trace.marker, ...(traces[trace.name] || {}).marker } })),
      layout: {
        ...layout,
        width: memory.size.width,
        height: memory.size.height,
        font: { ...layout.font, family: family() },
        hoverlabel: { ...layout.hoverlabel, font: { ...layout.hoverlabel.font, family: family() } },
        yaxis: { ...layout.yaxis, ...ticks(view, badges, place), range: [view[1], view[0]], uirevision: memory.serial,
          minallowed: ends(payload)[0], maxallowed: ends(payload)[1] },
        shapes: payload.shapes,
        annotations: [...heads(payload), ...badges.map(badgeNote), ...sideNotes(payload, view, place)],
      },
    });
  }

  function outOf(payload) {
    if (!payload.out.length) return "nothing deferred or broken off";
    return payload.out.map((task) => task.word + ": " + task.title).join(";  ");
  }

  // `board`: its sheet and its rail. The newest is drawn, also after a drag, during which nothing is.
  T.drawSheet = function (board) {
    memory.board = board;
    draw();
  };

  function draw(wanted) {
    if (!memory.board || !isReady() || memory.plot._dragging) return;
    const payload = memory.board.sheet;
    const view = memory.isFollowing ? followed(payload) : within(wanted || drawnView() || followed(payload), payload);
    const size = [memory.size.width, memory.size.height].map(Math.round);
    const key = [payload.stamp, role("ground"), ...size, ...view.map((v) => v.toFixed(3)), memory.isFollowing].join();
    if (key === memory.drawn) return;
    memory.view = view;
    memory.drawn = key;
    const figure = figureOf(memory.template, payload, view), isNew = !memory.plot._fullLayout;
    window.Plotly.react(memory.plot, figure.data, figure.layout, memory.config);
    if (isNew) memory.plot.on("plotly_relayout", panned);
    window.tetherlineRail.draw(memory.board.rail, view);
    const out = document.getElementById("sheet-out");
    out.textContent = out.title = outOf(payload);
    document.getElementById("sheet-back-to-now").textContent = memory.isFollowing ? "Following now" : "Back to now";
  }

  // ---- who moves the view ----

  // A view, or null: that which follows now.
  function show(view) {
    memory.isFollowing = !view;
    memory.serial += 1;
    draw(view);
  }

  T.pressed = T.pressed || {};
  T.pressed["sheet-back-to-now"] = () => show(null);
  for (const name of ["sheet-earlier", "sheet-later", "sheet-closer", "sheet-wider"]) {
    T.pressed[name] = () => { if (memory.view) show(moved(drawnView(), name)); };
  }

  T.showTime = function (at) {
    if (!memory.view) return;
    const now = drawnView(), length = now[1] - now[0];
    show([at - NOW_AT * length, at + (1 - NOW_AT) * length]);
  };

  // Wheel and drag: Plotly has moved the view already.
  function panned(relayout) {
    const view = pannedTo(relayout);
    if (view) memory.isFollowing = false;
    draw(view);
  }

  // ---- the plot, and what it is drawn for: size, theme and fonts ----

  // The element may be made anew: whichever is there is the one that is drawn in.
  function isReady() {
    const graph = document.getElementById(GRAPH), plot = graph && graph.firstElementChild;
    if (!plot || !window.Plotly) {
      later(NOT_YET_MS);
      return false;
    }
    if (plot === memory.plot) return true;
    memory.plot = plot;
    const { template, config } = document.getElementById("sheet").dataset;
    memory.template = JSON.parse(template);
    memory.config = JSON.parse(config);
    memory.size = graph.getBoundingClientRect();
    memory.drawn = "";
    sizes.disconnect();
    sizes.observe(graph);
    return true;
  }

  let waiting = null;

  function later(ms) {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => draw(), ms);
  }

  // What is watched is kept, so that drawing need not ask the page for its layout.
  const sizes = new ResizeObserver((seen) => {
    memory.size = seen[seen.length - 1].contentRect;
    later(SETTLED_MS);
  });

  function watch() {
    new MutationObserver(() => { palette.theme = null; later(SETTLED_MS); })
      .observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    if (document.fonts) document.fonts.ready.then(() => { memory.drawn = ""; later(SETTLED_MS); });
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", watch); else watch();
})();
