"""The brief of a plan: its steps and what is said with each."""

from __future__ import annotations

import pytest

from dashboard.core.base.caution import CAUTION
from dashboard.core.brief.look_ahead import brief
from dashboard.core.deferral.advise import advise
from dashboard.core.deferral.change import closed
from dashboard.core.events.change import Change
from dashboard.core.record.fold import reconcile
from dashboard.core.state.follow import follow
from dashboard.log.planfile import load_plan
from replay.recording import packaged_scenarios
from tests.core.brief.made import PLAN, TEXT, changed
from tests.scenario import plan_of, task

FACTS = brief(PLAN, draws=200)
LANTERN = load_plan(packaged_scenarios()["lantern-2"] / "plan.toml")
STEP = {step.task: step for step in FACTS.steps}


def test_the_steps_are_the_tasks_with_a_briefed_start_in_its_order():
    """Those of an option that is not the default too, and marked; get-aheads are told apart."""
    assert [step.task for step in FACTS.steps] == ["OUT", "LAMP", "CARRY", "PREP", "JOIN", "KEEP", "LASH", "HOME"]
    assert [step.number for step in FACTS.steps] == list(range(1, 9))
    assert [step.task for step in FACTS.steps if not step.is_default] == ["LASH"]
    assert [one.task for one in FACTS.get_aheads] == ["CLEAN"]


def test_a_step_says_who_is_where_and_does_what():
    """In every lane, at the moment at which the step begins; a lane without work says what it waits for and until when."""
    then = STEP["JOIN"].lanes_then
    assert {lane: one.task for lane, one in then.items()} == dict.fromkeys(("EV1", "EV2", "ARM"), "JOIN")
    lamp = STEP["LAMP"].lanes_then
    assert (lamp["EV2"].task, lamp["EV2"].worksite, lamp["EV2"].until_pet_min) == ("PREP", "mast", 35)
    home = STEP["KEEP"].lanes_then["EV2"]
    assert (home.task, home.worksite, home.until_pet_min, home.wait and home.wait.kind) == (None, "mast", 105, "lane")
    assert STEP["HOME"].lanes_then["ARM"].until_pet_min is None


def test_a_leg_is_between_two_worksites():
    """While a lane is on a leg it has left the one and goes to the other; once it is there, it is there."""
    there, away = 'start = 20\nworksite = "mast"\n[[task]]\nid = "JOIN"', 'start = 20\n[[task]]\nid = "JOIN"'
    facts = brief(changed(('id = "PREP"\n', 'id = "PREP"\nleg = "mast"\n'), (there, away)), draws=0)
    step = {one.task: one for one in facts.steps}
    there = step["PREP"].lanes_then["EV2"]
    assert (there.worksite, there.going_to, step["PREP"].worksite, step["PREP"].is_leg) == ("airlock", "mast", "mast", True)
    assert step["KEEP"].lanes_then["EV2"].worksite == "mast"


def test_what_is_in_the_hands_and_what_comes_before():
    """Notes as the lead wrote them; what is needed and what is order only."""
    assert STEP["LAMP"].notes == "Wrench in the left hand"
    before = {one.task: (one.needed, one.lag_min) for one in STEP["JOIN"].comes_after}
    assert before == {"LAMP": (True, 0), "CARRY": (False, 5)}


def test_a_contingency_stands_where_it_could_come_in():
    """At what it holds; else where one of its steps has lane and worksite in common; else at any time."""
    at = {one.contingency: one.comes_in_at for one in FACTS.contingencies}
    assert at == {"stuck": ["LAMP"], "glove": [], "frost": ["PREP", "JOIN"]}
    assert STEP["LAMP"].contingencies == ["stuck"] and STEP["JOIN"].contingencies == ["frost"]
    assert [step.title for step in FACTS.contingencies[0].steps] == ["Lever on"]


def test_a_window_says_by_when_the_step_must_begin():
    """Its end less the likely length; and when the next window opens that is long enough."""
    window = STEP["LAMP"].windows[0]
    assert (window.from_pet_min, window.to_pet_min, window.start_by_pet_min, window.next_from_pet_min) == (20, 80, 50, 110)
    late = brief(changed(('start = "0:20"', "start = 60")), draws=0)
    missed = next(step for step in late.steps if step.task == "LAMP").windows[0]
    assert (missed.from_pet_min, missed.start_by_pet_min, missed.next_from_pet_min) == (None, None, 110)


def test_an_open_ending_is_told_at_its_first_step():
    """With the time by which it is decided: the same that advice gives for taking the other option."""
    assert {step.task: step.endings_open for step in FACTS.steps if step.endings_open} == {"KEEP": ["ending"]}
    assert (STEP["LASH"].alternative, STEP["LASH"].option) == ("ending", "lash")
    ending = FACTS.endings[0]
    assert ending.options == {"keep": ["KEEP"], "lash": ["LASH"]} and ending.decide_by == "when KEEP is projected to begin"
    assert ending.decide_by_pet_min == STEP["KEEP"].give_up.decide_by_pet_min


