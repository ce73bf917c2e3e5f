"""`follow`: one state from plan, events and an instant. What each part says is tested with the room that computes it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.base.findings import Unread
from dashboard.core.record.fold import reconcile
from dashboard.core.state.follow import follow, state_of
from tests.core.state.made import LOG, PLAN, WORK
from tests.scenario import PET_ZERO, SORTIE, follow_at, lanes, log_of, plan_of, suit

CHECK = '[[check]]\nid = "suit-read"\ntitle = "Suit reading"\nevery = 30\nlanes = ["EV1"]\n'


def test_a_log_and_an_instant_make_one_state():
    """Lanes, tasks, the end and what it is measured against speak of the same now."""
    state = follow_at(PLAN, LOG, "0:40")
    assert (state.pet_min, state.ended, state.mode) == (40, False, "live")
    assert (state.lanes["EV1"].state, state.lanes["EV1"].next) == ("waiting", "T020")
    assert (state.lanes["EV2"].state, state.lanes["EV2"].task) == ("in work", "T030")
    assert [state.tasks[name].state for name in ("T010", "T020", "T030")] == ["done", "not started", "in work"]
    assert state.tasks["T010"].finish_pet_min == 36
    assert state.end.plan_pace_pet_min == 160  # T020 begins now: 0:40 + 30 + 90 min
    assert state.end.margin_min == state.limit.pet_min - 160 == 230
    assert (state.basis.events, state.basis.pet_zero_from) == (4, "clock event")


def test_events_after_now_do_not_count_yet():
    """A log that goes on later gives the state of the log up to now."""
    later = f"{LOG}\n0:50 start T020\n1:10 done T020"
    assert follow_at(PLAN, later, "0:40").tasks == follow_at(PLAN, LOG, "0:40").tasks


def test_a_record_at_hand_gives_the_state_of_its_log():
    """Folding the log again changes nothing."""
    now = PET_ZERO + timedelta(minutes=40)
    assert state_of(reconcile(PLAN, log_of(LOG), now), now, draws=50) == follow(PLAN, log_of(LOG), now, draws=50)


def test_what_is_carried_along():
    """Lines that could not be read, the mode of the clock, and the caution."""
    unread = Unread(line="{", why="expected JSON", where="line 3")
    state = follow(PLAN, log_of(LOG), PET_ZERO, unread=[unread], mode="replay", draws=0)
    assert (state.unread, state.mode, state.advice.caution) == ([unread], "replay", CAUTION)


def test_the_limit_is_the_earlier_of_the_plan_and_the_suits():
    """A suit that reaches its reserve before the limit sets it."""
    little = {"loaded": 1.0, "reserve": 0.4, "base": 0.6, "per_watt": 0}
    suited = plan_of(f"[sortie]\n{SORTIE}\n" + lanes({"EV1": "A", "EV2": None}) + suit("A", water=little) + WORK)
    assert follow_at(PLAN, LOG, "0:40").limit.model_dump() == {"pet_min": 390, "set_by": "planned limit less reserve"}
    limit = follow_at(suited, LOG, "0:40").limit
    assert (limit.pet_min, limit.set_by) == (pytest.approx(60), "suit A water")  # 0.6 kg above the reserve at 0.6 kg/h


@pytest.mark.parametrize(("log", "last", "due", "overdue"), [("", None, 30, 10), ("\n0:20 check suit-read lane=EV1", 20, 50, 0)])
def test_a_recurring_check_is_due_after_its_interval(log: str, last: float | None, due: float, overdue: float):
    """Counted from PET zero, then from the last one."""
    (check,) = follow_at(plan_of(WORK + CHECK), LOG + log, "0:40").checks
    assert (check.title, check.lane) == ("Suit reading", "EV1")
    assert (check.last_pet_min, check.due_pet_min, check.overdue_min) == (last, due, overdue)
