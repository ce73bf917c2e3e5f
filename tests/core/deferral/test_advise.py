"""What the advice says, case by case."""

from __future__ import annotations

import pytest

from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import DEARER, Solved, Wish, _Adviser, advise, call_now
from dashboard.core.deferral.figures import figures_of
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.core.deferral.cases import HOME, LANES, WORK, advised
from tests.core.deferral.test_sense import THERE_AND_BACK
from tests.scenario import PET_ZERO, at, log_of, plan_of, task


def test_nothing_is_advised_when_nothing_must_go():
    """The limit is met: not needed, no choices."""
    advice = advised(task("A", "EV1", 0, 40) + HOME)
    assert not advice.needed
    assert advice.proposals == []


def test_the_lowest_class_goes_first_and_choices_differ():
    """C of priority 3 covers the 20 min that are missing; the next choice keeps C."""
    advice = advised(WORK)
    assert advice.needed
    assert advice.proposals[0].figures.change.defer == ("C",)
    assert advice.proposals[0].figures.value_lost == {3: 1.0}
    assert advice.proposals[0].figures.decide_by_pet_min == 70
    assert "C" not in advice.proposals[1].figures.change.given_up()
    assert "keeps C" in advice.proposals[1].differs


@pytest.mark.parametrize(("priority", "choices"), [(3, [("C",)]), (1, [("A",), ("C",)])])
def test_no_other_choice_gives_up_what_is_worth_most_where_the_first_spares_it(priority: int, choices: list[tuple[str, ...]]):
    """C of class 3 is enough, so that giving up A of class 1 is not offered. With C of class 1 too, both are choices."""
    advice = advised(task("A", "EV1", 0, 60, priority=1) + task("C", "EV1", 60, 40, priority=priority) + HOME)
    assert sorted(one.figures.change.defer for one in advice.proposals) == choices
    assert advice.proposals[0].why.endswith(DEARER) == (priority == 3)


def test_what_costs_least_stands_first_and_says_whether_that_is_proven(monkeypatch):
    """One that was found later and costs less comes first; found but not proven, it is called so."""
    record = reconcile(plan_of(LANES + WORK), log_of("0:00 clock"), PET_ZERO)
    before = project(record)

    def solved(change, proven):
        return Solved(figures_of(record, before, change, confidence=0.9, draws=0), proven, "")

    for proven, head in ((False, "the least cost found"), (True, "what costs least")):
        found = iter([solved(Change(defer=("A",)), False), solved(Change(defer=("C",)), proven), None])
        monkeypatch.setattr("dashboard.core.deferral.advise._Adviser.best", lambda self, given, found=found: next(found))
        proposals = advise(record, basis="plan-pace").proposals
        assert [p.figures.change.defer for p in proposals] == [("C",), ("A",)]
        assert [p.differs for p in proposals] == [head, "keeps C"]


def test_work_in_hand_may_be_broken_off_at_the_price_of_its_close_out():
    """With only an overrunning task left to give, it is broken off and left safe."""
    tables = task("A", "EV1", 0, 80, closeout=5) + HOME
    advice = advised(tables, "0:00 clock\n0:00 start A\n0:50 estimate A remaining=60", "0:50")
    change = advice.proposals[0].figures.change
    assert change.break_off == ("A",)
    assert advice.proposals[0].figures.end_pet_min == 65


def test_a_task_may_be_handed_over_before_anything_is_lost():
    """EV2 is idle: moving B costs no value."""
    tables = task("A", "EV1", 0, 60) + task("B", "EV1", 60, 50, can_move_to=["EV2"]) + HOME
    advice = advised(tables)
    assert advice.proposals[0].figures.change.move == {"B": "EV2"}
    assert advice.proposals[0].figures.value_lost == {}


def test_a_suit_that_runs_low_is_reason_enough():
    """In time but out of water: the task that uses most of it goes."""
    suit = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 1.0\nreserve = 0.1\nbase = 0\nper_watt = 0.002\n'
    tables = task("A", "EV1", 0, 40, workload=500) + task("B", "EV1", 40, 40, workload=300) + suit
    advice = advised(tables)
    assert advice.needed
    assert advice.proposals[0].reached
    assert advice.proposals[0].figures.margins_min["A"] >= 0


