"""When the room is called: each point of the rule, and how the call before holds the new one back."""

from __future__ import annotations

import numpy as np
import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.call import FAR, STEADY_MIN, Call, Cheapest, call_of, enough_is_finished
from dashboard.core.deferral.when_to_decide import Times, parts_in_time
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.expected import expect
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import LANES
from tests.scenario import at, log_of, plan_of, task

DRAWS = 400
TABLES = (
    "".join(task(f"S{i}", "EV1", 10 * i, 10) for i in range(3)) + task("A", "EV1", 30, 30) + task("B", "EV1", 60, 30)
    + task("C", "EV1", 90, 30) + task("HOME", "EV1", 120, 10, required=True)
)
BEGUN = "0:00 clock\n" + "".join(f"0:{10 * i:02d} start S{i}\n0:{10 * i + 10:02d} done S{i}\n" for i in range(3))


SPARSE = TABLES.replace(task("C", "EV1", 90, 30), task("K", "EV1", 90, 30) + task("C", "EV1", 120, 30)).replace(
    task("HOME", "EV1", 120, 10, required=True), task("HOME", "EV1", 150, 10, required=True)
)


def never() -> Cheapest:
    """The cheapest set must not be asked for."""
    raise AssertionError("asked for without need")


class Room:
    """A room on one plan: the call at one instant after another, with the chance and the cheapest set given."""

    def __init__(self, tables: str = TABLES, log: str = BEGUN + "0:30 start A\n") -> None:
        self.plan, self.log = plan_of(LANES.replace("limit = 100", "limit = 120") + tables), log
        self.call: Call | None = None

    def at(self, pet: str, chance: float, goes=("C",), *, reaches: float = 0.95, late_when_slow: bool = True, more: str = "",
           as_briefed: float | None = None, chances=None) -> Call:
        """The next call: in time in the fastest draws, or in draws that nothing tells apart."""
        self.log += more
        record = reconcile(self.plan, log_of(self.log), parse_instant(at(pet)))
        before = project(record)
        expected = expect(record, before, draws=DRAWS)
        order = np.argsort(expected.end) if late_when_slow else np.random.default_rng(1).permutation(DRAWS)
        in_time = np.zeros(DRAWS)
        in_time[order[: round(chance * DRAWS)]] = 1.0

        def find() -> Cheapest | None:
            if goes is None:
                return None
            change = Change(defer=goes)
            return Cheapest(change, parts_in_time(record, Times(before, expected), change), reaches)

        self.call = call_of(
            record, before, expected, in_time, never if chance >= 0.9 else find,
            lambda change: 0.0 if chances is None else chances[tuple(sorted(change.defer))], self.call, as_briefed=as_briefed,
        )
        return self.call


def test_sure_enough_there_is_no_call_and_nothing_is_looked_for() -> None:
    """With 95 % where 90 % are wanted."""
    assert Room().at("0:31", 0.95).call == "none"


def test_what_is_due_within_the_lead_time_is_called_for_alone() -> None:
    """B begins at 1:00, K after it, C at 2:00. At 0:45 with a lead of 20 min B is to be decided, and C can wait."""
    call = Room(SPARSE).at("0:45", 0.5, ("B", "C"))
    assert (call.call, call.for_now.defer) == ("decide", ("B",))
    assert call.by_pet_min == pytest.approx(60, abs=8)
    assert "B must be decided by PET" in call.why


def test_what_begins_at_once_when_something_else_is_given_up_is_for_now_too() -> None:
    """Without B, C begins in its place at 1:00: both are to be decided by then, and not one after the other."""
    call = Room().at("0:45", 0.5, ("B", "C"))
    assert (call.call, call.for_now.defer) == ("decide", ("B", "C"))


def test_what_wins_hardly_anything_is_not_asked_for() -> None:
    """B and C reach 90 %, C alone 89 %: C can wait, so nothing is to be decided yet. Where both reach 95 %, B is asked for."""
    chances = WITHOUT_B | {("C",): 0.89}
    waits = Room(SPARSE).at("0:45", 0.5, ("B", "C"), reaches=0.9, chances=chances)
    assert (waits.call, waits.for_now.defer) == ("expect", ())
    asked = Room(SPARSE).at("0:45", 0.5, ("B", "C"), reaches=0.95, chances=chances)
    assert (asked.call, asked.for_now.defer) == ("decide", ("B",))


WITHOUT_B = {(): 0.5, ("B",): 0.6, ("K",): 0.6, ("B", "C"): 0.9, ("C", "K"): 0.88, ("B", "K"): 0.7, ("B", "C", "K"): 0.95}
CHANCES = {(): 0.5, ("B",): 0.95, ("C",): 0.95, ("B", "C"): 0.99}


