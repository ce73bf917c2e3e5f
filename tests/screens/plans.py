"""Short plans to draw screens of."""

from __future__ import annotations

from dashboard.core.plan.model import Plan
from tests.scenario import SORTIE, lanes, plan_of, suit, task

PLAN = (
    task("T010", "EV1 EV2", 0, 30, title="Leave the airlock")
    + task("T020", "EV1", 30, 45, title="Release the bolts", worksite="mast", value=1.0)
    + task("T030", "EV2", 30, 40, title="Tool count", after=["T010"])
    + task("T040", "ARM", 0, 40, title="Fetch the tray")
    + '[[worksite]]\nid = "mast"\nreturn = 12\n'
)
SUITED = (
    f"[sortie]\n{SORTIE}\n"
    + lanes({"EV1": "A", "EV2": None}, ("ARM", "arm"))
    + suit("A", water={"loaded": 3.6, "reserve": 0.3})
    + PLAN
)


def plain_plan() -> Plan:
    """Three lanes, four tasks, no suit."""
    return plan_of(PLAN)


def suited_plan() -> Plan:
    """The same; EV1 wears suit A with its water."""
    return plan_of(SUITED)
