"""What the advice says, case by case."""

from __future__ import annotations

import re

import pytest

from dashboard.core.base.problems import InputError
from dashboard.core.base.times import parse_instant
from dashboard.core.deferral.advise import Solved, Wish, advise
from dashboard.core.deferral.figures import figures_of
from dashboard.core.deferral.time_in_hand import Place
from dashboard.core.deferral.to_advice_model import advice_of
from dashboard.core.deferral.validate import faults
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.schedule.plan_pace import project
from tests.scenario import PET_ZERO, at, log_of, plan_of, task

LANES = '[sortie]\nid = "t"\nstart = 2031-04-12T09:10:00Z\nlimit = 100\n'
LANES += "".join(f'[[lane]]\nid = "{n}"\nkind = "crew"\nsuit = "{s}"\n' for n, s in (("EV1", "A"), ("EV2", "B")))


def advised(tables, log="0:00 clock", pet="0:00", **more):
    record = reconcile(plan_of(LANES + tables), log_of(log), parse_instant(at(pet)))
    return advise(record, **{"basis": "plan-pace", **more})


HOME = task("HOME", "EV1 EV2", 110, 10, required=True)
WORK = (
    task("A", "EV1", 0, 40, priority=1) + task("B", "EV1", 40, 30, priority=2, shortest=20)
    + task("C", "EV1", 70, 40, priority=3) + HOME
)


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


def test_what_a_choice_wins_is_said_in_hours_and_minutes():
    """77 min are 1 h 17 min, as everywhere else."""
    advice = advised(task("A", "EV1", 0, 40) + task("B", "EV1", 40, 77) + HOME)
    assert [proposal.why.partition(": ")[2].partition(" at plan pace")[0] for proposal in advice.proposals] == [
        "in 1 h 17 min earlier", "in 40 min earlier",
    ]


def test_what_is_kept_is_never_given_up():
    """Told to keep C and B, only A is left to give."""
    advice = advised(WORK, wish=Wish(keep=frozenset({"C", "B"})))
    assert advice.proposals[0].figures.change.given_up() == ("A",)


def test_what_is_given_up_on_demand_is_part_of_every_choice():
    """B was ticked: its loss is counted, and no more than needed goes beside it."""
    advice = advised(WORK, wish=Wish(give_up=frozenset({"B"})))
    assert advice.proposals[0].figures.change.defer == ("B",)


def test_a_wish_does_not_change_whether_advice_is_needed():
    """With C ticked the limit is met, but as things stand it is not; without anything ticked, 20 min are missing."""
    advice = advised(WORK, wish=Wish(give_up=frozenset({"C"})))
    assert advice.proposals[0].figures.change == Change(defer=("C",))
    assert advice.needed
    assert advice.now.short_by_min == 20
    idle = advised(task("A", "EV1", 0, 40) + HOME, wish=Wish(give_up=frozenset({"A"})))
    assert idle.needed is False


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


def test_several_things_are_listed_with_one_and():
    """In sentences and in what sets choices apart."""
    tables = "".join(task(n, "EV1", 10 * i, 10, priority=3) for i, n in enumerate("PQRS"))
    tables += task("A", "EV1", 40, 70, priority=1) + HOME
    first = advised(tables, wish=Wish(give_up=frozenset("PQRS"))).proposals[0]
    assert first.why.startswith("Defers P, Q, R and S: in ")


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


def test_an_open_alternative_is_part_of_the_choice():
    """The short ending meets the limit without giving anything up."""
    tables = (
        task("A", "EV1", 0, 60) + task("LONG", "EV1", 60, 50) + task("SHORT", "EV1", 60, 20) + HOME
        + '[[alternative]]\nid = "ending"\ndefault = "long"\n[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
    )
    advice = advised(tables)
    assert advice.proposals[0].figures.change.choose == {"ending": "short"}
    assert advice.proposals[0].figures.value_lost == {}