def test_it_waits_when_that_costs_less() -> None:
    """B is due now, and C, of the same class, would do later. In half of the draws neither must go: the room waits."""
    waits = Room().at("0:45", 0.5, ("B",), chances=CHANCES, late_when_slow=False)
    assert waits.call == "expect"
    assert waits.for_now.is_empty
    assert Room().at("0:45", 0.5, ("B",), late_when_slow=False).call == "decide"


def test_what_costs_nothing_is_not_put_off() -> None:
    """B is worth nothing, such as an ending that is as good as the other: to wait could only lose something else."""
    tables = TABLES.replace(task("B", "EV1", 60, 30), task("B", "EV1", 60, 30, value=0))
    tables = tables.replace(task("C", "EV1", 90, 30), task("C", "EV1", 90, 30, priority=3))
    chances = CHANCES | {("B", "C"): 0.93, ("C",): 0.99}
    due = Room(tables).at("0:45", 0.5, ("B",), chances=chances, late_when_slow=False)
    assert (due.call, due.for_now.defer) == ("decide", ("B",))


def test_it_does_not_wait_when_the_confidence_would_be_out_of_reach() -> None:
    """With C alone 85 % are the most that can be reached later."""
    call = Room().at("0:45", 0.5, ("B",), chances={**CHANCES, ("C",): 0.85})
    assert (call.call, call.for_now.defer) == ("decide", ("B",))


def test_it_does_not_wait_for_what_is_worth_more() -> None:
    """C is of class 1, B of class 2: without B, C must go in half of the draws; with B, in a twentieth."""
    dearer = TABLES.replace('id = "C"', 'id = "C"\npriority = 1')
    call = Room(dearer).at("0:45", 0.5, ("B",), chances=CHANCES)
    assert (call.call, call.for_now.defer) == ("decide", ("B",))


@pytest.mark.parametrize(("later", "spared_in", "call"), [(2, 0.3, "expect"), (2, 0.6, "decide"), (1, 0.3, "decide")])
def test_what_goes_now_must_more_likely_than_not_spare_something_of_a_higher_class(
    later: int, spared_in: float, call: str
) -> None:
    """B, of class 3, is due, and only C, of class 2, can go later. Where it is of class 1, no chance is taken."""
    tables = TABLES.replace('id = "C"', f'id = "C"\npriority = {later}').replace('id = "B"', 'id = "B"\npriority = 3')
    chances = {(): 0.95 - spared_in, ("B",): 0.95, ("C",): 0.95, ("B", "C"): 0.99}
    due = Room(tables).at("0:45", 0.95 - spared_in, ("B",), chances=chances, late_when_slow=False)
    assert due.call == call
    assert due.by_pet_min == pytest.approx(90 if call == "expect" else 60, abs=8)


def test_it_does_not_wait_when_the_cut_is_needed_in_any_case() -> None:
    """Hardly any draw is in time without a cut: to wait wins nothing."""
    call = Room().at("0:45", 0.02, ("B",), chances={**CHANCES, (): 0.0, ("B",): 0.97})
    assert (call.call, call.for_now.defer) == ("decide", ("B",))


def test_what_is_worth_less_goes_now_where_it_will_likely_spare_what_is_worth_more() -> None:
    """B, of class 3, is due and reaches 80 %: less than is wanted, so the set is C, of class 2, later. Without B, C mostly stays.

    Where B gains less than half of the draws, and where it is worth as much as C, nothing is for now.
    """
    cheaper = TABLES.replace('id = "B"', 'id = "B"\npriority = 3')
    call = Room(cheaper).at("0:45", 0.1, chances={(): 0.1, ("B",): 0.8})
    assert (call.call, call.for_now.defer) == ("decide", ("B",))
    assert call.by_pet_min == pytest.approx(60, abs=8)
    assert call.why.endswith("given up, C will likely be spared.")
    assert Room(cheaper).at("0:45", 0.1, chances={(): 0.1, ("B",): 0.5}).call == "expect"
    assert Room().at("0:45", 0.1, chances={(): 0.1, ("B",): 0.8}).call == "expect"


def test_what_can_still_go_later_is_no_reason_to_give_something_up_now() -> None:
    """Of class 3 are B, due now, and C, later, which spares D of class 2 as well as B does."""
    cheaper = TABLES.replace('id = "B"', 'id = "B"\npriority = 3').replace('id = "C"', 'id = "C"\npriority = 3')
    tables = cheaper.replace(task("HOME", "EV1", 120, 10, required=True), task("D", "EV1", 120, 10))
    chances = {("C",): 0.8, ("B", "C"): 0.85}
    assert Room(tables).at("0:45", 0.1, ("D",), chances=chances).call == "expect"


