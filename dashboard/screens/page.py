"""The page of the board: every region in its fixed place."""

from __future__ import annotations

import json

from dash import Dash, html

from dashboard.core.plan.model import Plan
from dashboard.figures.theme import css_variables
from dashboard.markup import Markup, tag, unescaped
from dashboard.screens import (
    band,
    choices,
    first,
    headline,
    help,
    ids,
    lanes,
    log,
    problems,
    replaybar,
    sheet,
    suits,
    tabs,
    tour,
    why,
)
from dashboard.screens.as_html import as_html


def page_layout(plan: Plan, *, replaying: bool = False, rehearsal: str = "", touring: bool = False) -> html.Div:
    """The whole board before the first message. Controls of a replay are in place from the start, so that nothing moves.

    Parameters
    ----------
    plan : Plan
    replaying : bool
        Whether a recorded run drives the board.
    rehearsal : str
        In words, which recorded run is rehearsed; empty when it is no rehearsal.
    touring : bool
        Whether the page offers the guided tour.

    Returns
    -------
    html.Div
    """
    return html.Div(
        id="page",
        children=[
            band.bars(),
            why.dialog(),
            replaybar.dialog(),
            *help.layout(plan),
            *([tour.layout(plan)] if touring else []),
            html.Div(
                className="board replaying" if replaying else "board",
                children=[
                    band.layout(plan),
                    replaybar.layout(plan, rehearsal),
                    first.layout(plan),
                    headline.layout(plan),
                    html.Main(
                        className="main",
                        children=[
                            html.Div(sheet.layout(plan), className="sheet-place"),
                            html.Div(
                                className="side",
                                children=[
                                    lanes.layout(plan),
                                    suits.layout(plan),
                                    tabs.layout(plan),
                                    choices.layout(plan),
                                    html.Div([log.layout(plan), problems.layout(plan)], className="log-and-problems"),
                                ],
                            ),
                        ],
                    ),
                ],
            ),
        ],
    )


def register(app: Dash, modules: Markup, heartbeat_s: float, content: html.Div | None = None) -> None:
    """Add to the page what Dash does not provide: colour roles, the plotting library, data, and the browser's modules.

    Parameters
    ----------
    app : Dash
    modules : Markup
        The elements that load the browser's modules.
    heartbeat_s : float
        Longest time between two messages of the server, seconds.
    content : html.Div or None
        What the page shows from its first moment, written into it as HTML. None: Dash makes what the page shows.
    """
    roles = unescaped("style", css_variables())
    shown = ENTRY if content is None else as_html(content).replace("{", BRACE) + tag("div", ENTRY, hidden=True)
    parts = {"roles": roles, "content": shown, "sent": sent(heartbeat_s), "plot": sheet.PLOT_SCRIPT, "modules": modules}
    page = INDEX
    for name, part in parts.items():
        page = page.replace(f"{{{name}}}", part)
    app.index_string = str(page)
    if content is not None:
        app.layout = html.Div()


def sent(heartbeat_s: float) -> Markup:
    """The data that the browser's modules read once: shared names, and limits that the server sets.

    Parameters
    ----------
    heartbeat_s
        Longest time between two messages of the server, seconds.

    Returns
    -------
    Markup
        A ``script`` element with JSON.
    """
    rules = {"far_before_min": log.DAY_MIN, "odd_min": band.ODD_MIN, "heartbeat_s": heartbeat_s}
    data = {"ids": ids.table(), "lane_part": ids.lane_part("{lane}", "{part}"), "rules": rules}
    content = json.dumps(data).replace("<", "\\u003c")
    return unescaped("script", content, type="application/json", id=ids.Page.SENT)


# Dash fills names in braces in its page. In other text a brace is written so.
BRACE = Markup("&#123;")
ENTRY = Markup("{%app_entry%}")  # where Dash makes what it makes
INDEX = Markup("""<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
{%favicon%}
{roles}
{%css%}
</head>
<body>
{content}
{sent}
{plot}
{modules}
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
""")
