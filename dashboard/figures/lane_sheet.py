"""The lane sheet: every task as a block over time, one column per lane.

`empty_figure` is the figure that the browser starts with. `sheet_payload` is what it needs at each update. Both are plain
dicts; colours are given by role (``var(--done-fill)``). ``assets/board/sheet.js`` puts the payload into the figure,
chooses the view and fits the labels. Both axes are numbers: y is PET minutes and runs downwards, x counts columns.
"""

from __future__ import annotations

import json
import textwrap
import zlib
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from dashboard import words
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.figures.blocks import Block, blocks_of, out_of_sortie
from dashboard.figures.columns import BLOCK_LEFT, BLOCK_RIGHT, column_order, runs
from dashboard.figures.theme import var
from dashboard.markup import LINE_BREAK, Markup, figure_text, joined, tag

VIEW_MIN = 200.0  # height of the view that follows now
NOW_AT = 0.4  # share of the view above now
BEFORE_ZERO_MIN = 8.0
AFTER_END_MIN = 25.0
DRIFT_SHOWN_MIN = 2.0
SIDE_WIDTH_LETTERS = 15
MARGIN_PX = {"l": 66, "r": 118, "t": 30, "b": 6}

# Look of each form: fill, edge, width of the edge (px), hatch, colour of the hatch, text.
LOOKS: dict[str, tuple[str, str, float, str, str, str]] = {
    "done": ("done-fill", "done-edge", 1, "", "done-fill", "done-text"),
    "work": ("actual", "strong-edge", 0, "", "actual", "actual-text"),
    "work rest": ("projected-fill", "strong-edge", 0, "/", "projected-hatch", "projected-text"),
    "hold": ("hold-fill", "hold-edge", 3, "", "hold-fill", "text"),
    "held": ("projected-fill", "hold-edge", 3, "-", "line", "text"),
    "projected": ("projected-fill", "projected-edge", 1, "/", "projected-hatch", "projected-text"),
    "broken off": ("done-fill", "done-edge", 1, "", "done-fill", "done-text"),
    "close-out": ("projected-fill", "done-edge", 1, ".", "projected-hatch", "projected-text"),
    "deferred": ("ground", "dimmed", 1, "", "ground", "dimmed"),
}
CLEAR = "rgba(0,0,0,0)"
TRACES = ("under", "blocks", "outlines", "spread", "drift", "briefed", "labels", "right")


def sheet_payload(plan: Plan, state: SortieState) -> dict[str, Any]:
    """Everything that the browser draws.

    Parameters
    ----------
    plan : Plan
        As briefed.
    state : SortieState

    Returns
    -------
    dict
        ``stamp`` (changes whenever another value changes); ``now``, ``limit``, ``span`` (PET minutes); ``columns`` (their
        headings); ``traces`` (data of the fixed traces, by name); ``shapes``; ``labels`` (texts of the blocks);
        ``badges`` and ``side`` (texts left and right of the columns); ``out`` (tasks that the sortie does not do).
    """
    order = column_order(plan)
    blocks = blocks_of(state, order)
    first, last = _span(plan, state)
    payload: dict[str, Any] = {
        "now": round(state.pet_min, 2),
        "limit": state.limit.pet_min,
        "span": [first, last],
        "columns": [{"at": at + BLOCK_LEFT, "text": _head(lane, state)} for at, lane in enumerate(order)],
        "traces": {
            "under": _places([(b.x0, b.x1, b.start, b.end) for b in blocks if LOOKS[b.form][3]]),
            "blocks": _bars(blocks),
            "outlines": _outlines(blocks),
            "spread": _spreads(blocks),
            "drift": _drift(blocks),
            "briefed": _ticks(blocks),
        },
        "shapes": [*_outside_daylight(plan, first, last), *_links(state, order), *_lines(state)],
        "labels": [_label(block) for block in blocks],
        "badges": _badges(state),
        "side": _side(plan, state, first, last),
        "out": [{"task": name, "title": title, "word": word} for name, title, word in out_of_sortie(state)],
    }
    return {"stamp": zlib.crc32(json.dumps(payload, sort_keys=True).encode()), **payload}


