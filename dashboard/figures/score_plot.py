"""The scores of recorded runs as figures: data in, plain dict out.

Three figures: the error of the projected end through the sortie, how often P10 to P90 held, and the reliability of the
probability of being in by the limit. They stand in a file of their own, so colours are given outright, by role.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.figures.theme import LIGHT
from dashboard.words import how_many, pet

WANTED_HELD = 0.8
RELIABILITY = "In by the limit: said, and so"
MOST_LINES = 60
MOST_TICKS = 12
STEPS_MIN = (1, 5, 10, 15, 30, 60, 120, 240, 480)
FONT = {"family": "system-ui, sans-serif", "size": 14, "color": LIGHT["text"]}


def error_figure(runs: Mapping[str, Sequence[tuple[float, float]]]) -> dict[str, Any]:
    """Projected less actual end over PET, both in minutes, one line a run; at most `MOST_LINES` of them."""
    shown = list(runs.items())[:MOST_LINES]
    lines = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": name,
            "x": [at for at, _ in points],
            "y": [error for _, error in points],
            "customdata": [pet(at) for at, _ in points],
            "hovertemplate": "PET %{customdata}: %{y:.0f} min",
            "line": {
                "width": 1.5,
                "color": LIGHT["soft"] if len(shown) > 3 else LIGHT["text"],
                "dash": ("solid", "dash", "dot")[place % 3],
            },
        }
        for place, (name, points) in enumerate(shown)
    ]
    left = len(runs) - len(shown)
    note = f" ({how_many(left, 'run')} not drawn)" if left else ""
    figure = _figure(
        lines, f"P50 end less actual end{note}", "PET", "minutes, over zero: projected too late", len(shown) <= 3
    )
    pets = [at for _, points in shown for at, _ in points]
    ticks = _pet_ticks(min(pets), max(pets)) if pets else []
    figure["layout"]["xaxis"] |= {"tickmode": "array", "tickvals": ticks, "ticktext": [pet(tick) for tick in ticks]}
    return figure


def _pet_ticks(low: float, high: float) -> list[float]:
    """Round PETs between two others, at most `MOST_TICKS` of them."""
    step = next((step for step in STEPS_MIN if (high - low) / step < MOST_TICKS), STEPS_MIN[-1])
    return [float(number * step) for number in range(math.ceil(low / step), math.floor(high / step) + 1)]


def coverage_figure(stages: Sequence[tuple[str, float | None, float | None]]) -> dict[str, Any]:
    """How often P10 to P90 held, by stage: of the end and of task finishes; 80 % is what it should be."""
    names = [name for name, _, _ in stages]
    bars = [
        {
            "type": "bar",
            "name": name,
            "x": names,
            "y": values,
            "marker": {"color": LIGHT[fill], "line": {"color": LIGHT["done-edge"], "width": 1}},
        }
        for name, values, fill in (
            ("end", [end for _, end, _ in stages], "done-fill"),
            ("task finishes", [task for _, _, task in stages], "projected-fill"),
        )
    ]
    figure = _figure(bars, "Share of moments at which P10 to P90 held", "", "share", True)
    figure["layout"]["yaxis"] |= {"range": [0, 1], "tickformat": ".0%"}
    figure["layout"]["shapes"] = [_level(WANTED_HELD)]
    return figure


def reliability_figure(bins: Sequence[tuple[float, float, int]]) -> dict[str, Any]:
    """What was said against how often it was so; (said, was, runs) a bin."""
    points = {
        "type": "scatter",
        "mode": "markers+text",
        "name": "runs",
        "x": [said for said, _, _ in bins],
        "y": [was for _, was, _ in bins],
        "text": [how_many(runs, "run") for _, _, runs in bins],
        "textposition": "top center",
        "marker": {"size": 11, "color": LIGHT["text"]},
        "cliponaxis": False,
    }
    figure = _figure([points], RELIABILITY, "probability said", "share that was", False)
    for axis in ("xaxis", "yaxis"):
        figure["layout"][axis] |= {"range": [0, 1.05], "tickformat": ".0%"}
    figure["layout"]["shapes"] = [_line(0, 0, 1, 1)]
    return figure


def _figure(data: list[dict[str, Any]], title: str, x: str, y: str, legend: bool) -> dict[str, Any]:
    axis = {"gridcolor": LIGHT["grid"], "zerolinecolor": LIGHT["text"], "linecolor": LIGHT["line"]}
    return {
        "data": data,
        "layout": {
            "title": {"text": title},
            "font": FONT,
            "paper_bgcolor": LIGHT["panel"],
            "plot_bgcolor": LIGHT["panel"],
            "xaxis": {**axis, "title": {"text": x}},
            "yaxis": {**axis, "title": {"text": y}},
            "showlegend": legend,
            "barmode": "group",
            "height": 420,
        },
    }


def _level(at: float) -> dict[str, Any]:
    return {**_line(0, at, 1, at), "xref": "paper"}


def _line(x0: float, y0: float, x1: float, y1: float) -> dict[str, Any]:
    return {
        "type": "line",
        "x0": x0,
        "y0": y0,
        "x1": x1,
        "y1": y1,
        "line": {"dash": "dot", "color": LIGHT["text"], "width": 1},
    }
