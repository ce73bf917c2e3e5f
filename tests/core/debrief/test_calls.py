"""The calls of a sortie, as judged from what was known at each instant."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.calls import calls_made
from dashboard.core.record.fold import reconcile
from tests.scenario import at, lanes, log_of, plan_of, task

PLAN = plan_of(
    '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 130\nlead = 15\n' + lanes({"EV1": None})
    + "".join(task(f"S{n}", "EV1", 5 * n, [4, 5, 7], priority=1, required=True) for n in range(4))
    + task("A", "EV1", 20, [45, 50, 60], priority=1, required=True)
    + task("B", "EV1", 70, [15, 20, 30], priority=2, required=True)
    + task("C", "EV1", 90, [15, 20, 30], priority=3)
)
LOG = "0:00 clock\n" + "".join(f"0:{5 * n:02d} start S{n}\n0:{5 * n + 5:02d} done S{n}\n" for n in range(4))
LATE = LOG + (
    "0:20 start A\n0:40 estimate A remaining=55\n1:35 done A\n1:36 start B\n1:52 decision Skip_it defer=C\n1:56 done B\n2:05 end"
)


def calls(log: str, until: float, draws: int = 300):
    events = log_of(log)

    def record_at(instant):
        return reconcile(PLAN, [event for event in events if event.came_in <= instant], instant)

    return calls_made(record_at, reconcile(PLAN, events, parse_instant(at("2:06"))), until, draws=draws)


def test_the_room_is_told_then_asked_and_the_decision_ends_the_call():
    """A runs 25 min over by estimate: a cut is likely, then C must be decided, and nobody is called once it is deferred."""
    made = calls(LATE, 124.0)
    assert made[-1].call == "none" and made[-1].pet_min > 112
    told = [one.call for one in made]
    assert told[0] in ("expect", "decide") and "decide" in told
    asked = next(one for one in made if one.call == "decide")
    assert 90 <= asked.pet_min < 112 and asked.for_now == ["defer C"] and asked.by_pet_min is not None
    assert all(one.changed_by for one in made[1:])


def test_a_sortie_in_time_has_no_calls_and_none_are_judged_without_draws():
    """Nothing is said where nobody was called."""
    in_time = LOG + "0:20 start A\n1:05 done A"
    assert calls(in_time, 70.0) == []
    assert calls(LATE, 124.0, draws=0) == []