def empty_figure(plan: Plan) -> dict[str, Any]:
    """The figure before the first update: all traces, without data.

    Parameters
    ----------
    plan
        It gives the number of columns.

    Returns
    -------
    dict
        ``data`` and ``layout`` of a plotly figure, ready for JSON; colours are roles of the theme.
    """
    columns = len(plan.lanes)
    bar = {"type": "bar", "orientation": "v", "x": [], "y": [], "base": [], "width": [], "showlegend": False}
    scatter = {"type": "scatter", "x": [], "y": [], "hoverinfo": "skip", "showlegend": False}
    said = {"hovertemplate": "%{customdata}<extra></extra>", "customdata": []}
    text = {**scatter, "mode": "text", "text": [], "textfont": {"color": []}, "cliponaxis": True}
    traces = {
        "under": {
            **bar,
            "hoverinfo": "skip",
            "marker": {"color": var("projected-fill"), "line": {"width": 0}},
        },
        "blocks": {**bar, **said},
        "outlines": {
            **bar,
            "hoverinfo": "skip",
            "marker": {"color": CLEAR, "line": {"color": var("strong-edge"), "width": 3}},
        },
        "spread": {
            **bar,
            **said,
            "marker": {"color": var("soft"), "opacity": 0.55, "line": {"width": 0}},
        },
        "drift": {**scatter, "mode": "lines", "line": {"color": var("briefed"), "width": 1.5}},
        "briefed": {
            **{key: value for key, value in scatter.items() if key != "hoverinfo"},
            **said,
            "mode": "markers",
            "marker": {
                "symbol": "triangle-right-open",
                "size": 9,
                "color": var("briefed"),
                "line": {"width": 1.5},
            },
        },
        "labels": {**text, "textposition": "bottom right"},
        "right": {**text, "textposition": "bottom left"},
    }
    return {"data": [{"name": name, **traces[name]} for name in TRACES], "layout": _layout(columns)}


def _layout(columns: int) -> dict[str, Any]:
    return {
        "uirevision": "lane sheet",
        "margin": {**MARGIN_PX, "pad": 0},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": var("ground"),
        "font": {"color": var("text"), "size": 14},
        "barmode": "overlay",
        "bargap": 0,
        "dragmode": "pan",
        "hovermode": "closest",
        "hoverlabel": {
            "align": "left",
            "bgcolor": var("panel"),
            "bordercolor": var("line"),
            "font": {"size": 14, "color": var("text")},
        },
        "xaxis": {
            "range": [0, columns],
            "fixedrange": True,
            "showgrid": False,
            "zeroline": False,
            "automargin": False,
            "showticklabels": False,
            "ticks": "",
        },
        "yaxis": {
            "range": [VIEW_MIN - BEFORE_ZERO_MIN, -BEFORE_ZERO_MIN],
            "autorange": False,
            "zeroline": False,
            "automargin": False,
            "tickmode": "array",
            "tickvals": [],
            "ticktext": [],
            "gridcolor": var("grid"),
            "gridwidth": 1,
            "ticks": "",
            "ticklabelstandoff": 6,
            "ticklabeloverflow": "allow",  # sheet.js leaves out labels that would be cut; otherwise plotly measures each one
            "tickfont": {"color": var("secondary"), "size": 14},
        },
        "shapes": [],
        "annotations": [],
        "showlegend": False,
    }


def _span(plan: Plan, state: SortieState) -> tuple[float, float]:
    """First and last PET minute at which the sheet shows something."""
    ends = [plan.sortie.limit, state.limit.pet_min, state.pet_min]
    ends += [
        e
        for e in (state.end.briefed_pet_min, state.end.plan_pace_pet_min, state.end.p90_pet_min)
        if e is not None
    ]
    ends += [
        t.projected_finish_pet_min for t in state.tasks.values() if t.projected_finish_pet_min is not None
    ]
    return min(-BEFORE_ZERO_MIN, max(state.pet_min, -60.0) - BEFORE_ZERO_MIN), round(
        max(ends) + AFTER_END_MIN, 1
    )


