"""The page of the board: every region in its fixed place."""

from __future__ import annotations

from dash import Dash, html

from dashboard.core.plan.model import Plan
from dashboard.figures.theme import css_variables
from dashboard.markup import Markup, unescaped
from dashboard.screens import (
    band,
    choices,
    headline,
    lanes,
    log,
    problems,
    replaybar,
    sheet,
    suits,
    tabs,
    why,
)


def page_layout(plan: Plan, *, replaying: bool = False, rehearsal: str = "") -> html.Div:
    """The whole board before the first message; with what a replay or a rehearsal adds, so that nothing moves.

    `rehearsal` says of which run it is one; empty: of none.
    """
    return html.Div(
        id="page",
        children=[
            band.bars(),
            why.dialog(),
            replaybar.dialog(),
            html.Div(
                className="board replaying" if replaying else "board",
                children=[
                    band.layout(plan),
                    replaybar.layout(plan, rehearsal),
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


def register(app: Dash) -> None:
    """Put the colour roles and what draws the sheet into the page."""
    app.index_string = str(INDEX.replace("{roles}", unescaped("style", css_variables())).replace("{plot}", sheet.PLOT_SCRIPT))


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
{%app_entry%}
{plot}
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
""")
