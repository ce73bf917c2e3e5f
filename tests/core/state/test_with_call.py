"""The state with its call, as the command line and the reports show it."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.state.follow import state_of
from dashboard.core.state.with_call import with_call
from tests.core.deferral.cases import LANES
from tests.scenario import at, log_of, plan_of, task


def _with_call(duration_min: float, log: str, now: str):
    record = reconcile(plan_of(LANES + task("T1", "EV1 EV2", 0, duration_min)), log_of(log), parse_instant(at(now)))
    state = state_of(record, parse_instant(at(now)), draws=300)
    return state, with_call(state, record, draws=300)


def test_what_the_state_leaves_open_is_judged():
    """Work as long as the limit, and nothing to give up: the state has no call yet, and then one with its reason."""
    before, after = _with_call(100, "0:00 clock\n0:01 start T1", "0:30")
    assert before.advice.call is None
    assert after.advice.call == "none" and after.advice.call_why


def test_only_the_advice_changes():
    """All other figures are those of the state."""
    before, after = _with_call(60, "0:00 clock\n0:01 start T1", "0:30")
    assert after.model_copy(update={"advice": before.advice}) == before


def test_after_the_end_nobody_is_called():
    """The state comes back as it is."""
    before, after = _with_call(60, "0:00 clock\n0:01 start T1\n1:00 done T1\n1:01 end", "1:05")
    assert after is before
