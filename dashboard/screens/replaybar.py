"""The controls of a replay: play, speed, step, and a slider with the events of the run. Hidden on a live sortie."""

from __future__ import annotations

from dash import html

from dashboard.core.plan import Plan
from dashboard.screens.ids import Replay
from dashboard.screens.markup import extra

SPEEDS = (1, 10, 30, 60, 120, 300, 600)


def layout(plan: Plan) -> html.Section:
    """The row of controls."""
    return html.Section(
        id=Replay.REGION,
        className="replay",
        **extra({"aria-label": "Replay controls"}),
        children=[
            html.Button("Pause", id=Replay.PLAY, className="button strong", title="Play or pause (space)"),
            html.Button("Event before", id=Replay.PREVIOUS, className="button"),
            html.Button("Next event", id=Replay.NEXT, className="button"),
            html.Label(
                [html.Span("Speed "), html.Select([html.Option(f"x{s}", value=str(s)) for s in SPEEDS], id=Replay.SPEED,
                                                  className="field")],
                className="replay-speed",
            ),
            html.Div(
                className="replay-strip",
                children=[
                    html.Div(id=Replay.MARKS, className="replay-marks"),
                    html.Div(
                        id=Replay.PLACE, className="replay-slider", tabIndex="0", role="slider",
                        **extra({"aria-label": "Place in the run, PET", "aria-valuemin": "0", "aria-valuemax": "1",
                           "aria-valuenow": "0"}),
                        children=html.Div(className="replay-knob"),
                    ),
                ],
            ),
            html.Span(id=Replay.AT, className="replay-at"),
        ],
    )
