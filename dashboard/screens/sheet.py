"""The lane sheet region: the figure, the rail, and the row under them. ``assets/board/sheet.js`` draws them."""

from __future__ import annotations

import json
from typing import Any

from dash import html

from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.figures.lane_sheet import empty_figure, sheet_payload
from dashboard.figures.rail import rail_payload
from dashboard.markup import tag
from dashboard.screens import help, why
from dashboard.screens.ids import Sheet
from dashboard.screens.markup import extra

CONFIG: Any = {
    "displayModeBar": False,
    "displaylogo": False,
    "showSendToCloud": False,
    "scrollZoom": True,
    "doubleClick": False,
    "showTips": False,
}
# The plotting library: the copy that comes with Dash, loaded with the page.
PLOT_SCRIPT = tag("script", src="/_dash-component-suites/plotly/package_data/plotly.min.js", defer=True)
MOVES = (
    (Sheet.EARLIER, "▲", "Show earlier"),
    (Sheet.LATER, "▼", "Show later"),
    (Sheet.CLOSER, "+", "Show less time, larger"),
    (Sheet.WIDER, "−", "Show more time, smaller"),
)


RAIL_SAID = (
    "The whole plan: grey done, bright in work, outlined briefed, dashed out of this sortie. The bright line is now, the dashed "
    "one the limit, the dotted frame what the sheet shows. Click to bring a time into view."
)


def layout(plan: Plan) -> html.Section:
    """The region before the first message.

    Parameters
    ----------
    plan
        It gives the columns of the figure.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Sheet.REGION,
        className="sheet",
        **_said("Lane sheet: PET runs downwards, one column per lane"),
        **extra({"data-template": json.dumps(empty_figure(plan)), "data-config": json.dumps(CONFIG)}),
        children=[
            html.Div(
                id=Sheet.RAIL,
                className="sheet-rail",
                title=RAIL_SAID,
            ),
            html.Div(html.Div(className="sheet-plot"), id=Sheet.GRAPH, className="sheet-graph"),
            html.Div(
                [html.Span("stale log: the projection rests on old events", className="stale-log"),
                 html.Span("no contact: last known state", className="no-contact-word")],
                className="sheet-stale",
            ),
            html.Div("ahead: plan pace", className="sheet-pace"),
            html.Div(
                className="sheet-foot",
                children=[
                    html.Div(id=Sheet.OUT, className="sheet-out"),
                    help.signs_button(),
                    why.button(),
                    html.A("Plan", href="/plan", target="_blank", className="sheet-button sheet-link",
                           title="The plan as a sheet, with its check, in a page of its own"),
                    html.A("Brief", href="/brief", target="_blank", className="sheet-button sheet-link",
                           title="The brief, step by step and on paper, in a page of its own"),
                    html.A("Runs", href="/runs", target="_blank", className="sheet-button sheet-link wide-only",
                           title="Plans and recorded runs, in a page of their own"),
                    html.A("Debrief", href="/debrief", target="_blank", className="sheet-button sheet-link",
                           title="The debrief so far, in a page of its own"),
                    html.Button("Following now", id=Sheet.BACK, className="sheet-button sheet-back"),
                    *(
                        html.Button(sign, id=name, className="sheet-button", title=said, **_said(said))
                        for name, sign, said in MOVES
                    ),
                ],
            ),
        ],
    )


def _said(label: str) -> dict[str, Any]:
    """The attribute with the label for screen readers."""
    return {"aria-label": label}


def snapshot(plan: Plan, state: SortieState) -> dict[str, Any]:
    """The content of the region.

    Parameters
    ----------
    plan
        As briefed.
    state
        Of the current cycle.

    Returns
    -------
    dict
        Keys ``sheet`` and ``rail`` of the board's snapshot.
    """
    return {"sheet": sheet_payload(plan, state), "rail": rail_payload(plan, state)}
