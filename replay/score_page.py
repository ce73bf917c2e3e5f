"""The scores as one HTML file that needs no other host: the figures, with the browser's library inside."""

from __future__ import annotations

import json
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

from plotly.offline import get_plotlyjs  # type: ignore[import-untyped]

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.figures.score_plot import RELIABILITY, coverage_figure, error_figure, reliability_figure
from replay.independent_runs import LeftOut, left_out_in_words
from replay.library import BrokenRun
from replay.score import Scored, groups, json_rows, no_reliability, summary

CONFIG = {"displaylogo": False, "showSendToCloud": False, "responsive": True}


def write_page(scores: Sequence[Scored], path: Path, left_out: Sequence[LeftOut] = ()) -> None:
    """Write the page.

    Raises
    ------
    InputError
        When it cannot be written.
    """
    try:
        path.write_text(page(scores, left_out), encoding="utf-8")
    except OSError as wrong:
        cure = "Choose another folder."
        raise InputError(
            [Problem("plot of the scores", "a place to write it", str(wrong.strerror), cure, str(path))]
        ) from None


def page(scores: Sequence[Scored], left_out: Sequence[LeftOut] = ()) -> str:
    """The text of the page: for each group of runs three figures and what they rest on; then what is not in them."""
    parts: list[str] = []
    drawn: list[dict[str, Any]] = []
    for name, group in groups(scores).items():
        found = summary(group)
        runs = {s.name: list(zip(s.moments["pet_min"], s.moments["error"], strict=True)) for s in group}
        stages = [(row["stage"], row["held"], row["task_held"]) for row in json_rows(found.stages)[:4]]
        bins = [(row["said"], row["was"], row["runs"]) for row in json_rows(found.reliability)]
        word = (
            "Simulated runs: not records of anything that happened"
            if name == "simulated"
            else "Recorded runs"
        )
        parts.append(f"<h2>{word} ({len(group)})</h2>")
        why = no_reliability(group, found)
        for figure in (error_figure(runs), coverage_figure(stages), *([] if why else [reliability_figure(bins)])):
            parts.append(f'<div id="f{len(drawn)}"></div>')
            drawn.append(figure)
        parts += [f"<h3>{RELIABILITY}</h3><p>{escape(why)}</p>"] if why else []
    not_scored = [f"{s.name}: {s.why}" for s in scores if isinstance(s, BrokenRun)] + left_out_in_words(left_out)
    if not_scored:
        parts.append(f"<h2>Not scored</h2><ul>{''.join(f'<li>{escape(line)}</li>' for line in not_scored)}</ul>")
    data = json.dumps([drawn, CONFIG]).replace("<", "\\u003c")
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Scores of runs</title>'
        f"<script>{get_plotlyjs()}</script></head><body><h1>Scores of runs</h1><p>{escape(CAUTION)}</p>{''.join(parts)}"
        f'<script type="application/json" id="data">{data}</script><script>'
        "var d=JSON.parse(document.getElementById('data').textContent);"
        "d[0].forEach(function(f,i){Plotly.newPlot('f'+i,f.data,f.layout,d[1]);});</script></body></html>\n"
    )