def test_a_suit_that_runs_low_is_reason_enough():
    """In time but out of water: the task that uses most of it goes."""
    suit = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 1.0\nreserve = 0.1\nbase = 0\nper_watt = 0.002\n'
    tables = task("A", "EV1", 0, 40, workload=500) + task("B", "EV1", 40, 40, workload=300) + suit
    advice = advised(tables)
    assert advice.needed
    assert advice.proposals[0].reached
    assert advice.proposals[0].figures.margins_min["A"] >= 0


def test_what_saves_a_suit_and_no_time_says_so():
    """EV1 sets the end and EV2 runs out of water: what goes wins minutes of that. It names who wears the suit."""
    suit = '[[suit]]\nid = "B"\n[suit.water]\nloaded = 1.0\nreserve = 0.1\nbase = 0\nper_watt = 0.002\n'
    tables = task("A", "EV1", 0, 80, required=True) + task("D", "EV2", 0, 40, workload=500)
    tables += task("E", "EV2", 40, 30, workload=300) + suit
    first = advised(tables).proposals[0]
    record = reconcile(plan_of(LANES + tables), log_of("0:00 clock"), parse_instant(at("0:00")))
    before = figures_of(record, project(record), Change(), confidence=0.9, draws=0)
    saved = first.figures.margins_min["B"] - before.margins_min["B"]
    assert first.figures.end_pet_min == before.end_pet_min
    assert f": saves {saved:.0f} min of EV2 water, and nothing that costs less" in first.why


def test_when_nothing_reaches_it_the_earliest_way_in_is_given():
    """Everything required: the advice says so in words."""
    advice = advised(task("A", "EV1", 0, 120, required=True) + HOME)
    assert advice.needed
    assert not advice.proposals[0].reached
    assert "earliest way in" in advice.proposals[0].why


def test_a_suit_below_its_reserve_is_why_nothing_reaches_it():
    """What may be given up is not the matter: the reserve went at 0:12, and both suits are named when both are below."""
    low = '[[suit]]\nid = "A"\n[suit.water]\nloaded = 0.4\nreserve = 0.3\nbase = 0.5\nper_watt = 0\n'
    assert "below the reserve" not in advised(low + WORK, "0:00 clock\n0:00 start A", "0:11").obstacle
    late = advised(low + WORK, "0:00 clock\n0:00 start A", "0:13")
    assert late.obstacle.startswith("Suit A water is below the reserve already.")
    both = advised(low + low.replace('"A"', '"B"') + WORK, "0:00 clock\n0:00 start A", "0:13")
    assert both.obstacle.startswith("Suit A water and suit B water are below the reserve already.")


def test_with_time_in_hand_get_aheads_that_fit_are_named():
    """G fits, the long one does not."""
    tables = task("A", "EV1", 0, 40) + task("G", "EV2", None, 20, get_ahead=True, priority=3)
    tables += task("LONG", "EV2", None, 300, get_ahead=True, priority=3) + HOME
    assert list(advised(tables).get_ahead) == ["G"]


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


ARM_LANE = '[[lane]]\nid = "ARM"\nkind = "arm"\n'
TIGHT = (
    task("A", "EV1", 0, 40.25, priority=1) + task("B", "EV1", 41, 30.5, priority=2, shortest=20.25)
    + task("C", "EV1", 72, 60.35, priority=3) + HOME.replace("110", "133")
)
DRY = '[[suit]]\nid = "A"\noxygen = { loaded = 0.3, reserve = 0.1, base = 0.1, per_watt = 0 }\n'


def test_faults_are_told_in_whole_minutes_and_pet():
    """Rounded towards danger: what is over and short up, the limit down."""
    record = reconcile(plan_of(LANES + DRY + TIGHT), log_of("0:00 clock"), parse_instant(at("0:00")))
    said = [rule.words for rule in faults(record, Change(trim={"B": 10}), 100.5)]
    assert "B is useful from 21 min up" in said  # 20:15
    assert "in at PET 2:01, limit PET 1:40" in said  # 120.6 of 100.5 min
    assert "suit A oxygen short by 1 min" in said  # 120 min of oxygen


