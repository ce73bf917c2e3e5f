"""The moments of the five-second look are what their names say: their states are computed here, without a browser."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from dashboard.core.base.times import minutes_between
from dashboard.core.state.follow import follow
from dashboard.core.state.model import SortieState
from tests.browser.moments import MOMENTS

NOW = datetime(2031, 4, 12, 15, 0, tzinfo=UTC)


def _ahead_min(state: SortieState) -> list[float]:
    return [lane.ahead_min for lane in state.lanes.values() if lane.kind == "crew" and lane.ahead_min is not None]


def _silent_min(state: SortieState) -> float:
    assert state.basis.last_event_at is not None
    return minutes_between(state.basis.last_event_at, state.now)


def _misses_a_window(state: SortieState) -> bool:
    return any("window" in one.what for one in state.end.because if one.min > 10)


IS: dict[str, Callable[[SortieState], bool]] = {
    "nominal": lambda s: (s.end.in_by_limit or 0) > 0.9 and all(abs(one) < 10 for one in _ahead_min(s)),
    "ahead": lambda s: all(one > 10 for one in _ahead_min(s)),
    "behind": lambda s: all(one < -10 for one in _ahead_min(s)),
    "short of water": lambda s: s.suits["B"].limiting == "water" and (s.suits["B"].margin_min or 0) < 0,
    "on hold": lambda s: all(lane.held for lane in s.lanes.values()),
    "contingency": lambda s: any(task.origin == "contingency" and task.state == "in work" for task in s.tasks.values()),
    "stale": lambda s: _silent_min(s) > 30,
    "expect": lambda s: s.advice.needed is True,
    "decide": lambda s: s.advice.needed is True and all(task.state != "deferred" for task in s.tasks.values()),
    "just decided": lambda s: sum(task.state == "deferred" for task in s.tasks.values()) >= 2,
    "window missed": _misses_a_window,
    "before start": lambda s: s.pet_min < 0 and not _ahead_min(s),
    "ended": lambda s: s.ended and s.end.actual_pet_min is not None,
    "server gone": lambda s: all(one < -10 for one in _ahead_min(s)),
    "quarantine": lambda s: (s.end.in_by_limit or 0) > 0.9,
    "two boards": lambda s: any(task.state == "on hold" for task in s.tasks.values()),
}


@pytest.mark.parametrize("name", MOMENTS)
def test_a_moment_is_what_its_name_says(name: str) -> None:
    """And its PET is that of the moment."""
    moment = MOMENTS[name]()
    state = follow(moment.plan(NOW), moment.events(NOW), NOW)
    assert IS[name](state) and abs(state.pet_min - moment.pet_min) < 1


def test_the_store_holds_the_log_and_what_is_in_quarantine() -> None:
    """Each event as it came in; what is in quarantine is among the unread and does not count."""
    moment = MOMENTS["quarantine"]()
    store = moment.store(NOW)
    assert len(store.events()) == len(moment.log)
    (unread,) = store.unread()
    assert moment.quarantined in unread.line
    store.close()
