"""What came with a decision, and what takes it back."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.events.change import Change
from dashboard.core.events.decision import Decision
from dashboard.core.events.kinds import parse_event
from dashboard.core.record import take_back
from dashboard.core.record.fold import reconcile
from dashboard.core.record.take_back import came_with, is_in_force, reversal
from dashboard.core.state.log_in_words import Logbook, logbook
from tests.bench.states import random_log
from tests.core.sorties import PLAN as SORTIE_PLAN
from tests.scenario import PET_ZERO, at, log_of, plan_of, task

PLAN = plan_of(
    task("A", "EV1", 0, 30, closeout=5) + task("B", "EV1", 30, 40, shortest=25) + task("C", "EV1", 70, 20, can_move_to=["EV2"])
    + task("D", "EV2", 0, 60) + task("LONG", "EV2", 60, 40) + task("SHORT", "EV2", None, 20)
    + '[[alternative]]\nid = "ending"\ntitle = "The ending"\ndefault = "long"\n'
    + '[alternative.options]\nlong = ["LONG"]\nshort = ["SHORT"]\n'
)
BEFORE = "0:00 clock\n0:00 start A"
CHOSEN = {"defer": ["D"], "trim": {"B": 25.0}, "break_off": ["A"], "move": {"C": "EV2"}, "choose": {"ending": "short"}}


def decided(later="", before=BEFORE):
    """The decision at 0:10 with the three events that came with it, and a line of another kind at the same instant."""
    parts = [
        {"kind": "decision", "text": "Late", "defer": CHOSEN["defer"], "trim": CHOSEN["trim"], "chosen": CHOSEN},
        {"kind": "choose", "alternative": "ending", "option": "short"}, {"kind": "break_off", "task": "A"},
        {"kind": "move", "task": "C", "lane": "EV2"}, {"kind": "note", "text": "hello"},
    ]  # fmt: skip
    events = log_of(before)
    events += [parse_event({**p, "id": f"d{n}", "at": at("0:10"), "seq": 50 + n}) for n, p in enumerate(parts)]
    return events + [e.model_copy(update={"id": f"l{n}", "seq": 90 + n}) for n, e in enumerate(log_of(later))]


def asked(events, pet, decision="d0"):
    """What would take the decision back."""
    now = parse_instant(at(pet))
    return reversal(reconcile(PLAN, events, now), events, decision, now)


def decision_in_log(events):
    """The entry of the decision."""
    return next(e for e in logbook(PLAN, events, parse_instant(at("0:20"))) if e.id == "d0")


def taken_back(events, pet):
    """The steps, what stays, and the record once the steps are in the log."""
    found = asked(events, pet)
    sent = [
        parse_event(json.loads(json.dumps({**step.event, "id": f"t{n}", "at": at(pet), "seq": 200 + n})))
        for n, step in enumerate(found.steps)
    ]
    return found, reconcile(PLAN, [*events, *sent], parse_instant(at(pet)))


def test_all_that_came_with_a_decision_is_taken_back_and_what_cannot_be_is_said():
    """D is in again, B whole, C with EV1, the ending open; A stays broken off. Nothing of it is out of place."""
    found, record = taken_back(decided(), "0:20")
    assert [step.words for step in found.steps] == [
        "leave 'The ending' open again, by default 'long'", "reinstate D", "hand C back to EV1", "B back to 40 min",
    ]  # fmt: skip
    assert found.stays == ["A stays broken off"]
    assert (record.runs["D"].state, record.runs["C"].lanes) == ("not started", ("EV1",))
    assert (record.runs["B"].planned_min, record.runs["B"].length_set) == (40, False)
    assert record.chosen == {}
    assert record.discrepancies == reconcile(PLAN, decided(), parse_instant(at("0:20"))).discrepancies == []


def test_an_ending_that_was_chosen_before_is_chosen_back():
    """Settled as it was; the same option chosen before leaves nothing to take back of it."""
    found, record = taken_back(decided(before=BEFORE + "\n0:05 choose ending option=long"), "0:20")
    assert found.steps[0].words == "take 'long' for The ending again"
    assert record.chosen == {"ending": "long"}
    found, record = taken_back(decided(before=BEFORE + "\n0:05 choose ending option=short"), "0:20")
    assert [step.event["kind"] for step in found.steps] == ["reinstate", "move", "extend"]
    assert record.chosen == {"ending": "short"}


def test_an_ending_settled_as_it_would_be_anyway_is_open_again():
    """The default option, chosen with a decision: nothing changes in the plan, but the other one can be chosen again."""
    chosen = {"choose": {"ending": "long"}}
    parts = [{"kind": "decision", "text": "So", "chosen": chosen}, {"kind": "choose", "alternative": "ending", "option": "long"}]
    events = log_of(BEFORE) + [parse_event({**p, "id": f"d{n}", "at": at("0:10"), "seq": 50 + n}) for n, p in enumerate(parts)]
    found, record = taken_back(events, "0:20")
    assert [step.event for step in found.steps] == [{"kind": "withdraw", "event": "d1"}]
    assert record.chosen == {}


@pytest.mark.parametrize("whole", [["d0"], ["d3"], ["d0", "d1", "d2", "d3"]], ids=["the decision", "a part", "all of it"])
def test_what_came_with_a_decision_is_known_by_the_time_it_was_sent_with(whole):
    """The time of the decision, of the hand-over, or of all amended by a minute: everything is taken back all the same."""
    later = "\n".join(f"0:12 amend {event} changes={{\"at\":\"{at('0:11')}\"}}" for event in whole)
    found, record = taken_back(decided(later), "0:20")
    assert [step.event["kind"] for step in found.steps] == ["withdraw", "reinstate", "move", "extend"]
    assert record.runs["C"].lanes == ("EV1",)


def test_once_taken_back_nothing_is_left():
    """The same question after the answer."""
    events = decided("0:15 reinstate D\n0:15 trim B duration=40\n0:15 move C lane=EV1\n0:15 choose ending option=long")
    found, _ = taken_back(events, "0:20")
    assert found.steps == []
    assert not decision_in_log(events).can_take_back


@pytest.mark.parametrize(
    ("later", "can"),
    [("0:11 note hello", True), ("0:11 reinstate D", True), ("0:15 withdraw d0", False),
     ("0:11 withdraw d1\n0:11 reinstate D\n0:11 trim B duration=40\n0:11 move C lane=EV1", False)],
    ids=["all of it stands", "a part stands", "withdrawn", "only the break off is left"],
)  # fmt: skip
def test_the_log_offers_to_take_back_what_still_can_be(later, can):
    """Not once it was taken back, and not what is broken off."""
    assert decision_in_log(decided(later)).can_take_back is can


def test_what_has_begun_or_is_over_stays_and_is_said():
    """SHORT and C have begun, B is done at its new length."""
    later = "0:11 start B\n0:30 start SHORT\n0:40 done B\n0:41 done SHORT\n0:42 start C"
    found, _ = taken_back(decided(later), "0:50")
    assert [step.words for step in found.steps] == ["reinstate D"]
    assert found.stays == [
        "'short' stays taken for The ending: SHORT is done", "C stays with EV2: C is in work",
        "B stays cut to 25 min: B is done", "A stays broken off",
    ]  # fmt: skip


def test_it_goes_back_to_what_stood_before_and_leaves_other_decisions_alone():
    """B was down to 30 min before, and D was deferred before: the decision changed neither state of D nor the rest."""
    found, record = taken_back(decided(before=BEFORE + "\n0:05 trim B duration=30\n0:05 defer D"), "0:20")
    assert "B back to 30 min" in [step.words for step in found.steps]
    assert record.runs["D"].state == "deferred"


def test_an_estimate_that_a_trim_set_aside_is_named():
    """It cannot be put back by lengthening the task."""
    tables = BEFORE.replace("start A", "start B") + "\n0:05 estimate B remaining=40"
    found, _ = taken_back(decided(before=tables), "0:12")
    assert any("estimate of B" in said for said in found.stays)


def test_a_decision_that_does_not_count_has_none():
    """Withdrawn, of another kind, or not there."""
    assert asked(decided("0:15 withdraw d0"), "0:20") is None
    assert asked(decided(), "0:20", "d1") is None
    assert asked(decided(), "0:20", "nope") is None


def test_the_log_says_what_came_with_a_decision():
    """In its words and by name; the note of the same instant did not."""
    entry = decision_in_log(decided())
    assert entry.came_with == ["d1", "d2", "d3"]
    assert entry.can_take_back
    assert "with it: ending: take 'short'; break off A; " in entry.text
    assert "hello" not in entry.text


def test_a_decision_that_changes_nothing_is_only_words():
    """No list in what was chosen, and nothing to take back."""
    events = [*log_of(BEFORE), parse_event({"id": "w", "kind": "decision", "at": at("0:10"), "text": "Go on", "chosen": "go on"})]
    entry = next(e for e in logbook(PLAN, events, parse_instant(at("0:20"))) if e.id == "w")
    assert (entry.came_with, entry.can_take_back) == ([], False)


def test_work_that_was_let_run_longer_with_a_decision_is_cut_back():
    """The event `extend` came with the decision; a trim to the length before takes it back. Once over, it is said to stay."""
    change = Change(extend={"B": 55.0})
    parts = change.events("B may run on")
    assert [one["kind"] for one in parts] == ["decision", "extend"]
    events = log_of(BEFORE) + [
        parse_event({**one, "id": f"d{n}", "at": at("0:10"), "seq": 50 + n}) for n, one in enumerate(parts)
    ]
    found, record = taken_back(events, "0:20")
    assert [step.event for step in found.steps] == [{"kind": "trim", "task": "B", "duration": 40.0}]
    assert record.runs["B"].planned_min == 40 and record.discrepancies == []
    over = events + [
        parse_event({"id": f"o{n}", "kind": kind, "task": "B", "at": at(f"0:{15 + n}"), "seq": 80 + n})
        for n, kind in enumerate(("start", "done"))
    ]
    assert asked(over, "0:20").stays == ["B stays extended to 55 min: B is done"]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 300))
def test_what_is_no_longer_in_force_has_nothing_to_take_back(seed: int, minute: int):
    """So the log asks for a second fold only where something may be taken back."""
    log, now = random_log(seed), PET_ZERO + timedelta(minutes=minute)
    record = reconcile(SORTIE_PLAN, log, now)
    for decision in (event for event in record.counted.events if isinstance(event, Decision)):
        found = reversal(record, log, decision.id, now)
        assert found is not None
        assert is_in_force(record, decision, came_with(decision, record.counted)) or not found.steps


def test_of_many_decisions_only_those_in_force_cost_a_fold(monkeypatch):
    """And those once, while no event comes in. Three hundred of them, each cutting the same task further."""
    events = log_of(BEFORE)
    events += [
        parse_event({"kind": "decision", "text": "cut", "trim": {"B": 39 - n / 100}, "id": f"c{n}", "at": at("0:10"),
                     "seq": 50 + n})
        for n in range(300)
    ]
    now, folds = parse_instant(at("0:20")), []
    real = take_back.reconcile
    monkeypatch.setattr(take_back, "reconcile", lambda *given: folds.append(1) or real(*given))
    record = reconcile(PLAN, events, now)
    for _ in range(2):
        entries = list(Logbook(record, events, now))
        assert [entry.id for entry in entries if entry.can_take_back] == ["c299"]
    assert len(folds) == 1
