"""The small sortie that the tests of the state's parts share."""

from __future__ import annotations

from tests.scenario import plan_of, task

WORK = (
    task("T010", "EV1", 0, [25, 30, 40])
    + task("T020", "EV1", 30, [20, 30, 50], after=["T010"])
    + task("T030", "EV2", 0, [50, 60, 80])
    + task("T040", "EV1 EV2", 60, [80, 90, 120], after=["T020", "T030"])
)
PLAN = plan_of(WORK)
LOG = "0:00 clock\n0:00 start T010\n0:00 start T030\n0:36 done T010"