def test_no_text_of_the_advice_has_a_part_of_a_minute():
    """Why, proof and decide-by of every choice, by both bases, where a trim takes a part of a minute."""
    cut = (
        task("A", "EV1", 0, 40.25, priority=1) + task("B", "EV1", 41, 40.5, priority=2, shortest=20.25)
        + task("C", "EV1", 82, 25.4, priority=1) + HOME
    )
    told = [
        " ".join([choice.why, choice.proof, choice.differs, choice.decide_by])
        for basis in ("plan-pace", "expected") for choice in advice_of(advised(cut, basis=basis)).choices
    ]
    assert "Cuts B to 24 min" in told[0]
    assert [said for said in told if re.search(r"\d\.\d+ min", said)] == []


STOP = (
    ARM_LANE + task("A", "EV1", 0, 50, priority=1) + task("LIFT", "EV1 ARM", 50, 30, priority=1, value=5) + HOME
    + '[[contingency]]\nid = "arm-stop"\nhold = ["LIFT"]\n'
    + task("C1", "ARM", None, 20, priority=3).replace("[[task]]", "[[contingency.task]]")
    + task("C2", "EV1", None, 20, priority=3).replace("[[task]]", "[[contingency.task]]")
)


def test_the_tasks_of_an_inserted_contingency_stay():
    """C2 is of the lowest class and would cost least, but LIFT waits for it: A goes."""
    record = reconcile(plan_of(LANES + STOP), log_of("0:00 clock\n0:00 insert arm-stop"), parse_instant(at("0:00")))
    first = advise(record, basis="plan-pace").proposals[0]
    assert first.figures.change.defer == ("A",)
    assert "contingency" in [rule.code for rule in faults(record, Change(defer=("C2",)), 1e6)]


def test_a_contingency_s_task_goes_only_when_a_person_asks():
    """Asked for, it is part of the choice, and the validator takes it."""
    record = reconcile(plan_of(LANES + STOP), log_of("0:00 clock\n0:00 insert arm-stop"), parse_instant(at("0:00")))
    first = advise(record, basis="plan-pace", wish=Wish(give_up=frozenset({"C2"}))).proposals[0]
    assert "C2" in first.figures.change.defer
    assert faults(record, first.figures.change, 100, asked=("C2",)) == []


ENDING = (
    task("A", "EV1", 0, 60, priority=1, value=9) + task("LONG", "EV1", 60, 60, priority=3)
    + task("SHORT", "EV1", 60, 35, priority=3, value=0.1) + HOME
    + '[[alternative]]\nid = "ending"\ntitle = "The ending"\ndefault = "long"\n'
    + '[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
)


def test_a_task_of_the_standing_option_is_given_up_like_any_other():
    """Neither option fits beside A. LONG costs least and goes, whether by default or chosen; what that leaves open is said."""
    first = advised(ENDING).proposals[0]
    assert first.figures.change == Change(defer=("LONG",))
    assert first.figures.leaves_open == {"ending": "The ending, neither way is done"}
    assert first.why.endswith("Leaves open: The ending, neither way is done.")
    chosen = advised(ENDING, "0:00 clock\n0:00 choose ending option=short").proposals[0]
    assert chosen.figures.change.given_up() == ("SHORT",)
    assert advice_of(advised(ENDING)).choices[0].leaves_open == dict(first.figures.leaves_open)


