"""Which events take part: those that ran; what breaks a cycle is in quarantine, and the rest goes on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.core.base.times import parse_instant
from dashboard.service.session.session import KnownEvents
from dashboard.service.trial.effect import EntryFigures
from dashboard.service.trial.sieve import LONGEST_SIFT_S, Figured, Sieve
from dashboard.service.trial.worker import Broke, Ran
from tests.scenario import at, log_of

NOW = parse_instant(at("1:00"))
FIGURES = EntryFigures(None, None, None, 390.0, "the plan", None, None, False, {}, ())


class Bench:
    """A trial that fails on the events named, and counts. Each takes `takes_s` of the clock `now_s`."""

    def __init__(self) -> None:
        self.bad: set[str] = set()
        self.runs = 0
        self.now_s = 0.0
        self.takes_s = 0.0

    def run(self, events: Sequence[Any], now: datetime, mode: str, *, compare: int | None = None, later: Any = None) -> Any:
        self.runs += 1
        self.now_s += self.takes_s
        if found := [event.id for event in events if event.id in self.bad]:
            known_before = None if compare is None else any(event.id in self.bad for event in events[:compare])
            return Broke(f"{found[0]} is bad", known_before)
        return Ran(FIGURES if compare is not None else None, FIGURES, 0.01)

    def close(self) -> None:
        pass


@pytest.fixture
def bench() -> Bench:
    return Bench()


@pytest.fixture
def sieve(bench: Bench) -> Sieve:
    return Sieve(bench, lambda: bench.now_s)


def notes(count: int) -> list[Any]:
    return log_of("\n".join(f"0:{n % 60:02d} note text=x" for n in range(count)))


def ids(known: KnownEvents) -> list[str]:
    return [event.id for event in known.events]


def test_nothing_takes_part_before_it_ran(sieve: Sieve, bench: Bench):
    """And once it ran, no cycle tries it again."""
    known = KnownEvents(notes(5), [])
    assert ids(sieve.sifted(known)) == []
    assert ids(sieve.admitted(known, NOW, "live")) == ["e1", "e2", "e3", "e4", "e5"]
    assert ids(sieve.admitted(known, NOW, "live")) == ids(sieve.sifted(known)) == ["e1", "e2", "e3", "e4", "e5"]
    assert bench.runs == 1


def test_it_is_warmed_up_with_what_takes_part(sieve: Sieve, bench: Bench):
    """One trial, which takes nothing in and keeps nothing out."""
    known = KnownEvents(notes(2), [])
    sieve.admitted(known, NOW, "live")
    bench.bad = {"e2"}
    more = KnownEvents(notes(3), [])
    sieve.warm_up(more, NOW, "live")
    assert bench.runs == 2
    assert ids(sieve.sifted(more)) == ["e1", "e2"]


def test_what_breaks_the_cycle_is_shown_with_the_reason_and_the_rest_takes_part(sieve: Sieve, bench: Bench):
    """Word for word, and found in far fewer trials than events."""
    bench.bad = {"e7", "e90"}
    known = KnownEvents(notes(128), [])
    found = sieve.admitted(known, NOW, "live")
    assert ids(found) == [event.id for event in known.events if event.id not in bench.bad]
    assert [(line.where, "is bad" in line.why) for line in found.unread] == [("seq 7", True), ("seq 90", True)]
    assert '"kind":"note"' in found.unread[0].line and "does not count" in found.unread[0].why
    assert bench.runs < 40


def test_new_events_take_part_once_they_are_taken_in(sieve: Sieve):
    """Tried is not recorded yet."""
    old, (new,) = notes(3)[:2], notes(3)[2:]
    sieve.admitted(KnownEvents(old, []), NOW, "live")
    verdict = sieve.tried(KnownEvents(old, []), [new], NOW, "live")
    assert (verdict.broken, verdict.untried, verdict.before, verdict.after) == ({}, frozenset(), FIGURES, FIGURES)
    assert ids(sieve.sifted(KnownEvents([*old, new], []))) == ["e1", "e2"]
    sieve.take_in([new.id])
    assert ids(sieve.sifted(KnownEvents([*old, new], []))) == ["e1", "e2", "e3"]


def test_of_events_entered_together_only_those_to_blame_are_kept_out(sieve: Sieve, bench: Bench):
    """With the figures of what is kept."""
    bench.bad = {"e2"}
    verdict = sieve.tried(KnownEvents([], []), notes(3), NOW, "live")
    assert (list(verdict.broken), verdict.untried, verdict.after) == (["e2"], frozenset(), FIGURES)


def test_an_entry_is_not_blamed_for_what_was_broken_before(sieve: Sieve, bench: Bench):
    """An event that breaks the cycle only now goes into quarantine, and the new one is taken."""
    old, (new,) = notes(4)[:3], notes(4)[3:]
    sieve.admitted(KnownEvents(old, []), NOW, "live")
    bench.bad = {"e2"}
    assert sieve.tried(KnownEvents(old, []), [new], NOW, "live").broken == {}
    found = sieve.sifted(KnownEvents(old, []))
    assert (ids(found), [line.where for line in found.unread]) == (["e1", "e3"], ["seq 2"])


def test_a_cycle_that_fails_later_finds_what_is_to_blame(sieve: Sieve, bench: Bench):
    """Once; where the trials find nothing, nothing is kept out."""
    known = KnownEvents(notes(9), [])
    sieve.admitted(known, NOW, "live")
    assert sieve.recheck(known, NOW, "live") is False
    bench.bad = {"e5"}
    assert sieve.recheck(known, NOW, "live") is True
    assert "e5" not in ids(sieve.sifted(known)) and len(ids(sieve.sifted(known))) == 8


def test_an_entry_does_not_wait_for_ever_for_its_trials(sieve: Sieve, bench: Bench):
    """Many that each overrun their budget: what was not tried in time is said to be so, and not blamed."""
    bench.bad = {f"e{n}" for n in range(1, 201)}
    bench.takes_s = 5.0
    verdict = sieve.tried(KnownEvents([], []), notes(200), NOW, "live")
    assert bench.now_s <= LONGEST_SIFT_S + 3 * bench.takes_s
    assert len(verdict.untried) + len(verdict.broken) == 200 and verdict.untried


def test_where_no_process_can_be_started_events_count_untried(sieve: Sieve, bench: Bench, monkeypatch):
    """The room goes on, as it did without trials, and is told why until a trial runs again."""

    def cannot(*_: Any, **__: Any) -> Any:
        raise OSError("no more processes")

    assert sieve.trouble is None
    with monkeypatch.context() as patched:
        patched.setattr(bench, "run", cannot)
        assert ids(sieve.admitted(KnownEvents(notes(2), []), NOW, "live")) == ["e1", "e2"]
        assert sieve.tried(KnownEvents([], []), notes(3), NOW, "live").broken == {}
        assert sieve.trouble == "no more processes"
    sieve.tried(KnownEvents([], []), notes(3), NOW, "live")
    assert sieve.trouble is None


@pytest.mark.parametrize(
    ("events", "seconds", "spared"), [(2, 0, True), (2, 5, True), (2, -5, True), (2, 6, False), (1, 0, False), (3, 0, False)]
)
def test_figures_of_the_board_spare_those_before_where_they_fit(sieve: Sieve, events: int, seconds: float, spared: bool):
    """Of the same events and of the same instant but for a few seconds; else they are computed with the trial."""
    old, (new,) = notes(3)[:2], notes(3)[2:]
    sieve.admitted(KnownEvents(old, []), NOW, "live")
    mine = FIGURES._replace(limit_pet_min=1.0)
    shown = Figured(events, NOW + timedelta(seconds=seconds), mine)
    assert sieve.tried(KnownEvents(old, []), [new], NOW, "live", shown).before == (mine if spared else FIGURES)


class Read:
    """An event that counts how often it is read."""

    at, came_in, seq = NOW, NOW, 1

    def __init__(self) -> None:
        self.times = 0

    @property
    def id(self) -> str:
        self.times += 1
        return str(id(self))


def test_what_was_decided_is_not_looked_at_again(sieve: Sieve, bench: Bench, monkeypatch):
    """A long log costs nothing once more for each entry."""
    monkeypatch.setattr(bench, "run", lambda *_, **__: Ran(None, FIGURES, 0.01))
    events: Any = [Read() for _ in range(4)]
    sieve.admitted(KnownEvents(events[:3], []), NOW, "live")
    read = [event.times for event in events]
    sieve.admitted(KnownEvents(events, []), NOW, "live")
    assert sieve.sifted(KnownEvents(events, [])).events == events
    assert [event.times for event in events[:3]] == read[:3]


@given(st.data())
@settings(max_examples=30, deadline=None)
def test_what_it_keeps_is_what_it_would_find_anew(data: Any):
    """Whatever comes in, is tried, breaks later, or is looked at as it was before."""
    bench = Bench()
    sieve, events, count = Sieve(bench, lambda: bench.now_s), notes(30), 0
    for _ in range(data.draw(st.integers(1, 12))):
        match data.draw(st.sampled_from(["comes", "is entered", "breaks", "another server", "before"])):
            case "comes":
                count = min(30, count + data.draw(st.integers(1, 4)))
                sieve.admitted(KnownEvents(events[:count], []), NOW, "live")
            case "is entered":
                new = events[count : count + data.draw(st.integers(1, 3))]
                verdict = sieve.tried(KnownEvents(events[:count], []), new, NOW, "live")
                sieve.take_in({event.id for event in new} - verdict.broken.keys())
                count += len(new)
            case "breaks":
                bench.bad.add(f"e{data.draw(st.integers(1, 30))}")
                sieve.recheck(KnownEvents(events[:count], []), NOW, "live")
            case "another server":
                count = min(30, count + 1)
            case "before":
                sieve.sifted(KnownEvents(events[: data.draw(st.integers(0, count))], []))
        found, fresh = sieve.sifted(KnownEvents(events[:count], [])), Sieve(bench)
        fresh._ran, fresh._broken = sieve._ran, sieve._broken
        assert found == fresh.sifted(KnownEvents(events[:count], []))
        assert ids(found) == [event.id for event in events[:count] if event.id in sieve._ran]


def test_what_others_take_in_meanwhile_is_not_lost(sieve: Sieve):
    """Senders, feeds and the cycle do it at the same time: here one in the middle of another."""

    def entered() -> Iterator[str]:
        sieve.take_in(["e2"])
        yield "e1"

    sieve.take_in(entered())
    assert ids(sieve.sifted(KnownEvents(notes(2), []))) == ["e1", "e2"]
