"""The fold of a log that grows is that of the whole log, however it grew, and goes back no further than it must."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.core.events.kinds import parse_event
from dashboard.core.record import fold, kept
from dashboard.core.record.kept import KeptFold
from dashboard.core.state.follow import follow, state_of
from tests.bench.states import random_log
from tests.core.sorties import PLAN
from tests.scenario import PET_ZERO, at, log_of

MINUTES = st.integers(-30, 400)


def whole(record: Any) -> dict[str, Any]:
    """Everything that a record holds, and of what became of the events all that is not there for looking up alone."""
    return {**vars(record), "counted": vars(record.counted), "runs": {t: vars(run) for t, run in record.runs.items()}}


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.lists(st.tuples(st.integers(1, 12), MINUTES), min_size=1, max_size=6), st.integers(1, 9))
def test_it_is_the_fold_of_the_whole_log(seed: int, steps: list[tuple[int, int]], every: int):
    """Logs of every kind of event, with late ones, amendments, withdrawals, clocks, added tasks and names that are unknown.

    They come in by and by, at instants that go back too; the record of one instant is not changed by that of another.
    """
    log, had = random_log(seed), 0
    folds, earlier = KeptFold(PLAN, every), []
    for count, minute in steps:
        had += count
        now = PET_ZERO + timedelta(minutes=minute)
        found, wanted = folds.reconcile(log[:had], now), fold.reconcile(PLAN, log[:had], now)
        assert whole(found) == whole(wanted)
        earlier.append((found, wanted))
    for found, wanted in earlier:
        assert {**whole(found), "counted": 0} == {**whole(wanted), "counted": 0}


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 9))
def test_it_is_the_fold_of_the_whole_log_at_every_event(seed: int, every: int):
    """One event after another, as a room enters them: each counts from when it was received."""
    log = [event for event in random_log(seed) if event.received is not None]
    folds = KeptFold(PLAN, every)
    for count, event in enumerate(log, start=1):
        assert event.received is not None
        assert whole(folds.reconcile(log[:count], event.received)) == whole(fold.reconcile(PLAN, log[:count], event.received))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), MINUTES, st.integers(1, 9))
def test_the_record_of_an_earlier_instant_is_that_of_the_fold(seed: int, minute: int, every: int):
    """Where it is at hand: the state is the same but for discrepancies and unread events, which are those of the whole log."""
    log, now = random_log(seed), PET_ZERO + timedelta(minutes=400)
    log += log_of("-0:40 clock") if minute % 2 else []
    folds = KeptFold(PLAN, every)
    folds.reconcile(log, now)
    instant = PET_ZERO + timedelta(minutes=minute)
    found = folds.record_at(instant)
    if found is not None:
        same = {"discrepancies": [], "unread": []}
        wanted = follow(PLAN, log, instant, draws=0)
        assert state_of(found, instant, draws=0).model_copy(update=same) == wanted.model_copy(update=same)
    assert whole(folds.reconcile(log, now)) == whole(fold.reconcile(PLAN, log, now))


def test_the_record_of_an_earlier_instant_is_at_hand_in_a_plain_log():
    """Of a log with a late answer it is at hand from that answer on."""
    log, folds = notes(200), KeptFold(PLAN)
    assert folds.record_at(NOW) is None
    folds.reconcile(log, NOW)
    assert folds.record_at(PET_ZERO + timedelta(seconds=90)) is not None
    answered_at = PET_ZERO + timedelta(minutes=30)
    withdrawal = parse_event({"id": "w", "at": answered_at, "kind": "withdraw", "event": "n3", "seq": 900})
    folds.reconcile([*log, withdrawal], NOW)
    assert folds.record_at(PET_ZERO + timedelta(minutes=29)) is None
    assert folds.record_at(PET_ZERO + timedelta(minutes=31)) is not None


def notes(count: int, first: int = 0) -> list[Any]:
    """Notes a second apart, received at once, after PET zero was set."""
    rows = log_of("0:00 clock")
    for number in range(first, count):
        instant = PET_ZERO + timedelta(seconds=number + 1)
        rows.append(parse_event({"id": f"n{number}", "at": instant, "received": instant, "seq": number + 2, "kind": "note",
                                 "text": "x"}))
    return rows


@pytest.fixture
def applied(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The ids of the events that were applied."""
    found: list[str] = []
    real = type(notes(1)[1]).apply
    monkeypatch.setattr(type(notes(1)[1]), "apply", lambda self, record: found.append(self.id) or real(self, record))
    return found


NOW = parse_instant(at("1:00"))


def test_only_what_is_new_is_applied(applied: list[str]):
    """One more of five hundred; and of the five hundred none is judged again."""
    log, folds = notes(500), KeptFold(PLAN)
    folds.reconcile(log[:-1], NOW)
    applied.clear()
    folds.reconcile(log, NOW + timedelta(seconds=1))
    assert applied == ["n499"]


def test_a_plain_entry_has_no_others_judged(monkeypatch: pytest.MonkeyPatch):
    """An answer has."""
    log, folds, judged = notes(50), KeptFold(PLAN), []
    real = kept.events_that_count
    monkeypatch.setattr(kept, "events_that_count", lambda *given: judged.append(1) or real(*given))
    for count in range(40, 51):
        folds.reconcile(log[:count], NOW)
    assert len(judged) == 1
    withdrawal = parse_event({"id": "w", "at": NOW, "kind": "withdraw", "event": "n3", "seq": 900})
    folds.reconcile([*log, withdrawal], NOW)
    assert len(judged) == 2


def test_a_late_entry_goes_back_no_further_than_it_must(applied: list[str]):
    """Of three thousand events, those after its time, and at most an eighth of as many before it."""
    log, folds = notes(3000), KeptFold(PLAN)
    folds.reconcile(log, NOW)
    late = parse_event({"id": "late", "at": PET_ZERO + timedelta(seconds=2600.5), "kind": "note", "text": "x", "seq": 9000})
    applied.clear()
    folds.reconcile([*log, late], NOW)
    assert "late" in applied and 401 <= len(applied) <= 401 + 400 // 8 + 2 * kept.EVERY


def test_a_withdrawal_goes_back_to_the_event_that_it_names(applied: list[str]):
    """And an amendment to the event that it changes."""
    log, folds = notes(3000), KeptFold(PLAN)
    folds.reconcile(log, NOW)
    for number, answer in enumerate(({"kind": "withdraw"}, {"kind": "amend", "changes": {"text": "y"}})):
        log = [*log, parse_event({"id": f"a{number}", "at": NOW, "seq": 9000 + number, "event": f"n{2799 - number}", **answer})]
        applied.clear()
        folds.reconcile(log, NOW)
        assert 199 <= len(applied) <= 202 + 200 // 8 + 2 * kept.EVERY


def test_an_event_that_breaks_the_fold_spoils_nothing(monkeypatch: pytest.MonkeyPatch):
    """Once it is left out the record is right again."""
    log, folds = log_of("0:00 clock\n0:01 start A\n0:05 note text=x\n0:06 done A"), KeptFold(PLAN, 1)
    folds.reconcile(log[:2], NOW)
    monkeypatch.setattr(type(log[2]), "apply", lambda self, record: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        folds.reconcile(log, NOW)
    left = [log[0], log[1], log[3]]
    assert whole(folds.reconcile(left, NOW)) == whole(fold.reconcile(PLAN, left, NOW))