def test_a_step_of_another_option_is_told_as_if_that_was_taken():
    """What only the default option brings is then not done."""
    arm = task("HOLD", "ARM", 90, 10) + task("FETCH", "ARM", 92, 20)
    both = TEXT.replace('keep = ["KEEP"]', 'keep = ["KEEP", "HOLD"]').replace('lash = ["LASH"]', 'lash = ["LASH", "FETCH"]')
    steps = {one.task: one for one in brief(plan_of(both.replace("[[contingency]]", f"{arm}[[contingency]]", 1)), draws=0).steps}
    assert steps["KEEP"].lanes_then["ARM"].task == "HOLD"
    lash = steps["LASH"].lanes_then["ARM"]
    assert (lash.task, lash.until_pet_min, steps["FETCH"].lanes_then["EV1"].task) == (None, 92, "LASH")


def test_how_a_step_may_be_given_up():
    """Deferred with what goes along, trimmed, broken off, handed over; a required task in no way."""
    lamp, out = STEP["LAMP"].give_up, STEP["OUT"].give_up
    assert lamp.defer and lamp.with_it == ["JOIN"]
    assert (lamp.trim_to_min, lamp.break_off_closeout_min, lamp.hand_over_to) == (15, 4, ["EV2"])
    assert not out.defer and out.decide_by_pet_min is None
    assert not STEP["LASH"].give_up.defer


def test_what_goes_along_is_what_advice_would_defer():
    """For every task, by the same rules."""
    record = reconcile(LANTERN, [], LANTERN.sortie.start)
    for step in brief(LANTERN, draws=0).steps:
        if step.give_up.defer:
            along = [name for name in closed(record, Change(defer=(step.task,))).defer if name != step.task]
            assert sorted(step.give_up.with_it) == sorted(along), step.task
        else:
            along = closed(record, Change(defer=(step.task,))).defer
            assert not step.is_default or any(record.runs[name].task.required for name in along), step.task


def test_the_figures_are_those_of_the_state_at_pet_zero():
    """Starts, latest starts, the end, the suits, the limit and the ways back: nothing is computed a second way."""
    state = follow(PLAN, [], PLAN.sortie.start, draws=200)
    assert FACTS.end == state.end and FACTS.limit == state.limit and FACTS.suits == state.suits and FACTS.ways == state.worksites
    for step in FACTS.steps:
        at = state.tasks[step.task]
        assert step.latest_start_pet_min == at.latest_start_pet_min and step.float_min == at.float_min
        assert step.projected_start_pet_min == (at.projected_start_pet_min if at.in_plan else None)
    assert STEP["LAMP"].latest_start_pet_min is not None
    assert STEP["LAMP"].back_min == 12 and STEP["LAMP"].leave_by_pet_min == state.worksites["mast"].leave_by_pet_min
    assert STEP["HOME"].leave_by_pet_min is None


def test_decide_by_times_are_those_of_the_advice():
    """A task that advice defers is open for as long as the brief says."""
    tight = changed(('limit = "3:00"\nreserve = 20', 'limit = "2:00"\nreserve = 0'))
    record = reconcile(tight, [], tight.sortie.start)
    advice = advise(record, draws=500)
    parts = [one for choice in advice.proposals for one in choice.figures.parts if one.part.kind == "defer"]
    items = {one.part.name: one.decide_by_pet_min for one in parts}
    steps = {step.task: step.give_up.decide_by_pet_min for step in brief(tight, draws=500).steps}
    assert items and items == {task: pytest.approx(steps[task]) for task in items}


def test_the_decisions_are_in_order_of_time():
    """Endings, windows, tasks below the first class that may be given up, worksites to leave, and the turn back."""
    times = [one.by_pet_min for one in FACTS.decisions]
    assert times == sorted(times)
    assert {(one.kind, one.name) for one in FACTS.decisions} == {
        ("ending", "ending"), ("window", "LAMP"), ("give up", "LAMP"), ("give up", "CARRY"), ("give up", "KEEP"),
        ("give up", "PREP"), ("give up", "JOIN"), ("leave by", "mast"), ("turn back", "EV1 EV2"),
    }  # fmt: skip
    window = next(one for one in FACTS.decisions if one.kind == "window")
    assert (window.by_pet_min, window.detail, window.next_pet_min) == (50, "daylight", 110)


def test_windows_and_recurring_checks_go_along():
    """Windows that touch are one; a check is due at every multiple of its minutes up to the briefed end."""
    more = '[[window]]\nkind = "daylight"\nfrom = 80\nto = 90\n[[check]]\nid = "read"\nevery = 50\nlanes = ["EV1"]\n'
    facts = brief(plan_of(TEXT + more), draws=0)
    assert [(one.from_pet_min, one.to_pet_min) for one in facts.windows if one.kind == "daylight"] == [(20, 90), (110, 160)]
    assert [(one.check, one.due_pet_min) for one in facts.checks] == [("read", [50, 100])]


def test_it_says_that_it_is_advisory_and_what_it_was_made_from():
    """The caution, the revision of the plan, and no comparison where none was asked for."""
    assert FACTS.caution == CAUTION and len(FACTS.revision) == 12 and FACTS.against is None
    assert brief(PLAN, against=PLAN, draws=0).against.changes == []


def test_without_draws_the_decide_by_times_are_at_plan_pace():
    """Nothing is invented: the chance is left out."""
    facts = brief(PLAN, draws=0)
    keep = next(step for step in facts.steps if step.task == "KEEP")
    assert facts.end.in_by_limit is None and keep.give_up.decide_by_pet_min == keep.projected_start_pet_min