def test_an_option_that_advice_takes_is_done_whole():
    """SHORT costs next to nothing, but taken in place of LONG it is done: with LONG kept out, A goes."""
    record = reconcile(plan_of(LANES + ENDING), log_of("0:00 clock"), parse_instant(at("0:00")))
    kept = advise(record, basis="plan-pace", wish=Wish(keep=frozenset({"SHORT"}))).proposals[0]
    assert kept.figures.change.defer == ("A",)
    taken = Change(defer=("SHORT",), choose={"ending": "short"})
    said = [rule.words for rule in faults(record, taken, 1e6)]
    assert "SHORT of option 'short', which is taken for 'ending', would not be done" in said


def test_an_option_that_cannot_be_done_whole_is_not_taken():
    """The short ending is SHORT and TIDY. With TIDY deferred by the room it is no way out: LONG goes."""
    tables = ENDING.replace('short = ["SHORT"]', 'short = ["SHORT", "TIDY"]').replace("duration = 35", "duration = 5")
    tables += task("TIDY", "EV1", None, 5)
    assert advised(tables).proposals[0].figures.change == Change(choose={"ending": "short"})
    assert advised(tables, "0:00 clock\n0:00 defer TIDY").proposals[0].figures.change == Change(defer=("LONG",))


def test_with_one_task_of_it_given_up_the_standing_option_is_left_open():
    """LONG and LONGER by default: LONG alone has to go, and LONGER stays as it would without any alternative."""
    tables = ENDING.replace('long = ["LONG"]', 'long = ["LONG", "LONGER"]').replace("value = 9", "required = true")
    tables += task("LONGER", "EV1", 120, 5, priority=3, value=0.2)
    first = advised(tables).proposals[0]
    assert first.figures.change == Change(defer=("LONG",))
    assert set(first.figures.leaves_open) == {"ending"}
    both = advised(tables, wish=Wish(give_up=frozenset({"LONGER"}))).proposals[0]
    assert both.figures.change.defer == ("LONGER", "LONG")


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
    """G comes after C, which goes: G is in no plan yet.."""
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


def test_a_get_ahead_goes_before_the_way_home_and_can_be_started_until():
    """20 min of G and 10 of the way home end by the limit of 100 when G begins by 70."""
    tables = task("A", "EV1", 0, 40) + HOME + task("G", "EV2", None, 20, get_ahead=True)
    assert advised(tables).get_ahead == {"G": Place(None, 0, 70)}


@pytest.mark.parametrize(("limit", "until"), [(100, 59), (100.5, 59), (99.9, 58)])
def test_the_latest_start_of_a_get_ahead_is_exact_to_the_minute(limit, until):
    """25 min of G and 16 of the way home fit the limit from 0:59 on: 59 + 25 + 16 = 100; a part of a minute is dropped."""
    tables = task("A", "EV1", 0, 40) + task("H", "EV1 EV2", 50, 16, required=True) + task("G", "EV2", None, 25, get_ahead=True)
    lanes = LANES.replace("limit = 100", f"limit = {limit}")
    record = reconcile(plan_of(lanes + tables), log_of("0:00 clock\n0:00 start A"), parse_instant(at("0:02")))
    assert advise(record, basis="plan-pace").get_ahead["G"].until_pet_min == until


@pytest.mark.parametrize(("minutes", "offered"), [(70, []), (15, ["FIRST", "NEXT"])])
def test_a_get_ahead_is_offered_only_with_what_it_comes_after(minutes, offered):
    """NEXT is worth more, but comes after FIRST: it is offered after FIRST, and not at all when FIRST does not fit."""
    tables = (
        task("A", "EV1", 0, 40) + HOME + task("NEXT", "EV2", None, 5, get_ahead=True, priority=1, after=["FIRST"])
        + task("FIRST", "EV2", None, minutes, get_ahead=True, priority=3, closeout=1)
    )
    assert list(advised(tables, "0:00 clock\n0:00 start A", "0:25").get_ahead) == offered


def test_a_get_ahead_after_work_that_remains_is_offered():
    """G comes after A, which will be done."""
    tables = task("A", "EV1", 0, 40) + HOME + task("G", "EV2", None, 20, get_ahead=True, after=["A"])
    assert advised(tables).get_ahead == {"G": Place(None, 40, 70)}


