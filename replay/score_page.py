"""Writes the scores as one HTML file with figures. It includes the plotting library, so it needs no other file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from plotly.offline import get_plotlyjs  # type: ignore[import-untyped]

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.problems import InputError, Problem
from dashboard.figures.score_plot import RELIABILITY, coverage_figure, error_figure, reliability_figure
from dashboard.log.whole_file import write_whole
from dashboard.markup import Markup, tag, text, unescaped
from replay.independent_runs import LeftOut, left_out_in_words
from replay.library import BrokenRun
from replay.score import Scored, groups, json_rows, no_reliability, summary

TITLE = "Scores of runs"
DRAW = """var d=JSON.parse(document.getElementById('data').textContent);
d[0].forEach(function(f,i){Plotly.newPlot('f'+i,f.data,f.layout,d[1]);});"""
CONFIG = {"displaylogo": False, "showSendToCloud": False, "responsive": True}


def write_page(scores: Sequence[Scored], path: Path, left_out: Sequence[LeftOut] = ()) -> None:
    """Write the page to a file.

    Parameters
    ----------
    scores : sequence of RunScore or BrokenRun
    path : Path
    left_out : sequence of LeftOut
        Runs that are not counted.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    try:
        write_whole(path, page(scores, left_out).encode())
    except OSError as wrong:
        cure = "Choose another folder."
        raise InputError(
            [Problem("plot of the scores", "a place to write it", str(wrong.strerror), cure, str(path))]
        ) from None


def page(scores: Sequence[Scored], left_out: Sequence[LeftOut] = ()) -> Markup:
    """The page: up to three figures for each group of runs, then the runs that are not scored.

    Parameters
    ----------
    scores : sequence of RunScore or BrokenRun
    left_out : sequence of LeftOut
        Runs that are not counted.

    Returns
    -------
    Markup
    """
    parts: list[Markup] = []
    drawn: list[dict[str, Any]] = []
    for name, group in groups(scores).items():
        found = summary(group)
        runs = {s.name: list(zip(s.moments["pet_min"], s.moments["error"], strict=True)) for s in group}
        stages = [(row["stage"], row["held"], row["task_held"]) for row in json_rows(found.stages)[:4]]
        bins = [(row["said"], row["was"], row["runs"]) for row in json_rows(found.reliability)]
        word = "Simulated runs, which did not happen" if name == "simulated" else "Recorded runs"
        parts.append(tag("h2", text(f"{word} ({len(group)})")))
        why = no_reliability(group, found)
        for figure in (error_figure(runs), coverage_figure(stages), *([] if why else [reliability_figure(bins)])):
            parts.append(tag("div", id=f"f{len(drawn)}"))
            drawn.append(figure)
        parts += [tag("h3", text(RELIABILITY)), tag("p", text(why))] if why else []
    not_scored = [f"{s.name}: {s.why}" for s in scores if isinstance(s, BrokenRun)] + left_out_in_words(left_out)
    if not_scored:
        parts += [tag("h2", text("Not scored")), tag("ul", *(tag("li", text(line)) for line in not_scored))]
    head = tag("head", tag("meta", charset="utf-8"), tag("title", text(TITLE)), unescaped("script", get_plotlyjs()))
    data = json.dumps([drawn, CONFIG]).replace("<", "\\u003c")
    body = tag(
        "body", tag("h1", text(TITLE)), tag("p", text(CAUTION)), *parts,
        unescaped("script", data, type="application/json", id="data"), unescaped("script", DRAW),
    )  # fmt: skip
    return Markup("<!doctype html>") + tag("html", head, body, lang="en") + Markup("\n")
