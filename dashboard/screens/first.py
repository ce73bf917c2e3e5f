"""What an empty board offers first: PET zero, from which everything counts. Hidden once it is set."""

from __future__ import annotations

from dash import html

from dashboard.core.plan.model import Plan
from dashboard.screens.ids import First
from dashboard.screens.markup import extra


def layout(plan: Plan) -> html.Section:
    """One row between band and headline.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=First.REGION,
        className="first",
        hidden=True,
        **extra({"aria-label": "What to do first"}),
        children=[
            html.Strong("PET zero is not set: every PET counts from the planned start."),
            html.Span("When the suits go to battery power:", className="may-log"),
            html.Button("Set PET zero now", id=First.ZERO, className="button strong may-log"),
            html.Button("At another time", id=First.ZERO_AT, className="button may-log"),
            html.Span("Then press Start on the card of each lane, or its number and s. The key ? shows all keys.",
                      className="may-log first-then"),
        ],
    )