def _head(lane: str, state: SortieState) -> Markup:
    """Heading of a column: the lane, and how far it is ahead or behind."""
    at = state.lanes.get(lane)
    if at is None or at.ahead_min is None:
        return tag("b", figure_text(lane))
    ahead = tag("span", figure_text(words.ahead(at.ahead_min)), style="font-size:13px")
    return tag("b", figure_text(lane)) + figure_text("  ") + ahead


def _bars(blocks: Sequence[Block]) -> dict[str, Any]:
    looks = [LOOKS[b.form] for b in blocks]
    return {
        **_places([(b.x0, b.x1, b.start, b.end) for b in blocks]),
        "customdata": [b.hover for b in blocks],
        "marker": {
            "color": [
                var(k[4] if k[3] else k[0]) for k in looks
            ],  # plotly.js 4.1 draws the hatch in the colour of the bar
            "line": {"color": [var(k[1]) for k in looks], "width": [k[2] for k in looks]},
            "pattern": {
                "shape": [k[3] for k in looks],
                "bgcolor": [var(k[0]) for k in looks],
                "size": 9,
                "solidity": 0.22,
                "fillmode": "replace",
            },
        },
    }


def _outlines(blocks: Sequence[Block]) -> dict[str, Any]:
    return _places([(b.x0, b.x1, b.start, b.outline_end) for b in blocks if b.outline_end is not None])


def _spreads(blocks: Sequence[Block]) -> dict[str, Any]:
    """P10 to P90 of each end, as a narrow band beside the right edge of the block."""
    spread = [(b, b.spread) for b in blocks if b.spread is not None]
    return {
        **_places([(b.x1 + 0.006, b.x1 + 0.03, *between) for b, between in spread]),
        "customdata": [
            figure_text(f"{b.task}: its end lies in this bar with 80 % chance, {words.between(*between)}")
            for b, between in spread
        ],
    }


def _places(boxes: Sequence[tuple[float, float, float, float]]) -> dict[str, Any]:
    """Boxes (left, right, top, bottom) as the arrays of a bar trace."""
    return {
        "x": [round((left + right) / 2, 4) for left, right, _, _ in boxes],
        "width": [round(right - left, 4) for left, right, _, _ in boxes],
        "base": [round(top, 2) for _, _, top, _ in boxes],
        "y": [round(bottom - top, 2) for _, _, top, bottom in boxes],
    }


def _ticks(blocks: Sequence[Block]) -> dict[str, Any]:
    briefed = [b for b in blocks if b.briefed_start is not None]
    return {
        "x": [round(b.first + BLOCK_LEFT * 0.45, 4) for b in briefed],
        "y": [b.briefed_start for b in briefed],
        "customdata": [
            figure_text(f"{b.task}: briefed start {words.pet_named(b.briefed_start)}; the line leads to where the block begins")
            for b in briefed
        ],
    }


def _drift(blocks: Sequence[Block]) -> dict[str, Any]:
    """Lines from the briefed start to the start of each block. Their slope shows the drift."""
    x: list[float | None] = []
    y: list[float | None] = []
    for b in blocks:
        if b.briefed_start is not None and abs(b.start - b.briefed_start) >= DRIFT_SHOWN_MIN:
            x += [round(b.first + BLOCK_LEFT * 0.6, 4), round(b.x0, 4), None]
            y += [b.briefed_start, round(b.start, 2), None]
    return {"x": x, "y": y}


def _label(block: Block) -> dict[str, Any]:
    return {
        "box": [round(block.x0, 4), round(block.x1, 4), round(block.start, 2), round(block.end, 2)],
        "room": round(block.end if block.room_end is None else block.room_end, 2),
        "title": figure_text(block.title),
        "second": figure_text(block.second),
        "right": figure_text(block.right),
        "colour": var(LOOKS[block.form][5]),
        "rest": var("projected-text") if block.outline_end is not None else None,
        "strong": block.form in ("work", "hold", "held"),
        "struck": block.struck,
        "word": figure_text(block.word),
        "labelled": block.labelled,
        "task": block.task,
    }


def _outside_daylight(plan: Plan, first: float, last: float) -> list[dict[str, Any]]:
    return [
        {
            "type": "rect",
            "layer": "below",
            "xref": "paper",
            "x0": 0,
            "x1": 1,
            "yref": "y",
            "y0": start,
            "y1": end,
            "fillcolor": var("night"),
            "line": {"width": 0},
        }
        for start, end in outside_windows(plan, "daylight", first - 600, last + 600)
    ]


