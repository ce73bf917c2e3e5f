"""The band across the top, and the bars that appear when the server does not answer or cannot compute a state."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.core.base.times import instant_text
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.screens import ages, help
from dashboard.screens.ids import Band

# The form asks about an entered time that is further than this from the sortie, because it is probably a typing error.
BEFORE_ZERO_MIN, AFTER_LIMIT_MIN = 120.0, 240.0
# The same while PET is not known: further than this from now.
ODD_MIN = 720.0


def layout(plan: Plan) -> html.Header:
    """The band before the first message. The browser counts clocks and ages.

    Parameters
    ----------
    plan
        It gives the title.

    Returns
    -------
    html.Header
    """
    return html.Header(
        id=Band.REGION,
        className="band",
        children=[
            html.Strong("CONNECTING", id=Band.WORD, className="band-word"),
            html.Span(id=Band.RUN, className="band-run"),
            html.H1(plan.sortie.title or plan.sortie.id, id=Band.TITLE, className="band-title"),
            html.A(id=Band.WHO, href="/sign-in", className="band-who"),
            _clock("PET", Band.PET, "not known yet"),
            _clock("UTC", Band.UTC, "not known yet"),
            _clock("last event", Band.EVENT_AGE, "none yet"),
            _clock("suit readings", Band.READING_AGE, "none yet"),
            help.open_button(),
        ],
    )


def bars() -> html.Div:
    """The two bars across the page. An empty bar takes no room and covers nothing."""
    return html.Div(
        className="bars",
        children=[
            html.Div(id=Band.CONTACT, className="bar", role="alert"),
            html.Div(id=Band.TROUBLE, className="bar", role="alert"),
        ],
    )


def _clock(name: str, id_: str, first: str) -> html.Span:
    return html.Span([html.Span(f"{name} ", className="band-name"), html.B(first, id=id_)], className="band-clock")


def snapshot(plan: Plan, state: SortieState) -> dict[str, Any]:
    """The instants that the browser counts from, and the ages at which a feed is late and stale.

    Parameters
    ----------
    plan
        It gives the limit.
    state
        Of the current cycle.

    Returns
    -------
    dict
        Ready for JSON; an instant is None where nothing came in yet.
    """
    basis = state.basis
    return {
        "last_event_at": instant_text(basis.last_event_at) if basis.last_event_at else None,
        "last_reading_at": instant_text(basis.last_reading_at) if basis.last_reading_at else None,
        "event_ages_min": list(ages.EVENTS),
        "reading_ages_min": list(ages.READINGS),
        "times_min": [-BEFORE_ZERO_MIN, plan.sortie.limit + AFTER_LIMIT_MIN],
        "zero_from": basis.pet_zero_from,
        "ended": state.ended,
        "sortie": state.sortie,
    }
