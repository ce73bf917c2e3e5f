"""Two runs side by side, and a run beside its brief."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.debrief.compare import Pair, beside_the_brief, side_by_side
from dashboard.core.debrief.facts import Debrief
from dashboard.core.debrief.look_back import debrief
from tests.scenario import at, log_of, plan_of, task

PLAN = plan_of(task("T010", "EV1", 0, 30, title="Unstow") + task("T020", "EV1", 30, 45) + task("T030", "EV2", 0, 40))
QUICK = "0:00 clock\n0:00 start T010\n0:28 done T010\n0:28 start T020\n1:10 done T020\n0:00 start T030\n0:40 done T030\n1:12 end"
SLOW = "0:00 clock\n0:05 start T010\n0:55 done T010\n0:00 start T030\n0:30 done T030\n1:12 end"


def facts(log: str, plan=PLAN) -> Debrief:
    return debrief(plan, log_of(log), parse_instant(at("1:12")), draws=0)


def test_a_run_beside_its_brief_says_what_took_longer_and_what_was_not_done():
    """Differences are as run less briefed."""
    found = beside_the_brief("slow", facts(SLOW))
    assert found.end_pet_min == Pair(75, 55) and found.end_pet_min.difference == -20
    assert [(one.task, one.worked_min.difference) for one in found.tasks] == [("T010", 20), ("T030", -10)]
    assert found.tasks[0].start_pet_min == Pair(0, 5)
    assert (found.only_first, found.left_second) == (("T020",), ("T020",))


def test_two_runs_side_by_side_are_second_less_first():
    """Ends of crew and lanes, minutes of the ledger by kind, and the tasks that only one of them began."""
    quick, slow = facts(QUICK), facts(SLOW)
    found = side_by_side("quick", quick, "slow", slow)
    assert found.end_pet_min == Pair(70, 55) and found.lanes["EV2"].difference == -10
    assert found.lost_min["EV1"]["overrun"] == Pair(0, 20)
    assert sum(pair.first for pair in found.lost_min["EV1"].values()) == quick.lanes["EV1"].difference_min
    assert (found.only_first, found.left_second) == (("T020",), ("T020",))
    back = side_by_side("slow", slow, "quick", quick)
    assert back.end_pet_min.difference == 15 and back.only_second == ("T020",)


def test_tasks_of_other_titles_are_not_compared():
    """The same id may be other work in another plan."""
    other = plan_of(task("T010", "EV1", 0, 30, title="Wash") + task("T030", "EV2", 0, 40))
    found = side_by_side("a", facts(QUICK), "b", facts("0:00 clock\n0:00 start T010\n0:40 done T010", other))
    assert found.tasks == () and found.only_second == ("T010",)


def test_a_comparison_for_json_carries_the_differences():
    """Each pair has its difference beside it; what is not known is null."""
    found = side_by_side("quick", facts(QUICK), "none", facts("0:00 clock")).as_dict()
    assert found["end_pet_min"] == {"first": 70, "second": 147, "difference": 77}
    assert found["first"] == "quick" and found["tasks"] == []