def outside_windows(plan: Plan, kind: str, first: float, last: float) -> list[tuple[float, float]]:
    """The intervals outside every window of a kind.

    Parameters
    ----------
    plan : Plan
    kind : str
        Kind of window, such as ``daylight``.
    first, last : float
        The interval that is searched, PET minutes.

    Returns
    -------
    list of (float, float)
        In order, PET minutes. Empty when the plan has no window of that kind.
    """
    windows = sorted((w.from_, w.to) for w in plan.windows if w.kind == kind)
    if not windows:
        return []
    dark, at = [], first
    for start, end in windows:
        if start > at:
            dark.append((at, start))
        at = max(at, end)
    return [*dark, (at, last)] if at < last else dark


def _links(state: SortieState, order: Sequence[str]) -> list[dict[str, Any]]:
    """A line that joins the blocks of a joint task whose columns are not neighbours."""
    place = {lane: at for at, lane in enumerate(order)}
    found = []
    for task in state.tasks.values():
        parts = runs(task.lanes, place)
        start = task.start_pet_min if task.start_pet_min is not None else task.projected_start_pet_min
        if len(parts) < 2 or start is None or not task.in_plan:
            continue
        for (_, left), (right, _) in pairwise(parts):
            ends = (left + BLOCK_RIGHT, right + BLOCK_LEFT)
            found.append({**_line(start, "secondary", 2, "solid", x=ends), "layer": "below"})
    return found


def _lines(state: SortieState) -> list[dict[str, Any]]:
    return [
        _line(state.limit.pet_min, "warning-edge", 2, "dash"),
        _line(state.pet_min, "strong-edge", 2, "solid"),
    ]


def _line(
    at: float, role: str, width: float, dash: str, x: tuple[float, float] | None = None
) -> dict[str, Any]:
    ends = {"xref": "paper", "x0": 0, "x1": 1} if x is None else {"xref": "x", "x0": x[0], "x1": x[1]}
    return {
        "type": "line",
        "layer": "above",
        "yref": "y",
        "y0": round(at, 2),
        "y1": round(at, 2),
        **ends,
        "line": {"color": var(role), "width": width, "dash": dash},
    }


def _badges(state: SortieState) -> list[dict[str, Any]]:
    """Times in boxes on the PET axis: now, then the limit. The first is kept when they overlap."""
    return [
        {
            "at": round(state.pet_min, 2),
            "text": tag("b", figure_text(words.pet(state.pet_min))),
            "fill": var("strong-edge"),
            "edge": var("strong-edge"),
            "colour": var("on-strong"),
        },
        {
            "at": state.limit.pet_min,
            "text": tag("b", figure_text(words.pet(state.limit.pet_min))),
            "fill": var("ground"),
            "edge": var("warning-edge"),
            "colour": var("text"),
        },
    ]


def _side(plan: Plan, state: SortieState, first: float, last: float) -> list[dict[str, Any]]:
    """Texts right of the columns: the limit with its reason, and where each window begins and ends."""
    limit = f"limit {words.pet_named(state.limit.pet_min)}: {state.limit.set_by}"
    found = [{"at": state.limit.pet_min, "text": _wrapped(limit), "colour": var("text")}]
    for kind in dict.fromkeys(w.kind for w in plan.windows):
        for start, end in outside_windows(plan, kind, first - 600, last + 600):
            if start > first - 600:
                text = f"{words.outside_window(kind)} from {words.pet_named(start)}"
                found.append({"at": start, "text": _wrapped(text), "colour": var("secondary")})
            if end < last + 600:
                text = f"{kind} from {words.pet_named(end)}"
                found.append({"at": end, "text": _wrapped(text), "colour": var("secondary")})
    return found


def _wrapped(text: str) -> Markup:
    """The text in lines of at most `SIDE_WIDTH_LETTERS` letters. PET and its figure stay on one line."""
    lines = textwrap.wrap(text.replace("PET ", "PET\u00a0"), SIDE_WIDTH_LETTERS, break_long_words=False)
    return joined(map(figure_text, lines), LINE_BREAK)
