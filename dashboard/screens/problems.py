"""The problems region: feeds that bring nothing, then alerts, discrepancies, and lines of the log that could not be read.

What is said of feeds comes with every message and not with the state: a feed grows stale without an event.
"""

from __future__ import annotations

from dash import html

from dashboard import words
from dashboard.core.plan.model import Plan
from dashboard.core.state.log_in_words import Logbook
from dashboard.core.state.model import SortieState
from dashboard.markup import Markup, joined, tag, text
from dashboard.screens.ids import Problems
from dashboard.screens.markup import badge, basis, span

MOST_SHOWN = 100


def layout(plan: Plan) -> html.Section:
    """The region. Its place is reserved even when it is empty.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Section
    """
    return html.Section(
        id=Problems.REGION,
        className="panel problems",
        children=[
            html.H2("Alerts", id=Problems.HEAD),
            html.Div(id=Problems.FEEDS, className="problems-feeds"),
            html.Div(id=Problems.BODY, className="problems-body"),
        ],
    )


def snapshot(plan: Plan, state: SortieState, log: Logbook) -> dict[str, Markup]:
    """The heading with counts, and the list. An event is named by its text in the log.

    Parameters
    ----------
    plan
        Not used; the snapshot of every region takes it.
    state
        Of the current cycle.
    log
        Of the same instant as the state.

    Returns
    -------
    dict of str to Markup
        Id of an element -> its content.
    """
    counts = [
        words.how_many(sum(alert.level == "alert" for alert in state.alerts), "alert"),
        *([words.how_many(notes, "note")] if (notes := sum(alert.level == "note" for alert in state.alerts)) else []),
        words.how_many(len(state.discrepancies), "discrepancy", "discrepancies"),
        f"{words.how_many(len(state.unread), 'line')} not understood",
    ]
    rows = [*_alerts(state), *_discrepancies(state, log), *_unread(state), *_more(state)]
    nothing = tag("p", text("No alert, no discrepancy, and every line is understood."), class_="quiet")
    return {Problems.HEAD: text(_sentence(counts)), Problems.BODY: joined(rows) or nothing}


def _sentence(counts: list[str]) -> str:
    said = ", ".join(counts)
    return f"{said[:1].upper()}{said[1:]}"


def _row(name: str, head: Markup, said: str, **more: str) -> Markup:
    """Two lines of a problem. The full text is shown on pointing at it and on keyboard focus."""
    return tag("div", tag("div", head, text(f" {said}"), class_="problem-said"), class_="problem", **more, **basis(name, said))


def _alerts(state: SortieState) -> list[Markup]:
    rows: list[Markup] = []
    for alert in state.alerts:
        mark = badge("warning", "act") if alert.level == "alert" else badge("caution", "note")
        rows.append(_row(f"alert-{alert.id}", mark, words.alert(alert), data_item=alert.id))
    return rows


def _discrepancies(state: SortieState, log: Logbook) -> list[Markup]:
    rows: list[Markup] = []
    for one in reversed(state.discrepancies[-MOST_SHOWN:]):
        at = f"{words.pet_named(one.pet_min)} " if one.pet_min is not None else ""
        entry = log.of(one.event)
        said = entry.text if entry is not None else one.event
        rows.append(
            _row(f"problem-{one.event}-{len(rows)}", span("quiet", f"{at}{said.removesuffix('.')}:", one.event),
                 f"expected {one.expected}; found {one.found}")
        )
    return rows


def _unread(state: SortieState) -> list[Markup]:
    return [
        tag("div", span("quiet", f"not understood, {one.where or 'log'}: "), text(one.why), tag("code", text(one.line[:160])),
            class_="problem")
        for one in reversed(state.unread[-MOST_SHOWN:])
    ]


def _more(state: SortieState) -> list[Markup]:
    """How many discrepancies and unread lines there are beyond those shown, so that a message stays short."""
    more = max(0, len(state.discrepancies) - MOST_SHOWN), max(0, len(state.unread) - MOST_SHOWN)
    if not any(more):
        return []
    lines = f"{words.how_many(more[1], 'line')} not understood"
    said = f"{words.how_many(more[0], 'discrepancy', 'discrepancies')} and {lines}"
    return [tag("p", text(f"Of earlier events, {said} are not shown here."), class_="quiet")]
