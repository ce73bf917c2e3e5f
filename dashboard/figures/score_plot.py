"""The scores of recorded runs as figures: data in, plain dict out.

There are three figures: the error of the projected end over PET, how often the actual time was between P10 and P90, and the
reliability of the probability of being in by the limit. They are written to a page without style sheets, so the figures
hold the colours of the light theme.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.figures.theme import LIGHT
from dashboard.words import how_many, pet

WANTED_HELD = 0.8
RELIABILITY = "In by the limit: forecast probability and share of runs"
MOST_LINES = 60
MOST_TICKS = 12
STEPS_MIN = (1, 5, 10, 15, 30, 60, 120, 240, 480)
FONT = {"family": "system-ui, sans-serif", "size": 14, "color": LIGHT["text"]}


def error_figure(runs: Mapping[str, Sequence[tuple[float, float]]]) -> dict[str, Any]:
    """The error of the projected end over PET.

    Parameters
    ----------
    runs : mapping of str to sequence of (float, float)
        For each run: PET minutes, and projected less actual end in minutes.

    Returns
    -------
    dict
        A plotly figure with one line per run, for at most `MOST_LINES` runs.
    """
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
        lines, f"P50 end less actual end{note}", "PET", "minutes; positive: projected too late", len(shown) <= 3
    )
    pets = [at for _, points in shown for at, _ in points]
    ticks = _pet_ticks(min(pets), max(pets)) if pets else []
    figure["layout"]["xaxis"] |= {"tickmode": "array", "tickvals": ticks, "ticktext": [pet(tick) for tick in ticks]}
    return figure


def _pet_ticks(low: float, high: float) -> list[float]:
    """Round PETs from `low` to `high`, at most `MOST_TICKS` of them."""
    step = next((step for step in STEPS_MIN if (high - low) / step < MOST_TICKS), STEPS_MIN[-1])
    return [float(number * step) for number in range(math.ceil(low / step), math.floor(high / step) + 1)]


def coverage_figure(stages: Sequence[tuple[str, float | None, float | None]]) -> dict[str, Any]:
    """The share of moments at which the actual time was between P10 and P90. A well calibrated forecast has 80 %.

    Parameters
    ----------
    stages : sequence of (str, float or None, float or None)
        Stage of the sortie, share for the end, share for task finishes.

    Returns
    -------
    dict
        A plotly figure.
    """
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
    figure = _figure(bars, "Share of moments at which P10 to P90 held the actual time", "", "share", True)
    figure["layout"]["yaxis"] |= {"range": [0, 1], "tickformat": ".0%"}
    figure["layout"]["shapes"] = [_level(WANTED_HELD)]
    return figure


def reliability_figure(bins: Sequence[tuple[float, float, int]]) -> dict[str, Any]:
    """Forecast probability of being in by the limit against the share of runs that were.

    Parameters
    ----------
    bins : sequence of (float, float, int)
        For each bin: mean forecast probability, share of runs in by the limit, number of runs.

    Returns
    -------
    dict
        A plotly figure.
    """
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
    figure = _figure([points], RELIABILITY, "forecast probability", "share of runs in by the limit", False)
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
