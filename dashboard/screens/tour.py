"""The guided tour of the demo: six stops, each at a region of the board. A browser that closed it does not see it again."""

from __future__ import annotations

import json

from dash import html

from dashboard.core.plan.model import Plan
from dashboard.screens.ids import Band, Choices, Headline, Log, Sheet, Tour
from dashboard.screens.markup import extra

# Id of a region, title, words.
STOPS: tuple[tuple[str, str, str], ...] = (
    (Band.REGION, "A recorded run, played back",
     "The word at the left says whether the board is live or a replay, and how fast. The ages at the right count on even when "
     "nothing comes in. Space plays and pauses."),
    (Headline.REGION, "One second: the four figures",
     "When the crew is inside, against which limit, and the largest cause; each crew lane against the brief; the least suit "
     "margin; and the call, with what must be decided by when."),
    (Sheet.REGION, "The lane sheet",
     "PET runs downwards, one column per lane. Solid is done, hatched is expected. A blue flag is the briefed start, and its "
     "line leads to where the block really begins."),
    ("lanes", "The cards, where work is logged",
     "Start, Done, Hold and Undo, with the time moved back for a late entry. By keys: the number of a lane, then a letter."),
    (Choices.REGION, "The choices",
     "When the crew would not be in by the limit, up to three choices say what goes, what it wins and costs, and by when. "
     "What if tries any other. The advice is advisory and not certified for flight use."),
    (Log.REGION, "The log",
     "Every event, newest on top. Nothing is ever removed: a mistake is corrected or withdrawn. Press ? for keys and signs."),
)


def layout(plan: Plan) -> html.Aside:
    """The box of the tour, hidden until the browser shows it.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Aside
    """
    return html.Aside(
        id=Tour.BOX,
        className="tour",
        hidden=True,
        **extra({"aria-label": "Guided tour", "data-stops": json.dumps(STOPS)}),
        children=[
            html.H2(id=Tour.TITLE),
            html.P(id=Tour.WORDS, role="status"),
            html.Div(
                [html.Span(id=Tour.COUNT, className="quiet"), html.Button("Close the tour", id=Tour.CLOSE, className="button"),
                 html.Button("Next", id=Tour.NEXT, className="button strong")],
                className="form-ends",
            ),
        ],
    )
