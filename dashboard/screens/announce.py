"""What is read to people who do not see the page: new alerts, and a call to decide. ``assets/board/announce.js`` reads it."""

from __future__ import annotations

from typing import Any

from dashboard import story, words
from dashboard.core.plan.model import Plan
from dashboard.core.state.model import SortieState


def snapshot(plan: Plan, state: SortieState) -> dict[str, Any]:
    """The alerts and the call, in words.

    Parameters
    ----------
    plan
        Not used; the snapshot of every region takes it.
    state
        Of the current cycle.

    Returns
    -------
    dict
        ``alerts``: id to words. ``call``: what makes a call to decide another one, empty while nothing is to be decided.
        ``said``: the call in words.
    """
    advice = state.advice
    alerts = {alert.id: words.alert(alert) for alert in state.alerts if alert.level == "alert"}
    if advice.call != "decide" or state.ended:
        return {"alerts": alerts, "call": "", "said": ""}
    goes = story.goes_now(advice)
    by = "now" if advice.call_by_pet_min is None else f"by {words.pet_named(advice.call_by_pet_min)}"
    return {"alerts": alerts, "call": goes or "decide", "said": f"Decide {by}: {goes}".rstrip(": ")}