def test_a_cut_that_will_likely_be_needed_is_expected() -> None:
    """C can wait for an hour, and hardly any draw is in time: it is expected, by the time at which C begins."""
    call = Room().at("0:31", 0.05)
    assert call.call == "expect"
    assert call.for_now.is_empty
    assert call.by_pet_min == pytest.approx(90, abs=15)


def test_a_cut_that_will_likely_prove_needless_is_not_told() -> None:
    """85 % are in time, and which is known long before C begins: then the room would mostly see more than 90 %."""
    call = Room().at("0:31", 0.85)
    assert call.call == "none"
    assert "only" in call.why


def test_when_nothing_helps_it_is_said_and_nobody_is_called() -> None:
    """Nothing may be given up; or it gains less than 5 %."""
    assert "nothing may be given up" in Room().at("0:31", 0.5, None).why
    little = Room().at("0:31", 0.5, reaches=0.54)
    assert little.call == "none"
    assert little.why.endswith("gains too little: 54 %. It would still bring the crew in 30 min sooner.")
    assert Room().at("0:45", 0.5, ("B",), reaches=0.56).call == "decide"
    near = Room().at("0:31", 0.88, reaches=0.92)  # little is gained, but it is enough: the rules for a set that reaches go on
    assert "gains too little" not in near.why


def test_what_the_brief_promised_is_a_finding_until_enough_is_finished() -> None:
    """Two of three tasks are done: 61 % as briefed is a finding and no call. With the third, it is judged."""
    room = Room(log=BEGUN.replace("0:30 done S2\n", ""))
    early = room.at("0:25", 0.55, ("A",), as_briefed=0.61)
    assert (early.call, early.finding) == ("none", "As briefed 61 % likely inside by the limit.")
    later = room.at("0:31", 0.55, ("A", "B"), more="0:30 done S2\n0:30 start A\n")
    assert (later.call, later.finding) == ("decide", "")


def test_one_long_task_tells_as_much_as_a_few_short_ones() -> None:
    """A quarter of the briefed work of the crew is finished with one task: the room is told. Neither arm nor get-aheads count."""
    lanes = LANES.replace("limit = 100", "limit = 130") + "[[lane]]\nid = \"ARM\"\nkind = \"arm\"\n"
    more = task("TURN", "ARM", 0, 90) + task("SPARE", "EV1", None, 60, get_ahead=True)
    plan = plan_of(lanes + task("OUT", "EV1", 0, 30) + more + task("REST", "EV1", 30, 85))
    assert enough_is_finished(plan, ["OUT"])
    assert not enough_is_finished(plan, ["TURN"])
    assert not enough_is_finished(plan_of(lanes + task("OUT", "EV1", 0, 28) + task("REST", "EV1", 30, 85)), ["OUT"])
    assert not enough_is_finished(plan, [])


def test_a_chance_that_falls_far_below_the_brief_is_judged_at_once() -> None:
    """Two tasks are done, and the chance has fallen from 95 to 50 %: that is more than the brief knew."""
    assert Room(log=BEGUN.replace("0:30 done S2\n", "")).at("0:25", 0.5, ("A",), as_briefed=0.95).call == "decide"


def test_a_call_is_lifted_only_with_more_than_the_confidence() -> None:
    """91 % would not have called; once called, it stands, and at 93 % it is lifted after it has been due for 5 min."""
    room = Room()
    assert room.at("0:45", 0.85, ("B",)).call == "decide"
    assert room.at("0:46", 0.91).call == "decide"
    assert "stands until" in room.call.why
    assert room.at("0:47", 0.93).call == "decide"
    assert room.at("0:51", 0.93).call == "decide"
    assert room.at("0:52", 0.93).call == "none"


def test_far_on_the_other_side_it_is_lifted_at_once() -> None:
    """Of 97 % there is no doubt."""
    room = Room()
    assert room.at("0:45", 0.85, ("B",)).call == "decide"
    assert room.at("0:46", 0.9 + FAR + 0.02).call == "none"


def test_a_call_that_has_just_become_due_waits_near_the_threshold() -> None:
    """To expect a cut at 87 % is due for 5 min first, and comes at once at 60 %."""
    room = Room()
    assert room.at("0:31", 0.95).call == "none"
    assert room.at("0:32", 0.87, late_when_slow=False).call == "none"
    assert room.call.due == "expect"
    assert room.at("0:37", 0.87, late_when_slow=False).call == "expect"
    other = Room()
    assert other.at("0:44", 0.95).call == "none"
    assert other.at("0:45", 0.6, late_when_slow=False).call == "expect"


