// The lane sheet in the browser: puts the payload into the figure and chooses the view. labels.js fits the words.
// All texts and colour roles come ready made from the server; nothing here computes a number of the sortie.
// View state (follow, range) belongs to the browser alone and survives every update.
(function () {
  "use strict";

  const GRAPH = "sheet-graph";
  const VIEW_MIN = 200, NOW_AT = 0.4, LEAST_VIEW_MIN = 20, MOST_VIEW_MIN = 900;
  const TICK_APART_PX = 46, BADGE_PX = 22, SIDE_LINE_PX = 17;
  const TICKS_MIN = [5, 10, 15, 30, 60, 120];

  const memory = { drawn: "", view: null, serial: 0 };

  // ---- view: a pair [top, bottom] of PET minutes ----

  function followed(payload) {
    const first = payload.span[0], last = Math.max(payload.span[1], first + VIEW_MIN);
    const top = Math.min(Math.max(payload.now - NOW_AT * VIEW_MIN, first), last - VIEW_MIN);
    return [top, top + VIEW_MIN];
  }

  function drawnView() {
    const plot = document.querySelector("#" + GRAPH + " .js-plotly-plot");
    const axis = plot && plot._fullLayout && plot._fullLayout.yaxis;
    return axis && memory.view ? [axis.range[1], axis.range[0]] : null;
  }

  function isDragging() {
    const plot = document.querySelector("#" + GRAPH + " .js-plotly-plot");
    return Boolean(plot && plot._dragging);
  }

  function pannedTo(relayout) {
    if (!relayout) return null;
    if (Array.isArray(relayout["yaxis.range"])) return [relayout["yaxis.range"][1], relayout["yaxis.range"][0]];
    if (relayout["yaxis.range[0]"] === undefined) return null;
    return [relayout["yaxis.range[1]"], relayout["yaxis.range[0]"]];
  }

  function moved(view, action) {
    const length = view[1] - view[0], middle = (view[0] + view[1]) / 2;
    const scaled = (factor) => {
      const now = Math.min(MOST_VIEW_MIN, Math.max(LEAST_VIEW_MIN, length * factor));
      return [middle - now / 2, middle + now / 2];
    };
    if (action === "sheet-earlier") return [view[0] - 0.3 * length, view[1] - 0.3 * length];
    if (action === "sheet-later") return [view[0] + 0.3 * length, view[1] + 0.3 * length];
    return scaled(action === "sheet-closer" ? 0.7 : 1 / 0.7);
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
      texts.push(isHidden || (at - view[0]) * place.perMin < 8 ? "" : petText(at));
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
    const box = document.getElementById(GRAPH).getBoundingClientRect(), margin = template.layout.margin;
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
        font: { ...layout.font, family: family() },
        hoverlabel: { ...layout.hoverlabel, font: { ...layout.hoverlabel.font, family: family() } },
        yaxis: { ...layout.yaxis, ...ticks(view, badges, place), range: [view[1], view[0]], uirevision: memory.serial },
        shapes: payload.shapes,
        annotations: [...heads(payload), ...badges.map(badgeNote), ...sideNotes(payload, view, place)],
      },
    });
  }

  function outOf(payload) {
    if (!payload.out.length) return "nothing deferred or broken off";
    return payload.out.map((task) => task.word + ": " + task.title).join(";  ");
  }

  function sheet(snap, relayout, jump, resized, back, earlier, later, closer, wider, follow, template) {
    const clientside = window.dash_clientside, still = clientside.no_update;
    const nothing = [still, still, still, still, still];
    // Calls may queue behind a slow one: the newest message is drawn, the others are skipped.
    const newest = window.tetherline && window.tetherline.message();
    snap = newest && newest.board ? newest : snap;
    const payload = snap && snap.board && snap.board.sheet;
    if (!payload || !template || isDragging()) return nothing;
    watchSize();
    const cause = (clientside.callback_context.triggered_id || "") + "";
    const panned = cause === GRAPH ? pannedTo(relayout) : null;
    let view = drawnView() || memory.view, isFollowing = follow !== false;
    if (panned) { view = panned; isFollowing = false; }
    else if (cause === "sheet-back-to-now") { isFollowing = true; memory.serial += 1; }
    else if (cause === "sheet-jump" && jump !== null && view) {
      const length = view[1] - view[0];
      view = [jump - NOW_AT * length, jump + (1 - NOW_AT) * length];
      isFollowing = false; memory.serial += 1;
    } else if (/^sheet-(earlier|later|closer|wider)$/.test(cause) && view) {
      view = moved(view, cause); isFollowing = false; memory.serial += 1;
    }
    if (isFollowing || !view) view = followed(payload);
    const box = document.getElementById(GRAPH).getBoundingClientRect();
    const key = [payload.stamp, role("ground"), Math.round(box.width), Math.round(box.height), view.map((v) => v.toFixed(3))].join();
    if (key === memory.drawn && follow === isFollowing) return nothing;
    memory.view = view; memory.drawn = key;
    if (window.tetherlineRail) window.tetherlineRail.draw(snap.board.rail, view);
    const out = outOf(payload);
    return [figureOf(template, payload, view), isFollowing, isFollowing ? "Following now" : "Back to now", out, out];
  }

  // A change of size, theme or fonts: draw again.
  let changes = 0, waiting = null;

  function changed() {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => {
      changes += 1;
      if (document.getElementById(GRAPH)) window.dash_clientside.set_props("sheet-resized", { data: changes });
    }, 120);
  }

  // The element may be made anew: whichever is drawn in is the one whose size is watched.
  const sizes = new ResizeObserver(changed);
  let watched = null;

  function watchSize() {
    const graph = document.getElementById(GRAPH);
    if (graph === watched) return;
    sizes.disconnect();
    sizes.observe(graph);
    watched = graph;
  }

  function watch() {
    new MutationObserver(() => { palette.theme = null; changed(); })
      .observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    if (document.fonts) document.fonts.ready.then(changed);
    return undefined;
  }

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.tetherline = Object.assign(window.dash_clientside.tetherline || {}, { sheet: sheet });
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", watch); else watch();
})();