def test_the_wanted_confidence_is_verified_by_draws():
    """A choice that only just fits at plan pace is not enough at 80 %; what is proposed holds when drawn."""
    tables = (
        task("A", "EV1", 0, [30, 40, 70], priority=1) + task("B", "EV1", 40, [20, 25, 45], priority=2)
        + task("C", "EV1", 65, [15, 20, 40], priority=3) + HOME
    )
    advice = advised(tables, basis="expected", confidence=0.8, draws=2000)
    assert advice.now.in_by_limit < 0.8
    assert advice.proposals[0].figures.in_by_limit >= 0.8
    assert advice.proposals[0].figures.end_pet_min == pytest.approx(75, abs=1)


def test_a_shortfall_of_a_few_minutes_is_closed_even_when_only_a_long_task_can_close_it():
    """At plan pace dropping C is enough, drawn it misses by a little: B or C more must go, and the advice says so."""
    tables = (
        task("A", "EV1", 0, [35, 40, 60], priority=1) + task("B", "EV1", 40, [30, 40, 60], priority=2)
        + task("C", "EV1", 80, [30, 40, 60], priority=3)
    )
    first = advised(tables, basis="expected", confidence=0.8, draws=2000).proposals[0]
    assert first.reached
    assert first.figures.in_by_limit >= 0.8


OXYGEN = '[[suit]]\nid = "A"\n[suit.oxygen]\nloaded = 0.44837\nreserve = 0.05\nbase = 0.0882\nper_watt = 0\n'

BREATHED = LANES.replace("limit = 100", "limit = 400") + (
    task("T", "EV1", 0, 200, shortest=100, value=3.0) + task("U", "EV1", 200, 60) + task("H", "EV1 EV2", 260, 10, required=True)
)


@pytest.mark.parametrize("resequence", [False, True])
def test_a_suit_one_minute_short_costs_one_minute(resequence):
    """0.39837 kg at 0.0882 kg/h last 271 min from PET zero; begun 2 min late, the work ends at 272: T is cut by 1 min."""
    record = reconcile(plan_of(BREATHED + OXYGEN), log_of("0:00 clock"), parse_instant(at("0:02")))
    first = advise(record, basis="plan-pace", wish=Wish(resequence=resequence)).proposals[0]
    assert first.figures.change.trim == {"T": 199.0}
    assert first.figures.change.given_up() == ("T",)
    assert first.figures.margins_min["A"] == pytest.approx(0.0, abs=1e-6)
    assert first.proven


def test_what_has_to_be_put_right_is_not_called_proven():
    """U lasts 0.3 s more than the optimiser's whole seconds: cut to the limit it just misses, and a second more goes."""
    tables = BREATHED.replace("limit = 400", "limit = 269").replace("duration = 60", "duration = 60.005")
    first = advise(reconcile(plan_of(tables), log_of("0:00 clock"), PET_ZERO), basis="plan-pace").proposals[0]
    assert first.figures.change.trim == {"T": pytest.approx(200 - 61 / 60)}
    assert first.figures.short_by_min == 0
    assert not first.proven
    assert "not proven" in first.proof


def test_a_task_on_hold_is_broken_off_at_once_whatever_stands_before_it():
    """T2 waits behind J, which waits for Q: its 4 min of close-out lie in the time in which EV2 waits anyway."""
    tables = (
        task("Q", "EV1", 0, 50, required=True) + task("T2", "EV2", 0, 20, closeout=4, priority=3)
        + task("J", "EV1 EV2", 50, 10, priority=1, value=5) + task("V", "EV2", 60, 20, priority=1)
        + task("H", "EV1 EV2", 80, 15, required=True)
    )
    log = "0:00 clock\n0:00 start Q\n0:01 start T2\n0:05 hold T2\n0:06 move J before=T2"
    first = advised(tables, log, "0:10").proposals[0]
    assert first.figures.change.given_up() == ("T2",)
    assert first.figures.change.break_off == ("T2",)
    assert first.figures.end_pet_min == 95
    assert first.proven


def test_what_follows_a_task_that_is_broken_off_keeps_its_lag():
    """F may begin 30 min after A is over: broken off at 0:10, that is 0:40, and not before."""
    tables = (
        task("A", "EV1", 0, 60, closeout=5, priority=3) + task("F", "EV2", 90, 30, follows=[{"task": "A", "lag": 30}])
        + task("H", "EV1 EV2", 120, 10, required=True)
    )
    first = advised(tables, "0:00 clock\n0:00 start A\n0:05 hold A", "0:10").proposals[0]
    assert first.figures.change.break_off == ("A",)
    assert first.figures.end_pet_min == 80
    assert first.proven


