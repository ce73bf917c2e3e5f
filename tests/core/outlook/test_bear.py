"""What a plan can bear: late starts, lost time, the worst delay, the way back, and what certainty costs."""

from __future__ import annotations

import pytest

from dashboard.core.outlook.bear import cut_for, what_it_bears, with_delay, with_lost_time
from dashboard.core.outlook.bear_model import Bears
from dashboard.core.schedule.plan_pace import project
from dashboard.core.state.follow import follow
from tests.core.outlook.plans import SOUND, briefed
from tests.scenario import task

# 150 min of work with the way home, in by PET 2:55 at the latest; L is worth least and may go.
TIGHT = (
    SOUND.replace('limit = "7:00"', 'limit = "3:25"').replace("lead = 0", "lead = 0\nconfidence = 0.85")
    + task("L", "EV1", 119, [15, 20, 30], priority=3, title="Look around", workload="light")
)


@pytest.fixture(scope="module")
def bears() -> Bears:
    return what_it_bears(briefed(TIGHT))


def test_the_latest_start_is_that_of_the_state(bears: Bears):
    """At plan pace, against the same limit; none for work that nobody waits for."""
    one = briefed(TIGHT)
    state = follow(one.plan, [], one.plan.sortie.start, draws=one.draws)
    told = {task.task: task.latest_start_pet_min for task in bears.tasks}
    assert told == {name: task.latest_start_pet_min for name, task in state.tasks.items()}
    assert all(task.slack_min == task.latest_start_pet_min - task.start_pet_min for task in bears.tasks)


def test_what_goes_first_is_what_costs_least_and_has_not_begun(bears: Bears):
    """T2 may slip by 25 min; another quarter of an hour costs L. Once the way home is late nothing is enough."""
    goes = {one.task: one.cut for one in bears.tasks}
    assert goes["T2"].reached and goes["T2"].goes == ["L Look around"] and goes["T2"].value_lost == {3: 1.0}
    assert not goes["HOME"].reached and goes["HOME"].goes == []
    assert goes["L"].goes == ["L Look around"]


def test_lost_time_moves_the_end_and_the_chance(bears: Bears):
    """At every hour; the chance falls, and by that at which the room knows most it falls most."""
    assert [one.pet_min for one in bears.lost] == [0.0, 60.0, 120.0]
    assert all(one.in_by_limit_after < one.in_by_limit_before for one in bears.lost)
    assert [round(one.end_later_min) for one in bears.lost] == [30, 30, 30]


def test_a_sortie_that_stands_still_ends_so_much_later():
    """All lanes are held, and go on afterwards."""
    one = briefed(TIGHT)
    assert project(with_lost_time(one, 60.0, 30.0)).end_pet_min == pytest.approx(one.projection.end_pet_min + 30)


def test_a_delay_before_one_task_moves_what_waits_for_it():
    """EV1 has no slack against EV2: its delay moves the end. EV2 has 30 min."""
    one = briefed(TIGHT)
    late = {name: project(with_delay(one, name, 30.0)).end_pet_min - one.projection.end_pet_min for name in ("T2", "T32")}
    assert late == {"T2": pytest.approx(30.0), "T32": pytest.approx(0.0)}


def test_the_worst_delay_costs_most_chance(bears: Bears):
    """In order; EV1 sets the end, so its tasks come before those of EV2."""
    falls = [round(one.in_by_limit_before - one.in_by_limit_after, 2) for one in bears.worst]
    assert falls == sorted(falls, reverse=True) and bears.worst[0].in_by_limit_before == bears.in_by_limit
    assert bears.worst[0].task in ("T1", "T2", "L", "HOME") and falls[0] > 0.1


def test_a_delay_that_costs_a_window_says_so():
    """T2 needs the only window, which closes soon after it."""
    window = '[[window]]\nkind = "link"\nfrom = 0\nto = 130\n'
    text = SOUND.replace('id = "T2"', 'id = "T2"\nneeds = ["link"]') + window
    worst = what_it_bears(briefed(text)).worst
    assert worst[0].window_missed == ["T2"]


def test_the_way_back_is_told_for_every_hour(bears: Bears):
    """With the turn-back time of the state."""
    one = briefed(TIGHT)
    state = follow(one.plan, [], one.plan.sortie.start, draws=one.draws)
    assert bears.turn_back_pet_min == state.lanes["EV1"].turn_back_pet_min
    assert [hour.pet_min for hour in bears.hours] == [0.0, 60.0, 120.0]


def test_certainty_costs_more_the_more_is_wanted(bears: Bears):
    """Each step reaches what it says; more goes for more."""
    steps = [step for step in bears.ladder if step.wanted is not None]
    assert [step.wanted for step in steps] == [0.5, 0.75, 0.85, 0.9]
    assert all(not step.cut.reached or step.cut.in_by_limit >= step.wanted for step in steps)
    assert bears.ladder[0].wanted is None and bears.ladder[0].cut.goes == []


def test_what_is_proven_costs_no_more_than_what_was_found_at_once():
    """The full search of the advice, when it is asked for."""
    one = briefed(TIGHT.replace('limit = "3:25"', 'limit = "3:00"'))
    quick, proven = (cut_for(one.record, 0.85, one.draws, proven=proof) for proof in (False, True))
    assert proven.proven and not quick.proven
    classes = sorted({*quick.value_lost, *proven.value_lost})
    assert [proven.value_lost.get(c, 0) for c in classes] <= [quick.value_lost.get(c, 0) for c in classes]


def test_nothing_goes_when_the_chance_is_as_wanted():
    """The sound plan."""
    one = briefed()
    cut = cut_for(one.record, 0.9, one.draws)
    assert cut.reached and cut.goes == [] and cut.in_by_limit == one.chance


def test_a_long_plan_says_what_is_left_out(monkeypatch: pytest.MonkeyPatch):
    """What goes, some of the hours, and delays before work with much slack."""
    for name, most in (("MOST_TASKS_WITH_CUTS", 2), ("MOST_HOURS", 2), ("MOST_DELAYED", 2)):
        monkeypatch.setattr(f"dashboard.core.outlook.bear.{name}", most)
    bears = what_it_bears(briefed(TIGHT))
    assert [one.cut for one in (*bears.tasks, *bears.lost)] == [None] * 9 and bears.ladder == []
    assert [one.pet_min for one in bears.lost] == [0.0, 120.0] and len(bears.worst) == 2 and len(bears.left_out) == 3