@pytest.mark.parametrize("chance", [0.87, 0.3])
def test_a_call_to_decide_is_due_for_some_minutes_first_while_there_is_time(chance: float) -> None:
    """B begins at 1:00, lead 20 min. At 0:45 the call is due, and it comes at 0:50; at 0:52 it comes at once.

    Without a call before it, nothing holds it back.
    """
    room, late = Room(), Room()
    assert room.at("0:44", 0.95).call == "none"
    held = room.at("0:45", chance, ("B",), late_when_slow=False)
    assert (held.call, held.due, held.for_now.is_empty) == ("none", "decide", True)
    assert room.at("0:49", chance, ("B",), late_when_slow=False).call == "none"
    assert room.at("0:50", chance, ("B",), late_when_slow=False).call == "decide"
    assert late.at("0:51", 0.95).call == "none"
    assert late.at("0:52", chance, ("B",), late_when_slow=False).call == "decide"
    assert Room().at("0:45", chance, ("B",), late_when_slow=False).call == "decide"


@pytest.mark.parametrize(("priority", "not_yet", "decide"), [(2, 0.885, 0.875), (1, 0.855, 0.845)])
def test_a_new_call_to_decide_is_not_made_while_the_chance_is_hardly_below_the_confidence(
    priority: int, not_yet: float, decide: float
) -> None:
    """2 % of 90 %, and 5 % where something of the first class would go. The call that stands goes on, and says why.

    Once made, the call to decide stands above that too, and without a call before it nothing holds it back.
    """
    tables = TABLES.replace('id = "B"', f'id = "B"\npriority = {priority}')
    for before, word in ((0.95, "none"), (0.4, "expect")):
        room = Room(tables)
        assert room.at("0:31", before).call == word
        near = room.at("0:52", not_yet, ("B",), late_when_slow=False)
        assert (near.call, near.due, near.for_now.is_empty) == (word, word, True)
        assert near.why.endswith(f"B will be asked for if it falls below {88 if priority > 1 else 85} %.")
        assert (near.by_pet_min is None) == (word == "none")
        assert room.at("0:53", decide, ("B",), late_when_slow=False).call == "decide"
        assert room.at("0:54", not_yet, ("B",), late_when_slow=False).call == "decide"
    assert Room(tables).at("0:52", not_yet, ("B",), late_when_slow=False).call == "decide"


@pytest.mark.parametrize(("chance", "word"), [(0.885, "none"), (0.875, "decide")])
def test_after_a_decision_the_next_call_to_decide_is_a_new_one(chance: float, word: str) -> None:
    """B is deferred, so C is due at 1:00. It is asked for at once below 88 %, and not above."""
    room = Room()
    assert room.at("0:53", 0.5, ("B",), late_when_slow=False).call == "decide"
    assert room.at("0:55", chance, more="0:54 defer B\n", late_when_slow=False).call == word
    assert room.call.for_now.defer == (("C",) if word == "decide" else ())


def test_a_decision_lifts_the_call() -> None:
    """B is deferred by a decision: the call to decide on it goes at once, though the chance is just the confidence."""
    room = Room()
    assert room.at("0:45", 0.85, ("B",)).call == "decide"
    assert room.at("0:46", 0.9, more="0:46 defer B\n").call == "none"


def test_each_change_says_what_changed_it_and_since_when_it_stands() -> None:
    """The last event since the call before; without one, the work that runs over."""
    room = Room()
    room.at("0:44", 0.95)
    called = room.at("0:45", 0.5, ("B",), more="0:45 estimate A remaining=40\n")
    assert called.since_pet_min == 45
    assert "A" in called.changed_by
    again = room.at("0:47", 0.5, ("B",))
    assert (again.since_pet_min, again.changed_by, again.pet_min) == (45, called.changed_by, 47)
    lifted = room.at("1:20", 0.99)
    assert lifted.changed_by == "A runs 20 min over"


def test_nothing_to_judge_is_no_call() -> None:
    """Without draws nothing of the crew remains."""
    record = reconcile(plan_of(LANES + TABLES), log_of("0:00 clock"), parse_instant(at("0:00")))
    assert call_of(record, project(record), None, None, never, lambda change: 0.0).call == "none"


def test_the_call_is_a_function_of_the_one_before_alone() -> None:
    """The same instant with the same call before gives the same call; STEADY_MIN is counted in PET and not in calls."""
    first, second = Room(), Room()
    for room, instants in ((first, ("0:31", "0:32", "0:33", "0:35", "0:38")), (second, ("0:31", "0:32", "0:38"))):
        for i, pet in enumerate(instants):
            room.at(pet, 0.95 if i == 0 else 0.87, late_when_slow=False)
    assert first.call == second.call
    assert first.call.call == "expect"
    assert STEADY_MIN == 5