def test_a_get_ahead_takes_the_earliest_place_that_fits():
    """EV1 waits for EV2 from 0:20 to 1:00: before J it fits, before HOME the crew would be in past the limit of 1:40."""
    tables = (
        task("P", "EV1", 0, 20) + task("Q", "EV2", 0, 60) + task("J", "EV1 EV2", 60, 30) + HOME.replace("110", "90")
        + task("G", "EV1", None, 25, get_ahead=True)
    )
    log = "0:00 clock\n0:00 start P\n0:00 start Q"
    assert advised(tables, log, "0:10").get_ahead == {"G": Place("P", 20, 35)}
    late = tables.replace('id = "J"', 'id = "J"\nneeds = ["daylight"]') + '[[window]]\nkind = "daylight"\nfrom = 0\nto = 92\n'
    assert advised(late, log, "0:10").get_ahead == {"G": Place("P", 20, 35)}
    assert advised(late.replace("duration = 25", "duration = 45"), log, "0:10").get_ahead == {}


def test_a_get_ahead_goes_behind_what_it_follows():
    """G follows P. K takes its place at once, ahead of P, and G then begins when P is over."""
    tables = (
        task("P", "EV1", 0, 20) + task("Q", "EV2", 0, 70) + task("J", "EV1 EV2", 70, 20) + HOME.replace("110", "90")
        + task("G", "EV1", None, 20, get_ahead=True, follows=[{"task": "P", "lag": 0}])
        + task("K", "EV1", None, 15, get_ahead=True)
    )
    found = advised(tables, "0:00 clock\n0:00 start Q", "0:00").get_ahead
    assert found["G"] == Place("P", 35, 50)
    assert found["K"] == Place(None, 0, 55)


@pytest.mark.parametrize(
    ("tables", "wish", "words"),
    [
        (task("A", "EV1", 0, 120, required=True) + HOME, Wish(), "Nothing that remains may be given up"),
        (WORK, Wish(keep=frozenset("ABC")), "with what is to be kept"),
        (task("A", "EV1", 0, 95, required=True) + task("C", "EV1", 95, 5) + HOME, Wish(),
         "Nothing that may be given up keeps the limit and every suit's reserve at plan pace."),
    ],
)
def test_what_stands_in_the_way_is_said(tables, wish, words):
    """The obstacle in words, with the earliest way in."""
    advice = advised(tables, wish=wish)
    assert words in advice.obstacle
    assert not advice.proposals[0].reached


def test_a_limit_already_past_is_said():
    """At PET 1:50 the limit of 100 min is past."""
    assert "already past" in advised(WORK, "0:00 clock\n0:00 start A", "1:50").obstacle


@pytest.mark.parametrize(
    ("wish", "found"),
    [
        (Wish(keep=frozenset({"Z"})), "'Z'"),
        (Wish(give_up=frozenset({"HOME"})), "HOME is required"),
        (Wish(keep=frozenset({"B"}), give_up=frozenset({"A"})), "B is to be kept and comes after it"),
        (Wish(give_up=frozenset({"D"})), "D is deferred"),
    ],
)
def test_wishes_that_contradict_are_refused(wish, found):
    """What is wrong is named: an unknown task, a required one, a follower that is kept, one that is out already."""
    tables = task("A", "EV1", 0, 40) + task("B", "EV1", 40, 30, after=["A"]) + task("D", "EV2", 0, 30) + HOME
    with pytest.raises(InputError, match=found):
        advised(tables, "0:00 clock\n0:00 defer D", wish=wish)


def test_kept_tasks_of_two_options_contradict():
    """LONG and SHORT cannot both be done."""
    with pytest.raises(InputError, match="alternatives"):
        advised(ENDING, wish=Wish(keep=frozenset({"LONG", "SHORT"})))
