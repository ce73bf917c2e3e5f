"""A row of buttons for small screens, where log, choices, problems and suits share one place: they choose which one is shown.

On a large screen all four have places of their own, and the row is hidden.
"""

from __future__ import annotations

from dash import html

from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState
from dashboard.markup import NOTHING, Markup, text
from dashboard.screens.ids import Choices, Log, Problems, Suits, Tabs
from dashboard.screens.markup import badge, extra
from dashboard.screens.suits import CLOSE_MARGIN_MIN

_SHOWS = ((Tabs.LOG, "Log", Log.REGION), (Tabs.CHOICES, "Choices", Choices.REGION),
          (Tabs.PROBLEMS, "Alerts", Problems.REGION), (Tabs.SUITS, "Suits", Suits.REGION))


def layout(plan: Plan) -> html.Div:
    """The row of buttons. The log is shown first.

    Parameters
    ----------
    plan
        Not used; the layout of every region takes it.

    Returns
    -------
    html.Div
    """
    return html.Div(
        id=Tabs.REGION,
        className="tabs",
        **extra({"role": "tablist", "aria-label": "Log, choices, alerts or suits"}),
        children=[
            html.Button(
                said, id=name, className="button tab",
                **extra({"role": "tab", "data-tab": region, "aria-controls": region,
                         "aria-selected": "true" if region == Log.REGION else "false"}),
            )
            for name, said, region in _SHOWS
        ],
    )


def snapshot(plan: Plan, state: SortieState) -> dict[str, Markup]:
    """The text of each button, with a count or a badge for what needs attention there.

    Parameters
    ----------
    plan
        Not used; the snapshot of every region takes it.
    state
        Of the current cycle.

    Returns
    -------
    dict of str to Markup
        Id of a button -> its text.
    """
    unfit = len(state.discrepancies) + len(state.unread)
    alerts = sum(alert.level == "alert" for alert in state.alerts)
    mark = text(" ") + badge("warning", str(alerts)) if alerts else NOTHING
    margins = [one.margin_min for suit in state.suits.values() for one in suit.consumables.values()
               if one.margin_min is not None and not one.assumed]
    least = min(margins, default=CLOSE_MARGIN_MIN)
    short = badge("warning", "short") if least < 0 else badge("caution", "low margin") if least < CLOSE_MARGIN_MIN else NOTHING
    return {
        Tabs.CHOICES: text("Choices ") + badge("caution", "decide") if state.advice.call == "decide" else text("Choices"),
        Tabs.PROBLEMS: text(f"Alerts{f' {unfit}' if unfit else ''}") + mark,
        Tabs.SUITS: text("Suits ") + short if short else text("Suits"),
    }
