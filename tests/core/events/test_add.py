"""An unplanned task."""

from __future__ import annotations

from tests.core.sorties import PLAN
from tests.scenario import follow_at


def test_an_added_task_goes_where_it_is_put():
    """Before a named task, or ahead of what remains."""
    add = '{"id":"X","lanes":["EV1"],"duration":5}'
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add} before=C", "0:02").lanes["EV1"].order[1:4] == ["B", "X", "C"]
    assert follow_at(PLAN, f"0:00 clock\n0:01 add {add}", "0:02").lanes["EV1"].order[:2] == ["X", "A"]


def test_a_task_may_be_named_before_the_event_that_adds_it_comes_in():
    """Order of arrival does not decide whether a name is known."""
    log = '0:00 clock\n0:06 start X\n0:05 add {"id":"X","lanes":["EV1"],"duration":5}'
    state = follow_at(PLAN, log, "0:10")
    assert state.unread == []
    assert state.tasks["X"].state == "in work"