def test_a_get_ahead_that_has_not_begun_neither_goes_along_nor_costs():
    """G comes after C, which goes: G is in no plan yet."""
    tables = WORK + task("G", "EV2", None, 20, get_ahead=True, priority=3, after=["C"])
    first = advised(tables).proposals[0]
    assert first.figures.change.defer == ("C",)
    assert first.figures.value_lost == {3: 1.0}
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), PET_ZERO)
    ticked = figures_of(record, project(record), Change(defer=("C", "G")), confidence=0.8, draws=0)
    assert ticked.value_lost == {3: 1.0}


def test_a_trimmed_task_costs_what_is_left_of_its_value():
    """T is down to 10 of 30 min: deferring it loses a third of its value, less than U's 0.8, and the what-if agrees."""
    tables = (
        task("T", "EV1", 0, 30, shortest=10) + task("U", "EV1", 30, 10, value=0.8) + task("V", "EV1", 40, 40, required=True)
        + task("H", "EV1 EV2", 80, 20, required=True)
    )
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock\n0:01 trim T duration=10"), parse_instant(at("0:25")))
    first = advise(record, basis="plan-pace").proposals[0]
    assert first.figures.change.defer == ("T",)
    assert first.figures.value_lost == {2: pytest.approx(1 / 3)}
    drawn = advise(record, basis="expected", confidence=0.4, draws=200).proposals[0]
    assert drawn.figures.value_lost == {2: pytest.approx(1 / 3)}
    asked = figures_of(record, project(record), Change(defer=("T",)), confidence=0.8, draws=0)
    assert asked.value_lost == {2: pytest.approx(1 / 3)}


def test_the_way_home_stays_last_when_the_order_is_free():
    """Re-sequenced, nothing is put behind the required last task."""
    tables = task("A", "EV1", 0, 30) + task("B", "EV1", 30, 40, not_before=70) + task("C", "EV2", 0, 20, after=["B"]) + HOME
    order = advised(tables, wish=Wish(resequence=True)).proposals[0].figures.change.order
    assert order[-1] == "HOME"


def test_a_trim_of_work_in_hand_counts_what_is_behind():
    """B has worked 25 of 60 min and may end at 40: its new whole length is 40 or more, never what is left."""
    tables = task("B", "EV1", 0, 60, priority=2, shortest=40) + task("C", "EV1", 60, 40, priority=1) + HOME
    advice = advised(tables, "0:00 clock\n0:00 start B", "0:25")
    assert advice.proposals[0].figures.change.trim == {"B": 50}
    assert advice.proposals[0].figures.end_pet_min == 100
    assert advice.proposals[0].figures.decide_by_pet_min == 50


def test_a_task_that_has_missed_its_windows_does_not_stand_in_the_way():
    """No window is left for A: it is projected without one, and the advice reckons as the projection does."""
    window = '[[window]]\nkind = "daylight"\nfrom = 0\nto = 20\n'
    tables = task("A", "EV1", 0, 40, priority=1, needs=["daylight"]) + task("B", "EV1", 40, 70, priority=2) + HOME + window
    advice = advised(tables)
    assert advice.proposals[0].figures.change.defer == ("B",)


def test_a_window_that_is_missed_makes_the_end_jump_and_no_more_goes_than_must():
    """A must go for B to make its window; a limit tightened by the whole shortfall would give up B too."""
    windows = "".join(
        f'[[window]]\nkind = "daylight"\nfrom = {a}\nto = {b}\n' for a, b in ((0, 60), (90, 150))
    )
    tables = (
        task("A", "EV1", 0, [8, 10, 14], priority=3) + task("B", "EV1", 10, [40, 45, 58], priority=1, needs=["daylight"])
        + HOME + windows
    )
    advice = advised(tables, basis="expected", confidence=0.9, draws=2000)
    assert advice.now.in_by_limit < 0.9
    assert advice.proposals[0].figures.change.defer == ("A",)
    assert "with the wanted confidence" in advice.proposals[0].proof


def test_if_nobody_decides_the_plan_runs_on():
    """Each choice carries what comes then: C is the last to go, and without it the crew is 20 min past the limit."""
    choice = advice_of(advised(WORK)).choices[0]
    assert choice.if_not_decided.end_pet_min == 120
    assert choice.if_not_decided.short_by_min == 20
    assert choice.decide_by == "when C is projected to begin"


