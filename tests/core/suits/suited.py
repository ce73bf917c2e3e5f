"""A plan with two suited crew members, short texts of their suits, and what is asked of them in these tests."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from dashboard.core.suits.budget import budgets
from tests.scenario import SORTIE, TWO_IN_SUITS, at, follow_at, log_of, plan_of, task

SUITED = f"[sortie]\n{SORTIE}\n{TWO_IN_SUITS}"
WATER = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 4.0\nreserve = 0.4\nbase = 0.6\nper_watt = 0\n'
BATTERY = "[suit.battery]\nloaded = 450\nreserve = 40\nbase = 60\nper_watt = 0\n"
BOTH = WATER + BATTERY + '[[suit]]\nid = "B"\n[suit.water]\nloaded = 4.0\nreserve = 0.4\nbase = 0.5\nper_watt = 0\n'
WORK = task("A", "EV1", 0, 120) + task("B", "EV2", 0, 120) + task("S", "EV1 EV2", 120, 60)
IN_WORK = "0:00 clock\n0:00 start A"
FAR = '[[worksite]]\nid = "airlock"\nreturn = 0\n[[worksite]]\nid = "far"\nreturn = 40\nleave_by = "5:10"\n'
LEGS = (
    task("A", "EV1", 0, 60, worksite="airlock") + task("OUT", "EV1", 60, 30, leg="far", after=["A"])
    + task("B", "EV1", 90, 100, worksite="far", shortest=20, closeout=5)
    + task("HOME", "EV1", 190, 40, leg="airlock", required=True)
)
ON_LEG = IN_WORK + "\n1:00 done A\n1:00 start OUT"
THERE = ON_LEG + "\n1:30 done OUT\n1:30 start B"
BEGUN = "0:00 clock\n0:00 start A\n0:00 start B"


def suit_of(log=BEGUN, pet="1:00", suits=BOTH, work=WORK, name="A"):
    return follow_at(plan_of(SUITED + suits + work), log, pet).suits[name]


def budget_of(log=BEGUN, pet="1:00", suits=BOTH, work=WORK):
    record = reconcile(plan_of(SUITED + suits + work), log_of(log), parse_instant(at(pet)))
    return budgets(record, project(record))
