"""The network of what remains: which work, in which order, and what each piece waits for."""

from __future__ import annotations

from dashboard.core.base.times import parse_instant
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.network import finished_pet_min, network_of, remaining_tasks, work_to_place
from tests.scenario import at, log_of, plan_of, task

LEAK = (
    '[[contingency]]\nid = "leak"\nhold = ["A"]\n[[contingency.task]]\nid = "L1"\nlanes = ["EV1"]\nduration = 8\n'
)


def record_of(text, log="0:00 clock", pet="0:00"):
    return reconcile(plan_of(text), log_of(log), parse_instant(at(pet)))


def network(text, log="0:00 clock", pet="0:00"):
    return network_of(record_of(text, log, pet))


def test_a_get_ahead_remains_only_once_it_is_begun():
    """What can only be done after it waits with it; nothing remains once the sortie has ended."""
    text = task("A", "EV1", 0, 30) + task("G", "EV2", None, 20, get_ahead=True) + task("H", "EV2", 50, 5, after=["G"])
    assert remaining_tasks(record_of(text)) == ["A"]
    assert remaining_tasks(record_of(text, "0:00 clock\n0:00 start G", "0:05")) == ["A", "H", "G"]
    assert remaining_tasks(record_of(text, "0:00 clock\n0:02 end", "0:05")) == []


def test_work_in_hand_is_placed_first_and_the_rest_in_the_order_of_the_plan():
    """A task whose predecessor stands behind it in another lane is placed after it."""
    text = task("A", "EV1", 0, 30, after=["D"]) + task("B", "EV2", 10, 5) + task("C", "EV1", 20, 5) + task("D", "ARM", 30, 5)
    found = network(text, "0:00 clock\n0:00 start C", "0:01")
    assert found.sequence == ["C", "B", "D", "A"]
    assert found.out_of_turn == []


def test_a_lane_order_that_contradicts_after_is_left_where_it_must_be():
    """B stands first in its lane and comes after C, which stands behind it: C goes out of its turn."""
    found = network(task("B", "EV1", 0, 10, after=["C"]) + task("C", "EV1", 10, 10))
    assert found.sequence == ["C", "B"]
    assert found.out_of_turn == ["C"]


def test_what_waits_for_what_is_known_both_ways():
    """Links with lags, finished predecessors too; a lane links its tasks; a deferred predecessor is no link."""
    text = (
        task("A", "EV1", 0, 10) + task("B", "EV1", 10, 10, after=["A"]) + task("X", "ARM", 0, 5)
        + task("C", "EV2", 20, 10, follows=[{"task": "B", "lag": 4}, {"task": "X", "lag": 1}]) + task("D", "EV2", 30, 10)
    )
    found = network(text, "0:00 clock\n0:00 start A\n0:10 done A\n0:11 defer X", "0:12")
    assert found.predecessors == {"B": [("A", 0.0)], "C": [("B", 4.0)], "D": []}
    assert found.successors == {"B": [("C", 4.0)], "C": [("D", 0.0)], "D": []}


def test_all_work_in_hand_of_a_lane_comes_before_its_next_task():
    """Two tasks begun in one lane: the third waits for both."""
    text = task("A", "EV1", 0, 10) + task("B", "EV1", 10, 10) + task("C", "EV1", 20, 10)
    found = network(text, "0:00 clock\n0:00 start A\n0:01 start B", "0:02")
    assert found.successors == {"A": [("C", 0.0)], "B": [("C", 0.0)], "C": []}


def test_what_a_contingency_holds_waits_for_its_tasks():
    """And not for a time of its own."""
    text = task("A", "EV1", 0, 30) + LEAK
    record = record_of(text, "0:00 clock\n0:00 start A\n0:05 insert leak", "0:06")
    found = network_of(record)
    assert found.predecessors["A"] == [("L1", 0.0)]
    assert found.sequence == ["L1", "A"]


def test_a_lane_is_free_once_the_close_out_is_over_or_the_next_task_begun():
    """Broken off at 0:10 with 6 min of close-out; at 0:16 and with B begun it holds the lane no longer."""
    text = task("A", "EV1 EV2", 0, 30, closeout=6) + task("B", "EV1", 30, 10) + task("C", "EV2", 30, 10)
    log = "0:00 clock\n0:00 start A\n0:10 break_off A"
    assert network(text, log, "0:12").lane_free_first == {"EV1": 16, "EV2": 16}
    assert network(text, log + "\n0:11 start B", "0:12").lane_free_first == {"EV2": 16}
    assert network(text, log, "0:16").lane_free_first == {}


def test_finished_tasks_count_with_their_finish():
    """Done or broken off, the close-out left out."""
    text = task("A", "EV1", 0, 30, closeout=6) + task("B", "EV2", 0, 10) + task("C", "EV2", 30, 10)
    record = record_of(text, "0:00 clock\n0:00 start A\n0:00 start B\n0:09 done B\n0:10 break_off A\n0:10 start C", "0:12")
    assert finished_pet_min(record) == {"A": 10, "B": 9}


def test_work_that_has_begun_no_longer_waits_for_its_not_before():
    """In hand it begins now; on hold it needs its window still, and its own hold when that is asked for."""
    window = '[[window]]\nkind = "day"\nfrom = "0:00"\nto = "3:00"\n'
    text = "".join(task(name, lane, 0, 30, not_before="1:00", needs=["day"]) for name, lane in (("A", "EV1"), ("B", "EV2")))
    text += task("C", "ARM", 0, 30, not_before="1:00") + window
    record = record_of(text, "0:00 clock\n0:00 start A\n0:00 start B\n0:05 hold B", "0:06")
    work = {one.task: one for one in work_to_place(record, network_of(record), lambda run: 20.0 if run.task.id == "B" else None)}
    assert work["A"].begins_pet_min == 6
    assert (work["B"].not_before_pet_min, work["B"].held_until_pet_min, work["B"].needs) == (None, 20.0, ("day",))
    assert (work["C"].not_before_pet_min, work["C"].held_until_pet_min) == (60, None)
