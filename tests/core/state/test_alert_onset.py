"""Since when an alert stands that no event names."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.state import alert_onset
from dashboard.core.state.alert_onset import CLOSE_ENOUGH, with_since
from dashboard.service.adviser import Adviser
from dashboard.service.compute import AdvisedCompute
from tests.scenario import SORTIE, at, follow_at, lanes, log_of, plan_of, suit, task

WORK = task("A", "EV1", 0, 30) + task("B", "EV1", 30, 330, after=["A"])
PLAN = plan_of(WORK)
OXYGEN = {"loaded": 1.2, "reserve": 0.05, "base": 0.08, "per_watt": 0}
SUITED = plan_of(f"[sortie]\n{SORTIE}" + lanes({"EV1": "A"}) + suit("A", oxygen=OXYGEN) + WORK)
# Notes are instants to look at: between them nothing happens.
NOTES = "\n".join(f"{hour}:{minute:02d} note x" for hour in (1, 2, 3) for minute in range(0, 60, 6))
SLOW = "0:00 clock\n0:00 start A\n0:30 done A\n0:30 start B\n1:33 estimate B remaining=330\n" + NOTES


def over_limit(pet: str, log: str | list[Any] = SLOW, last: Any = None, plan: Any = PLAN) -> tuple[float | None, Any]:
    """Since when the crew is over the limit, and what a later instant may start from."""
    events = log_of(log) if isinstance(log, str) else log
    state, looked = with_since(plan, events, follow_at(plan, events, pet), last)
    (alert,) = [alert for alert in state.alerts if alert.id == "over-limit"]
    return alert.since_pet_min, looked


@pytest.mark.parametrize("pet", ["1:33", "1:34", "2:00", "3:50"])
def test_it_stands_since_the_event_that_raised_it(pet: str):
    """An estimate at PET 1:33 puts the end past the limit; however much later one asks, and whatever came between."""
    assert over_limit(pet)[0] == pytest.approx(93)


def test_a_suit_that_reads_low_stands_since_its_reading():
    """The reading at PET 1:33 brings the limit before the end."""
    log = SLOW.replace("estimate B remaining=330", "reading A oxygen=0.4")
    assert follow_at(SUITED, log, "1:32").alerts == []
    assert follow_at(SUITED, log, "2:30").limit.set_by == "suit A oxygen"
    assert over_limit("2:30", log, plan=SUITED)[0] == pytest.approx(93)


def test_where_no_event_raised_it_the_minute_is_found():
    """A task runs over and over: one minute before, the alert did not stand yet."""
    log = "0:00 clock\n0:00 start A"
    since, _ = over_limit("3:00", log)
    assert since is not None and 30 < since < 179
    closer = CLOSE_ENOUGH / timedelta(minutes=1) + 0.01
    assert [a.id for a in follow_at(PLAN, log, since).alerts] == ["over-limit"]
    assert follow_at(PLAN, log, since - closer).alerts == []


@given(
    lines=st.lists(
        st.tuples(st.integers(31, 200), st.sampled_from(["note x", "estimate B remaining=330", "reading A oxygen=0.9"])),
        max_size=4,
    ),
    looks=st.lists(st.integers(30, 240), min_size=2, max_size=4, unique=True),
)
@settings(max_examples=25, deadline=None)
def test_since_does_not_move_while_the_alert_stands(lines: list[tuple[int, str]], looks: list[int]):
    """Whatever was logged and whenever one looks, from anew or going on from before: it stood then, and not a second earlier.

    The time is the same at every look as long as the alert stands at each ten minutes in between, for time alone moves nothing.
    """
    log = "0:00 clock\n0:00 start A\n0:30 done A\n0:30 start B"
    log += "".join(f"\n{pet} {said}" for pet, said in sorted(lines))
    events, looked, seen = log_of(log), None, []

    def stands(pet: float) -> bool:
        return "over-limit" in {alert.id for alert in follow_at(SUITED, events, pet).alerts}

    for pet in sorted(looks):
        state = follow_at(SUITED, events, pet)
        gone_on, looked = with_since(SUITED, events, state, looked)
        anew, _ = with_since(SUITED, events, state)
        told = {one.since_pet_min for found in (gone_on, anew) for one in found.alerts if one.id == "over-limit"}
        assert len(told) <= 1
        if told:
            (since,) = told
            assert since is not None and stands(since) and (since == 0 or not stands(since - 1 / 60))
        seen.append((pet, told))
    for (before, then), (after, later) in pairwise(seen):
        marks = [pet for pet in range(0, 250, 10) if before < pet < after] + [pet for pet, _ in lines if before < pet < after]
        if then and later and all(stands(pet) for pet in marks):
            assert then == later


@pytest.mark.parametrize("at_once", [0, 1, 3])
def test_a_search_in_pieces_finds_the_same(at_once: int):
    """Few instants in each cycle, the clock going on: unknown until it is found, then as found at once."""
    log = "0:00 clock\n0:00 start A\n0:30 done A\n0:30 start B\n1:03 estimate B remaining=330\n1:40 reading A oxygen=0.9"
    events, looked, told = log_of(log), None, []
    for cycle in range(60):
        state = follow_at(SUITED, events, 190 + cycle / 30)
        left = iter(range(at_once or cycle % 2))
        state, looked = with_since(SUITED, events, state, looked, enough=lambda left=left: next(left, None) is None)
        told.append({one.id: one.since_pet_min for one in state.alerts})
    whole = {one.id: one.since_pet_min for one in with_since(SUITED, events, follow_at(SUITED, events, 190))[0].alerts}
    assert told[0] != whole and None not in whole.values()
    assert told[-1] == pytest.approx(whole)
    assert all(one[name] in (None, pytest.approx(whole[name])) for one in told for name in one)


def test_what_time_alone_raises_is_found_to_the_second_and_stays():
    """A task runs over and over, and nothing is logged: the same instant at every look, to the second."""
    log = "0:00 clock\n0:00 start A"
    found = {over_limit(pet, log)[0] for pet in ("1:40", "2:07", "2:31", "3:00", "3:59")}
    (since,) = found
    assert follow_at(PLAN, log, since).alerts and not follow_at(PLAN, log, since - 1 / 60).alerts


def test_a_plan_that_never_fits_stands_since_pet_zero():
    """And before PET zero nothing is said of a time."""
    late = plan_of(task("A", "EV1", 0, 500))
    assert over_limit("1:00", "0:00 clock\n0:10 start A", plan=late)[0] == 0
    assert over_limit("-0:20", "-0:30 note x", plan=late)[0] is None


def test_what_was_found_before_is_gone_on_from():
    """The next cycle finds the same, and follows nothing again but the stretch in between."""
    _, looked = over_limit("2:00")
    assert over_limit("2:30", last=looked) == over_limit("2:30")
    _, before = with_since(PLAN, log_of(SLOW), follow_at(PLAN, SLOW, "1:20"))
    assert over_limit("2:30", last=before)[0] == pytest.approx(93)


def test_what_comes_in_late_makes_it_look_anew():
    """An estimate of PET 1:03, entered later: what was found before it came is not kept."""
    _, looked = over_limit("2:00")
    late = log_of(SLOW + "\n1:03 estimate B remaining=330")
    assert over_limit("2:30", late, looked)[0] == pytest.approx(63)
    assert over_limit("1:40", last=looked)[0] == pytest.approx(93)  # going back in time likewise


def test_what_comes_in_a_moment_late_costs_no_search(monkeypatch):
    """An entry of a second ago, though the cycle of that second is over: the alert stood before it, and still stands."""
    _, looked = over_limit("2:00")
    late = log_of(SLOW + "\n1:59:58 note text=late")
    state = follow_at(PLAN, late, "2:00:01")
    monkeypatch.setattr(alert_onset, "follow", lambda *given: pytest.fail("the state was computed again"))
    (alert,) = with_since(PLAN, late, state, looked)[0].alerts
    assert alert.since_pet_min == pytest.approx(93)


def test_an_entry_dated_at_the_beginning_of_the_calendar_makes_it_look_anew():
    """No time lies before its date."""
    events = log_of(SLOW)
    _, looked = over_limit("2:00", events)
    first = events[-1].model_copy(update={"id": "first", "at": datetime(1, 1, 1, tzinfo=UTC)})
    assert over_limit("2:06", [*events, first], looked)[0] == pytest.approx(93)


def test_a_late_entry_that_ends_what_stood_is_heard():
    """The alert of PET 1:33 ends at 1:45 and comes back at 2:15 by what came in late; it stands since then."""
    _, looked = over_limit("2:00")
    late = log_of(SLOW + "\n1:45 estimate B remaining=60\n2:15 estimate B remaining=330")
    assert over_limit("2:30", late, looked)[0] == over_limit("2:30", late)[0] == pytest.approx(135)


def test_events_that_are_gone_make_it_look_anew():
    """The estimate that raised the alert was put into quarantine; another one raises it later."""
    more = SLOW + "\n1:50 estimate B remaining=330"
    _, looked = over_limit("2:00", more)
    left = [event for event in log_of(more) if event.at != parse_instant(at("1:33"))]
    assert over_limit("2:30", left, looked)[0] == pytest.approx(110)


def test_the_board_has_it():
    """In the state that every screen shows, and in the words of the problem."""
    adviser = Adviser()
    adviser.close()
    view = AdvisedCompute(adviser)(PLAN, log_of(SLOW), [], parse_instant(at("2:00")), "live")
    assert view.state.alerts[0].since_pet_min == pytest.approx(93)
    assert "Since PET 1:33." in str(view.board["html"])
