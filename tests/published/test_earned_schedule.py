"""The eleven-week earned-schedule table of the PM Knowledge Center ("Earned Value Management: Forecasting time").

Planned value, earned value and the earned schedule of weeks 1 to 6 were read there; the earned schedule of weeks 7 to
11 was computed from the same two rows. A week stands for a minute here, a unit of planned value for a minute of work.
"""

from __future__ import annotations

from typing import Any

import pytest

from dashboard.core.base.times import instant_text, plus_minutes
from dashboard.core.events.kinds import parse_event
from dashboard.core.plan.model import Plan
from dashboard.core.schedule.earned import WorkCurve
from dashboard.core.state.follow import follow

PLANNED_VALUE = [5, 10, 25, 55, 85, 120, 130, 140, 150, 150, 150]  # cumulative, read
EARNED_VALUE = [3.33, 6.67, 10, 22.5, 70, 82.5, 90, 120, 130, 140, 150]  # cumulative, read
EARNED_SCHEDULE_READ = [0.67, 1.33, 2.0, 2.83, 4.5, 4.92]
EARNED_SCHEDULE_COMPUTED = [5 + 5 / 35, 6.0, 7.0, 8.0, 9.0]
EARNED_SCHEDULE = EARNED_SCHEDULE_READ + EARNED_SCHEDULE_COMPUTED
PLANNED_WEEKS = 9
ROUNDING = 0.005  # the source gives two decimals

WEEKS = list(range(1, 12))
UNITS = [(week, PLANNED_VALUE[week] - (PLANNED_VALUE[week - 1] if week else 0)) for week in range(11)]
UNIT_WEEKS = [week for week, units in UNITS for _ in range(units)]  # week in which each unit of work is planned


def work_curve() -> WorkCurve:
    """Each unit is spread over its week; 35 units in a week are 35 pieces side by side."""
    return WorkCurve((week, 1.0) for week in UNIT_WEEKS)


def test_the_work_curve_is_the_planned_value():
    """All of W is the last planned value, reached at the end of week 9."""
    curve = work_curve()
    assert curve.total_min == pytest.approx(PLANNED_VALUE[-1])
    assert curve.end_pet_min == PLANNED_WEEKS


@pytest.mark.parametrize("week", WEEKS)
def test_earned_schedule_is_the_inverse_of_the_work_curve(week):
    """Earned schedule of each week; the last ones show that the work done after week 9 earns week 9, not week 11."""
    earned = work_curve().pet_of(EARNED_VALUE[week - 1], week)
    assert earned == pytest.approx(EARNED_SCHEDULE[week - 1], abs=ROUNDING)


def team_plan() -> Plan:
    """150 one-minute tasks in one lane, side by side within their week."""
    return Plan.model_validate({
        "sortie": {"id": "weeks", "start": "2031-04-12T09:10:00Z", "limit": 60},
        "lane": [{"id": "TEAM", "kind": "crew"}],
        "task": [
            {"id": f"U{i:03d}", "lanes": ["TEAM"], "start": week, "duration": 1} for i, week in enumerate(UNIT_WEEKS)
        ],
    })


def team_log(plan: Plan) -> list[Any]:
    """Whole units are done at the end of a week; of a fraction, that much of the next unit has been worked by then."""
    events: list[Any] = []

    def log(week: float, kind: str, unit: int) -> None:
        at = instant_text(plus_minutes(plan.sortie.start, week))
        seq = len(events)
        events.append(parse_event({"id": f"e{seq}", "seq": seq, "at": at, "kind": kind, "task": f"U{unit:03d}"}))

    done = begun = 0
    for week, earned in zip(WEEKS, EARNED_VALUE, strict=True):
        whole = int(earned)
        for unit in range(begun, whole):
            log(week, "start", unit)
        for unit in range(done, whole):
            log(week, "done", unit)
        done = begun = whole
        if earned > whole:
            log(week - (earned - whole), "start", whole)
            begun = whole + 1
    return events


@pytest.mark.parametrize("week", WEEKS)
def test_the_team_is_as_far_behind_as_the_published_schedule_variance(week):
    """Through a plan and a log: minutes ahead of the lane are the earned schedule less the actual time, week by week.

    Units of one lane lie side by side in this plan; the log lists that as discrepancies and is applied all the same.
    """
    plan = team_plan()
    state = follow(plan, team_log(plan), plus_minutes(plan.sortie.start, week))
    assert state.lanes["TEAM"].ahead_min == pytest.approx(EARNED_SCHEDULE[week - 1] - week, abs=ROUNDING)


def test_a_nine_week_plan_finished_in_week_eleven_stays_two_weeks_late():
    """The figure freezes at planned end less actual end, however long one waits."""
    plan = team_plan()
    for week in (11, 12, 40):
        lane = follow(plan, team_log(plan), plus_minutes(plan.sortie.start, week)).lanes["TEAM"]
        assert lane.ahead_min == pytest.approx(PLANNED_WEEKS - 11)
        assert lane.ahead_frozen
