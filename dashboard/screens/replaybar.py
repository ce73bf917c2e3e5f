"""The controls of a replay: play, speed, steps, and a strip with the events and the drift of the run. Hidden when live."""

from __future__ import annotations

import json
from collections.abc import Sequence

from dash import html

from dashboard import words
from dashboard.core.plan.model import Plan
from dashboard.core.state.history import DriftPoint, most_behind, worse_ahead_min
from dashboard.figures.strip import strip_svg
from dashboard.markup import Markup, joined, tag
from dashboard.screens.forms import labelled, slot
from dashboard.screens.ids import Act, Replay
from dashboard.screens.markup import extra

# For each basis of a replay: its name, and its explanation.
COUNTS = {
    "received": ("as logged at the time", "Each event counts from when the room received it. Start the replay with --as-it-was "
                                        "for what really happened when."),
    "at": ("as it really was", "Each event counts from when it really happened, with its corrections from the beginning. Start "
                               "the replay without --as-it-was for what the room knew."),
}
SPEEDS = (1, 10, 30, 60, 120, 300, 600)
SHARED = "Opening this address moves this replay to that moment and pauses it, for everyone who watches."


def layout(plan: Plan, rehearsal: str = "") -> html.Section:
    """The row of controls. In a rehearsal the word REHEARSAL comes first.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.
    rehearsal
        In words, which recorded run is rehearsed; empty when it is no rehearsal.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Replay.REGION,
        className="replay",
        **extra({"aria-label": "Replay controls"}),
        children=[
            *([html.Strong("REHEARSAL", id=Replay.REHEARSAL, title=rehearsal)] if rehearsal else []),
            html.Button("Pause", id=Replay.PLAY, className="button strong", title="Play or pause (space)"),
            _pair("Event", Replay.PREVIOUS, Replay.NEXT, "event", "e"),
            _pair("Decision", Replay.DECISION_BEFORE, Replay.DECISION_NEXT, "decision", "d", disabled=True),
            html.Button("Greatest delay", id=Replay.WORST, className="button", disabled=True),
            html.Label(
                [html.Span("Speed ", className="wide-only"),
                 html.Select([html.Option(f"x{s}", value=str(s)) for s in SPEEDS], id=Replay.SPEED, className="field",
                             **extra({"aria-label": "Speed of the replay"}))],
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
            html.Span(id=Replay.COUNTS, className="replay-counts", **extra({"data-ways": json.dumps(COUNTS)})),
            html.Button("Copy address", id=Replay.COPY, className="button",
                        title="The address of this moment, to share (a)"),
        ],
    )  # fmt: skip


def dialog() -> html.Dialog:
    """The dialog with the address of a moment, or the reason why there is none."""
    return html.Dialog(
        id=Replay.DIALOG,
        className="form",
        **extra({"aria-labelledby": Replay.DIALOG_TITLE}),
        children=[
            html.H2("Address of this moment", id=Replay.DIALOG_TITLE),
            html.P(id=Replay.DIALOG_WORDS),
            html.Div(labelled("Address", slot(Replay.ADDRESS)), id=Replay.DIALOG_FIELD),
            html.P(SHARED, className="form-hint"),
            html.Div(
                [html.Button("Close", id=Replay.DIALOG_CLOSE, className="button strong", **extra({"data-act": Act.CLOSE})),
                 html.Span(className="outcome form-outcome", role="status")],
                className="form-ends",
            ),
        ],
    )  # fmt: skip


def strip_html(
    events: Sequence[float], decisions: Sequence[float], drift: Sequence[DriftPoint], span: tuple[float, float]
) -> Markup:
    """The content of the strip: the drift, one tick per event, one flag per decision.

    Parameters
    ----------
    events, decisions : sequence of float
        PET minutes.
    drift : sequence of DriftPoint
        In order of time.
    span : (float, float)
        PET minutes at the left and the right edge.

    Returns
    -------
    Markup
    """
    from_min, until_min = span

    def mark(form: str, pet_min: float) -> Markup:
        share = 100 * (pet_min - from_min) / ((until_min - from_min) or 1.0)
        return tag("i", class_=form, style=f"left:{share:.2f}%")

    values = [(point.pet_min, worse_ahead_min(point)) for point in drift]
    return (
        strip_svg(values, span, _drift_words(drift))
        + joined(mark("mark", pet_min) for pet_min in events)
        + joined(mark("mark-decision", pet_min) for pet_min in decisions)
    )


def _drift_words(drift: Sequence[DriftPoint]) -> str:
    """The drift of the strip in one sentence."""
    worst = most_behind(drift)
    if worst is None:
        return "Drift of the worse crew lane: never behind at the moments that were computed."
    how_far = words.ahead(worse_ahead_min(worst))
    return f"Drift of the worse crew lane. Greatest delay at {words.pet_named(worst.pet_min)}: {how_far}."


def _pair(said: str, before: Replay, after: Replay, what: str, key: str, *, disabled: bool = False) -> html.Span:
    """Two buttons with one name. Disabled ones are enabled once the page knows their target."""
    labels = (f"The {what} before (shift and {key})", f"The next {what} ({key})")
    buttons = [
        html.Button(
            sign, id=name, className="button replay-step", title=label, disabled=disabled, **extra({"aria-label": label})
        )
        for sign, name, label in zip(("◂", "▸"), (before, after), labels, strict=True)
    ]
    return html.Span([html.Span(f"{said} "), *buttons], className="replay-pair", role="group", **extra({"aria-label": said}))