def test_giving_nothing_up_has_no_decide_by_time_and_says_so():
    """On demand with time in hand: no time, and a word."""
    choice = advice_of(advised(task("A", "EV1", 0, 40) + HOME, on_demand=True)).choices[0]
    assert choice.decide_by_pet_min is None
    assert choice.decide_by == "no time: it gives nothing up"


UNSURE = (
    task("A", "EV1", 0, [30, 40, 60], priority=1) + task("B", "EV1", 40, [15, 20, 30], priority=2)
    + task("C", "EV1", 60, [15, 20, 30], priority=3) + task("D", "EV1", 80, [8, 10, 15], priority=3) + HOME
)


def test_the_ladder_says_what_each_step_of_certainty_costs():
    """From plan pace to the wanted confidence: each step reaches what it asks for and costs no less than the one before."""
    told = advised(UNSURE, basis="expected", confidence=0.95, draws=1000, choices=1, ladder=True)
    assert [step.wanted for step in told.ladder] == [None, 0.5, 0.75, 0.9, 0.95]
    drawn = told.ladder[1:]
    assert all(step.figures.in_by_limit >= step.wanted for step in drawn)
    costs = [[step.figures.value_lost.get(c, 0.0) for c in (1, 2, 3)] for step in drawn]
    assert costs == sorted(costs)
    assert costs[0] < costs[-1]
    assert told.ladder[-1].figures.change == told.proposals[0].figures.change
    assert told.ladder[0].figures.end_pet_min <= 100


def test_a_step_that_nothing_reaches_says_so():
    """Only HOME remains after A, which is required: nothing may go, and no step is reached."""
    tables = task("A", "EV1", 0, [60, 90, 200], required=True) + HOME
    told = advised(tables, basis="expected", confidence=0.9, draws=500, choices=1, ladder=True)
    assert [step.figures for step in told.ladder if step.wanted in (0.75, 0.9)] == [None, None]


def test_better_advice_comes_step_by_step():
    """First a set that reaches the confidence, with no call and no proof; then the best with the call; then the others."""
    steps = []
    last = advised(UNSURE, basis="expected", confidence=0.95, draws=1000, better=steps.append)
    assert len(steps) == 2
    first, second = steps
    assert first.call is None
    assert not first.proposals[0].proven
    assert first.proposals[0].figures.in_by_limit >= 0.95
    assert second.call is not None
    assert second.proposals[0].figures.change == last.proposals[0].figures.change
    assert len(second.proposals) == 1 < len(last.proposals)


def test_the_call_comes_with_the_advice_and_alone():
    """The same call, whether the choices are made or not; none at plan pace, which knows no chance."""
    record = reconcile(plan_of(LANES + UNSURE), log_of("0:00 clock"), parse_instant(at("0:00")))
    assert advise(record, draws=500, choices=1).call == call_now(record, draws=500)
    assert advise(record, basis="plan-pace").call is None
    with pytest.raises(ValueError, match="more than 0"):
        call_now(record, draws=0)


def test_when_the_confidence_is_out_of_reach_the_call_takes_the_cheapest_near_the_best():
    """A required task alone keeps the chance under 90 %. B and C gain most of it, and D hardly any: D stays."""
    tables = (
        task("A", "EV1", 0, [30, 50, 90], required=True) + task("B", "EV1", 50, [15, 20, 30]) + task("C", "EV1", 70, [15, 20, 30])
        + task("D", "EV2", 0, [3, 4, 5]) + task("HOME", "EV1 EV2", 90, [8, 10, 20], required=True)
    )
    plan = plan_of(LANES.replace("limit = 100", "limit = 76") + tables)
    record = reconcile(plan, log_of("0:00 clock"), parse_instant(at("0:00")))
    adviser = _Adviser(record, 0.9, "expected", Wish(), 2000, 1, 1, None, lambda: False)
    assert adviser.next_best([]) is None
    near = adviser.near_best
    assert set(near.figures.change.defer) == {"B", "C"}
    assert near.figures.in_by_limit < 0.9


def test_a_way_that_another_task_serves_may_be_given_up():
    """Without the work at the rack both drives go, and RIG, which serves the second one. That is the way in, and said once."""
    tables = task("RIG", "EV2", 0, 5, serves=["GO-M2"]) + THERE_AND_BACK
    for basis in ("plan-pace", "expected"):
        (only,) = advised(tables, basis=basis, draws=300).proposals
        assert only.reached and set(only.figures.change.defer) == {"R1", "GO-R", "GO-M2", "RIG"}
